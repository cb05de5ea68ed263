"""Whether a package's schema can be used: it is sound, and it is gapbook's own, or one that adds fields or is stricter.

gapbook computes with the columns of its own schemas. So their names, types, units, keys and references stand in a package's
schema as they stand in gapbook's; what a cell may hold may be less, but not more. Further fields may follow or stand between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from numbers import Real

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.schemas import Field, Schema

LATER = {"contributors": ("orcid",)}
"""Fields that came later and that nothing is computed with; a package's schema may lack them."""
LONGEST_NAME = 100
"""Characters of a field's name."""


def must_be_sound(schema: Schema, shown: str) -> None:
    """GapbookError if a part of a schema is of the wrong kind, or if its fields, key and references do not fit together.

    schema: the schema
    shown: how errors name its file
    """
    refuse = _refusing(schema, shown)
    names = schema.names
    for text in (schema.title, schema.description):
        if not isinstance(text, str):
            raise refuse("has a title or description that is no text", text, "text")
    if not names or not all(isinstance(name, str) and _is_name(name) for name in names) or len(set(names)) != len(names):
        raise refuse("names its fields wrongly", names, "each field's name once, in letters that print")
    for name in schema.primary_key:
        if name not in names:
            raise refuse("has a key of an unknown field", name, ", ".join(names))
    for key in schema.foreign_keys:
        if not all(isinstance(text, str) for text in key) or key.field not in names:
            raise refuse("refers to an unknown field", f"{key.field} to {key.table}.{key.parent}", "fields that exist")
        if schema.field(key.field).type != "string":
            raise refuse("refers by something else than text", key.field, "fields of type string")
    for item in schema.fields:
        _must_be_a_field(item, refuse)


def must_extend(schema: Schema, own: Schema, shown: str) -> None:
    """GapbookError unless a schema has all of gapbook's own schema of this table, and allows no more.

    schema: the package's, which is sound
    own: gapbook's
    shown: how errors name the file of the package's
    """
    refuse = _refusing(schema, shown)
    for item in own.fields:
        if item.name not in schema.names:
            if item.name in LATER.get(schema.name, ()):
                continue
            raise refuse(f"lacks the field {item.name}", None, f"a field of type {item.type}")
        _must_be_as_strict(schema.field(item.name), item, refuse)
    if schema.primary_key != own.primary_key:
        raise refuse("has another key", schema.primary_key, ", ".join(own.primary_key))
    if missing := set(own.foreign_keys) - set(schema.foreign_keys):
        key = min(missing, key=lambda one: one.field)
        raise refuse(f"lacks a reference of {key.field}", None, f"one to {key.table}.{key.parent}")


def _must_be_as_strict(item: Field, own: Field, refuse: _Refuse) -> None:
    name = own.name
    for what, stated, expected in (("type", item.type, own.type), ("unit", item.unit, own.unit)):
        if stated != expected:
            raise refuse(f"has another {what} of the field {name}", stated, expected or "none")
    if own.required and not item.required:
        raise refuse(f"lets the field {name} be blank", None, "required: true")
    if own.enum and not (item.enum and set(item.enum) <= set(own.enum)):
        raise refuse(f"lets the field {name} hold other words", ", ".join(item.enum) or None, ", ".join(own.enum))
    if own.pattern is not None and item.pattern != own.pattern:
        raise refuse(f"has another pattern of the field {name}", item.pattern, own.pattern)
    for limit, found, least, sign in (
        ("least value", item.minimum, own.minimum, 1),
        ("largest value", item.maximum, own.maximum, -1),
        ("greatest length", item.max_length, own.max_length, -1),
    ):
        if least is not None and (found is None or sign * found < sign * least):
            raise refuse(f"allows more than the {limit} of the field {name}", found, f"{least:g}")
    for quantity, unit in own.units.items():
        if item.units.get(quantity) != unit:
            raise refuse(f"has another unit of {quantity}", item.units.get(quantity), unit)


_Refuse = Callable[[str, object, str], GapbookError]


def _refusing(schema: Schema, shown: str) -> _Refuse:
    """What makes the error for this schema, from what is wrong, what was found and what is expected."""

    def refuse(message: str, found: object, expected: str) -> GapbookError:
        text = f"the schema of {schema.name} {message}"
        fix = "Take the schema that gapbook start writes, and add fields to it" if schema.names else None
        stated = None if found is None else repr(found)[:200]
        return fail("schema", text, place=Place(shown), found=stated, expected=expected, fix=fix)

    return refuse


def _is_name(name: str) -> bool:
    return bool(name.strip()) and name.isprintable() and len(name) <= LONGEST_NAME


def _must_be_a_field(item: Field, refuse: _Refuse) -> None:
    """GapbookError if what a schema states of a field is of the wrong kind."""
    name = item.name
    for what, text in (("title", item.title), ("description", item.description), ("unit", item.unit or "")):
        if not isinstance(text, str):
            raise refuse(f"has a {what} of {name} that is no text", text, "text")
    if not _are_texts(item.missing):
        raise refuse("has missing values that are no text", item.missing, "texts")
    for value in (item.minimum, item.maximum):
        if value is not None and (not isinstance(value, Real) or isinstance(value, bool) or abs(value) > 1e300):
            raise refuse(f"has a limit of {name} that is no number", value, "a number")
    length = item.max_length
    if length is not None and (not isinstance(length, int) or isinstance(length, bool) or not 0 <= length < 1 << 31):
        raise refuse(f"has a length of {name} that is none", length, "a whole number")
    if not _are_texts(item.enum):
        raise refuse(f"lists texts of {name} that are none", item.enum, "texts")
    if item.pattern is not None and not isinstance(item.pattern, str):
        raise refuse(f"has a pattern of {name} that is no text", item.pattern, "a regular expression")
    if not _are_texts(item.units) or not _are_texts(item.units.values()):
        raise refuse(f"has units of {name} that are no text", item.units, "units by quantity")


def _are_texts(values: Iterable[object]) -> bool:
    return all(isinstance(value, str) for value in values)
