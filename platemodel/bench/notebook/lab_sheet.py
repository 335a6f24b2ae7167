"""A sheet for one lesson: guess, reading, model, book; printable, and read again by the teacher."""

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from html import escape
from math import isfinite
from numbers import Real
from pathlib import Path

import pandas as pd

from platemodel.bench.notebook.claims import number_text
from platemodel.bench.notebook.saying import Said, as_sentences, str_of
from platemodel.errors import PlatemodelError
from platemodel.files import write_file

COLUMNS = ("guess", "reading", "model", "book")
KEPT = ["lesson", "question", "unit", *COLUMNS]
HIDDEN = "after the guess"
UNGUESSED = "Your guess first: type it in above, run that cell and this one again. Or open this."
WRITTEN = ("How was it held, where tapped, how often?", "Guess, reading and model in one sentence; how sure?")
RULED = "border-bottom:1px solid;padding-bottom:2.2em;max-width:46em"
POINTS = (
    "a guess with its unit, written before the run",
    "a reading, and how it was taken",
    "guess, reading and model compared in a sentence",
    "how sure, and why",
)


@dataclass(frozen=True)
class Folded:
    """Something that stays folded until it is opened.

    Attributes
    ----------
    why : str
        What stands on the fold.
    item : object
        What lies under it.
    """

    why: str
    item: object

    def __repr__(self) -> str:
        return self.why

    def _repr_html_(self) -> str:
        return f"<details><summary>{escape(self.why)}</summary>{_as_html(self.item)}</details>"


@dataclass(eq=False)
class LabSheet:
    """Questions of a lesson with the figures that were guessed, read, computed and found in a book.

    Attributes
    ----------
    lesson : str
        Its title.
    questions : mapping of str to (str, str)
        A short name of each question, the question in words, and its unit.
    figures : dict
        ``{column: {name: figure}}`` for the columns guess, reading, model, book.

    Examples
    --------
    >>> sheet = LabSheet("1 A strip that rings", {"stiff": ("Twice as thick: how stiff?", "times")})
    >>> sheet.guess(stiff=None)
    >>> sheet.reveal("eight times", "stiff")
    Your guess first: type it in above, run that cell and this one again. Or open this.
    >>> sheet.guess(stiff=4)
    >>> sheet.reveal("eight times", "stiff")
    Eight times.
    """

    lesson: str
    questions: Mapping[str, tuple[str, str]]
    figures: dict = field(default_factory=lambda: {column: {} for column in COLUMNS})

    def guess(self, **figures: float | None) -> None:
        """Keep what was guessed; None for not yet.

        Raises
        ------
        PlatemodelError
            No such question, or something that is no number; so for the other columns.
        """
        self._keep("guess", figures)

    def reading(self, **figures: float | None) -> None:
        """Keep what was read at the bench."""
        self._keep("reading", figures)

    def model(self, **figures: float | None) -> None:
        """Keep what the model says."""
        self._keep("model", figures)

    def book(self, **figures: float | None) -> None:
        """Keep what a book says."""
        self._keep("book", figures)

    def reveal(self, item: object, *names: str) -> object:
        """Show an answer: openly once its questions were guessed, folded until then.

        Parameters
        ----------
        item : object
            A table, a picture, a panel of sliders, a text, or a list of texts and claims.
        names : str
            Of the questions that it answers; all when none is named.

        Returns
        -------
        object
            The item, or a `Folded`, or for a panel an accordion that is shut.
        """
        for name in names:
            self._words(name)
        missing = [name for name in names or self.questions if self._of("guess", name) is None]
        sentences = [as_sentences(item)] if isinstance(item, str) else item
        item = Said("\n".join(map(str_of, sentences))) if isinstance(sentences, list) else item
        if not missing:
            return item
        return _shut(item) if hasattr(item, "children") else Folded(UNGUESSED, item)

    @property
    def table(self) -> pd.DataFrame:
        """A row a question: ``lesson``, ``question``, ``unit``, and the four columns, NaN for nothing."""
        rows = [
            {"lesson": self.lesson, "question": words, "unit": unit}
            | {column: self._of(column, name) for column in COLUMNS}
            for name, (words, unit) in self.questions.items()
        ]
        return pd.DataFrame(rows, columns=KEPT).astype(dict.fromkeys(COLUMNS, float))

    def blank(self) -> "LabSheet":
        """Make a sheet with the questions alone, to print before the lesson."""
        return LabSheet(self.lesson, self.questions)

    def save(self, path: str | Path | None) -> "LabSheet":
        """Write the sheet: ``.html`` to print, ``.csv`` for the teacher's table. None writes nothing.

        Raises
        ------
        PlatemodelError
            Another ending, or a file that is there.
        """
        if path is None:
            return self
        path = Path(path).expanduser()
        if path.suffix not in (".html", ".csv"):
            msg = f"lab sheet {path.name!r}: the name must end in .html (to print) or .csv (for the teacher)"
            raise PlatemodelError(msg)
        if path.exists():
            msg = f"lab sheet {path}: there is such a file; files are never replaced, give another name"
            raise PlatemodelError(msg)
        text = self.page() if path.suffix == ".html" else self.table.to_csv(index=False)
        write_file(path, text.encode())
        return self

    def page(self) -> str:
        """Give the sheet as a page of HTML, with room for name, day and marks."""
        style = "@page{size:A4;margin:15mm}body{font-family:sans-serif}table{border-collapse:collapse}"
        style += "td,th{border:1px solid;padding:.5em;min-width:4em;text-align:left}"
        return (
            f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(self.lesson)}</title>'
            f"<style>{style}</style><body>{self._repr_html_()}</body></html>"
        )

    def __repr__(self) -> str:
        lines = [self.lesson]
        for name, (words, unit) in self.questions.items():
            shown = (f"{column} {self._seen(column, name) or '–'}" for column in COLUMNS)
            lines.append(f"  {words} ({unit}): " + ", ".join(shown))
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        head = "".join(f'<th scope="col">{name}</th>' for name in ("question", "unit", *COLUMNS))
        rows = "".join(
            f'<tr><th scope="row" style="text-align:left">{escape(words)}</th><td>{escape(unit)}</td>'
            + "".join(f"<td>{self._seen(column, name)}</td>" for column in COLUMNS)
            + "</tr>"
            for name, (words, unit) in self.questions.items()
        )
        room = "".join(f'<p style="{RULED}">{escape(words)}</p>' for words in WRITTEN)
        marks = "".join(f"<li>&#9744; {escape(point)}</li>" for point in POINTS)
        return (
            f"<p><b>{escape(self.lesson)}</b></p><p>Name ____________ Day ____________ Humidity ______ %</p>"
            f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
            f"{room}"
            f'<p>One point each:</p><ul style="list-style:none">{marks}</ul>'
        )

    def _keep(self, column, figures):
        for name, figure in figures.items():
            self._words(name)
            is_number = isinstance(figure, Real) and not isinstance(figure, bool) and isfinite(figure)
            if figure is not None and not is_number:
                msg = f"{column} {name} = {figure!r}: type a number without its unit, or None for not yet"
                raise PlatemodelError(msg)
            self.figures[column][name] = figure

    def _words(self, name):
        if name not in self.questions:
            msg = f"this sheet has no question {name!r}; its questions are {', '.join(self.questions)}"
            raise PlatemodelError(msg)
        return self.questions[name][0]

    def _seen(self, column, name):
        """Write a figure as the page shows it: before the guess, only that there is one."""
        figure = self._of(column, name)
        if figure is None:
            return ""
        return number_text(float(figure)) if self._of("guess", name) is not None else HIDDEN

    def _of(self, column, name):
        return self.figures[column].get(name)


