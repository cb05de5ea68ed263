"""What Arrow lets pass in a figure and a schema does not, looked for in the text of a table, fast."""

from __future__ import annotations

import mmap

import numpy as np
from numpy.typing import NDArray

_LOOSE = {b"\t": (b"\t",), b"x": (b",0x", b'"0x', b"-0x"), b"X": (b",0X", b'"0X', b"-0X")}
"""What Arrow lets pass in a number or a date and the schema does not, besides blanks around it: a byte that is quickly
looked for, and the sequences that then tell.
"""
_PART = 1 << 18
"""Letters looked at together, so that what is found in them stays in cache."""
_BLANK_AFTER, _BLANK_BEFORE = b',\n"', b',\n\r"'
"""What a blank at an end of a cell stands next to."""


def holds_loose(text: bytes | mmap.mmap) -> bool:
    """Whether a cell may be written as Arrow reads it and the schema does not allow: only a closer look can tell."""
    return _blanks_at_ends(text) or any(
        text.find(byte) >= 0 and any(text.find(sequence) >= 0 for sequence in sequences) for byte, sequences in _LOOSE.items()
    )


def _blanks_at_ends(text: bytes | mmap.mmap) -> bool:
    if text.find(b" ") < 0:
        return False
    letters = np.frombuffer(text, dtype=np.uint8)
    if letters[0] == ord(" ") or letters[-1] == ord(" "):
        return True
    parts = (letters[max(start - 1, 0) : start + _PART + 1] for start in range(0, len(letters), _PART))
    return any(_blanks_beside_ends(part) for part in parts)


def _blanks_beside_ends(letters: NDArray[np.uint8]) -> bool:
    at = np.flatnonzero(letters[1:-1] == ord(" ")) + 1
    return _among(letters[at - 1], _BLANK_AFTER) or _among(letters[at + 1], _BLANK_BEFORE)


def _among(letters: NDArray[np.uint8], some: bytes) -> bool:
    is_some = np.zeros(256, dtype=bool)
    is_some[list(some)] = True
    return bool(is_some[letters].any())
