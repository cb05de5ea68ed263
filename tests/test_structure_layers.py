"""Tables that name each other's rows, contributions beside the catalogue, folders, and what is handed on of broken files."""

from __future__ import annotations

import pytest

from gapbook.intake.layers import CONTRIBUTION, catalogue_layer, read_layers
from gapbook.intake.rules import RULES
from gapbook.tables.opening import open_package
from gapbook.tables.reader import read_table
from structured import Broken, at_line, places, swap

HEADER = b"specimen_id,family,station_mm,kind,no,contributor_id,instrument_id,taken_on,repeat,value,unit\n"
ROW = b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"


# A parent that is gone is told once

MALFORMED = [
    (b"\nOne A,one,", "pattern"),
    (b"\n,one,", "required"),
    (b"\none\x07-a,one,", "control-character"),
    (b"\n=one-a,one,", "formula"),
    (b"\none_a,one,", "pattern"),
    (b"\ntwo-a,one,", "repeated-key"),
    (b'\n"one-a" ,one,', "unreadable"),
    (b"\none-\xe4,one,", "encoding"),
]


@pytest.mark.parametrize(("row", "code"), MALFORMED)
def test_rows_that_name_a_row_with_a_bad_key_are_told_under_it(tmp_path, row, code):
    broken = Broken(tmp_path)
    broken.change("specimens", swap(b"\none-a,one,", row))
    (finding,) = broken.checked(RULES).report.errors
    assert (finding.code, finding.table) == (code, "specimens")
    if code != "unreadable":  # its key can be read all the same
        assert places(finding.causes) == [("reference", "spacings", 2, "specimen_id")]


def test_an_id_that_no_row_has_is_one_finding_for_all_rows_and_tables(tmp_path):
    broken = Broken(tmp_path)
    broken.change("specimens", swap(b"\none-a,one,", b"\none-q,one,"))
    (finding,) = broken.checked(RULES).report.errors
    assert places([finding]) == [("reference", "spacings", 2, "specimen_id")]
    assert finding.found == "'one-a', named by 74 rows of spacings and 2 of readings"
    assert "one-q" in finding.fix


def test_each_unknown_id_is_a_finding_of_its_own(tmp_path):
    broken = Broken(tmp_path)
    broken.change("spacings", at_line(20, swap(b",ida,", b",ada,")))
    broken.change("spacings", at_line(30, swap(b",ida,", b",idaa,")))
    broken.change("spacings", at_line(40, swap(b",ida,", b",ada,")))
    findings = broken.findings()
    assert places(findings) == [("reference", "spacings", line, "contributor_id") for line in (20, 30)]
    assert [finding.row_key.split("/")[4] for finding in findings] == [str(no) for no in (1, 11)]
    assert ["2 rows" in finding.found for finding in findings] == [True, False]


@pytest.mark.parametrize("change", [lambda text: b"", lambda text: text.replace(b"specimen_id", b"specimen"), None])
def test_nothing_is_said_of_rows_whose_table_could_not_be_read(tmp_path, change):
    broken = Broken(tmp_path)
    if change is None:
        (broken.tables / "specimens.csv").unlink()
    else:
        broken.change("specimens", change)
    (finding,) = broken.checked(RULES).report.errors
    assert (finding.code, finding.table) == ("header" if change else "missing-file", "specimens")


# What is handed on

TAINTS = [
    (ROW.replace(b"12.5", b"x"), {"one-a"}),
    (ROW + b",", {"one-a"}),
    (ROW.replace(b"one-a,", b"", 1), {"main", "one-a"}),
    (ROW.replace(b"one-a", b"one-x"), {"one-x", "one-a"}),
    (ROW.replace(b"one-a", b"nobodys"), {"nobodys", "one-a"}),
    (ROW.replace(b"one-a", b""), {"one-a"}),
    (ROW.replace(b"one-a", b"One A"), {"One A", "one-a"}),
    (ROW + b"\n" + ROW, {"one-a"}),
    (ROW.replace(b"ida", b"ada"), {"one-a"}),
    (ROW.replace(b"gap", b'"gap'), {"one-a"}),
    (ROW.replace(b"mm", b"\xb5m"), {"one-a"}),
]


