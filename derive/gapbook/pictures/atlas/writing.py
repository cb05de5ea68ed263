"""The page put together from its parts, and written whole or not at all."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from functools import cache
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import Any

from gapbook.errors import fail
from gapbook.pictures.atlas.data import gather
from gapbook.signs import safe, safe_lines
from gapbook.tables.files import replacing, unwritable
from gapbook.tables.package import Package

PAGE = "index.html"
MARK = '<meta name="generator" content="gapbook atlas">'
POLICY = "default-src 'none'; base-uri 'none'; form-action 'none'"
"""The page fetches nothing; only its own style and script, known by their hashes, are allowed besides."""
SCRIPTS = (
    "figures.js", "catalogue.js", "compare.js", "words.js", "bounds.js", "also.js", "judging.js", "shapes.js", "layout.js",
    "rows.js", "line.js", "bedshapes.js", "differing.js", "bed.js", "card.js", "why.js", "beside.js", "ownbed.js",
    "naming.js", "relating.js", "asking.js", "address.js", "controls.js", "main.js",
)  # fmt: skip
"""The page's modules, each after those it imports from."""

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./([a-z]+\.js)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ", re.MULTILINE)


def write(package: Package, folder: Path) -> dict[str, Any]:
    """Write the page into `folder`, which is made if it is missing; returns its path and size, and what it holds in numbers.

    GapbookError if the folder cannot be written to, or holds an index.html that is no atlas.
    """
    out = folder / PAGE
    _must_be_ours(out)
    data = gather(package)
    written = page(data).encode()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise unwritable(str(out), error) from None
    with replacing(out) as stream:
        stream.write(written)
    return {"out": out, "frames": len(data["frames"]["frame_id"]), "beds": len(data["beds"]), "bytes": len(written)}


def page(data: dict[str, Any]) -> str:
    """The page as text: template, style, script and data in one. The same data give the same text."""
    style, script = _part("atlas.css"), script_of(SCRIPTS)
    parts = {
        "mark": MARK,
        "policy": f"{POLICY}; style-src {_hash(style)}; script-src {_hash(script)}",
        "title": escape(safe(f"{data['package']['name']} atlas")),
        "style": style,
        "script": script,
        "data": as_data(data),
    }
    return re.sub(r"\{\{(\w+)\}\}", lambda match: parts[match[1]], _part("index.html"))


def as_data(data: dict[str, Any]) -> str:
    """JSON that is safe in a script element, because nothing in it ends the element or opens a comment, and safe to show."""
    text = json.dumps(_safe(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _safe(value: Any) -> Any:
    """JSON data with every text in them made safe."""
    if isinstance(value, str):
        return safe_lines(value)
    if isinstance(value, dict):
        return {safe_lines(str(name)): _safe(item) for name, item in value.items()}
    return [_safe(item) for item in value] if isinstance(value, list | tuple) else value


@cache
def script_of(names: tuple[str, ...]) -> str:
    """The modules joined into one, without imports and the word `export`, since all names are then in one scope.

    ValueError if a module imports from one that does not come before it.
    """
    whole = []
    for place, name in enumerate(names):
        text = _part(name)
        for wanted in _IMPORT.findall(text):
            if wanted not in names[:place]:
                raise ValueError(f"{name} imports from {wanted}, which does not come before it")
        whole.append(f"// {name}\n{_EXPORT.sub('', _IMPORT.sub('', text)).strip()}\n")
    return '"use strict";\n' + "\n".join(whole)


def _part(name: str) -> str:
    return files(__package__).joinpath("page", name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    """The source of a content security policy that allows exactly this text."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _must_be_ours(out: Path) -> None:
    if not out.exists():
        return
    try:
        ours = out.is_file() and MARK in out.read_text(encoding="utf-8", errors="replace")[:2000]
    except OSError as error:
        raise fail("unreadable", f"{out} cannot be read: {error.strerror}") from None
    if not ours:
        raise fail("not-an-atlas", f"{out} is there already and is no atlas", fix="Name another folder")
