"""The book: the documents and the notebooks as one site. See book.md for the commands."""

import sys
from pathlib import Path

DOCS = Path(__file__).parent
ROOT = DOCS.parent
sys.path.insert(0, str(DOCS / "site"))

project = "platemodel"
author = "the platemodel developers"
html_title = "platemodel: the bass bar of a top"
language = "en"

# Sources are the tree itself, so that the same links work here and where the files lie.
root_doc = "docs/index"
include_patterns = ["*.md", "docs/**", "notebooks/**", "tests/published/solids/README.md"]
exclude_patterns = ["**/.ipynb_checkpoints", "docs/site", "docs/conf.py"]

extensions = ["myst_nb", "mathml", "still_panels"]
myst_enable_extensions = ["colon_fence", "dollarmath"]
myst_heading_anchors = 4
myst_update_mathjax = False
html_math_renderer = "mathml"

# `-D nb_execution_mode=force` runs the notebooks and shows what comes out.
nb_execution_mode = "off"
nb_execution_timeout = 600
nb_execution_raise_on_error = True
nb_execution_show_tb = True
nb_ipywidgets_js = {}  # the sliders need a kernel; no script is fetched for them
nb_merge_streams = True
nb_code_prompt_show = "Show the code"
nb_code_prompt_hide = "Hide the code"

html_theme = "furo"
html_additional_pages = {"index": "to_the_book.html"}  # a page to open at the top of the output
templates_path = ["site/templates"]
html_static_path = ["site/static"]
html_css_files = ["book.css"]
html_show_search_summary = False  # a page opened from the disk may not fetch others
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False
