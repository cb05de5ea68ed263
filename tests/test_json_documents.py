"""What commands print with --json is what their JSON Schemas say: every key declared, none missing, every type right."""

from __future__ import annotations

import json
import shutil

import jsonschema
import pytest
from PIL import Image

from contributed import own, sent
from gapbook.commands.app import COMMANDS
from gapbook.commands.documents import DOCUMENTS, schema_of
from running import gapbook
from small import ROOT
from test_cli import DOING

FIRST = [
    ("ask", "98 sq in, tighter than fern-98, swingweight 315-330, lighter than fern-98, top 3"),
    ("show", "fern-98", "--add", "5 g at 680 mm"),
    ("check",),
    ("retension", "fern-98", "moraine-98", "--at", "24kg"),
]
"""The fast run has these; the slow run has all."""
FURTHER = [
    ("ask", "how open is fern-98"),
    ("ask", "why is fern-98 more open than moraine-98"),
    ("ask", "what is openness"),
    ("ask", "tighter than most 16x19"),
    ("ask", "16x19 or 18x20, not 16x20, without fern-98, mass 300-320"),
    ("ask", "--phrases"),
    ("show", "16x19"),
    ("show", "clover-98"),
    ("compare", "fern-98", "moraine-98", "--where", "sides"),
    ("compare", "fern-98", "moraine-98", "--out", "page.pdf"),
    ("compare", "fern-98", "16x19"),
    ("check", "--rules"),
    ("check", "sent"),
    ("derive", "--check"),
    ("sql", "--views"),
    ("sql", "select * from scores", "--parquet", "scores.parquet"),
    ("near", "fern-98", "--limit", "2", "--head", "any"),
    ("advise", "moraine-98", "--against", "fern-98", "--arm", "sore", "--tension", "24kg"),
    ("retension", "fern-98", "moraine-98", "--at", "45kg"),
    ("retension", "fern-98", "moraine-98", "--at", "24kg", "--crosses", "23kg"),
    ("relate", "openness_centre,mass_g", "comfort_vs_own", "--given", "string_material"),
    ("admit", "sent", "--dry-run"),
    ("upgrade", "--dry-run"),
    ("pages", "--out", "pages.pdf"),
    ("photo", "white.png", "--frame", "fern-98", "--beam", "22", "--bar-left", "100", "--bar-right", "100", "--out", "read"),
    ("convert", "night.csv", "--out", "converted", "--yes"),
    ("enter", "filled-csv"),
    ("design", "openness_centre", "launch_angle_deg", "--effect", "0.2"),
]
CALLS = [*FIRST, *FURTHER, *(call for call in DOING if call[0] not in ("pages", "photo", "convert", "enter"))]


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The demo, with a contribution, a list, a sheet and a picture of nothing. Every call gets a copy of its own."""
    folder = tmp_path_factory.mktemp("documents") / "demo"
    for name in ("schema", "catalogue"):
        shutil.copytree(ROOT / name, folder / name)
    shutil.copyfile(ROOT / "datapackage.json", folder / "datapackage.json")
    contribution = own()
    contribution.add("testers", tester_id="bo", style="flat", own_frame="none")
    sent(contribution, folder / "sent")
    lines = (folder / "catalogue" / "spacings.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    night = [lines[0], *(line for line in lines if line.startswith("fern-98-a,"))]
    (folder / "night.csv").write_text("".join(night), encoding="utf-8")
    gapbook("sheet", "fern-98", "--contributor", "tam-veldrick", "--out", "filled.svg", cwd=folder, GAPBOOK_PACKAGE=".")
    Image.new("RGB", (800, 600), "white").save(folder / "white.png")
    return folder


@pytest.mark.slow_after(2)
@pytest.mark.parametrize("call", CALLS, ids=" ".join)
def test_a_document_is_what_its_schema_says(demo, tmp_path, call):
    folder = shutil.copytree(demo, tmp_path / "demo")
    more = () if "--json" in call else ("--json",)
    run = gapbook(*call, *more, cwd=folder, GAPBOOK_PACKAGE=".")
    assert run.stdout, run.stderr
    jsonschema.validate(json.loads(run.stdout), schema_of(call[0]), jsonschema.Draft202012Validator)


def test_every_command_with_json_has_a_schema():
    assert set(DOCUMENTS) == set(COMMANDS) == {call[0] for call in CALLS}


@pytest.mark.parametrize("command", DOCUMENTS)
def test_a_schema_is_one(command):
    jsonschema.Draft202012Validator.check_schema(schema_of(command))


@pytest.mark.parametrize(
    "change",
    [
        lambda found: found | {"more": 1},
        lambda found: {key: found[key] for key in found if key != "rows"},
        lambda found: found | {"rows": "many"},
    ],
    ids=["a key more", "a key less", "another type"],
)
def test_another_document_is_refused(change):
    good = {"findings": [], "counts": {"error": 0}, "rows": 3, "rules": []}
    jsonschema.validate(good, schema_of("check"))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(change(good), schema_of("check"))
