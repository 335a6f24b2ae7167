"""Writing into a job folder: a file is replaced whole or stays as it was."""

import os
import tempfile
from pathlib import Path


def replace_text(path: Path, text: str) -> Path:
    """Write a text file whole or not at all; return its path.

    Raises
    ------
    OSError
        The folder cannot be written to.
    """
    handle, draft = tempfile.mkstemp(dir=path.parent, suffix=".csv")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        os.chmod(draft, 0o644)
        os.replace(draft, path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
    return path
