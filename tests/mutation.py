"""Changes the code in small ways, one at a time, and counts how many changes the tests of its room notice.

Run ``python -m tests.mutation wood --sample 60``; needs ``pip install cosmic-ray pytest-cov``. It works on a
copy of the checkout in a temporary folder. The quick tests of the room run once, to see which of them reach
which line and what each takes; a change is then tried on those that reach its line, the quickest files first,
until one fails or the time given to a change is used up. A change that no test notices is printed: either it
changes nothing that matters, or a test is missing.
"""

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[1]
#: Files of tests that look after a room of the package.
ROOMS = {
    "wood": ["tests/test_wood*.py", "tests/published"],
    "instrument": ["tests/test_instrument*.py", "tests/test_job*.py", "tests/published"],
    "fem": ["tests/test_fem*.py", "tests/published"],
    "study": ["tests/test_study*.py", "tests/test_bench_glue.py", "tests/published"],
}
#: Typing and the wording of messages are not what the tests are for.
SKIPPED = ("Decorator", "ReplaceBinaryOperator_BitOr", "ExceptionReplacer")
COVERED, TIMES = ".coverage", "times.xml"  # in the folder of what was seen
PYTEST = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-m", "not slow"]


def look(folder: Path, tests: list[str]) -> None:
    """Run the tests once, and note in a folder which lines each reaches and how long it takes."""
    folder.mkdir(parents=True, exist_ok=True)
    os.environ["COVERAGE_FILE"] = str(folder / COVERED)
    extra = ["--cov=platemodel", "--cov-context=test", "--cov-report=", f"--junitxml={folder / TIMES}"]
    if subprocess.run([*PYTEST, *extra, *tests], check=False).returncode:
        sys.exit("the tests fail without any change; nothing was tried")


class Reach:
    """Which tests reach a line, and what each takes."""

    def __init__(self, folder: Path):
        from coverage import CoverageData

        self.data = CoverageData(str(folder / COVERED))
        self.data.read()
        self.files = {Path(f).as_posix().partition("/platemodel/")[2]: f for f in self.data.measured_files()}
        self.seconds = {
            f"{case.get('classname').replace('.', '/')}.py::{case.get('name')}": float(case.get("time"))
            for case in ElementTree.parse(folder / TIMES).getroot().iter("testcase")
        }

    def tests(self, module: Path, first: int, last: int, most: float) -> list[str]:
        """Tests that reach some lines, the quickest files first, as many as the seconds allow."""
        known = self.files.get(module.as_posix().partition("platemodel/")[2])
        lines = self.data.contexts_by_lineno(known) if known else {}
        first = max((n for n in lines if n <= first), default=first)  # where the statement begins
        found = {c for n in range(first, last + 1) for c in lines.get(n, ()) if c}
        whole = not found  # what runs when the module is imported is for all tests of the files that reach it
        if whole:
            found = {c for all_ in lines.values() for c in all_ if c}
        by_file = defaultdict(set)
        for context in found:
            test, _, phase = context.rpartition("|")
            name = test.partition("::")[0]
            if phase == "run" and not whole:
                by_file[name].add(test)
            else:  # and so is what a fixture reaches
                by_file[name] |= {t for t in self.seconds if t.startswith(f"{name}::")}
        out, spent = [], 0.0
        for tests in sorted(by_file.values(), key=lambda ts: sum(self.seconds.get(t, 0.0) for t in ts)):
            for test in sorted(tests, key=lambda t: self.seconds.get(t, 0.0)):
                if spent < most:
                    out.append(test)
                    spent += self.seconds.get(test, 0.0)
        return out


def changes(modules: list[Path], count: int | None, seed: int) -> tuple[list, int]:
    """Some of the changes of the modules, drawn by chance, and the number of all."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import use_db

    with use_db("changes.sqlite") as db:
        init(modules, db, {})
        items = [
            item for item in db.work_items if not any(s in item.mutations[0].operator_name for s in SKIPPED)
        ]
    items.sort(key=lambda item: _place(item.mutations[0]))
    return items if count is None else random.Random(seed).sample(items, min(count, len(items))), len(items)


def _place(change):
    return str(change.module_path), change.start_pos, change.operator_name, change.occurrence


def noticed(change, reach: Reach, seconds: float) -> bool:
    """Whether a test notices a change; print it if none does, or if the tests only did not come to an end."""
    from cosmic_ray.mutating import mutate_and_test

    tests = reach.tests(Path(change.module_path), change.start_pos[0], change.end_pos[0], seconds)
    Path("chosen.txt").write_text("\n".join(tests), encoding="utf-8")
    command = " ".join([*PYTEST[:-2], "-x", "@chosen.txt"])
    result = mutate_and_test([change], command, 3 * seconds + 60.0) if tests else None
    where = f"{change.module_path}:{change.start_pos[0]}"
    if result is not None and result.is_killed:
        if result.output == "timeout":  # an endless loop, or a busy machine: judge by hand
            print(f"--- {where}: {change.operator_name}, out of time\n{result.diff}", flush=True)
        return True
    print(f"--- {where}: {change.operator_name}, {len(tests)} tests", flush=True)
    print("no test reaches it" if result is None else result.diff or result.output, flush=True)
    return False


def main() -> None:
    """Run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room", choices=ROOMS)
    parser.add_argument("--module", help="only this file of the room, such as strip.py")
    parser.add_argument("--sample", type=int, help="how many changes to try, drawn by chance; default all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=60.0, help="of tests for a change; default 60")
    parser.add_argument("--seen", type=Path, help="folder that keeps which tests reach what, for other runs")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        seen, copy = (args.seen or Path(folder) / "seen").absolute(), Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache", "out"))
        os.chdir(copy)
        os.environ |= {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
        if not (seen / COVERED).exists():
            look(seen, [str(t) for pattern in ROOMS[args.room] for t in sorted(Path().glob(pattern))])
        reach = Reach(seen)
        modules = sorted(Path("platemodel", args.room).rglob(args.module or "*.py"))
        drawn, all_ = changes(modules, args.sample, args.seed)
        count = 0
        for k, item in enumerate(drawn, 1):
            count += noticed(item.mutations[0], reach, args.seconds)
            print(f"{count} of {k}", file=sys.stderr, flush=True)
        share = count / len(drawn)
        print(f"{args.room}: {count} of {len(drawn)} changes noticed, {share:.0%}; {all_} are possible")


if __name__ == "__main__":
    main()
