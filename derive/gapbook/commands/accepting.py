"""What the options of `gapbook admit` accept, and the questions it asks on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence

import typer

from gapbook.errors import fail
from gapbook.intake.accepting import Acceptance, One
from gapbook.intake.findings import Finding
from gapbook.screens import page
from gapbook.screens.admit import Asked
from gapbook.screens.findings import one_finding

STOP = "q"
"""What is typed to leave all that follow as they are."""


def acceptance_of(asked: Asked, one_by_one: bool) -> Acceptance | None:
    """What the options accept; None if nothing.

    asked: the options
    one_by_one: whether the rest is asked for

    GapbookError unless what is accepted, why, and who says so are given together.
    """
    if one_by_one and not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise fail(
            "usage", "--one-by-one asks on a terminal, and there is none", fix="Name what is accepted with --accept CODE@ROW"
        )
    reason, who = (asked.reason or "").strip(), (asked.who or "").strip()
    if one_by_one and not who:
        raise fail("usage", "--one-by-one takes who accepts", expected="--who CONTRIBUTOR_ID")
    ones = tuple(_one(text) for text in asked.accept)
    if not ones and not asked.all_of and (one_by_one or (asked.reason is None and (who or asked.who is None))):
        return None
    if not (ones or asked.all_of) or not reason or not who:
        expected = "--accept CODE@ROW (or --all-of CODE) --reason TEXT --who CONTRIBUTOR_ID"
        raise fail("usage", "accepting a warning takes where it stands, a reason and who says so", expected=expected)
    return Acceptance(asked.all_of, reason, who, ones)


def _one(text: str) -> One:
    code, sign, place = text.partition("@")
    if not code or not place:
        fix = f"To accept all warnings of a code, say --all-of {code}" if code and not sign else None
        raise fail("usage", "--accept takes a code and a row", found=text, expected="CODE@ROW, as check shows them", fix=fix)
    return One(code, place)


def ask(
    findings: Sequence[Finding], given: Acceptance | None, who: str, prompt: Callable[[str], str] | None = None
) -> Acceptance:
    """Show each finding and ask why it is right; what is accepted in the end.

    findings: what is open
    given: what is accepted already
    who: who is asked
    prompt: asks and gives the answer; None: on the terminal
    """
    ones: list[One] = []
    for number, finding in enumerate(findings, 1):
        page.show(*one_finding(finding, f"{number} of {len(findings)}"))
        if finding.contributor == who:
            page.write("  It is about a reading of your own; check will say that you accepted it.\n")
        reason = (prompt or _typed)(f"  Why is it right? (nothing: leave it open; {STOP}: stop)").strip()
        if reason == STOP:
            break
        if reason:
            ones.append(One(finding.code, finding.row_key, reason))
    before = given or Acceptance((), ones[0].reason if ones else "nothing accepted", who)
    return Acceptance(before.codes, before.reason, who, (*before.ones, *ones))


def _typed(text: str) -> str:
    return str(typer.prompt(text, default="", show_default=False))
