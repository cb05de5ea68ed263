"""Rows stand in the catalogue as they were sent, byte by byte, and the catalogue's own bytes stay. Expected by hand."""

from __future__ import annotations

import pytest

from contributed import package_in
from gapbook.intake.additions import record_bytes
from gapbook.intake.admit import Terms, admit

HEADER = "specimen_id,frame_id,string_gauge_mm,note"
ROWS = b'one-b,one,1.250,"a ""good"" one, bought"\none-c,one,+1.3,\n'
PLAIN = Terms(rules=())


def admitted(tmp_path, sent: bytes, held: bytes | None = None) -> bytes:
    """The rows of specimens.csv below those the package had, after `sent` was admitted."""
    package = package_in(tmp_path / "package")
    path = package.path("specimens")
    before = path.read_bytes() if held is None else held
    path.write_bytes(before)
    folder = tmp_path / "sent"
    folder.mkdir()
    (folder / "specimens.csv").write_bytes(sent)
    assert admit(package, folder, PLAIN).status == "admitted"
    after = path.read_bytes()
    assert after.startswith(before)
    return after.removeprefix(before)


@pytest.mark.parametrize(
    ("sent", "added"),
    [
        (f"{HEADER}\n".encode() + ROWS, ROWS),
        (b"\xef\xbb\xbf" + f"{HEADER}\n".encode() + ROWS, ROWS),
        (f"{HEADER}\r\n".encode() + ROWS.replace(b"\n", b"\r\n"), ROWS),
        (f"{HEADER}\n".encode() + ROWS.removesuffix(b"\n"), ROWS),
        (f"\n\n{HEADER}\n\n".encode() + ROWS.replace(b"\n", b"\n\n"), ROWS),
        (f'{HEADER}\n"one-b","one","1.25","é"\n'.encode(), '"one-b","one","1.25","é"\n'.encode()),
        (f"{HEADER}\none-b,one,NA,\n".encode(), b"one-b,one,NA,\n"),
        (f"{HEADER}\none-b,one,1.25,5' 3\n".encode(), b"one-b,one,1.25,5' 3\n"),
    ],
    ids=["plain", "mark", "crlf", "no last end", "blank lines", "quoted", "missing", "odd signs"],
)  # fmt: skip
@pytest.mark.slow_after(2)
def test_cells_stay_as_they_were_sent(tmp_path, sent, added):
    assert admitted(tmp_path, sent) == added


def test_line_ends_become_the_catalogues(tmp_path):
    held = f"{HEADER}\r\none-a,one,1.25,\r\ntwo-a,two,1.25,\r\n".encode()
    assert admitted(tmp_path, f"{HEADER}\n".encode() + ROWS, held) == ROWS.replace(b"\n", b"\r\n")


@pytest.mark.slow
def test_a_catalogue_without_a_last_line_end_gets_one(tmp_path):
    held = f"{HEADER}\none-a,one,1.25,\ntwo-a,two,1.25,".encode()
    assert admitted(tmp_path, f"{HEADER}\n".encode() + ROWS, held) == b"\n" + ROWS


def test_records_may_run_over_lines(tmp_path):
    path = tmp_path / "x.csv"
    path.write_bytes(b'a,b\n1,"two\r\nlines\n"\n\n2,"an ""inch"" "\n3,4')
    assert record_bytes(path) == [b'1,"two\r\nlines\n"', b'2,"an ""inch"" "', b"3,4"]
