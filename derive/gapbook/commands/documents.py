"""The JSON Schema of every document that a command prints with --json.

Where a document is a pydantic model, its schema is the model's; the other documents are declared here. A test holds what
commands print to these schemas, in which no key is allowed that is not declared.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, reduce
from operator import or_
from typing import Any, Literal, get_type_hints

from pydantic import ConfigDict, TypeAdapter, create_model

from gapbook.intake.agreement import Against, Bias, People, Steadiness
from gapbook.intake.changes import VerdictChange
from gapbook.intake.history import Event
from gapbook.intake.log import Correction
from gapbook.questions.advice import Advice
from gapbook.questions.answer import Answer
from gapbook.questions.cautions import Caution
from gapbook.questions.comparing import Comparison, Contrast
from gapbook.questions.designing import Design
from gapbook.questions.neighbours import Neighbours
from gapbook.questions.portrait import Portrait
from gapbook.questions.relations_found import Associations
from gapbook.tables.drift import Drift
from gapbook.tables.upgrading import Added

DIALECT = "https://json-schema.org/draft/2020-12/schema"
Counted = dict[str, int]
Row = dict[str, Any]
Number = float | None
"""A figure; null if there is none."""


def _record(title: str, /, **fields: Any) -> Any:
    """A document with these keys; a key with a tuple (type, default) may be missing."""
    stated = {key: kind if isinstance(kind, tuple) else (kind, ...) for key, kind in fields.items()}
    make: Any = create_model
    return make(title, __config__=ConfigDict(extra="forbid"), **stated)


def _like(kind: type) -> Any:
    """A document with the fields of a NamedTuple as keys."""
    return _record(kind.__name__, **get_type_hints(kind))


def _many(kind: Any) -> Any:
    return list[kind]


def _maybe(kind: Any) -> Any:
    return kind | None


PACKAGE = _record("Package", name=str, version=str)
UPGRADED = Literal["upgraded", "would-upgrade", "up-to-date"]
WRITTEN = {"written": list[str]}
CAUSE = _record(
    "Cause", code=str, severity=Literal["error", "warning", "note"], table=str | None, file=str, line=int | None,
    column=str | None, row_key=str, found=str, expected=str, fix=str, causes=list[Row],
)  # fmt: skip
FINDING = _record("Finding", **{key: field.annotation for key, field in CAUSE.model_fields.items()} | {"causes": _many(CAUSE)})
RULE = _record(
    "Rule", code=str, severity=Literal["error", "warning", "note"], title=str, rationale=str, source=str, fix=str,
    failed=str | None,
)  # fmt: skip
CHECK = _record("Check", findings=_many(FINDING), counts=Counted, rows=int, rules=_many(RULE))
VALUE = _record("Value", openness=float, u_openness=float)
ZONE = _record("ZoneChange", zone=str, before=_maybe(VALUE), after=_maybe(VALUE), difference_percent=Number)
BED = _record("BedChange", specimen_id=str, frame_id=str, new=bool, zones=_many(ZONE))
FRAME = _record("FrameChange", frame_id=str, changed=int, against=_many(_like(VerdictChange)))
VERDICTS = _record("Verdicts", confidence=float, pairs=int, changed=int, frames=_many(FRAME))
CHANGE = _record(
    "Change", beds=_many(BED), uncertainty_only=int, new_frames=list[str], verdicts=VERDICTS
)  # fmt: skip
STUDY = _record(
    "Study", quantity=str, unit=str, instrument_kind=str, readings=int, parts=int, shared_parts=int, people=int,
    repeatability=Number, repeatability_freedom=float, reproducibility=Number, reproducibility_freedom=int | None,
    interaction=Number, grr=Number, part_variation=Number, total_variation=Number, grr_percent=Number,
    distinct_categories=int | None,
)  # fmt: skip
AMENDED = _record(
    "Amended", status=Literal["changed", "would-change", "refused"], dry_run=bool, rows=Counted,
    corrections=_many(_like(Correction)), findings=_many(FINDING), change=_maybe(CHANGE), notes=list[str],
    package=PACKAGE,
)  # fmt: skip
COLUMN = _record("Column", name=str, type=str, unit=str, description=str)
VIEW = _record("View", name=str, description=str, columns=_many(COLUMN))


def _ask() -> list[Any]:
    about = _record("AboutWhat", intent=Literal["show", "compare", "why", "explain"], subjects=list[str], where=str | None)
    told = _record(
        "About", about=about, sentences=list[str], command=str, notes=list[str], scores=(Row, {}), handling=(Row | None, None),
        contrasts=(list[Contrast], []),
    )  # fmt: skip
    return [Answer, told, _record("Phrases", phrases=dict[str, list[str]])]


def _photo() -> list[Any]:
    camera = _record(
        "Camera", focal_px=float, focal_35mm=float, centre_px=list[float], radial=list[float], distance_mm=list[float],
        tilt_deg=float,
    )  # fmt: skip
    figures = {"family": dict[str, dict[str, list[float]]] | None, "u_scale_percent": Number, "u_position_mm": Number}
    return [_record("Photo", **WRITTEN, **figures, camera=_maybe(camera), quality=Row | None, refused=Row | None)]


def _drill() -> list[Any]:
    asked = _record("Target", centre_mm=float, side_opening=float, least_gap_mm=float)
    size = {"mains": int, "crosses": int, "head_area_cm2": float, "head_width_mm": float, "head_length_mm": float}
    found = {"mesh_mm": dict[str, Number], "side_opening": float, "denser_than_centre": list[str]}
    places = {"mains_x_mm": list[float], "crosses_y_mm": list[float], "cautions": list[str]}
    return [_record("Drilling", **size, asked=asked, reached=bool, held_by=list[str], **found, **places, **WRITTEN)]


def _retension() -> list[Any]:
    names = (
        "tension_n", "u_tension_n", "least_n", "most_n", "linear_n", "u_linear_n", "stretching_least_n", "stretching_most_n",
        "stiffness_from_n_per_mm", "stiffness_to_n_per_mm", "dwell_percent", "u_dwell_percent",
    )  # fmt: skip
    pulls = {"at_n": float, **dict.fromkeys(names, Number), "crosses_at_n": Number, "crosses_tension_n": Number}
    rest = {"outside": str | None, "cautions": _many(_like(Caution))}
    return [_record("Retension", **{"from": str, "to": str}, **pulls, **rest)]


def _agreement() -> list[Any]:
    parts = {
        "people": _many(_like(People)),
        "placement": Number,
        "biases": _many(_like(Bias)),
        "against": _many(_like(Against)),
    }
    steady = {"repeatability": _many(_like(Steadiness))}
    return [_record("Agreement", confidence=float, studies=_many(STUDY), **steady, **parts, faults=int, package=PACKAGE)]


def _admit() -> list[Any]:
    status = Literal["admitted", "admissible", "already-there", "refused"]
    found = {"accepted": _many(FINDING), "open": _many(FINDING), "change": _maybe(CHANGE), "check": CHECK}
    return [_record("Admission", status=status, dry_run=bool, rows=Counted, already_there=Counted, **found, package=PACKAGE)]


def _release() -> list[Any]:
    drift = _many(_like(Drift))
    what = {"version": str, "status": Literal["released", "refused"], "errors": _many(FINDING)}
    return [_record("Release", **what, drift=drift, rows=Counted, changes=str, package=PACKAGE)]


def _convert() -> list[Any]:
    return [_record("Converted", **WRITTEN, sent=str, rows=Counted, guesses=list[str], changes=list[Row])]


DOCUMENTS: dict[str, Callable[[], list[Any]]] = {
    "ask": _ask,
    "find": lambda: [Answer],
    "show": lambda: [Portrait],
    "compare": lambda: [Comparison, _record("ComparedOnAPage", **WRITTEN, beds=list[str])],
    "near": lambda: [Neighbours],
    "advise": lambda: [Advice],
    "retension": _retension,
    "draw": lambda: [_record("Drawn", **WRITTEN, specimens=list[str])],
    "chart": lambda: [
        _record("Charted", **WRITTEN, x=str, y=str, frames=int, left_out=int, named=int, question=str | None)
    ],
    "atlas": lambda: [_record("Atlas", **WRITTEN, frames=int, beds=int, bytes=int)],
    "drill": _drill,
    "sheet": lambda: [_record("Sheet", **WRITTEN, folder=str, specimen_id=str, by_hand=list[str], readings=int)],
    "enter": lambda: [_record("Entered", folder=str, typed=int, left=int, doubts=int)],
    "pages": lambda: [_record("Pages", **WRITTEN, bar_mm=float, paper=str, tint=str)],
    "photo": _photo,
    "convert": _convert,
    "check": lambda: [CHECK, _record("Rules", rules=_many(RULE))],
    "agreement": _agreement,
    "start": lambda: [_record("Started", root=str, **WRITTEN, name=str, licence=str)],
    "upgrade": lambda: [
        _record("Upgraded", status=UPGRADED, added=_many(_like(Added)), package=PACKAGE),
    ],
    "admit": _admit,
    "derive": lambda: [
        _record("Derived", written=Counted, package=PACKAGE), _record("Differing", drift=_many(_like(Drift)), package=PACKAGE)
    ],
    **dict.fromkeys(("correct", "withdraw", "rename", "merge", "forget"), lambda: [AMENDED]),
    "history": lambda: [_record("History", id=str, events=_many(_like(Event)), package=PACKAGE)],
    "release": _release,
    "sql": lambda: [
        _record("Result", columns=list[str], rows=list[Row]), _record("Views", views=_many(VIEW)),
        _record("Written", **WRITTEN, rows=int),
    ],
    "relate": lambda: [Associations],
    "design": lambda: [Design],
    "export": lambda: [_record("Exported", out=str, rows=Counted, package=PACKAGE)],
}  # fmt: skip
"""By command what its document may be."""


@cache
def schema_of(command: str) -> dict[str, Any]:
    """The JSON Schema of a command's document; of several kinds, one must fit."""
    kinds = DOCUMENTS[command]()
    adapter: TypeAdapter[Any] = TypeAdapter(reduce(or_, kinds))
    made = adapter.json_schema(mode="serialization")
    return {"$schema": DIALECT, "title": f"gapbook {command} --json", **{key: made[key] for key in made if key != "title"}}
