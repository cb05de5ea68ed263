"""The documents as tests see them: their pages, and the examples in them, which are run in a folder of their own."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from running import LEFT_OUT
from small import ROOT

DOCS = ROOT / "derive" / "docs"
MADE = "reference"
"""The folder of pages that are made when the documents are built."""
_BLOCK = re.compile(r"^(?:<!-- run(?P<fails>; fails)? -->\n)?^```(?P<kind>sh|python|text)\n(?P<text>.*?)^```$", re.M | re.S)
_RUN = re.compile(r"^<!-- run", re.MULTILINE)


class Example(NamedTuple):
    """A block that is run, and what it is said to print."""

    kind: str
    text: str
    fails: bool
    printed: str


def pages() -> list[Path]:
    """Every page that is written by hand, README.md among them."""
    return [ROOT / "README.md", *sorted(path for path in DOCS.rglob("*.md") if MADE not in path.relative_to(DOCS).parts)]


def name_of(page: Path) -> str:
    """How a page is called in a test."""
    return page.relative_to(ROOT).as_posix().removeprefix("derive/docs/")


def examples(page: Path) -> list[Example]:
    """The blocks of a page that are marked `<!-- run -->`; a `text` block that follows one is what it prints."""
    found: list[Example] = []
    is_open = False
    for block in _BLOCK.finditer(page.read_text(encoding="utf-8")):
        marked = _RUN.match(block[0]) is not None
        if block["kind"] == "text" and is_open:
            found[-1] = found[-1]._replace(printed=block["text"])
        elif marked:
            found.append(Example(block["kind"], block["text"], block["fails"] is not None, ""))
        is_open = marked
    return found


def run(example: Example, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run one block in a folder, as a user types it."""
    kept = {name: value for name, value in os.environ.items() if name not in LEFT_OUT}
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', '')}"
    environment = kept | {"PATH": path, "PYTHONPATH": str(ROOT / "derive"), "PYTHONIOENCODING": "utf-8"}
    command = ["bash", "-euo", "pipefail"] if example.kind == "sh" else [sys.executable, "-"]
    return subprocess.run(
        command, input=example.text, cwd=folder, env=environment, capture_output=True, text=True, encoding="utf-8"
    )


def parts(printed: str) -> Iterator[str]:
    """What stands between lines of `...`, which are for lines left out."""
    return (part.strip("\n") for part in re.split(r"^\.\.\.$", printed, flags=re.MULTILINE) if part.strip())


def links(page: Path) -> list[str]:
    """The files that a page links to or shows."""
    text = page.read_text(encoding="utf-8")
    named = [*re.findall(r"\]\(([^)\s]+)\)", text), *re.findall(r'src="([^"]+)"', text), *re.findall(r"\{image\} (\S+)", text)]
    return [one.partition("#")[0] for one in named if not re.match(r"[a-z]+:|#", one)]
