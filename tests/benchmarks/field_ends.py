"""Figures of a top at either end of their ranges: solved, or refused by name?

Run ``python -m tests.benchmarks.field_ends [draws [seed]]``; a second or two a case. First each figure alone,
at both ends, on a usual violin; then two or three together, drawn by chance, on four jobs of unlike kind. A
negative number of draws leaves the first out.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path

from tests.field_ends import draws, ends, fault, outcome


def main():
    """Print what went wrong, and how many were solved and refused."""
    given = [int(word) for word in sys.argv[1:3]]
    count, seed = given + [60, 1][len(given) :]
    kinds = Counter()
    for case in [*(ends() if count >= 0 else ()), *draws(abs(count), seed)]:
        with tempfile.TemporaryDirectory() as folder:
            found = outcome(case, Path(folder))
        kinds[found.kind] += 1
        if wrong := fault(case, found):
            print(wrong, flush=True)
    print(", ".join(f"{n} {kind}" for kind, n in kinds.items()))


if __name__ == "__main__":
    main()
