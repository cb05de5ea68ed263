"""What a table may hold, read from its Table Schema, which alone states a field's type, unit and limits."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, NamedTuple

FIELD_TYPES = ("string", "number", "integer", "boolean", "date")
TRUE_VALUES = ("true", "True", "TRUE", "1")
FALSE_VALUES = ("false", "False", "FALSE", "0")
ID = "^[a-z0-9][a-z0-9-]*$"
"""The pattern of ids in every table."""


@dataclass(frozen=True)
class Field:
    """One column, as its Table Schema states it.

    name: as in the header
    type: one of FIELD_TYPES
    title: what people call it
    description: what it holds
    unit: UCUM code of its figures; None if they have none, or if another column states it
    required: whether it must not be blank
    enum: the texts it may hold; any if empty
    pattern: the regular expression that a whole text must fit
    minimum: the least figure
    maximum: the largest figure
    max_length: characters of a text
    missing: texts that count as missing
    units: for a column that names quantities, the unit each is computed in
    """

    name: str
    type: str
    title: str
    description: str
    unit: str | None = None
    required: bool = False
    enum: tuple[str, ...] = ()
    pattern: str | None = None
    minimum: float | None = None
    maximum: float | None = None
    max_length: int | None = None
    missing: tuple[str, ...] = ("",)
    units: dict[str, str] = field(default_factory=dict)

    def says(self) -> str:
        """What a cell may hold, for people."""
        if self.enum:
            return "one of " + ", ".join(self.enum)
        kinds = {"string": "text", "number": "a number", "integer": "a whole number"}
        words = kinds.get(self.type, "true or false" if self.type == "boolean" else "a date, YYYY-MM-DD")
        if self.pattern:
            words = "small letters, digits and hyphens" if self.pattern == ID else f"text of the form {self.pattern}"
        if self.minimum is not None and self.maximum is not None:
            words += f" from {self.minimum:g} to {self.maximum:g}"
        elif self.minimum is not None:
            words += f" of at least {self.minimum:g}"
        elif self.maximum is not None:
            words += f" of at most {self.maximum:g}"
        if self.unit and self.unit != "1" and self.type in ("number", "integer"):
            words += f" {self.unit}"
        if self.max_length is not None:
            words += f", at most {self.max_length} characters"
        return words


class ForeignKey(NamedTuple):
    """A column whose values must occur in a column of another table."""

    field: str
    table: str
    parent: str


@dataclass(frozen=True)
class Schema:
    """A table.

    name: as in the descriptor
    title: what people call it
    description: what it holds
    fields: its columns in file order
    primary_key: columns that together tell its rows apart; empty if there is no key
    foreign_keys: its references to other tables
    """

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...]
    foreign_keys: tuple[ForeignKey, ...]

    @property
    def names(self) -> list[str]:
        """Column names in file order."""
        return [item.name for item in self.fields]

    def field(self, name: str) -> Field:
        """The column called `name`; KeyError if there is none."""
        for item in self.fields:
            if item.name == name:
                return item
        raise KeyError(name)


def _field(descriptor: dict[str, Any], missing: tuple[str, ...]) -> Field:
    """A Field from its descriptor and its schema's `missingValues`."""
    limits = {**descriptor.get("limits", {}), **descriptor.get("constraints", {})}  # `limits`: see export
    if descriptor.get("type") not in FIELD_TYPES:
        raise ValueError(f"field {descriptor.get('name')!r}: type {descriptor.get('type')!r}")
    if (pattern := limits.get("pattern")) is not None:
        re.compile(pattern)
    enum = limits.get("enum", [])
    if not isinstance(enum, list):
        raise ValueError(f"field {descriptor.get('name')!r}: enum {enum!r}")
    return Field(
        name=descriptor["name"],
        type=descriptor["type"],
        title=descriptor.get("title", descriptor["name"]),
        description=descriptor.get("description", ""),
        unit=descriptor.get("unit"),
        required=limits.get("required", False) is True,
        enum=tuple(enum),
        pattern=pattern,
        minimum=limits.get("minimum"),
        maximum=limits.get("maximum"),
        max_length=limits.get("maxLength"),
        missing=missing,
        units=dict(descriptor.get("units", {})),
    )


def parse_schema(name: str, descriptor: dict[str, Any]) -> Schema:
    """A Schema from a Table Schema descriptor.

    ValueError, KeyError, TypeError, AttributeError, re.error, OverflowError or RecursionError if it cannot be used. Whether
    it is sound is for `conforming.py` to say.
    """
    key = descriptor.get("primaryKey", ())
    missing = tuple(item["value"] if isinstance(item, dict) else item for item in descriptor.get("missingValues", [""]))
    return Schema(
        name=name,
        title=descriptor.get("title", name),
        description=descriptor.get("description", ""),
        fields=tuple(_field(item, missing) for item in descriptor["fields"]),
        primary_key=(key,) if isinstance(key, str) else tuple(key),
        foreign_keys=tuple(_foreign_key(item) for item in descriptor.get("foreignKeys", ())),
    )


def _foreign_key(descriptor: dict[str, Any]) -> ForeignKey:
    (column,), reference = descriptor["fields"], descriptor["reference"]
    (parent,) = reference["fields"]
    return ForeignKey(column, reference["resource"], parent)
