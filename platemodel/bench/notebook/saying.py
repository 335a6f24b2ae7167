"""Sentences that flow with the width of a notebook's page, and text in columns that scrolls there.

What is merely printed there is broken inside words as soon as a line is longer than the page is wide.
"""

import re
from dataclasses import dataclass
from html import escape

from platemodel.bench.kit.wrapped_text import wrapped

FLOWS = "margin:0.25em 0;line-height:1.4;max-width:52em"
# A report has up to 100 letters a line, each 0.6 of their size wide: they shrink with the page, then it
# scrolls.
FITS = "container-type:inline-size"
SIZE = "font-size:clamp(11px,1.58cqi,13px)"
KEEPS = f"margin:0.25em 0;overflow-x:auto;white-space:pre;word-break:normal;line-height:1.3;{SIZE}"
# A figure with its sign and its unit stays on one line.
UNIT = re.compile(r"(?<=±) (?=\d)|(?<=\d) (?=(?:mm|cm³|Hz|dB|kgf?|g|N|MPa|GPa|°C|s)\b|%)")


@dataclass(frozen=True)
class Said:
    """Text for a notebook's page; in a terminal its long lines are broken between words.

    Attributes
    ----------
    text : str
        A paragraph a line; spaces before a line set it in.
    columns : bool
        Whether figures stand under each other: such lines are never broken on the page.
    """

    text: str
    columns: bool = False

    def __repr__(self) -> str:
        return wrapped(self.text)

    def _repr_html_(self) -> str:
        if self.columns:
            return f'<div style="{FITS}"><pre style="{KEEPS}">{escape(self.text)}</pre></div>'
        return "".join(_paragraph(line) for line in self.text.splitlines() if line.strip())


def say(*sentences: object) -> None:
    """Show sentences in a notebook, a paragraph each.

    Parameters
    ----------
    *sentences : str or Claim
    """
    _show(Said("\n".join(map(str_of, sentences))))


def say_columns(text: str) -> None:
    """Show text in columns, such as a report has it, in a notebook."""
    _show(Said(wrapped(text), columns=True))


def as_sentences(text: str) -> str:
    """Give each line of a text a capital to begin with and a full stop to end.

    Parameters
    ----------
    text : str
        Lines such as a report has them.
    """
    return "\n".join(_as_sentence(line) for line in text.splitlines())


def units_kept(text: str) -> str:
    """Put a space that does not break between each figure and its unit."""
    return UNIT.sub("\N{NO-BREAK SPACE}", text)


def str_of(sentence: object) -> str:
    """Return the whole sentence of a claim, or the text of anything else."""
    return getattr(sentence, "sentence", None) or str(sentence)


def _as_sentence(line):
    bare = line.lstrip()
    if not bare:
        return line
    end = "" if bare.endswith((".", ":", "!", "?")) else "."
    return f"{line[: len(line) - len(bare)]}{bare[0].upper()}{bare[1:]}{end}"


def _show(said):
    from IPython.display import display

    display(said)


def _paragraph(line):
    inset = (len(line) - len(line.lstrip())) / 2
    return f'<p style="{FLOWS};padding-left:{inset:g}em">{escape(units_kept(line.strip()))}</p>'
