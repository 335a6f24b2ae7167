"""A store of things made once and asked for again, if need be by several threads."""

from collections.abc import Callable, Hashable
from threading import Lock, RLock
from typing import Any, TypeVar

Thing = TypeVar("Thing")
Owner = TypeVar("Owner")


def kept_property(make: Callable[[Owner], Thing]) -> Thing:
    """Turn a method into a property that is worked out once an object, also when threads ask at once.

    The library's ``cached_property`` either holds up the threads of all objects while it works for one
    (Python 3.11) or may work twice for one (from 3.12).
    """

    def get(one: Owner) -> Thing:
        things: Kept = one.__dict__.setdefault("_kept_properties", Kept())
        return things.get(make.__name__, lambda: make(one))

    return property(get, doc=make.__doc__)  # type: ignore[return-value]  # what reading it gives


class Kept:
    """A store of things that are expensive to make; safe to use from several threads.

    Each thing is made once: a thread that asks for what another one is just making waits for it. When the
    store is full the thing not asked for the longest goes.

    Parameters
    ----------
    most : int, optional
        Things kept at once; default all.
    """

    def __init__(self, most: int | None = None) -> None:
        self.most = most
        self._things: dict = {}
        self._being_made: dict = {}
        self._lock = Lock()

    def get(self, key: Hashable, make: Callable[[], Thing]) -> Thing:
        """Return the thing of a key, made by ``make()`` if it is not there.

        What ``make`` raises is passed on, and nothing is kept.
        """
        found, making = self._look(key)
        if making is None:
            return found
        with making:
            found, waited = self._look(key)
            if waited is None:
                return found
            try:
                thing = make()
                self.put(key, thing)
            finally:
                with self._lock:
                    self._being_made.pop(key, None)
            return thing

    def _look(self, key: Hashable) -> tuple[Any, Any]:
        """Return the thing and None, or None and the lock to make it under."""
        with self._lock:
            if key in self._things:
                thing = self._things.pop(key)
                self._things[key] = thing  # now the one asked for last
                return thing, None
            return None, self._being_made.setdefault(key, RLock())

    def put(self, key: Hashable, thing: object) -> None:
        """Keep a thing, in place of what the key had before."""
        with self._lock:
            self._things.pop(key, None)
            self._things[key] = thing
            while self.most is not None and len(self._things) > self.most:
                del self._things[next(iter(self._things))]

    def clear(self) -> None:
        """Let go of all things."""
        with self._lock:
            self._things.clear()

    def peek(self, key: Hashable, default: object = None) -> object:
        """Return the thing of a key if it is there; nothing is made."""
        with self._lock:
            return self._things.get(key, default)

    def mapped(self, function: Callable[[Any, Any], object]) -> "Kept":
        """Another store with ``function(key, thing)`` in place of each thing."""
        with self._lock:
            held = dict(self._things)
        out = Kept(self.most)
        out._things = {key: function(key, thing) for key, thing in held.items()}
        return out

    def __len__(self) -> int:
        with self._lock:
            return len(self._things)

    def __contains__(self, key: Hashable) -> bool:
        with self._lock:
            return key in self._things

    def __getstate__(self) -> dict[str, Any]:
        with self._lock:
            return {"most": self.most, "things": dict(self._things)}

    def __setstate__(self, state: dict[str, Any]) -> None:
        Kept.__init__(self, state["most"])
        self._things = state["things"]
