"""The documents keep up with the code: links, code blocks, commands, names and constants that they quote."""

import importlib
import inspect
import re
import shlex
from pathlib import Path

import pytest

from platemodel.cli import main

ROOT = Path(__file__).parents[1]
DOCS = sorted({*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("tests/**/*.md")})
ROOMS = "fem|study|instrument|wood|bench|job|taps|errors|record"
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\[\]]+\]\(([^()\s]+)\)")


def name(path):
    return path.relative_to(ROOT).as_posix()


def prose(text):
    """Text without fenced blocks, code spans and formulas."""
    text = FENCE.sub("", text)
    text = re.sub(r"\$\$.*?\$\$", "", text, flags=re.DOTALL)
    return re.sub(r"`[^`\n]*`|\$[^$\n]*\$", "", text)


def anchors(text):
    """Anchors of the headings, as the usual viewers make them."""
    heads = re.findall(r"^#+ (.+)$", FENCE.sub("", text), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", h.lower().strip()).replace(" ", "-") for h in heads}


def broken_links(path, text):
    """Links of a document that lead nowhere."""
    out = []
    for target in LINK.findall(prose(text)):
        if re.match(r"[a-z]+:", target):
            continue
        place, _, anchor = target.partition("#")
        file = (path.parent / place).resolve() if place else path
        found = file.exists()
        if found and anchor:
            found = anchor in anchors(text if file == path else file.read_text(encoding="utf-8"))
        if not found:
            out.append(target)
    return out


def blocks(text, language):
    return [body for marked, body in FENCE.findall(text) if marked == language]


def commands(text):
    """Words of each platemodel command in sh blocks; in indented blocks and code spans the verb only."""
    for body in blocks(text, "sh"):
        for line in body.splitlines():
            for part in re.split(r"&&|\|\||;|\|", line):
                words = shlex.split(part, comments=True)
                if words and words[0] == "platemodel":
                    yield words[1:]
    for pattern in (r"^    platemodel +([a-z]\w*)", r"`platemodel +([a-z]\w*)[^`\n]*`"):
        for verb in re.findall(pattern, FENCE.sub("", text), re.MULTILINE):
            yield [verb]


def unknown_words(words, capsys):
    """Verb and options of a command that the program does not know."""
    verb, options = words[0], [w for w in words if w.startswith("--")]
    capsys.readouterr()
    code = main(["--help"] if verb.startswith("--") else [verb, "--help"])
    known = capsys.readouterr().out
    return [verb] if code else [o for o in options if not re.search(rf"{o}\b", known)]


def resolve(dotted):
    """Object that a name such as ``fem.rib.Seat.rows`` stands for."""
    parts = ["platemodel", *dotted.split(".")]
    for cut in range(len(parts), 1, -1):
        try:
            thing = importlib.import_module(".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        for part in parts[cut:]:
            # a room loads what it names when it is asked; of a class the descriptor itself is wanted
            find = getattr if inspect.ismodule(thing) else inspect.getattr_static
            thing = find(thing, part)
        return thing
    raise AttributeError(dotted)


def names(text):
    return [n for n in re.findall(rf"`((?:{ROOMS})(?:\.\w+)+)`", text) if not n.endswith((".csv", ".toml"))]


def constants(text):
    """Quoted constants with their values: ``fem.rib.PIVOT` = 0.25``."""
    found = re.findall(rf"`((?:{ROOMS})(?:\.\w+)+)` = ([-+\d.e]*\d)", text)
    return [(dotted, float(value)) for dotted, value in found]


def test_the_documents_are_found():
    found = {name(path) for path in DOCS}
    assert {"README.md", "DEVELOPERS.md", "docs/theory.md", "docs/how-to.md", "docs/glossary.md"} <= found


@pytest.mark.parametrize("path", DOCS, ids=name)
def test_links_resolve(path):
    assert broken_links(path, path.read_text(encoding="utf-8")) == []


WITH_CODE = [d for d in DOCS if blocks(d.read_text(encoding="utf-8"), "python")]
LEARNING = ("docs/choosing.md", "docs/reduced-model.md")  # their blocks learn on the fine mesh


@pytest.mark.parametrize(
    "path",
    [pytest.param(d, marks=pytest.mark.slow if name(d) in LEARNING else ()) for d in WITH_CODE],
    ids=[name(d) for d in WITH_CODE],
)
def test_python_blocks_run(path, monkeypatch):
    """All blocks of a document run in order, in one name space, in the project's folder."""
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("MPLBACKEND", "Agg")
    space = {"__name__": "document"}
    for number, body in enumerate(blocks(path.read_text(encoding="utf-8"), "python"), start=1):
        exec(compile(body, f"{name(path)}, block {number}", "exec"), space)


@pytest.mark.parametrize("path", DOCS, ids=name)
def test_commands_exist(path, capsys):
    for words in commands(path.read_text(encoding="utf-8")):
        assert unknown_words(words, capsys) == [], words


@pytest.mark.parametrize("path", DOCS, ids=name)
def test_quoted_names_exist(path):
    text = path.read_text(encoding="utf-8")
    for dotted in names(text):
        assert resolve(dotted) is not None
    for dotted, value in constants(text):
        assert resolve(dotted) == pytest.approx(value, rel=1e-12), dotted


def test_theory_names_code_and_constants():
    text = (ROOT / "docs" / "theory.md").read_text(encoding="utf-8")
    assert len(set(names(text))) > 60
    assert len(constants(text)) >= 6


@pytest.mark.parametrize("path", DOCS, ids=name)
def test_files_named_exist(path):
    pattern = r"`((?:tests|docs|data|notebooks|platemodel)/[\w/.-]+)`"
    missing = [f for f in re.findall(pattern, path.read_text(encoding="utf-8")) if not (ROOT / f).exists()]
    assert missing == []


# ---------------------------------------------------------------- the checks themselves can fail


def test_a_broken_link_is_noticed():
    here = ROOT / "DEVELOPERS.md"
    text = "# One, two\n[a](docs/none.md) [b](#one-two) [c](#three) `[d](none)`\n```sh\n[e](none)\n```\n"
    assert broken_links(here, text) == ["docs/none.md", "#three"]


def test_an_unknown_command_is_noticed(capsys):
    text = (
        "```sh\ncd x && platemodel frobnicate y  # z\nplatemodel check y --fast\n```\n"
        "`platemodel modes x`\n    platemodel sing\n"
    )
    found = [unknown_words(words, capsys) for words in commands(text)]
    assert found == [["frobnicate"], ["--fast"], ["sing"], []]


def test_a_wrong_name_or_constant_is_noticed():
    text = "`fem.rib.Seat.none` and `fem.rib.PIVOT` = 0.3."
    with pytest.raises(AttributeError):
        resolve(names(text)[0])
    ((dotted, value),) = constants(text)
    assert resolve(dotted) != value
