"""One top on the bench: model, modes, reduced model and string load, each made once and shared."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from platemodel.fem.kept import Kept
from platemodel.instrument.bar import Bar
from platemodel.instrument.bar_range import BarRange
from platemodel.instrument.flex_test import KINDS, usual_flex_test
from platemodel.instrument.strings import SetUp
from platemodel.instrument.top import Top
from platemodel.progress import Progress, no_message
from platemodel.study.top.bar_flexes import BarFlexes, bar_flexes
from platemodel.study.top.figures import TopFigures
from platemodel.study.top.flex import Flex, flexes
from platemodel.study.top.model import TopModel, top_model
from platemodel.study.top.plate_modes import PlateModes, plate_modes
from platemodel.study.top.recognise import KNOWN
from platemodel.study.top.reduced_top import TOLERANCE, ReducedTop, reduced_top
from platemodel.study.top.string_load import StringLoad, string_load
from platemodel.study.top.tone_bands import ToneBands, TopDoubt, tone_bands

COUNT = 8  # modes of a plate that are computed


class Workbench:
    """A top with its bar and strings, and what has been computed of it so far.

    Nothing is computed before it is asked for, and nothing twice: whatever is asked again is the same object.
    Threads may ask at once; a thread that asks for what another is computing waits for it. Make one for
    each run, and hand it to every page:

    >>> bench = Workbench(job.top, job.bar, job.set_up, progress=print)   # doctest: +SKIP
    >>> bench.without, bench.with_bar                                     # doctest: +SKIP
    >>> bench.load()                                                      # doctest: +SKIP
    >>> bench.reduced(), bench.figures()                                  # doctest: +SKIP
    >>> bench.on_mesh(0.8).reduced(tolerance=1e-3)                        # doctest: +SKIP

    Parameters
    ----------
    bar : Bar, optional
        Without it there is nothing that needs one: ``with_bar`` is None.
    set_up : SetUp, optional
        Strings; needed for `load`.
    fineness : float
        Of the mesh; see `top_model`.
    progress : callable, optional
        Called with a short message when something begins that takes a while, from whichever thread does it.
    doubt : TopDoubt, optional
        How far shape and woods are known, for `bands`; default a well measured shape and sure woods.
    """

    def __init__(
        self,
        top: Top,
        bar: Bar | None = None,
        set_up: SetUp | None = None,
        fineness: float = 1.0,
        progress: Progress = no_message,
        doubt: TopDoubt | None = None,
    ):
        self.top, self.bar, self.set_up, self.fineness = top, bar, set_up, fineness
        self.doubt = doubt or TopDoubt()
        self._progress = progress or no_message
        self._kept = Kept()

    def __repr__(self) -> str:
        bar = "no bar" if self.bar is None else f"bar of {1e3 * self.bar.heights.max():.1f} mm"
        return f"Workbench({self.top.name!r}, {bar}, fineness {self.fineness:g}, {len(self._kept)} results)"

    @property
    def model(self) -> TopModel:
        """The full model of the top, meshed for the bar's line."""

        def make():
            self._progress("laying the mesh")
            return top_model(self.top, self.fineness, bar=self.bar, set_up=self.set_up)

        return self._kept.get("model", make)

    def kept(self, key: object, make: Callable[[], object]) -> object:
        """Keep what a page computes of this top beside the rest; made when its key is first asked for."""
        return self._kept.get(("page", key), make)

    def on_mesh(self, fineness: float) -> "Workbench":
        """Return the workbench of the same top, bar and strings on another mesh; it is kept as well."""
        if fineness == self.fineness:
            return self

        def make():
            return Workbench(self.top, self.bar, self.set_up, fineness, self._progress, self.doubt)

        return self._kept.get(("mesh", fineness), make)

    def modes(self, count: int = COUNT) -> tuple[PlateModes, PlateModes | None]:
        """Modes of the free plate without and with the bar, with their bands.

        Returns
        -------
        without : PlateModes
        with_bar : PlateModes or None
        """
        return self._kept.get(("modes", count), lambda: self._modes(count))

    def _modes(self, count):
        model = self.model
        if self.bar is None:
            return plate_modes(model, count=count, band=True, progress=self._progress), None
        with ThreadPoolExecutor(1) as pool:  # the factorisations let other threads work
            bare = pool.submit(plate_modes, model, count=count, progress=self._progress)
            barred = plate_modes(model, self.bar, count=count, band=True, progress=self._progress)
            # the ends of a bar are what a mesh resolves worst: the widest band serves for the bare plate too
            widest = float(np.max(barred.table["band_hz"] / barred.table["f_hz"]))
            return bare.result().with_band(widest), barred

    @property
    def without(self) -> PlateModes:
        """The eight lowest modes of the free plate without bar."""
        return self.modes()[0]

    @property
    def with_bar(self) -> PlateModes | None:
        """The eight lowest modes of the free plate with its bar; None where there is no bar."""
        return self.modes()[1]

    def bands(self) -> tuple[ToneBands, ToneBands | None]:
        """Bands of modes 1, 2 and 5 by mesh, wood and readings, without and with the bar (or None)."""
        return self._kept.get("bands", self._bands)

    def _bands(self):
        without, barred = self.modes()
        self._progress("weighing wood and readings")
        plates, doubt = [without] if barred is None else [without, barred], self.doubt
        found = tone_bands(plates, doubt.shape, doubt.top_wood, doubt.bar_wood)
        return found[0], None if barred is None else found[1]

    def tone_doubts(self) -> dict[int, float]:
        """Relative standard deviations of the tones with the bar, by mode, as `bands` has them.

        A mode that the plate with its bar does not have takes those of the plate without; it may come back
        while the bar is still higher.
        """
        bare, barred = self.bands()
        return bare.doubts | (barred.doubts if barred is not None else {})

    def tones(self, bar: bool = True) -> dict[int, float]:
        """Modes 1, 2 and 5 of the free plate by number, Hz; NaN where no mode looks like one.

        The same figures as those of `modes`, without their bands and so in half the time.

        Parameters
        ----------
        bar : bool
            With the bar; without it where there is none.
        """
        bar = bar and self.bar is not None

        def make():
            if ("modes", COUNT) in self._kept:
                found = self.modes()[int(bar)]
            else:
                one = self.bar if bar else None
                found = plate_modes(self.model, one, count=COUNT, progress=self._progress)
            return {n: found.frequency(n) for n in KNOWN}

        return self._kept.get(("tones", bar), make)

    def load(self, downforce: float | None = None, service_class: int = 1, bar: bool = True) -> StringLoad:
        """Return the top under its strings, by the full model; see `string_load`.

        Parameters
        ----------
        downforce : float, optional
            N, put in directly instead of that of the strings.
        service_class : {1, 2, 3}
            Of EN 1995-1-1; 1 is indoors.
        bar : bool
            False leaves the bar out.

        Raises
        ------
        ValueError
            No strings were given.
        """
        if self.set_up is None:
            msg = "no strings on this workbench; make it with set_up, as SetUp.usual(kind) or a job's set_up"
            raise ValueError(msg)

        def make():
            self._progress("pressing on the feet of the bridge")
            one = self.bar if bar else None
            return string_load(self.model, one, self.set_up, downforce, service_class)

        return self._kept.get(("load", downforce, service_class, bar), make)

    def reduced(self, range: BarRange | None = None, tolerance: float = TOLERANCE) -> ReducedTop:
        """Return the reduced model of the bar's line; see `reduced_top`.

        Parameters
        ----------
        range : BarRange, optional
            Heights and woods to be ready for; default `BarRange.around` the bar.
        tolerance : float
            Estimated relative error.

        Raises
        ------
        ValueError
            There is no bar whose line it could be made for.
        """
        if self.bar is None:
            msg = "a reduced model needs a bar's line; make the workbench with a bar"
            raise ValueError(msg)

        def make():
            self._progress("getting the top ready for other bars")
            return reduced_top(self.model, self.bar, range, self.set_up, tolerance, progress=self._progress)

        return self._kept.get(("reduced", range, tolerance), make)

    def flexes(self, bar: bool = True) -> list[Flex]:
        """Flex the top in its usual tests (`instrument.flex_test.KINDS`) by the full model.

        Parameters
        ----------
        bar : bool
            With the bar; without it where there is none.
        """
        one = self.bar if bar else None

        def make():
            self._progress("flexing the top")
            return flexes(self.model, [usual_flex_test(self.top, kind) for kind in KINDS], one)

        return self._kept.get(("flexes", one is None), make)

    def bar_flexes(self, range: BarRange | None = None) -> BarFlexes:
        """Return the flex tests ready for other bars; see `bar_flexes`.

        Parameters
        ----------
        range : BarRange, optional
            Heights to be ready for; default `BarRange.around` the bar.

        Raises
        ------
        ValueError
            There is no bar whose line they could be made for.
        """
        if self.bar is None:
            msg = "flexes for other bars need a bar's line; make the workbench with a bar"
            raise ValueError(msg)

        def make():
            self._progress("flexing the top with other bars")
            return bar_flexes(self.model, self.bar, range)

        return self._kept.get(("bar flexes", range), make)

    def figures(self, range: BarRange | None = None) -> TopFigures:
        """Return the figures of other bars on this top by the reduced model, with the sinking."""
        return TopFigures(self.reduced(range), self.set_up)
