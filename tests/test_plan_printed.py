"""What `rondel plan` prints: the page in text, what mattered, how good it is, what moved."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import read_brief, read_routine
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.cli.printing import print_routine, proof_says
from rondel.model.names import SIDE_SAYS
from rondel.model.routine import Proof, Routine
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS, Role

BRIEF = """
title = "Low sun"
minutes = 6
intention = "settle"
level = 2
"""
CRAFT = builtin_craft()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("plans")
    (path / "brief.toml").write_text(BRIEF, "utf-8")
    assert main(["plan", str(path / "brief.toml"), "--out", str(path / "routine.json")]) == 0
    return path


@pytest.fixture(scope="module")
def routine(folder: Path) -> Routine:
    return read_routine(folder / "routine.json")


def printed(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    capsys.readouterr()
    assert main([str(w) for w in words]) == 0
    return capsys.readouterr().out


def test_every_passage_has_a_line_with_time_bar_name_side_and_pressure(
    folder: Path, routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = printed(capsys, "plan", folder / "brief.toml").splitlines()
    assert lines[0] == "Low sun"
    assert max(map(len, lines)) <= 96
    before = None
    for passage in routine.passages:
        start = as_minutes(routine.start_seconds(passage))
        line = next(x for x in lines if re.match(rf" *{start}  +{passage.start_bar + 1} ", x))
        assert SIDE_SAYS[passage.side] in line
        assert ("~" in line) is (passage.role is Role.REFRAIN)
        assert ("^" in line) is (passage.role is Role.PEAK)
        name = CRAFT.technique(passage.technique or "").plain
        is_mirror = before == passage.technique and passage.side.is_one_sided
        assert "the same" in line if is_mirror else name in line
        assert is_mirror or PRESSURE_SAYS[passage.pressure] in line
        before = passage.technique
    assert any("~ the refrain" in x and "^ the peak" in x for x in lines)


def test_a_passage_shows_every_sign_that_it_has_and_the_legend_explains_each(
    routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    peak = next(p for p in routine.passages if p.role is Role.PEAK)
    work = next(p for p in routine.passages if p.role is Role.WORK)
    asked = {peak.id: {"kept": True}, work.id: {"kept": True, "stretch": True}}
    asked |= {p.id: {"kept": True} for p in routine.passages if p.role is Role.REFRAIN}
    marked = tuple(replace(p, **asked.get(p.id, {})) for p in routine.passages)  # type: ignore[arg-type]
    print_routine(replace(routine, passages=marked), CRAFT)
    lines = capsys.readouterr().out.splitlines()
    for passage in marked:
        start = as_minutes(routine.start_seconds(passage))
        line = next(x for x in lines if re.match(rf" *{start}  +{passage.start_bar + 1} ", x))
        role = {Role.REFRAIN: "~", Role.PEAK: "^"}.get(passage.role, "")
        signs = role + "?" * passage.stretch + "*" * passage.kept
        assert re.match(r" *\d+:\d\d +\d+  ([~^?*]*)", line)[1] == signs  # type: ignore[index]
    legend = next(line for line in lines if "~ the refrain" in line)
    assert legend.split("    ") == [
        "  ~ the refrain",
        "^ the peak",
        "* you insist on it",
        "? may be skipped",
    ]
    columns = {line.index(side) for line in lines for side in SIDE_SAYS.values() if side in line}
    assert len(columns) == 1  # however many signs stand before a name


def test_under_the_page_stands_what_mattered_how_good_it_is_and_the_way_back(
    folder: Path, routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    out = " ".join(printed(capsys, "plan", folder / "brief.toml").split())
    as_data = json.loads(printed(capsys, "plan", folder / "brief.toml", "--json"))
    assert 1 <= len(as_data["mattered"]) <= 3
    assert "What mattered most in choosing" in out
    for says in as_data["mattered"]:
        assert says in out
    assert proof_says(routine.proof) in out
    assert "Lost? Carry on; if it happens again" in out
    assert "moved" not in as_data


def test_what_the_rules_mind_is_told_with_the_plan_and_places_without_work_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`plan` and `check` say the same of one routine."""
    mains = '["hands", "feet", "scalp", "belly"]'
    brief, out = tmp_path / "brief.toml", tmp_path / "routine.json"
    text = BRIEF.replace("minutes = 6", "minutes = 10\nopen_minutes = 6\nrefrains = 1")
    text = text.replace('"settle"\nlevel = 2', '"closeness"\nlevel = 3')
    brief.write_text(f"{text}main_regions = {mains}\n", "utf-8")
    says = " ".join(printed(capsys, "plan", brief, "--out", out).split())
    found = check(read_routine(out), CRAFT, read_brief(brief))
    assert any(f.rule == "focus" for f in found)
    for finding in found:
        assert finding.message in says
    missing = re.search(r"You asked for most work on (.*?); this plan has none there", says)
    assert missing is not None
    worked = {CRAFT.technique(p.technique).region for p in read_routine(out).line if p.technique}
    for id in ("hands", "feet", "scalp", "belly"):
        assert (f"the {CRAFT.region(id).name}" in missing[1]) is (id not in worked)
    assert "as you asked" not in says


