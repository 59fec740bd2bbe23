"""The commands as a teacher meets them: answers, exit codes, and sentences for what is wrong."""

from __future__ import annotations

import hashlib
import json
import os
import platform
import subprocess
import sys
from pathlib import Path

import numpy
import pytest
from jsonschema import Draft202012Validator

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief_text
from rondel.app.make_plan import make_plan
from rondel.cli.main import STOPPED, main
from rondel.model.codec.brief import brief_from_dict
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.codec.schema import schema
from rondel.rules.book import RULES
from short_sessions import routine_file

GOOD, NOT_GOOD, BAD_INPUT = 0, 1, 2

SHORT = 'title = "Short"\nminutes = 4\nintention = "settle"\nlevel = 1\n'


@pytest.fixture
def brief(tmp_path: Path, plans_kept: None) -> Path:
    """A brief that is planned as it was planned before."""
    return written(tmp_path)


@pytest.fixture
def new_brief(tmp_path: Path) -> Path:
    """A brief that is planned anew each time."""
    return written(tmp_path)


def written(folder: Path) -> Path:
    path = folder / "brief.toml"
    path.write_text(SHORT, "utf-8")
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    """Run a command; return its exit code, what it printed and what it complained."""
    try:
        code = main([str(w) for w in words])
    except SystemExit as leaving:
        code = int(leaving.code or 0)
    out, err = capsys.readouterr()
    return code, out, err