def class_table(folder: str | Path) -> pd.DataFrame:
    """Read the sheets of a class.

    Parameters
    ----------
    folder : path
        With a ``.csv`` from `LabSheet.save` for each sheet.

    Returns
    -------
    DataFrame
        A row a question and sheet: ``sheet`` (name of the file), the columns of `LabSheet.table`, and
        ``guessed``, ``read`` (bool), ``guess_over_model``, ``reading_over_model``.

    Raises
    ------
    PlatemodelError
        No sheets in the folder, or a file that is none.
    """
    paths = sorted(Path(folder).expanduser().glob("*.csv"))
    if not paths:
        msg = f"no lab sheets (.csv) in {folder}: save them there with sheet.save"
        raise PlatemodelError(msg)
    tables = []
    for path in paths:
        table = pd.read_csv(io.BytesIO(path.read_bytes()))
        if list(table.columns) != KEPT:
            msg = f"{path}: not a lab sheet; its columns must be {', '.join(KEPT)}"
            raise PlatemodelError(msg)
        tables.append(table.assign(sheet=path.stem))
    whole = pd.concat(tables, ignore_index=True)
    whole["guessed"], whole["read"] = whole["guess"].notna(), whole["reading"].notna()
    whole["guess_over_model"] = whole["guess"] / whole["model"]
    whole["reading_over_model"] = whole["reading"] / whole["model"]
    return whole[["sheet", *KEPT, "guessed", "read", "guess_over_model", "reading_over_model"]]


def _shut(panel):
    import ipywidgets as widgets

    return widgets.Accordion(children=[panel], titles=[UNGUESSED], selected_index=None)


def _as_html(item):
    made = getattr(item, "_repr_html_", None)
    return made() if made else f"<pre>{escape(str(item))}</pre>"
