"""A store that threads share: each thing is made once, and what fails is not kept."""

import pickle
import time
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest

from platemodel.fem.kept import Kept, kept_property


def test_threads_that_ask_at_once_get_one_thing():
    store, made, ready = Kept(), [], Barrier(8)

    def make():
        made.append(1)
        time.sleep(0.05)
        return object()

    def ask(_):
        ready.wait()
        return store.get("a", make)

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(ask, range(8)))
    assert len(made) == 1
    assert all(one is found[0] for one in found)


def test_what_fails_is_made_anew():
    store = Kept()
    with pytest.raises(ZeroDivisionError):
        store.get("a", lambda: 1 / 0)
    assert store.get("a", lambda: 2) == 2


def test_the_thing_not_asked_for_the_longest_goes():
    store = Kept(2)
    store.get("a", lambda: 1)
    store.get("b", lambda: 2)
    store.get("a", lambda: 0)
    store.get("c", lambda: 3)
    assert "a" in store
    assert "b" not in store
    assert store.get("a", lambda: 0) == 1


def test_one_thing_may_need_another():
    store = Kept()
    assert store.get("a", lambda: 1 + store.get("b", lambda: 1)) == 2


def test_a_store_goes_to_another_process_with_what_it_holds():
    store = Kept(3)
    store.get("a", lambda: 1)
    again = pickle.loads(pickle.dumps(store))
    assert again.peek("a") == 1
    assert again.get("b", lambda: 2) == 2


def test_threads_that_evict_each_other_still_get_what_they_ask_for():
    """A store of two things, asked for nine by eight threads: each answer is the one of its key."""
    store = Kept(2)

    def ask(k):
        return store.get(k % 9, lambda: k % 9)

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(ask, range(4000))) == [k % 9 for k in range(4000)]


class _Slow:
    """Something that takes long to work out, and meets another one while it does."""

    def __init__(self, barrier=None):
        self.barrier, self.made = barrier, 0

    @kept_property
    def result(self):
        """What is worked out."""
        self.made += 1
        if self.barrier is not None:
            self.barrier.wait(timeout=20)
        return object()


def test_a_kept_property_of_one_object_does_not_wait_for_that_of_another():
    barrier = Barrier(2)  # broken after 20 s if the two are never worked out at once
    both = [_Slow(barrier), _Slow(barrier)]
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(lambda one: one.result, both)
    assert first is not second
    assert both[0].result is first


def test_a_kept_property_is_worked_out_once_whoever_asks():
    one = _Slow()
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: one.result, range(20)))
    assert one.made == 1
    assert all(thing is found[0] for thing in found)
    assert _Slow.result.__doc__ == "What is worked out."
