"""Panels with sliders in the book: the picture as it stands at first, and where the sliders move."""

import html
import json
import re

from docutils import nodes
from myst_nb.sphinx_ import NbMetadataCollector

VIEW = re.compile(r'<script type="application/vnd\.jupyter\.widget-view\+json">(.*)</script>', re.DOTALL)
WORDS = "The sliders of this panel move in the notebook, not in the book."


def _pictures(state, model, depth=0):
    """Pictures in a widget and in what it holds, with their alternative text; folded where it is folded."""
    widget = state.get(model, {})
    now = widget.get("state", {})
    if widget.get("model_name") == "HTMLModel":
        return now["value"] if "<img" in now.get("value", "") else ""
    children = [str(child).removeprefix("IPY_MODEL_") for child in now.get("children", [])]
    found = "".join(_pictures(state, child, depth + 1) for child in children) if depth < 8 else ""
    if found and widget.get("model_name") == "AccordionModel":
        return f"<details><summary>{html.escape(now['titles'][0])}</summary>{found}</details>"
    return found


def _stand_still(app, doctree):
    # the reader of notebooks leaves the state of the widgets for scripts that the book does not fetch
    files = NbMetadataCollector.get_js_files(app.env, app.env.docname)
    _, kwargs = files.pop("ipywidgets_state", (None, {}))
    state = json.loads(kwargs["body"])["state"] if "body" in kwargs else {}
    for node in list(doctree.findall(nodes.raw)):
        view = VIEW.fullmatch(node.astext().strip())
        if not view:
            continue
        content = json.loads(view[1])
        content = json.loads(content) if isinstance(content, str) else content
        shown = _pictures(state, content["model_id"])
        node.parent.replace(node, nodes.raw("", f"{shown}<p><em>{WORDS}</em></p>", format="html"))


def setup(app):
    """Connect it to the reading of each page."""
    app.connect("doctree-read", _stand_still)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
