"""An older package brought up to date: the optional tables and fields that came later, added all together or not at all.

Nothing that is there changes: new columns come last and are blank, new tables are empty, limits and words of the package's own
schemas stay.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, BinaryIO, NamedTuple

from gapbook.errors import Place, fail
from gapbook.tables.opening import own_package
from gapbook.tables.package import (
    DERIVED_TABLES,
    DESCRIPTOR,
    LOG_TABLES,
    OPTIONAL_DERIVED,
    RAW_TABLES,
    Package,
    inside,
    must_be_writable,
    read_json,
)
from gapbook.tables.rewriting import widened
from gapbook.tables.schemas import parse_schema
from gapbook.tables.transactions import CHANGED, changing


class Added(NamedTuple):
    """A field that is added; with a blank name, a whole table."""

    table: str
    field: str


@dataclass
class Plan:
    """What is added to a package.

    descriptor: the new one.
    schemas: new schemas, by path.
    fields: by table, how many columns are added.
    added: everything that is added.
    """

    descriptor: dict[str, Any]
    schemas: dict[str, dict[str, Any]] = field(default_factory=dict)
    fields: dict[str, list[str]] = field(default_factory=dict)
    added: list[Added] = field(default_factory=list)


def plan(package: Package) -> Plan:
    """What a package lacks of the tables and fields that gapbook knows.

    GapbookError `in-the-way` if a file has the name of a new table, `cannot-upgrade` if a field is missing that must be filled.
    """
    own = own_package()
    made = Plan({**package.descriptor, "resources": [dict(item) for item in package.descriptor["resources"]]})
    for resource in made.descriptor["resources"]:
        table = resource["name"]
        if table in own.resources and table in (*RAW_TABLES, *LOG_TABLES, *DERIVED_TABLES, *OPTIONAL_DERIVED):
            _add_fields(package, own.schema_descriptor(table), resource, made)
    for table in (*LOG_TABLES, *OPTIONAL_DERIVED):
        if table not in package.resources:
            _add_table(package, own, table, made)
    return made


def _add_fields(package: Package, own: Mapping[str, Any], resource: dict[str, Any], made: Plan) -> None:
    table, stated = resource["name"], resource.get("schema")
    schema = package.schema_descriptor(table)
    known = set(package.schema(table).names)
    missing = [item for item in own["fields"] if item["name"] not in known]
    if not missing:
        return
    if required := [item["name"] for item in missing if item.get("constraints", {}).get("required")]:
        fix = "Add the column by hand and fill it in, in the schema too"
        found = ", ".join(required)
        raise fail(
            "cannot-upgrade", f"{table} lacks columns that must be filled", place=Place(DESCRIPTOR), found=found, fix=fix
        )
    wider = {**schema, "fields": [*schema["fields"], *missing]}
    if isinstance(stated, str):
        made.schemas[stated] = wider
    else:
        resource["schema"] = wider
    made.fields[table] = [item["name"] for item in missing]
    made.added += [Added(table, item["name"]) for item in missing]


def _add_table(package: Package, own: Package, table: str, made: Plan) -> None:
    schema = f"schema/{table}.json"
    for path in (own.shown(table), schema):
        if os.path.lexists(inside(package.root, path)):
            fix = "Take it out, or describe it as a resource"
            raise fail("in-the-way", "a file has the name of a new table, and nothing describes it", place=Place(path), fix=fix)
    made.schemas[schema] = own.schema_descriptor(table)
    made.descriptor["resources"].append({**own.resource(table), "schema": schema})
    made.added.append(Added(table, ""))


def upgrade(package: Package, dry_run: bool = False) -> list[Added]:
    """Add what the package lacks, all or nothing; what was added, or would be. GapbookError as `plan` and `changing`."""
    must_be_writable(package)
    made = plan(package)
    if dry_run or not made.added:
        return made.added
    with changing(Package(package.root, made.descriptor), "gapbook upgrade") as change:
        if read_json(package.root / DESCRIPTOR, DESCRIPTOR, package.root) != package.descriptor:
            raise fail(CHANGED, "the package was changed meanwhile", fix="Open it and try again")
        for table, names in made.fields.items():
            if os.path.lexists(package.path(table)):
                change.write(table, _writing(widened(package, table, names)))
        for table, name in made.added:
            if not name:
                header = ",".join(parse_schema(table, made.schemas[f"schema/{table}.json"]).names)
                change.write(table, _writing(f"{header}\n".encode()))
        for path, schema in made.schemas.items():
            change.describe(path, _writing(_json(schema)))
        change.describe(DESCRIPTOR, _writing(_json(made.descriptor)))
        change.swap()
    return made.added


def _json(document: Mapping[str, Any]) -> bytes:
    return (json.dumps(document, ensure_ascii=False, indent=2) + "\n").encode()


def _writing(text: bytes) -> Callable[[BinaryIO], None]:
    def fill(stream: BinaryIO) -> None:
        stream.write(text)

    return fill
