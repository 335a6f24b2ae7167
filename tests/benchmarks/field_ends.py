"""Figures of a violin's top at either end of their ranges, alone and in pairs: solved, or refused by name?

Run ``python -m tests.benchmarks.field_ends [pairs [seed]]``; a second or two a case.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.field_ends import ends, fault, outcome, pairs


def main():
    """Print what went wrong, and how many were solved and refused."""
    given = [int(word) for word in sys.argv[1:3]]
    count, seed = given + [60, 1][len(given) :]
    kinds = Counter()
    for case in [*ends(), *pairs(count, seed)]:
        with tempfile.TemporaryDirectory() as folder:
            found = outcome(case, Path(folder))
        kinds[found.kind] += 1
        if wrong := fault(case, found):
            print(wrong, flush=True)
    print(", ".join(f"{n} {kind}" for kind, n in kinds.items()))


if __name__ == "__main__":
    main()
