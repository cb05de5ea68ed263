"""How to cite a data package: a Citation File Format document (CFF 1.2.0, doi 10.5281/zenodo.5171937)."""

from __future__ import annotations

import json
import re
from typing import Any

from gapbook.tables.package import Package

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def citation(package: Package) -> str:
    """CITATION.cff, from the descriptor alone; texts are JSON strings, which YAML reads as they are."""
    stated = package.descriptor
    lines = [
        "cff-version: 1.2.0",
        f"message: {_text('If you use these data, please cite them as below.')}",
        "type: dataset",
        f"title: {_text(stated.get('title') or package.name)}",
        "authors:",
        *(f"  - name: {_text(name)}" for name in _authors(package)),
    ]
    if package.version:
        lines.append(f"version: {_text(package.version)}")
    if found := _DAY.match(str(stated.get("created", ""))):
        lines.append(f"date-released: {found.group()}")
    if licences := [str(item["name"]) for item in _items(stated, "licenses") if "name" in item]:
        lines.append(f"license: {_text(licences[0])}")
    for key, field in (("abstract", "description"), ("url", "homepage")):
        if stated.get(field):
            lines.append(f"{key}: {_text(stated[field])}")
    keywords = stated.get("keywords")
    if isinstance(keywords, list) and keywords:
        lines += ["keywords:", *(f"  - {_text(word)}" for word in keywords)]
    return "\n".join(lines) + "\n"


def _authors(package: Package) -> list[str]:
    return [str(item["title"]) for item in _items(package.descriptor, "contributors") if "title" in item] or [package.name]


def _items(stated: dict[str, Any], name: str) -> list[dict[str, Any]]:
    found = stated.get(name)
    return [item for item in found if isinstance(item, dict)] if isinstance(found, list) else []


def _text(value: object) -> str:
    return json.dumps(str(value), ensure_ascii=False)
