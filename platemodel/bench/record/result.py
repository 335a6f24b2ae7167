"""The history of a job: its text and data."""

from dataclasses import dataclass

from platemodel.bench.kit import cautions
from platemodel.job import Job
from platemodel.record.entry import Entry
from platemodel.record.history import History


@dataclass(frozen=True, eq=False)
class JobHistory:
    """History of a job, and what its pages are headed with.

    Attributes
    ----------
    name : str
        Of the job.
    job : Job or None
        None when job.toml cannot be read; then there is no report for the owner.
    """

    history: History
    name: str
    invented: bool = False
    job: Job | None = None

    @property
    def title(self) -> str:
        """Title of the pages."""
        return f"History: {self.name}"

    @property
    def notes(self) -> str:
        """Line under the title."""
        return cautions.INVENTED if self.invented else ""


def value_text(entry: Entry) -> str:
    """Values in words: ``height 11.5 mm, bar_on yes``."""
    out = []
    for name, value in entry.values.items():
        if isinstance(value, bool):
            out.append(f"{name} {'yes' if value else 'no'}")
        elif isinstance(value, str):
            out.append(f"{name} {value}")
        else:
            out.append(f"{name} {value:g}" if isinstance(value, float) else f"{name} {value}")
    return ", ".join(out)


def state_text(history: History) -> str:
    """Whether the history is whole, in a sentence."""
    count = len(history.entries)
    lines = f"{count} entr{'y' if count == 1 else 'ies'}"
    if not history.sound:
        return f"{lines}. NOT AS WRITTEN: " + "; ".join(map(str, history.damage)) + "."
    rest = ""
    if history.torn:
        rest = f" The last {len(history.torn)} bytes are a line that a crash cut short."
    if history.set_aside:
        rest += f" Cut short by a crash and set aside: {', '.join(history.set_aside)}."
    return f"{lines}, every seal intact.{rest}"


def told(result: JobHistory, kinds: tuple[str, ...]) -> list[str]:
    """Return the notes of entries of some kinds, each with its day."""
    entries = [e for e in result.history.entries if e.kind in kinds and e.note]
    return [f"{e.at[:10]}: {' '.join(e.note.split())}" for e in entries]


def as_text(result: JobHistory) -> str:
    """History for the terminal."""
    history = result.history
    title = result.title + (f". {result.notes.upper()}" if result.notes else "")
    lines = [title, state_text(history), ""]
    for entry in history.entries:
        lines.append(f"{entry.number:4d}  {entry.at}  {entry.kind}")
        parts = [value_text(entry), *entry.note.split("\n"), *(name for name, _ in entry.pictures)]
        lines += [f"      {part}" for part in parts if part]
    return "\n".join(lines) + "\n"


def as_data(result: JobHistory) -> dict:
    """Plain data for JSON."""
    history = result.history
    return {
        "sound": history.sound,
        "damage": [{"line": d.line, "what": d.what} for d in history.damage],
        "torn_bytes": len(history.torn),
        "set_aside": list(history.set_aside),
        "entries": [
            {
                "n": e.number,
                "at": e.at,
                "kind": e.kind,
                "values": e.values,
                "note": e.note,
                "pictures": [name for name, _ in e.pictures],
                "sha256": e.seal,
            }
            for e in history.entries
        ],
    }
