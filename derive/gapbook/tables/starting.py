"""A data package of one's own, begun: its descriptor, schemas and empty tables, and the files that keep it sound.

Everything is written into a new folder beside the wanted one and moved into place when it is whole.
"""

from __future__ import annotations

import datetime
import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files as packaged
from pathlib import Path
from typing import Any

from gapbook.errors import fail
from gapbook.tables.cells import cell_problem
from gapbook.tables.files import drafting
from gapbook.tables.freshness import write_digests
from gapbook.tables.opening import open_package, own_package
from gapbook.tables.package import DERIVED_TABLES, DESCRIPTOR, DIGESTS, Package
from gapbook.tables.transactions import Change

LICENCE = "CC-BY-4.0"
"""What is offered if nobody says otherwise."""
KEPT = (".git",)
"""What a folder may hold already: that of a repository just made."""
_NO_SLUG = re.compile(r"[^a-z0-9]+")
_TEMPLATES = {
    "README.md": "README.md",
    "CONTRIBUTING.md": "CONTRIBUTING.md",
    "gitignore": ".gitignore",
    "gitattributes": ".gitattributes",
    "pre-commit-config.yaml": ".pre-commit-config.yaml",
    "check.yml": ".github/workflows/check.yml",
    "admit.yml": ".github/workflows/admit.yml",
}
"""The templates beside this module, and where each goes."""


@dataclass(frozen=True)
class Wishes:
    """What a package is to be.

    title: its title
    licence: the licence of its data, an SPDX id
    who: the contributor_id of the first contributor, who maintains it
    name: the name they go by
    """

    title: str
    licence: str
    who: str
    name: str


def start(root: Path, wishes: Wishes, today: datetime.date | None = None) -> list[Path]:
    """Write a new package into the folder `root`, which must be missing or empty (but for .git); the files written.

    GapbookError `not-empty`, `licence`, `bad-id`, `bad-name`, or `unwritable`; then nothing is written.
    """
    day = today or datetime.date.today()
    licence = spdx(wishes.licence)
    must_be_free(root)
    own = own_package()
    _must_fit(own, wishes, day)
    with drafting(root) as scratch:
        _write(scratch, own, wishes, licence, day, slug_of(root, wishes))
        written = sorted(path.relative_to(scratch) for path in scratch.rglob("*") if path.is_file())
        _move(scratch, root)
    return [root / path for path in written]


def spdx(text: str) -> str:
    """A licence by its SPDX id, in its usual spelling. GapbookError if there is none of that name."""
    from packaging.licenses import InvalidLicenseExpression, canonicalize_license_expression

    expected = "an SPDX id, such as CC-BY-4.0, CC0-1.0 or ODbL-1.0"
    try:
        found = str(canonicalize_license_expression(text))
    except (InvalidLicenseExpression, ValueError):
        found = ""
    if not found or " " in found or found.startswith("LicenseRef"):
        raise fail("licence", "there is no such licence", found=text, expected=expected, fix="See spdx.org/licenses")
    return found


def slug_of(root: Path, wishes: Wishes) -> str:
    """The name of the package: that of its folder, or its title, as a slug."""
    for text in (root.resolve().name, wishes.title):
        if name := _NO_SLUG.sub("-", text.lower()).strip("-"):
            return name
    return "frames"


def must_be_free(root: Path) -> None:
    """GapbookError unless `root` is missing, or a folder that holds nothing but what KEPT names."""
    expected = "a new or empty folder, or one with nothing but .git"
    if root.is_symlink() or (root.exists() and not root.is_dir()):
        raise fail("not-a-folder", f"{root} is no folder of its own", expected=expected)
    if root.exists() and (found := sorted({path.name for path in root.iterdir()} - set(KEPT))):
        raise fail(
            "not-empty", f"{root} is not empty", found=", ".join(found[:3]), expected=expected, fix="Name another folder"
        )


def _must_fit(own: Package, wishes: Wishes, day: datetime.date) -> None:
    """GapbookError if the first contributor cannot stand in contributors.csv, or the title says nothing."""
    schema = own.schema("contributors")
    said = {"contributor_id": wishes.who, "name": wishes.name, "since": day.isoformat()}
    for name, text in said.items():
        item = schema.field(name)
        if not text.isprintable() or cell_problem(item, text):
            raise fail("bad-contributor", f"this cannot be a contributor's {name}", found=text, expected=item.says())
    if not wishes.title.strip() or not wishes.title.isprintable():
        raise fail("bad-title", "a package has a title", found=wishes.title, expected="a few words in one line")


def _write(folder: Path, own: Package, wishes: Wishes, licence: str, day: datetime.date, name: str) -> None:
    person = {"contributor_id": wishes.who, "name": wishes.name, "since": day.isoformat()}
    for resource in own.resources.values():
        table = resource["name"]
        path = folder / own.shown(table)
        path.parent.mkdir(parents=True, exist_ok=True)
        names = own.schema(table).names
        lines = [names, [person.get(one, "") for one in names]] if table == "contributors" else [names]
        path.write_text("".join(",".join(map(_cell, line)) + "\n" for line in lines), encoding="utf-8", newline="")
        _json(folder / "schema" / f"{table}.json", own.schema_descriptor(table))
    words = {"TITLE": wishes.title.strip(), "NAME": name, "LICENCE": licence, "MAINTAINER": wishes.name, "WHO": wishes.who}
    for template, target in _TEMPLATES.items():
        (folder / target).parent.mkdir(parents=True, exist_ok=True)
        (folder / target).write_text(filled(template, words), encoding="utf-8", newline="")
    _json(folder / DESCRIPTOR, _descriptor(own, wishes, licence, day, name))
    _digests(open_package(folder))


def _cell(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if any(sign in text for sign in ',"\r\n') else text


def filled(template: str, words: Mapping[str, str]) -> str:
    """A template of this package with its @WORDS@ filled in."""
    text = (packaged("gapbook.tables") / "templates" / template).read_text(encoding="utf-8")
    return re.sub(r"@([A-Z]+)@", lambda match: words[match.group(1)], text)


def _descriptor(own: Package, wishes: Wishes, licence: str, day: datetime.date, name: str) -> dict[str, Any]:
    resources = [{**resource, "schema": f"schema/{table}.json"} for table, resource in own.resources.items()]
    path = f"https://spdx.org/licenses/{licence}.html"
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": name,
        "title": wishes.title.strip(),
        "version": "0.1.0",
        "created": f"{day.isoformat()}T00:00:00Z",
        "description": "Ruler and calliper readings of tennis string beds, and what follows from them.",
        "licenses": [{"name": licence, "path": path}],
        "contributors": [{"title": wishes.name, "roles": ["maintainer"]}],
        "resources": resources,
    }


def _json(path: Path, document: Mapping[str, Any]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(document, ensure_ascii=False, indent=2) + "\n", encoding="utf-8", newline="")


def _digests(package: Package) -> None:
    """Write the digests of the empty derived tables."""
    with tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        change = Change(package, Path(scratch))
        write_digests(change, [table for table in DERIVED_TABLES if table in package.resources])
        shutil.copyfile(change.staged().path(DIGESTS), package.path(DIGESTS))


def _move(scratch: Path, root: Path) -> None:
    """Put what was written in its place; the descriptor last, without which a folder is no package."""
    if not root.exists():
        os.rename(scratch, root)
        return
    for path in sorted(scratch.iterdir(), key=lambda path: path.name == DESCRIPTOR):
        os.rename(path, root / path.name)