@pytest.mark.parametrize(("row", "specimens"), TAINTS)
def test_specimens_of_bad_spacings_are_named(tmp_path, row, specimens):
    broken = Broken(tmp_path)
    broken.change("spacings", swap(ROW, row))
    context = broken.checked().context
    assert context.read.doubtful_specimens == specimens
    assert context.tables["spacings"].num_rows in (129, 130)
    assert context.beds["specimen_id"].to_pylist() == ["two-a"]


def test_sound_rows_are_typed_as_the_strict_reader_types_them(tmp_path):
    broken = Broken(tmp_path)
    broken.change("specimens", swap(b"one-a,one,1.25,", b'one-a,one,NA,"two\r\nlines, 12\xc2\xb0"'))
    broken.change("spacings", swap(b",0,gap,3,", b",+0.50e1,gap,003,"))
    package = open_package(broken.root)
    names = list(package.resources)[:9]
    strict = {name: read_table(package, name) for name in names}
    for name in names:  # a bad last row sends every table the slow way
        path = package.path(name)
        path.write_bytes(path.read_bytes() + b"bad\n")
    read = read_layers(package, [catalogue_layer(package)])
    assert len(read.findings[0, "width"]) == 9
    for name in names:
        assert read.tables[name].schema == strict[name].schema, name
        assert read.tables[name].to_pylist() == strict[name].to_pylist(), name
        assert read.record[name].tolist() == list(range(strict[name].num_rows)), name


def test_records_of_sound_rows_are_those_of_the_file(tmp_path):
    broken = Broken(tmp_path)
    broken.change("spacings", at_line(4, lambda line: b"bad"))
    broken.change("spacings", at_line(6, swap(b"12.5", b"x")))
    context = broken.checked().context
    assert context.read.record["spacings"][:5].tolist() == [0, 1, 3, 5, 6]
    assert context.cell("spacings", 2, "no") == 3
    assert context.read.lines_of("spacings", 0, context.read.record["spacings"][:4]) == {0: 2, 1: 3, 3: 5, 5: 7}


def test_a_table_without_rows_is_still_typed(tmp_path):
    broken = Broken(tmp_path)
    broken.change("spacings", lambda text: HEADER)
    context = broken.checked().context
    assert context.tables["spacings"].schema == Broken(tmp_path / "other").checked().context.tables["spacings"].schema
    assert context.tables["spacings"].num_rows == 0


# Contributions

NEW = ROW.replace(b"2026-03-01", b"2026-04-01")


def test_new_rows_are_no_finding(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n")
    checked = broken.checked()
    assert checked.report.findings == ()
    assert checked.report.rows == 1
    assert checked.context.is_own("spacings").sum() == 1


@pytest.mark.parametrize(
    "again", [ROW, ROW.replace(b"12.5", b"12.50"), ROW.replace(b",0,", b",0.0,"), b'"' + ROW.replace(b",", b'","') + b'"']
)
def test_the_very_same_row_again_is_passed_over(tmp_path, again):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + again + b"\n" + NEW + b"\n")
    checked = broken.checked()
    assert checked.report.findings == ()
    assert checked.report.rows == 2
    assert checked.context.is_own("spacings").sum() == 1
    assert checked.context.read.doubtful_specimens == frozenset()
    assert checked.context.tables["spacings"].num_rows == 131


@pytest.mark.parametrize(
    ("row", "column", "said"), [(b"12.6,mm", "value", "12.6"), (b"12.5,cm", "unit", "cm"), (b"12.6,cm", "value", "unit 'cm'")]
)
def test_a_row_that_the_catalogue_has_otherwise(tmp_path, row, column, said):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n\n" + ROW.replace(b"12.5,mm", row) + b"\n")
    checked = broken.checked()
    (finding,) = checked.report.findings
    assert places([finding]) == [("conflicting-key", "spacings", 4, column)]
    assert finding.row_key == "one-a/main/0/gap/3/ida/cal/2026-03-01/1"
    assert said in finding.found
    assert "12.5" in finding.expected or "mm" in finding.expected
    assert checked.context.read.doubtful_specimens == {"one-a"}


