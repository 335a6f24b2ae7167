"""Sets of files that are written together: all of them, or none and what was there stays."""

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path


def free_targets(folder: str | os.PathLike, names: Sequence[str], force: bool = False) -> list[Path]:
    """Paths of a set of files that may be written.

    Parameters
    ----------
    folder : path
        Need not exist.
    names : sequence of str
    force : bool
        Files that are there may be replaced.

    Raises
    ------
    FileExistsError
        A file is there and ``force`` is not set, or a folder has the name of a file.
    """
    targets = [Path(folder) / name for name in names]
    for target in targets:
        if target.is_dir():
            msg = f"{target} is a folder; nothing written (move it away)"
            raise FileExistsError(msg)
        if target.exists() and not force:
            msg = f"{target} is there already; nothing written (--force replaces it)"
            raise FileExistsError(msg)
    return targets


@contextmanager
def written_together(targets: Sequence[Path]) -> Iterator[list[Path]]:
    """Give drafts to write; when all are written they take their places, else nothing changes.

    Parameters
    ----------
    targets : sequence of Path
        In one folder, which is made if missing.

    Yields
    ------
    list of Path
        A draft for each target, of the same name.

    Raises
    ------
    OSError
        The folder cannot be written to; what was there is put back.
    """
    folder = targets[0].parent
    made = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryDirectory(dir=folder) as draft:
            drafts = [Path(draft) / target.name for target in targets]
            yield drafts
            _exchange(drafts, targets, Path(draft) / "earlier")
    except BaseException:
        if made:
            with suppress(OSError):
                folder.rmdir()
        raise


def _exchange(drafts, targets, keep):
    """Put drafts in their places; if one cannot be, put the earlier files back."""
    keep.mkdir()
    kept, put = [], []
    try:
        for draft, target in zip(drafts, targets, strict=True):
            if target.exists():
                os.replace(target, keep / target.name)
                kept.append(target)
            os.replace(draft, target)
            put.append(target)
    except OSError:
        for target in put:
            target.unlink(missing_ok=True)
        for target in kept:
            os.replace(keep / target.name, target)
        raise
