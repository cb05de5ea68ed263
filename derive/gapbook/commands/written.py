"""What a command that writes files says: which ones, or one JSON document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from gapbook.commands.printing import outcome, print_json
from gapbook.screens import page
from gapbook.screens.text import safe


def told(as_json: bool, written: Sequence[Path], more: Mapping[str, Any], notes: Sequence[str] = ()) -> None:
    """Say what was written on stdout, with notes below; as JSON {"written": [...]} and `more`."""
    with outcome():
        if as_json:
            print_json({"written": [str(path) for path in written], **more})
        else:
            page.write("".join(f"{safe(line)}\n" for line in (*(f"Wrote {path}" for path in written), *notes)))
