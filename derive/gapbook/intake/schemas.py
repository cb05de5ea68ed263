"""Whether a package's schemas can be checked with: the fields computed with are there, and the constraints make sense."""

from __future__ import annotations

from numbers import Real

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.opening import own_package
from gapbook.tables.package import DESCRIPTOR, RAW_TABLES, Package
from gapbook.tables.schemas import Field, Schema

NEEDED = ("frames", "specimens", "spacings", "readings", "instruments", "contributors")
"""Tables without which nothing can be computed."""


def check_schemas(package: Package) -> None:
    """GapbookError for a package without a table that is needed, or with a schema that cannot be checked with."""
    for name in NEEDED:
        package.resource(name)
    own = own_package()
    for name in RAW_TABLES:
        if name in package.resources:
            schema = package.schema(name)
            _check(package, schema)
            if own.root != package.root:
                _check_fields(schema, own.schema(name))


def _refusal(schema: Schema, message: str, found: object, expected: str) -> GapbookError:
    text = f"the schema of {schema.name} {message}"
    return fail("schema", text, place=Place(DESCRIPTOR), found=repr(found), expected=expected)


def _check_fields(schema: Schema, own: Schema) -> None:
    """The fields, types and key must be those the program computes with; limits and more fields are the package's own."""
    types = {item.name: item.type for item in schema.fields}
    for item in own.fields:
        if types.get(item.name) != item.type:
            raise _refusal(schema, f"lacks the field {item.name}", types.get(item.name), f"a field of type {item.type}")
    if schema.primary_key != own.primary_key:
        raise _refusal(schema, "has another key", schema.primary_key, ", ".join(own.primary_key))


def _check(package: Package, schema: Schema) -> None:
    names = schema.names
    if not all(isinstance(name, str) and name for name in names) or len(set(names)) != len(names):
        raise _refusal(schema, "names its fields wrongly", names, "each field's name once")
    for name in schema.primary_key:
        if name not in names:
            raise _refusal(schema, "has a key of an unknown field", name, ", ".join(names))
    for key in schema.foreign_keys:
        known = key.table in package.resources and key.parent in package.schema(key.table).names
        if key.field not in names or not known:
            raise _refusal(
                schema, "refers to an unknown field", f"{key.field} to {key.table}.{key.parent}", "fields that exist"
            )
        if schema.field(key.field).type != "string" or package.schema(key.table).field(key.parent).type != "string":
            raise _refusal(schema, "refers by something else than text", key.field, "fields of type string")
    for item in schema.fields:
        _check_constraints(schema, item)


def _check_constraints(schema: Schema, item: Field) -> None:
    if not all(isinstance(text, str) for text in item.missing):
        raise _refusal(schema, "has missing values that are no text", item.missing, "texts")
    for value in (item.minimum, item.maximum):
        if value is not None and (not isinstance(value, Real) or isinstance(value, bool)):
            raise _refusal(schema, f"has a limit of {item.name} that is no number", value, "a number")
    if item.max_length is not None and (not isinstance(item.max_length, int) or item.max_length < 0):
        raise _refusal(schema, f"has a length of {item.name} that is none", item.max_length, "a whole number")
    if not all(isinstance(text, str) for text in item.enum):
        raise _refusal(schema, f"lists texts of {item.name} that are none", item.enum, "texts")
    if item.pattern is not None and not isinstance(item.pattern, str):
        raise _refusal(schema, f"has a pattern of {item.name} that is no text", item.pattern, "a regular expression")
