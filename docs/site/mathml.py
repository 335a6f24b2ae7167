"""Formulas as MathML, which browsers set by themselves: no script, nothing fetched."""

import re

from latex2mathml.converter import convert
from sphinx.util.math import get_node_equation_number


def _mathml(latex, display):
    return convert(latex.strip(), display=display)


def _inline(self, node):
    from docutils import nodes

    self.body.append(_mathml(node.astext(), "inline"))
    raise nodes.SkipNode


def _block(self, node):
    from docutils import nodes

    latex, number = node.astext(), ""
    tagged = re.search(r"\\tag\{([^}]*)\}", latex)
    if tagged:
        number, latex = tagged[1], latex.replace(tagged[0], "")
    elif node["number"]:
        number = get_node_equation_number(self, node)
    label = f'<span class="eqno">({number})</span>' if number else ""
    self.body.append(f'<div class="math">{label}{_mathml(latex, "block")}</div>\n')
    raise nodes.SkipNode


def setup(app):
    """Register the renderer."""
    app.add_html_math_renderer("mathml", (_inline, None), (_block, None))
    return {"parallel_read_safe": True, "parallel_write_safe": True}
