"""Print every dependency of pyproject.toml pinned to its lower bound, a line each, for pip's ``-c``."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for requirement in project["dependencies"]:
    name, bound = re.fullmatch(r"([\w.-]+)>=([\w.]+)", requirement).groups()
    print(f"{name}=={bound}")
