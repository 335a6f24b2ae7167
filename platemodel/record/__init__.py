"""The history of a job: what was measured, decided and cut, line by line, never rewritten."""

from platemodel.record.entry import KINDS, UNITS, Entry
from platemodel.record.history import HISTORY_FILE, Damage, History, read_history
from platemodel.record.writer import Record

__all__ = ["HISTORY_FILE", "KINDS", "UNITS", "Damage", "Entry", "History", "Record", "read_history"]
