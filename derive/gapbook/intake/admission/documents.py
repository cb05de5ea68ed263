"""What a contribution changes, as JSON."""

from __future__ import annotations

from typing import Any

from gapbook.intake.admission.changes import BedChange, Change, Value, Verdicts


def change_document(found: Change) -> dict[str, Any]:
    """A change with the keys that programs rely on."""
    return {
        "beds": [_bed(bed) for bed in found.beds],
        "uncertainty_only": found.uncertainty_only,
        "new_frames": list(found.new_frames),
        "verdicts": _verdicts(found.verdicts),
    }


def _bed(bed: BedChange) -> dict[str, Any]:
    zones = [
        {
            "zone": zone.zone,
            "before": _value(zone.before),
            "after": _value(zone.after),
            "difference_percent": zone.percent,
        }
        for zone in bed.zones
    ]
    return {"specimen_id": bed.specimen_id, "frame_id": bed.frame_id, "new": bed.new, "zones": zones}


def _value(value: Value | None) -> dict[str, float] | None:
    return None if value is None else {"openness": value.openness, "u_openness": value.u}


def _verdicts(found: Verdicts) -> dict[str, Any]:
    frames = [
        {"frame_id": frame.frame_id, "changed": frame.changed, "against": [one._asdict() for one in frame.against]}
        for frame in found.frames
    ]
    return {"confidence": found.confidence, "pairs": found.pairs, "changed": found.changed, "frames": frames}