@pytest.mark.parametrize("quoted", [False, True])
def test_the_catalogues_cell_is_quoted_as_it_stands_there(tmp_path, quoted):
    broken = Broken(tmp_path)
    theirs = ROW.replace(b"12.5,mm", b'12.50,"mm"' if quoted else b"12.50,mm")
    broken.change("spacings", lambda text: text.replace(ROW, theirs))
    broken.contribute(spacings=HEADER + ROW.replace(b"12.5", b"12.60") + b"\n")
    (finding,) = broken.findings()
    assert finding.found == "value '12.60'"
    assert finding.expected.endswith("value '12.50'")


def test_conflicts_in_tables_with_other_keys(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute(
        testers=b"tester_id,style,own_frame\nann,flat,none\nben,mixed,none\n",
        contributors=b"contributor_id,name,since,orcid\nida,Ida,2020-01-02,\n",
    )
    (finding,) = broken.findings()
    assert places([finding]) == [("conflicting-key", "contributors", 2, "since")]
    assert "its own contributor_id" in finding.fix


def test_a_contribution_may_name_its_own_rows_and_the_catalogues(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute(
        specimens=b"specimen_id,frame_id,string_gauge_mm,note\none-b,one,1.25,\n",
        spacings=HEADER + ROW.replace(b"one-a", b"one-b") + b"\n" + ROW.replace(b"one-a", b"one-c") + b"\n",
    )
    (finding,) = broken.findings()
    assert places([finding]) == [("reference", "spacings", 3, "specimen_id")]
    assert "one-b" in finding.fix


def test_the_catalogues_faults_are_not_a_contributors(tmp_path):
    broken = Broken(tmp_path)
    broken.change("frames", swap(b",620.0,", b",98,"))
    broken.contribute(spacings=HEADER + NEW + b"\n")
    assert broken.findings() == ()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Spacings.csv", "Call it spacings.csv"),
        ("spacing.csv", "Call it spacings.csv"),
        ("spacings.xlsx", "Save it as spacings.csv"),
        ("readings.zip", "Unpack"),
        ("README.md", "Take it out"),
        ("beds.csv", "Take it out"),
        (".hidden", "Take it out"),
    ],
)
def test_a_file_that_is_no_table(tmp_path, name, said):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n")
    (broken.contribution / name).write_bytes(b"x")
    (finding,) = broken.findings()
    assert (finding.code, finding.table, finding.file) == ("unknown-file", "", str(broken.contribution / name))
    assert said in finding.fix


@pytest.mark.parametrize("name", [".DS_Store", "Thumbs.db", "desktop.ini"])
def test_what_systems_leave_in_a_folder_is_passed_over(tmp_path, name):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n")
    (broken.contribution / name).write_bytes(b"x")
    assert broken.findings() == ()
    (broken.contribution / name).unlink()
    (broken.contribution / name).mkdir()
    assert [finding.code for finding in broken.findings()] == ["unknown-file"]


def test_folders_and_links_in_a_contribution(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n")
    secret = tmp_path / "secret.csv"
    secret.write_bytes(b"tester_id,style,own_frame\nsecret,flat,none\n")
    (broken.contribution / "more").mkdir()
    (broken.contribution / "testers.csv").symlink_to(secret)
    (broken.contribution / "readings.csv").symlink_to(tmp_path / "nothing")
    (broken.contribution / "other").symlink_to(tmp_path)
    checked = broken.checked()
    assert [(item.code, item.file.rpartition("/")[2]) for item in checked.report.findings] == [
        ("path", "other"), ("path", "readings.csv"), ("path", "testers.csv"), ("unknown-file", "more"),
    ]  # fmt: skip
    assert "secret" not in str(checked.context.tables["testers"].to_pylist())


def test_a_folder_without_a_table(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute()
    assert [finding.code for finding in broken.findings()] == ["missing-file"]


def test_a_contribution_is_counted_to_its_own_layer(tmp_path):
    broken = Broken(tmp_path)
    broken.contribute(spacings=HEADER + NEW + b"\n" + NEW + b"\n")
    checked = broken.checked()
    assert places(checked.report.findings) == [("repeated-key", "spacings", 3, "repeat")]
    assert checked.report.findings[0].contributor == "ida"
    assert (checked.context.read.layer["spacings"] == CONTRIBUTION).sum() == 0  # nobody can tell which of the two holds
