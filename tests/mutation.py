"""Changes the code in small ways, one at a time, and counts how many changes the tests of its room notice.

Run ``python -m tests.mutation wood --sample 50``; needs ``pip install cosmic-ray``. It works on a copy of the
checkout in a temporary folder. A change that no test notices is printed: either it changes nothing that
matters, or a test is missing.
"""

import argparse
import os
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
#: Files of tests that look after a room of the package.
ROOMS = {
    "wood": ["tests/test_wood*.py"],
    "instrument": ["tests/test_instrument*.py", "tests/test_job.py"],
    "fem": ["tests/test_fem*.py", "tests/published"],
    "study": ["tests/test_study*.py", "tests/published"],
}
#: Typing and the wording of messages are not what the tests are for.
SKIPPED = ("Decorator", "ReplaceBinaryOperator_BitOr", "ExceptionReplacer")


def sample(store: Path, modules: list[Path], count: int | None, seed: int) -> int:
    """Store some of the changes of the modules, drawn by chance, and count all of them."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import use_db

    with use_db(str(store)) as db:
        init(modules, db, {})
        items = [
            item for item in db.work_items if not any(s in item.mutations[0].operator_name for s in SKIPPED)
        ]
        items.sort(key=lambda item: (str(item.mutations[0].module_path), item.mutations[0].start_pos))
        drawn = items if count is None else random.Random(seed).sample(items, min(count, len(items)))
        db.clear()
        db.add_work_items(drawn)
    return len(items)


def report(store: Path) -> tuple[int, int]:
    """Print the changes that were not noticed, and count those that were and all that were tried."""
    from cosmic_ray.work_db import WorkDB, use_db

    noticed = tried = 0
    with use_db(str(store), WorkDB.Mode.open) as db:
        for _, result in db.completed_work_items:
            tried += 1
            noticed += result.is_killed
            if not result.is_killed:
                print(result.diff or result.output)
    return noticed, tried


def main() -> None:
    """Run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("room", choices=ROOMS)
    parser.add_argument("--module", help="only this file of the room, such as strip.py")
    parser.add_argument("--sample", type=int, help="how many changes to try, drawn by chance; default all")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", "__pycache__", ".*_cache", "out"))
        os.chdir(copy)
        os.environ["PYTHONPATH"] = str(copy)
        modules = sorted(Path("platemodel", args.room).rglob(args.module or "*.py"))
        tests = [str(t) for pattern in ROOMS[args.room] for t in sorted(Path().glob(pattern))]
        own = f"tests/test_{args.room}_{args.module or ''}"
        tests.sort(key=lambda test: test != own)  # first the file that most likely notices
        command = f"{sys.executable} -m pytest -x -q -p no:cacheprovider {' '.join(tests)}"
        Path("mutation.toml").write_text(
            f'[cosmic-ray]\nmodule-path = "platemodel"\ntimeout = 900.0\nexcluded-modules = []\n'
            f'test-command = "{command}"\n[cosmic-ray.distributor]\nname = "local"\n'
        )
        if subprocess.run(command.split(), check=False).returncode:
            sys.exit("the tests fail without any change; nothing was tried")
        store = Path("changes.sqlite")
        all_ = sample(store, modules, args.sample, args.seed)
        subprocess.run(
            [sys.executable, "-m", "cosmic_ray.cli", "exec", "mutation.toml", str(store)], check=True
        )
        noticed, tried = report(store)
        print(
            f"{args.room}: {noticed} of {tried} changes noticed, {noticed / tried:.0%}; {all_} are possible"
        )


if __name__ == "__main__":
    main()
