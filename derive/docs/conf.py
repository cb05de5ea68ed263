"""How the documents are built: `sphinx-build -W -b html derive/docs site`. Nothing is fetched from a network."""

from __future__ import annotations

import re
import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parents[1]
sys.path.insert(0, str(DOCS.parent))

from documenting.reference import write_all  # noqa: E402
from gapbook.tables.opening import open_package  # noqa: E402

_package = open_package(ROOT)
write_all(_package, ROOT, DOCS / "reference")

project = "gapbook"
author = copyright = "The gapbook contributors"
version = release = _package.version
extensions = ["myst_parser", "sphinx.ext.autodoc"]
myst_enable_extensions = ["colon_fence", "dollarmath"]
myst_heading_anchors = 3
exclude_patterns = ["__pycache__"]
html_theme = "furo"
html_title = "gapbook"
html_show_sourcelink = False
html_copy_source = False
html_show_copyright = False
smartquotes = False  # they make a dash of the hyphens of an option
pygments_style = "friendly"
pygments_dark_style = "monokai"
autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_default_options = {"exclude-members": "model_config,model_post_init"}
suppress_warnings = ["misc.highlighting_failure"]

_LINE = re.compile(r"^(\*{0,2}\w+(?:, \*{0,2}\w+)*)((?: \[[^\]]*\])?): (\S.*)$")


def _as_rst(app: object, what: str, name: str, obj: object, options: object, lines: list[str]) -> None:
    """Docstrings are plain text: `NAME: what it is` becomes an item of a list, and `code` is set as code."""
    made: list[str] = []
    for line in lines:
        if not line.lstrip().startswith((">>>", "...")):
            line = re.sub(r"(?<!`)`([^`]+)`(?!`)", r"``\1``", line)
            line = re.sub(r"(?<=\w)_(?=\W|$)", r"\_", line)  # else it would be a link's name
        if told := _LINE.match(line):
            names = told[1].replace("*", r"\*")
            made += ["", f"- **{names}**{told[2]}: {told[3]}"]
        elif made and line and made[-1].startswith(("- **", "  ")) and not line.startswith(">>>"):
            made.append("  " + line.strip())
        else:
            made.append(line)
    lines[:] = [*made, ""]


def setup(app: object) -> None:
    """Called by Sphinx."""
    app.connect("autodoc-process-docstring", _as_rst)  # type: ignore[attr-defined]
