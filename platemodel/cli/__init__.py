"""Command line: one module a verb.

Data go to stdout, messages to stderr; exit code 0 is ok, 1 a problem in the input, 2 wrong usage. A verb's
module has ``add(verbs)``, which describes its arguments, and loads the solver and the plotting library only
when run.
"""

from platemodel.cli.main import main

__all__ = ["main"]
