"""Rows of a sweep kept as they are computed, so that it can be taken up again; never half a row."""

import importlib.util
import io
import os
from pathlib import Path

import pandas as pd

from platemodel.files import written_together

MARK = "# platemodel sweep "
WORDS = ("source", "wood")  # columns that hold no numbers


class SweepFile:
    """A CSV table that grows by whole rows, or a Parquet table written when all rows are there.

    Parameters
    ----------
    path : path
        ``.csv``, or ``.parquet`` (needs pyarrow), which keeps its rows in a CSV file beside it until the end.
    key : str
        Tells this sweep from any other.

    Raises
    ------
    ValueError
        Another kind of file; a file of another sweep; Parquet without pyarrow.
    FileNotFoundError
        Its folder does not exist.
    """

    def __init__(self, path: str | os.PathLike, key: str, columns: list[str]):
        self.path, self.key, self.columns = Path(path), key, list(columns)
        self.parquet = self.path.suffix == ".parquet"
        if self.path.suffix not in (".csv", ".parquet"):
            msg = f"{self.path.name}: a sweep is kept as .csv or .parquet"
            raise ValueError(msg)
        if self.parquet and importlib.util.find_spec("pyarrow") is None:
            msg = f"{self.path.name}: Parquet needs pyarrow, which is not installed; use .csv"
            raise ValueError(msg)
        if not self.path.parent.is_dir():
            msg = f"the folder {self.path.parent} does not exist; make it first"
            raise FileNotFoundError(msg)
        self.rows = self.path.with_name(self.path.name + ".rows.csv") if self.parquet else self.path

    def read(self) -> pd.DataFrame:
        """Rows that are there; a last line that was torn is cut off the file.

        Returns
        -------
        DataFrame
            Each row once, in the order of ``row``.
        """
        if self.parquet and self.path.exists():
            table = pd.read_parquet(self.path)
            self._check(table.attrs.get("sweep", ""), self.path)
            return table
        if not self.rows.exists():
            return pd.DataFrame(columns=self.columns)
        raw = self.rows.read_bytes()
        if self._head().startswith(raw):  # cut off within its first two lines, or just behind them
            os.truncate(self.rows, 0)
            return pd.DataFrame(columns=self.columns)
        head, _, rest = raw.decode(errors="replace").partition("\n")
        self._check(head.removeprefix(MARK).split(" ")[0], self.rows)
        names, _, body = rest.partition("\n")
        self._check_columns(names)
        whole = raw.rfind(b"\n") + 1
        if whole < len(raw):
            os.truncate(self.rows, whole)
            body = raw[:whole].decode().split("\n", 2)[2]
        table = pd.read_csv(io.StringIO(f"{names}\n{body}"), dtype=str, keep_default_na=False)
        for name in table.columns.difference(
            WORDS
        ):  # float() of a cell gives back the number that was written
            table[name] = table[name].replace("", "nan").astype(float)
        table["row"] = table["row"].astype(int)
        return table.drop_duplicates("row").sort_values("row", ignore_index=True)

    def _head(self):
        head = f"{MARK}{self.key} (delete the file to begin anew)"
        return f"{head}\n{','.join(self.columns)}\n".encode()

    def _check(self, key, path):
        if key != self.key:
            msg = f"{path} holds another sweep, or other than a sweep; give a new name, or delete it"
            raise ValueError(msg)

    def _check_columns(self, names):
        if names.split(",") != self.columns:
            msg = f"{self.rows} has other columns than this sweep; give a new name, or delete it"
            raise ValueError(msg)

    def append(self, rows: pd.DataFrame) -> None:
        """Add whole rows, in one write that is on the disk when this returns."""
        text = rows[self.columns].to_csv(index=False, header=False, lineterminator="\n")
        handle = os.open(self.rows, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
        try:
            left = text.encode()
            if os.fstat(handle).st_size == 0:
                left = self._head() + left
            while left:
                left = left[os.write(handle, left) :]
            os.fsync(handle)
        finally:
            os.close(handle)

    def finish(self, table: pd.DataFrame) -> None:
        """Write the Parquet table, whole or not at all; a CSV table is finished already."""
        if not self.parquet or self.path.exists():
            return
        with written_together([self.path]) as (draft,):
            kept = table.copy()
            kept.attrs["sweep"] = self.key
            kept.to_parquet(draft, index=False)
        self.rows.unlink(missing_ok=True)