def test_a_plan_is_written_checked_and_valid_to_its_schema(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = brief.with_name("routine.json")
    code, printed, _ = told(capsys, "plan", brief, "--out", out)
    assert code == GOOD
    assert "~" in printed  # the refrain is marked
    Draft202012Validator(schema("routine")).validate(json.loads(out.read_text("utf-8")))
    code, printed, _ = told(capsys, "check", out, "--json")
    findings = json.loads(printed)
    Draft202012Validator(schema("findings")).validate(findings)
    assert code == GOOD
    assert not [f for f in findings if f["severity"] == "must"]


def test_the_same_brief_gives_the_same_bytes(
    new_brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one, two = new_brief.with_name("one.json"), new_brief.with_name("two.json")
    told(capsys, "plan", new_brief, "--out", one)
    told(capsys, "plan", new_brief, "--out", two)
    assert one.read_bytes() == two.read_bytes()


def test_a_routine_spoiled_by_hand_is_found_out(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, printed, _ = told(capsys, "plan", brief, "--json")
    assert code == GOOD
    routine = json.loads(printed)["routine"]
    routine["passages"][0]["pressure"] = 5  # no opening starts like that
    spoiled = brief.with_name("spoiled.json")
    spoiled.write_text(json.dumps(routine), "utf-8")
    code, printed, _ = told(capsys, "check", spoiled, "--json")
    assert code == NOT_GOOD
    assert "opening" in {f["rule"] for f in json.loads(printed)}


def test_a_brief_that_cannot_be_met_is_answered_in_sentences(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    brief.write_text(SHORT + "refrains = 20\n", "utf-8")
    code, printed, _ = told(capsys, "plan", brief, "--json")
    answer = json.loads(printed)
    assert code == NOT_GOOD
    assert answer["routine"] is None
    assert answer["reasons"]
    assert all(reason.endswith(".") for reason in answer["reasons"])
    assert "refrains" in {c["wish"] for x in answer["loosen"] for c in x["changes"]}


def test_every_loosening_offered_works_when_put_into_the_brief(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    brief.write_text(SHORT + "refrains = 20\n", "utf-8")
    _, printed, _ = told(capsys, "plan", brief, "--json")
    for entry in json.loads(printed)["loosen"]:
        changed = {change["wish"]: change["to"] for change in entry["changes"]}
        wishes = {"refrains": 20, **changed}
        lines = [f"{k} = {json.dumps(v)}" for k, v in wishes.items() if v is not None]
        kept = [line for line in SHORT.splitlines() if line.split(" = ")[0] not in changed]
        brief.write_text("\n".join([*kept, *lines]), "utf-8")
        assert told(capsys, "plan", brief)[0] == GOOD, entry


@pytest.mark.parametrize("command", ["rules", "regions", "cautions"])
def test_what_rondel_knows_is_printed_with_its_source(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, printed, _ = told(capsys, command, "--json")
    rows = json.loads(printed)
    assert code == GOOD
    assert all(row["id"] and row["source"] for row in rows)
    code, printed, _ = told(capsys, command)
    assert code == GOOD
    assert all(f"[{row['id']}" in printed for row in rows)


def test_every_rule_of_the_book_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    _, printed, _ = told(capsys, "rules", "--json")
    assert [row["id"] for row in json.loads(printed)] == [rule.id for rule in RULES]


def test_a_studio_is_started_once_and_its_repertoire_rules_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    studio = tmp_path / "studio"
    assert told(capsys, "start", studio)[0] == GOOD
    brief = studio / "routines" / "lamplight" / "brief.toml"
    assert brief.read_text("utf-8") == demo_brief_text()
    code, _, said = told(capsys, "start", studio)
    assert code == BAD_INPUT
    assert "already something here" in said
    file = sorted((studio / "repertoire").glob("*.toml"))[0]
    file.write_text(file.read_text("utf-8").replace("region = ", "regoin = ", 1), "utf-8")
    code, _, said = told(capsys, "plan", brief)
    assert code == BAD_INPUT
    assert file.name in said
    assert "region" in said


def test_the_tempo_of_the_studio_holds_where_the_brief_names_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    studio = tmp_path / "studio"
    told(capsys, "start", studio)
    brief = studio / "routines" / "lamplight" / "brief.toml"
    settings = studio / "studio.toml"
    given = settings.read_text("utf-8")
    for wish, bpm in ((SHORT, 54), (SHORT + "bpm = 62\n", 62)):
        settings.write_text(given + "bpm = 54\n", "utf-8")
        brief.write_text(wish, "utf-8")
        routine = json.loads(told(capsys, "plan", brief, "--json")[1])["routine"]
        assert routine["tempo"] == [{"bar": 0, "bpm": bpm}]
    for slip, says in (("bpm = 5", "from 30 to 200"), ('voice = "low"', "not there yet")):
        settings.write_text(given + slip, "utf-8")
        brief.write_text(SHORT, "utf-8")
        code, _, said = told(capsys, "plan", brief)
        assert code == BAD_INPUT
        assert says in said
        assert "studio.toml" in said


BAD_FILES: list[tuple[bytes, str]] = [
    (b"", "minutes"),
    (b"\xff\xfe\x00\x01", "not plain text"),
    (b"minutes = = 4", "cannot be understood at line 1 (minutes = = 4)"),
    (b"minutes = 4\nintention = settle", 'between quotes, as in intention = "settle"'),
    (b"minutes = 4\nminutes = 5", "at line 2 (minutes = 5): this stands in the file twice"),
    (b"minutes = 4\n[[keep]\n", "ends with as many brackets as it begins with"),
    (b'minutes = 4\ntitle = "Low sun\n', "perhaps a closing quote is missing"),
    (b"minutes 4", "a name, an equals sign, and what it is to be"),
    (b'{ "rondel": 1 }', "looks like a routine"),
    (b'minutes = 4\nintention = "settle"\nmain_regions = ["sholders"]', "shoulders"),
    (b'minutes = 4\nintention = "settle"\ncautions = ["pregnant"]', "pregnancy"),
    (b'minutes = 4\nintention = "settle"\n[[keep]]\ntechnique = "slow-plow"', "slow-plough"),
    (b"minutes = " + b"9" * 5000, "far too long"),
    (b'minutes = 4\nintention = "settle"\ntrack = "a.flac"', 'the track "a.flac" is not there'),
]


@pytest.mark.parametrize(("content", "says"), BAD_FILES)
def test_a_bad_brief_is_refused_in_one_sentence(
    brief: Path, content: bytes, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    brief.write_bytes(content)
    out = brief.with_name("routine.json")
    code, printed, said = told(capsys, "plan", brief, "--out", out)
    assert code == BAD_INPUT
    assert says in said
    assert "Traceback" not in said
    assert printed == ""
    assert not out.exists()


BAD_WORDS: list[tuple[list[str], str]] = [
    ([], "required"),
    (["plann"], "invalid choice"),
    (["plan", "nowhere.toml"], "no such file"),
    (["plan", "."], "a folder"),
    (["check", "nowhere.json"], "no such file"),
    (["make", "nowhere.toml"], "no such file"),
    (["schema", "poem"], "invalid choice"),
    (["plan", "brief.toml", "--within", "nan"], "--within: nan must be a number of seconds"),
    (["plan", "brief.toml", "--within=-3"], "--within: -3 must be a number of seconds"),
    (["plan", "brief.toml", "--others", "1000"], "--others: 1000 must be a whole number"),
]


@pytest.mark.parametrize("words", [(), ("--levels", "1,2")])
def test_a_plan_is_never_written_over_what_is_no_routine(
    words: tuple[str, ...], brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Least of all over the brief itself; a routine that is there is made anew."""
    out = brief
    if words:
        out = brief.with_name("mine.json")
        out.with_name("mine-level-2.json").write_text('{"notes": []}', "utf-8")
    before = {path: path.read_bytes() for path in brief.parent.iterdir()}
    code, printed, complained = told(capsys, "plan", brief, "--out", out, *words)
    assert code == BAD_INPUT
    assert "there is a file of this name that is no routine, and would be lost" in complained
    assert not printed
    assert {path: path.read_bytes() for path in brief.parent.iterdir()} == before
    if not words:
        routine = brief.with_name("routine.json")
        assert [told(capsys, "plan", brief, "--out", routine)[0] for _ in "ab"] == [GOOD, GOOD]


def test_what_is_said_where_a_command_is_stopped_is_so(
    brief: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object, **__: object) -> object:
        raise KeyboardInterrupt

    monkeypatch.setattr("rondel.app.make_plan.make_plan", stop)
    code, _, complained = told(capsys, "plan", brief)
    assert code == STOPPED
    assert "stopped. Nothing was changed" in complained
    monkeypatch.setattr("rondel.adapters.take_place.films_of", stop)
    assert "What is finished is kept" in told(capsys, "watch", "a.mp4")[2]


@pytest.mark.parametrize(("words", "says"), BAD_WORDS)
def test_words_that_make_no_command_are_refused_in_one_sentence(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, said = told(capsys, *words)
    assert code == BAD_INPUT
    assert says in said


def test_a_part_that_no_session_has_is_refused_before_anything_is_made(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = brief.with_name("session")
    code, _, said = told(capsys, "make", brief, "--out", out, "--only", "page,smell")
    assert code == BAD_INPUT
    assert "smell" in said
    assert not out.exists()


def test_words_and_paper_of_a_session_are_made_once(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = brief.with_name("session")
    words = ("make", brief, "--out", out, "--only", "words,page,follow", "--json")
    first = json.loads(told(capsys, *words)[1])
    again = json.loads(told(capsys, *words)[1])
    assert [p["fresh"] for p in first["parts"]] == [False] * 3
    assert [p["fresh"] for p in again["parts"]] == [True] * 3
    names = (
        "captions.vtt",
        "chapters.vtt",
        "cut.otio",
        "page.svg",
        "page.pdf",
        "cards.pdf",
        "routine.json",
    )
    assert all((out / name).stat().st_size > 100 for name in names)
    assert (out / "follow" / "index.html").is_file()
    assert not list(out.rglob(".part-*"))
    made = json.loads((out / "made.json").read_text("utf-8"))
    routine = hashlib.sha256((out / "routine.json").read_bytes()).hexdigest()
    assert made["inputs"]["routine.json"] == routine
    assert made["versions"]["numpy"] == numpy.__version__
    assert made["versions"]["python"] == platform.python_version()
    assert {"rondel", "av", "typst"} <= set(made["versions"])
    assert set(made["stages"]) == {"words", "page", "follow"}


def test_a_routine_with_an_unknown_technique_is_not_made(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    printed = told(capsys, "plan", brief, "--json")[1]
    routine = json.loads(printed)["routine"]
    routine["passages"][0]["technique"] = "moon-walk"
    spoiled = brief.with_name("routine.json")
    spoiled.write_text(json.dumps(routine), "utf-8")
    code, _, said = told(capsys, "make", spoiled, "--out", brief.with_name("session"))
    assert code == BAD_INPUT
    assert "moon-walk" in said


SAME_EVERYWHERE = ("routine.json", "captions.vtt", "chapters.vtt", "page.svg")


def test_two_makes_of_one_brief_are_the_same_byte_for_byte(
    new_brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    new_brief.write_text(SHORT.replace("minutes = 4", "minutes = 3"), "utf-8")
    one, two = new_brief.with_name("one"), new_brief.with_name("two")
    for out in (one, two):
        code, _, said = told(capsys, "make", new_brief, "--out", out, "--only", "words,page")
        assert code == GOOD, said
    also = ("page.pdf", "cards.pdf")
    for name in (*SAME_EVERYWHERE, *also):
        assert (one / name).read_bytes() == (two / name).read_bytes(), name


def test_two_makes_of_one_routine_sound_the_same_byte_for_byte(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = routine_file(tmp_path / "routine.json")
    one, two = tmp_path / "one", tmp_path / "two"
    for out in (one, two):
        assert told(capsys, "make", source, "--out", out, "--only", "audio")[0] == GOOD
    for name in ("session.flac", "score.mid"):
        assert (one / name).read_bytes() == (two / name).read_bytes(), name


def test_a_routine_pressed_beyond_what_is_safe_is_not_made(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    routine = json.loads(told(capsys, "plan", brief, "--json")[1])["routine"]
    routine["passages"][-1]["pressure"] = 5
    spoiled = brief.with_name("routine.json")
    spoiled.write_text(json.dumps(routine), "utf-8")
    out = brief.with_name("session")
    code, printed, _ = told(capsys, "make", spoiled, "--out", out, "--only", "page")
    assert code == NOT_GOOD
    assert "lay hand" in printed
    assert not out.exists()


def test_a_routine_edited_inside_its_session_is_made_there_and_never_overwritten(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = brief.with_name("session")
    assert told(capsys, "make", brief, "--only", "page")[0] == GOOD
    edited = out / "routine.json"
    edited.write_text(edited.read_text("utf-8").replace("Short", "Edited by hand"), "utf-8")
    code, _, said = told(capsys, "make", brief, "--only", "page")
    assert code == BAD_INPUT
    assert "changed by hand" in said
    assert told(capsys, "make", edited, "--only", "page")[0] == GOOD
    assert "Edited by hand" in (out / "page.svg").read_text("utf-8")
    assert not (out / "session").exists()


def test_a_brief_is_not_a_routine_nor_the_other_way_round(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "looks like a brief" in told(capsys, "check", brief)[2]
    out = brief.with_name("routine.json")
    told(capsys, "plan", brief, "--out", out)
    assert "looks like a routine" in told(capsys, "plan", out)[2]


def test_the_techniques_of_a_studio_are_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, "start", tmp_path / "studio")
    builtin = json.loads(told(capsys, "techniques", "--json")[1])
    hers = json.loads(told(capsys, "techniques", tmp_path / "studio", "--json")[1])
    assert hers == builtin
    code, printed, _ = told(capsys, "techniques")
    assert code == GOOD
    assert all(f"[{t['id']}]" in printed for t in builtin)


def test_letters_that_the_typeface_lacks_are_told(
    brief: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    brief.write_text(SHORT.replace("Short", "夜 evening"), "utf-8")
    printed = told(capsys, "make", brief, "--only", "page", "--json")[1]
    notes = json.loads(printed)["notes"]
    assert any("letters 夜" in note for note in notes)


def test_a_routine_read_from_its_file_is_the_one_that_was_planned() -> None:
    # 11.3 minutes at 72 beats a minute: 203 bars at 71.858… beats, which no decimal holds.
    brief = brief_from_dict({"minutes": 11.3, "intention": "wake"})
    routine = make_plan(brief, builtin_craft()).routine
    assert routine is not None
    assert abs(routine.clock.total_seconds - 11.3 * 60) < 0.001
    assert routine_from_dict(routine_to_dict(routine)) == routine


_THREADS = """
import os, sys
from rondel.cli.main import main
assert "numpy" not in sys.modules, "too late to say how many threads it takes"
main(["regions"])
print(os.environ["OPENBLAS_NUM_THREADS"])
"""


@pytest.mark.parametrize(("told_before", "found"), [(None, "1"), ("3", "3")])
def test_linear_algebra_takes_one_thread_unless_told_otherwise(
    told_before: str | None, found: str
) -> None:
    """With two, listening took up to five times as long as with one."""
    around = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    if told_before is not None:
        around["OPENBLAS_NUM_THREADS"] = told_before
    command = [sys.executable, "-c", _THREADS]
    done = subprocess.run(command, env=around, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == found
