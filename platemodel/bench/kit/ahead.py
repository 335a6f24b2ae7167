"""Two things at once: what a page asks for later is begun while it waits for something else."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Event, Thread


@contextmanager
def begun_ahead(*tasks: Callable[[], object]) -> Iterator[None]:
    """Do tasks in another thread, one after the other, while the ``with`` block goes on.

    They are such as keep what they find (a `Workbench` does), so that whoever asks later has it at once, or
    waits for what is just being made. What goes wrong is left to whoever asks: it goes wrong there again.
    Factorisations let other threads work, so that two cores are busy where one was.

    Parameters
    ----------
    *tasks : callable
        Tasks not yet begun when the block ends are left out.
    """
    over = Event()

    def work():
        for task in tasks:
            if over.is_set():
                return
            with suppress(Exception):
                task()

    thread = Thread(target=work, name="ahead", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
