"""Short messages on what is being worked out, for whoever waits."""

from collections.abc import Callable

Progress = Callable[[str], None]  # told a message as each part of the work begins


def no_message(_: str) -> None:
    """Tell nobody."""
