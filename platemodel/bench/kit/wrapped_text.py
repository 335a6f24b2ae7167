"""Long lines broken between words, for a notebook's page and for the terminal."""

import textwrap

WIDTH = 100  # characters that stand in one line of a notebook beside the list of files


def wrapped(text: str, width: int = WIDTH) -> str:
    """Break long lines between words.

    Parameters
    ----------
    text : str
        Of any number of lines; those that fit stay as they are, with their spaces, and so do rows of a table,
        which have more than one space between words.
    width : int
        Characters a line.

    Returns
    -------
    str
        What a line goes on with stands two further in than it began.
    """
    out = []
    for line in text.splitlines():
        if len(line) > width and "  " not in line.strip():
            indent = " " * (len(line) - len(line.lstrip()) + 2)
            out += textwrap.wrap(
                line, width, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
            )
        else:
            out.append(line)
    return "\n".join(out)
