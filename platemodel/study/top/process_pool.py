"""Sends models to other processes: only what is needed to rebuild them there."""

import io
import pickle
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from types import FunctionType

from platemodel.fem.factors import Factors
from platemodel.fem.reductor import Reductor
from platemodel.fem.shell import Shell
from platemodel.threads import one_blas_thread


class _Packer(pickle.Pickler):
    """Leaves out factorisations and what learns by them; sends a shell as mesh, surface and section."""

    def reducer_override(self, thing):
        if isinstance(thing, Shell):
            return _LaterShell, (thing.mesh, thing.surface, thing.section, thing.shear)
        if isinstance(thing, Reductor | Factors) or (
            isinstance(thing, FunctionType) and "<locals>" in thing.__qualname__
        ):
            return _nothing, ()
        return NotImplemented


class _LaterShell(Shell):
    """A shell that is assembled when something of it is first asked for; most bars never ask."""

    def __init__(self, mesh, surface, section, shear):
        self.__dict__.update(mesh=mesh, surface=surface, section=section, shear=shear)

    def __getattr__(self, name):
        if name.startswith("__") or "n_dofs" in self.__dict__:
            raise AttributeError(name)
        super().__init__(self.mesh, self.surface, self.section, self.shear)
        return getattr(self, name)


def _nothing():
    return None


def pack(thing: object) -> bytes:
    """Make a parcel of a model or of something that holds one; ``pickle.loads`` opens it.

    A reduced model in the parcel can answer but no longer learn; its full model is whole.
    """
    out = io.BytesIO()
    _Packer(out, protocol=pickle.HIGHEST_PROTOCOL).dump(thing)
    return out.getvalue()


def local_workers(count: int) -> ProcessPoolExecutor:
    """Make processes on this machine with one thread for linear algebra each, for a ``with`` block."""
    return ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=one_blas_thread)
