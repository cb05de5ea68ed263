"""The file that says how a club or a language names columns, words and units (`--map club.toml`)."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import files as packaged
from pathlib import Path

from gapbook.errors import Place, fail
from gapbook.intake.converting.figures import plain
from gapbook.science.units import lookup
from gapbook.tables.files import LARGEST_TEXT, read_bytes

PARTS = ("columns", "words", "units", "given")
GIVEN = ("contributor", "instrument", "specimen", "frame", "kind", "family", "unit", "on", "station", "strung")
"""What a mapping file may give for all rows, as options of the command do."""


@dataclass(frozen=True)
class Names:
    """What a mapping file says, with names as `key` has them.

    columns: what a column holds, by its name; blank if it is left out.
    words: what a word in a cell stands for.
    units: what a unit is called.
    given: what holds for all rows.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    given: Mapping[str, str] = field(default_factory=dict)


def key(text: str) -> str:
    """A name as names are compared: small letters, without units in brackets, underlines and signs at the end."""
    bare = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", plain(text)).lower().replace("_", " ")
    return " ".join(bare.split()).strip(" .:?#")


def read_mapping(path: Path, targets: set[str]) -> Names:
    """The mapping file at `path`, whose columns may hold `targets`. GapbookError `mapping` if it cannot be used."""
    shown = str(path)
    try:
        content = tomllib.loads(read_bytes(path, shown, largest=LARGEST_TEXT).decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise fail(
            "mapping", f"the mapping file is not TOML: {error}", place=Place(shown), fix="See gapbook convert --map-example"
        ) from None
    parts: dict[str, dict[str, str]] = {}
    for name, entries in content.items():
        if name not in PARTS or not isinstance(entries, dict) or not all(isinstance(value, str) for value in entries.values()):
            expected = "tables called " + ", ".join(PARTS) + ', each with lines such as "Abstand" = "gap"'
            raise fail(
                "mapping", "the mapping file has a part that means nothing", place=Place(shown), found=name, expected=expected
            )
        parts[name] = {
            plain(one) if name == "units" else one if name == "given" else key(one): value for one, value in entries.items()
        }
    _must_mean(parts.get("columns", {}), targets | {""}, shown, "columns")
    _must_mean(parts.get("units", {}), {value for value in parts.get("units", {}).values() if lookup(value)}, shown, "units")
    _must_mean({value: name for name, value in parts.get("given", {}).items()}, set(GIVEN), shown, "given")
    return Names(**parts)


def _must_mean(entries: Mapping[str, str], allowed: set[str], shown: str, part: str) -> None:
    for name, value in entries.items():
        if value not in allowed:
            expected = "one of " + ", ".join(sorted(allowed - {""})) if allowed else "a unit such as mm, in, g or oz"
            raise fail("mapping", f"{name!r} under [{part}] cannot be used", place=Place(shown), found=value, expected=expected)


def example() -> str:
    """A mapping file to begin with."""
    return (packaged("gapbook.tables") / "templates" / "columns.toml").read_text(encoding="utf-8")
