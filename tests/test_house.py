"""House rules that the source shows: arrows of import, cycles, private attributes, frozen data, length."""

import ast
import graphlib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
MOST_LINES = 400
#: Dataclasses that collect what is read or found, or hold what a panel shows just now.
FILLED = {
    "Work", "Fields", "Search", "Slot", "LabSheet", "TallerPanel", "Stepper", "LivePanel", "CurveReader",
}  # fmt: skip

ANYWHERE = {"", "errors", "resources", "threads", "files", "progress"}  # "": the version
MODEL = frozenset({"fem", "instrument", "wood", "taps"})
STUDIES = {f"study.{part}" for part in ("top", "body", "wood", "choosing", "gluing", "trimming")}
COMPUTING = MODEL | STUDIES | {"study", "job", "record"}
KIT = {"bench.kit"}
PAPER = {"bench.sheets", "bench.pack", "bench.notebook"}
PAGES = {f"bench.{p.name}" for p in (ROOT / "platemodel/bench").iterdir() if (p / "result.py").is_file()}
#: What each room may import, besides itself and what all may; the rooms table of DEVELOPERS.md.
ROOMS = {
    "errors": frozenset(),
    "resources": frozenset(),
    "threads": frozenset(),
    "progress": frozenset(),
    "files": frozenset(),
    "wood": frozenset(),
    "instrument": {"wood"},
    "fem": frozenset(),
    "taps": frozenset(),
    "record": frozenset(),
    "job": {"instrument", "wood"},
    "study": {"instrument", "study.choosing"},
    "study.top": MODEL,
    **dict.fromkeys(STUDIES - {"study.top"}, MODEL | {"study.top"}),
    "bench": frozenset(),
    "bench.kit": COMPUTING,
    **dict.fromkeys(PAGES, COMPUTING | KIT),
    **dict.fromkeys(("bench.layout", "bench.lines"), COMPUTING | KIT | {"bench.sheets"}),
    **dict.fromkeys(PAPER, COMPUTING | PAGES | KIT | PAPER),
    "cli": COMPUTING | PAGES | KIT | PAPER,
    "__main__": {"cli"},
    "": frozenset(),
}


def module_name(path, root):
    return ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__")


def package(root):
    """Syntax tree of every module of the package under a root, by its dotted name."""
    paths = sorted((root / "platemodel").rglob("*.py"))
    return {module_name(p, root): ast.parse(p.read_text(encoding="utf-8")) for p in paths}


TREES = package(ROOT)


def room_of(module):
    name = module.removeprefix("platemodel").lstrip(".")
    fitting = [room for room in ROOMS if room and (name == room or name.startswith(room + "."))]
    return max(fitting, key=len, default="")


def imported(tree, trees):
    """Modules of the package that a tree imports, at its head or later."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "platemodel":
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                found.add(whole if whole in trees else node.module)
        elif isinstance(node, ast.Import):
            found.update(a.name for a in node.names if a.name.split(".")[0] == "platemodel")
    return found


def wrong_arrows(trees):
    found = []
    for name, tree in trees.items():
        here = room_of(name)
        allowed = ROOMS[here] | ANYWHERE | {here}
        found += [(name, other) for other in imported(tree, trees) if room_of(other) not in allowed]
    return found


def cycle(trees):
    """One cycle of imports among the modules, or nothing."""
    graph = {name: imported(tree, trees) - {name} for name, tree in trees.items()}
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as found:
        return found.args[1]
    return []


def _private(name):
    return name.startswith("_") and not name.startswith("__") and not name.startswith("_repr_")


def _own_names(cls):
    """Names that a class gives its instances or itself."""
    names = set()
    for node in ast.walk(cls):
        if isinstance(node, ast.FunctionDef):
            names.add(node.name)
        elif isinstance(node, ast.Attribute) and ast.unparse(node.value) in ("self", "cls"):
            names.add(node.attr)
        elif isinstance(node, ast.AnnAssign | ast.Assign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names.update(t.id for t in targets if isinstance(t, ast.Name))
    return names


def touched_from_outside(tree):
    """Private attributes and names that code takes from outside their class or module: (line, text)."""
    found, inside = [], {}
    for cls in (n for n in ast.walk(tree) if isinstance(n, ast.ClassDef)):
        own = _own_names(cls)
        inside.update(dict.fromkeys((n for n in ast.walk(cls) if isinstance(n, ast.Attribute)), own))
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and _private(node.attr) and node.attr not in inside.get(node, ()):
            found.append((node.lineno, ast.unparse(node)))
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("platemodel"):
            found += [(node.lineno, f"{node.module}.{a.name}") for a in node.names if _private(a.name)]
    return found


def test_rooms_import_only_what_the_table_allows():
    assert wrong_arrows(TREES) == []


def test_no_module_imports_itself_by_way_of_others():
    assert cycle(TREES) == []


def test_private_attributes_stay_within_their_class():
    found = {name: touched_from_outside(tree) for name, tree in TREES.items()}
    assert {name: places for name, places in found.items() if places} == {}


def thawed(tree):
    """Names of dataclasses that are not frozen."""
    return {
        cls.name
        for cls in ast.walk(tree)
        if isinstance(cls, ast.ClassDef)
        for mark in cls.decorator_list
        if "dataclass" in ast.unparse(mark) and "frozen=True" not in ast.unparse(mark)
    }


def test_dataclasses_are_frozen_but_for_those_that_are_filled_or_moved():
    assert set().union(*map(thawed, TREES.values())) == FILLED


def test_no_file_is_longer_than_allowed():
    lines = {p: len(p.read_text(encoding="utf-8").splitlines()) for p in (ROOT / "platemodel").rglob("*.py")}
    assert {str(p.relative_to(ROOT)): n for p, n in lines.items() if n > MOST_LINES} == {}


def test_the_checks_find_what_they_look_for():
    """Modules that break each rule are found out."""
    trees = {
        "platemodel.fem.one": ast.parse("from platemodel.instrument import bar"),
        "platemodel.instrument.bar": ast.parse("def f():\n    import platemodel.fem.one"),
        "platemodel.study.gluing.a": ast.parse("from platemodel.study.trimming.b import c"),
        "platemodel.study.trimming.b": ast.parse("from platemodel.study.top.c import d"),
        "platemodel.study.top.c": ast.parse("import numpy"),
    }
    assert wrong_arrows(trees) == [
        ("platemodel.fem.one", "platemodel.instrument.bar"),
        ("platemodel.instrument.bar", "platemodel.fem.one"),
        ("platemodel.study.gluing.a", "platemodel.study.trimming.b"),
    ]
    trees["platemodel.fem.one"] = ast.parse("from platemodel.instrument.bar import f")
    assert set(cycle(trees)) == {"platemodel.fem.one", "platemodel.instrument.bar"}
    source = "class A:\n    def f(self, o):\n        return o._own, self._own, o._theirs\nx._mine\n"
    assert touched_from_outside(ast.parse(source)) == [(4, "x._mine"), (3, "o._theirs")]
    assert touched_from_outside(ast.parse("from platemodel.fem.seat import _rows")) == [
        (1, "platemodel.fem.seat._rows")
    ]
