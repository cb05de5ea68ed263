"""Tables that say their units: title, description and UCUM unit of each field as Arrow metadata."""

from __future__ import annotations

from collections.abc import Sequence

import pyarrow as pa

from gapbook.tables.joined import Column
from gapbook.tables.package import Package
from gapbook.tables.schemas import Field


def labelled(data: pa.Table, package: Package, name: str, fields: Sequence[Field | Column]) -> pa.Table:
    """The same table; its fields carry `title` and `description` and, where they are quantities, `unit`, as `fields` have
    them; the table carries `table`, `package` and `version`.
    """
    made = [data.schema.field(field.name).with_metadata(_words(field)) for field in fields]
    words = {"table": name, "package": package.name, "version": package.version}
    return data.select([field.name for field in fields]).cast(pa.schema(made, metadata=words))


def _words(field: Field | Column) -> dict[str, str]:
    words = {"title": field.title or field.name, "description": field.description, "unit": field.unit or ""}
    return {name: text for name, text in words.items() if text}