def test_reasons_are_printed_under_each_passage_where_asked_for(
    folder: Path, routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    short = printed(capsys, "plan", folder / "brief.toml")
    out = " ".join(printed(capsys, "plan", folder / "brief.toml", "--why").split())
    for passage in routine.passages:
        for says in passage.why:
            assert says in out
    assert len(short.split()) < len(out.split())


def test_near_tells_what_moved_and_nothing_where_nothing_did(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    near = folder / "routine.json"
    out = printed(capsys, "plan", folder / "brief.toml", "--near", near, "--within", "0.1")
    assert "What moved, against" in out
    assert "Nothing moved." in out
    changed = folder / "changed.toml"
    changed.write_text(BRIEF.replace("minutes = 6", "minutes = 8"), "utf-8")
    moved = json.loads(printed(capsys, "plan", changed, "--near", near, "--json"))["moved"]
    assert moved
    assert moved != ["Nothing moved."]


def test_near_tells_what_is_no_longer_insisted_on(
    folder: Path, routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    file = folder / "kept.json"
    kept = [p for p in routine.line if p.role is Role.WORK and not p.side.is_one_sided][:2]
    names = [CRAFT.technique(p.technique or "").plain for p in kept]
    ats = [as_minutes(routine.start_seconds(p)) for p in kept]
    before = folder / "routine.json"
    for passage, free in zip(kept, ("is no longer", "are no longer"), strict=True):
        printed(capsys, "change", before, "keep", passage.id, "--out", file)
        before = file
        near = printed(capsys, "plan", folder / "brief.toml", "--near", file, "--json")
        moved = json.loads(near)["moved"]
        assert free in moved[0]
        assert moved[0].startswith(f"{names[0]} at {ats[0]}")
    both = f"{names[0]} at {ats[0]} and {names[1]} at {ats[1]}"
    assert moved[0].startswith(f"{both} are no longer insisted on")
    # A brief that asks for one of them lets that stand.
    brief = folder / "keeps.toml"
    brief.write_text(f'{BRIEF}\n[[keep]]\ntechnique = "{kept[0].technique}"\n', "utf-8")
    moved = json.loads(printed(capsys, "plan", brief, "--near", file, "--json"))["moved"]
    assert moved[0].startswith(f"{names[1]} at {ats[1]} is no longer insisted on")


@pytest.mark.parametrize(
    ("proof", "says"),
    [
        (
            Proof(status="optimal", objective=4.0, bound=4.0),
            "no better plan can be made",
        ),
        # 5.0 to 4.8 is a gap of 4 percent; 5.0 to 4.79 of 4.2, told as 5.
        (Proof(status="within", objective=5.0, bound=4.8), "at most 4 percent better"),
        (Proof(status="within", objective=5.0, bound=4.79), "at most 5 percent better"),
        (Proof(status="within", objective=5.0, bound=4.999), "at most 1 percent better"),
        (Proof(status="within", objective=5.0, bound=2.5), "There may be a better plan"),
        (Proof(status="found", objective=5.0), "There may be a better plan"),
        (Proof(status="within", objective=0.0, bound=None), "There may be a better plan"),
    ],
)
def test_how_good_a_plan_is_known_to_be_is_told_in_one_sentence(proof: Proof, says: str) -> None:
    sentence = proof_says(proof)
    assert says in sentence
    assert sentence.count(".") == 1
