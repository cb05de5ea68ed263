"""Texts of strangers made harmless: what a terminal would obey, what is invisible, and what Markdown would make a link of."""

from __future__ import annotations

import re

HIDDEN = re.compile(
    "[\x00-\x09\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u200e\u200f"
    "\u2028-\u202e\u2060-\u206f\u3164\ufeff\uffa0\ufff0-\ufffb\U0001bca0-\U0001bca3\U0001d173-\U0001d17a"
    "\U000e0000-\U000e0fff]"
)
"""Control characters except line breaks, and characters that cannot be seen or turn the direction of text: the code points that
are Default_Ignorable (Unicode 15.1, DerivedCoreProperties.txt), but for joiners and variation selectors, which words and
emoji need.
"""
_MARKED = str.maketrans({sign: "\\" + sign for sign in "\\`*_{}[]<>#|~"})
_LIVE = re.compile(r"@|:(?=//)|(?<=www)(?=\.)|(?<=#)(?=\d)|(?<=\bGH)(?=-\d)", re.IGNORECASE)
"""Where services that show Markdown begin a mention, an address or a reference, which a backslash does not stop."""


def safe(text: str) -> str:
    """`text` with control, format and bidirectional characters written out, so that a terminal only prints them."""
    if text.isprintable() and HIDDEN.search(text) is None:
        return text
    return "".join(sign if sign.isprintable() and not HIDDEN.match(sign) else f"\\u{{{ord(sign):x}}}" for sign in text)


def safe_lines(text: str) -> str:
    """The same, but line breaks stay."""
    return "\n".join(map(safe, text.split("\n")))


def safe_json(text: str) -> str:
    """A JSON document with the same characters escaped as JSON escapes them; for programs it is the same document."""
    if text.isascii() and "\x7f" not in text:
        return text
    return "\n".join(line if safe(line) == line else "".join(map(_json_sign, line)) for line in text.split("\n"))


def _json_sign(sign: str) -> str:
    if safe(sign) == sign:
        return sign
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


def markdown(text: str) -> str:
    """`text` in one line of Markdown: nothing in it is read as Markdown or HTML, nobody is mentioned, nothing is a link."""
    return _LIVE.sub(lambda match: f"{match.group()}<!-- -->", safe(text).translate(_MARKED))
