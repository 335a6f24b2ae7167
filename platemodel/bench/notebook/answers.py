"""Answers to exercises that stay folded until the reader opens them, also after a run of all cells."""

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape


@dataclass(frozen=True)
class Answers:
    """Computed answers, one a number.

    Attributes
    ----------
    texts : mapping of int to str
        Number of the exercise and its answer in words.
    """

    texts: Mapping[int, str]

    def __repr__(self) -> str:
        return f"answers to {len(self.texts)} exercises, folded"

    def _repr_html_(self) -> str:
        return "\n".join(
            f"<details><summary>Answer {number}</summary><p>{escape(text)}</p></details>"
            for number, text in self.texts.items()
        )
