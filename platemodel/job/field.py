"""What a field of job.toml is, and the units that end its name."""

from dataclasses import dataclass

#: Factor from the unit in a field's name to SI; the longest suffix wins.
SI_PER_UNIT = {
    "_kg_m3": 1.0,
    "_s_per_kg": 1.0,
    "_n_per_mm": 1e3,
    "_gpa": 1e9,
    "_mm": 1e-3,
    "_g": 1e-3,
    "_deg": 0.017453292519943295,
    "_hz": 1.0,
    "_n": 1.0,
    "_percent": 0.01,
    "_c": 1.0,
}


@dataclass(frozen=True)
class Field:
    """One field of job.toml.

    Attributes
    ----------
    key : str
        Name with its unit.
    kind : {"number", "text", "choice", "flag", "file", "date"}
    low, high : float
        Allowed range of a number, in the unit of the name.
    doc : str
        What it is and how to measure it, in plain words.
    usual : str
        Attribute of `instrument.dimensions.Dimensions`, or after ``body.`` of
        `instrument.body_dimensions.BodyDimensions`, that stands in when the field is left out.
    """

    key: str
    kind: str
    doc: str
    low: float = 0.0
    high: float = 0.0
    required: bool = False
    choices: tuple[str, ...] = ()
    usual: str = ""


@dataclass(frozen=True)
class FieldTable:
    """One table of job.toml: name, a sentence about it, its fields, and the table that explains them."""

    name: str
    doc: str
    fields: tuple[Field, ...]
    explained_in: str = ""


def mm(key: str, low: float, high: float, doc: str, usual: str = "") -> Field:
    """Return a length in mm; the unit is added to the name."""
    return Field(f"{key}_mm", "number", doc, low, high, usual=usual)


def number(key: str, low: float, high: float, doc: str) -> Field:
    """Return a number whose name carries its unit."""
    return Field(key, "number", doc, low, high)
