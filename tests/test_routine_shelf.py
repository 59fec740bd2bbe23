"""Routines on the shelf: undo without end, restarts, two windows, and a machine that stops."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import textwrap
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cue_routines import lot_routine
from rondel.adapters import routine_shelf
from rondel.adapters.brief_beside import brief_text, said_beside
from rondel.adapters.routine_shelf import FROM_OUTSIDE, Shelf, Stale, slug_of
from rondel.adapters.studio_files import read_brief, read_routine, write_routine
from rondel.model.errors import BadInput
from rondel.model.routine import Routine

PLAIN = lot_routine(6, 3.0)


def called(number: int) -> Routine:
    return replace(PLAIN, title=f"Number {number}")


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.sampled_from(["put", "back", "on", "restart"]), max_size=25))
def test_taking_back_and_doing_again_is_as_on_a_list(moves: list[str]) -> None:
    """The model is a plain list of versions and a place in it."""
    with tempfile.TemporaryDirectory() as name:
        shelf = Shelf(Path(name))
        kept = shelf.add(called(0), "", "Begun.")
        versions, at = [0], 0
        for number, move in enumerate(moves, start=1):
            if move == "put":
                kept = shelf.put(kept.slug, called(number), f"Step {number}.", seen=kept.version)
                versions, at = [*versions[: at + 1], number], at + 1
            elif move == "back":
                kept, at = shelf.back(kept.slug, seen=kept.version), max(0, at - 1)
            elif move == "on":
                kept = shelf.on(kept.slug, seen=kept.version)
                at = min(len(versions) - 1, at + 1)
            else:
                shelf = Shelf(Path(name))
                kept = shelf.open(kept.slug)
            assert kept.routine == called(versions[at])
            assert kept.history.at == at
            assert len(kept.history.steps) == len(versions)
            assert read_routine(kept.folder / "routine.json") == kept.routine


def test_a_stale_edit_is_refused_and_both_versions_are_there(shelf: Shelf) -> None:
    first = shelf.add(called(0), "", "Begun.")
    second = shelf.put(first.slug, called(1), "By one window.", seen=first.version)
    with pytest.raises(Stale) as caught:
        shelf.put(first.slug, called(2), "By another.", seen=first.version)
    assert caught.value.kept.routine == called(1)
    assert shelf.routine_at(first.slug, caught.value.seen) == called(0)
    assert shelf.open(first.slug).version == second.version


def test_a_routine_changed_by_another_hand_is_one_more_version(shelf: Shelf) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    write_routine(kept.folder / "routine.json", called(7))
    found = shelf.open(kept.slug)
    assert found.routine == called(7)
    assert [step.says for step in found.history.steps] == ["Begun.", routine_shelf.FROM_OUTSIDE]
    assert shelf.back(kept.slug, seen=found.version).routine == called(0)


def test_an_earlier_version_put_back_by_hand_is_one_more_version(shelf: Shelf) -> None:
    """As from a backup: it is not taken for a step that had not ended."""
    kept = shelf.add(called(0), "", "Begun.")
    kept = shelf.put(kept.slug, called(1), "Changed.", seen=kept.version)
    write_routine(kept.folder / "routine.json", called(0))
    found = shelf.open(kept.slug)
    assert found.routine == called(0)
    assert [s.says for s in found.history.steps] == ["Begun.", "Changed.", FROM_OUTSIDE]
    assert shelf.back(kept.slug, seen=found.version).routine == called(1)


def test_a_spoilt_history_loses_neither_the_routine_nor_its_versions(shelf: Shelf) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    kept = shelf.put(kept.slug, called(1), "Changed.", seen=kept.version)
    file = kept.folder / "versions" / "history.json"
    for text in ("", "{", "[]", json.dumps({"at": 9, "steps": []}), '{"at": 0, "steps": [1]}'):
        file.write_text(text)
        found = shelf.open(kept.slug)
        assert found.routine == called(1)
        assert len(found.history.steps) == 2
        assert file.with_name("history.json.broken").read_text() == text
        before = shelf.back(kept.slug, seen=found.version)
        assert before.routine == called(0)
        shelf.on(kept.slug, seen=before.version)


def test_a_version_that_is_gone_is_left_out_of_the_history(shelf: Shelf) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    first = kept.version
    for number in (1, 2):
        kept = shelf.put(kept.slug, called(number), f"Step {number}.", seen=kept.version)
    (kept.folder / "versions" / f"{first}.json").unlink()
    found = shelf.open(kept.slug)
    assert [s.says for s in found.history.steps] == ["Step 1.", "Step 2."]
    assert found.routine == called(2)


def test_what_is_written_into_a_brief_by_hand_stays(shelf: Shelf) -> None:
    brief = PLAIN.brief
    assert brief is not None
    kept = shelf.add(called(0), brief_text(brief), "Begun.")
    file = kept.folder / "brief.toml"
    file.write_text("# The left knee is sore.\n" + file.read_text() + 'positions = ["seated"]\n')
    assert said_beside(kept.folder, brief).wishes == ("positions",)
    changed = replace(called(1), brief=replace(brief, level=4, seed=9))
    kept = shelf.put(kept.slug, changed, "Changed.", seen=kept.version)
    text = file.read_text()
    assert text.startswith("# The left knee is sore.\n")
    assert 'positions = ["seated"]' in text
    assert read_brief(file).level == 4
    assert read_brief(file).seed == 9
    shelf.back(kept.slug, seen=kept.version)
    assert read_brief(file).level == brief.level
    assert file.read_text().startswith("# The left knee is sore.\n")
    file.write_text("this is [no TOML")
    shelf.on(kept.slug, seen=shelf.open(kept.slug).version)
    assert file.read_text() == "this is [no TOML"
    assert said_beside(kept.folder, brief).trouble


@pytest.mark.parametrize("name", ["music", "takes", "voice", "session", "versions"])
def test_a_link_that_leads_out_of_the_studio_is_refused(
    shelf: Shelf, tmp_path: Path, name: str
) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    outside = tmp_path.parent / f"outside-{name}"
    outside.mkdir(exist_ok=True)
    place = kept.folder / name
    if place.exists():
        place.rename(kept.folder / "was")
    place.symlink_to(outside)
    with pytest.raises(BadInput, match="leads out of the studio"):
        shelf.open(kept.slug)
    assert list(outside.iterdir()) == []


def test_a_folder_of_any_name_is_opened_or_told(shelf: Shelf) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    for name in ("Abendlicht", "für_zwei", "my routine"):
        (kept.folder).rename(kept.folder.with_name(name))
        kept = shelf.open(name)
        assert kept.routine == called(0)
    (kept.folder).rename(kept.folder.with_name("what?"))
    assert shelf.slugs() == ("what?",)
    with pytest.raises(BadInput, match="rename it"):
        shelf.open("what?")


KILLED = """
    import os, sys
    from pathlib import Path
    from dataclasses import replace
    sys.path.insert(0, {tests!r})
    from rondel.adapters import brief_beside, routine_shelf, routine_versions
    from rondel.adapters.routine_shelf import Shelf
    from cue_routines import lot_routine

    shelf, left = Shelf(Path(sys.argv[1])), int(sys.argv[2])
    kept = shelf.open("number-0")
    count = 0

    def counted(real):
        def done(*words):
            global count
            if count == left:
                os.kill(os.getpid(), 9)
            real(*words)
            count += 1
        return done

    for module in (brief_beside, routine_shelf, routine_versions):
        module.write_text = counted(module.write_text)
    routine_versions.Versions.end = counted(routine_versions.Versions.end)
    new = replace(kept.routine, title="Number 1", brief=replace(kept.routine.brief, level=3))
    shelf.put("number-0", new, "One step.", seen=kept.version)
    print("acknowledged", flush=True)
    os.kill(os.getpid(), 9)
"""


#: Version, mark, history, brief.toml, routine.json; then the mark is taken away.
WRITES = 6


@pytest.mark.parametrize("writes", range(WRITES + 1))
def test_killed_between_any_two_writes_nothing_acknowledged_is_lost(
    shelf: Shelf, tmp_path: Path, writes: int
) -> None:
    assert PLAIN.brief is not None
    kept = shelf.add(called(0), brief_text(PLAIN.brief), "Begun.")
    script = textwrap.dedent(KILLED).format(tests=str(Path(__file__).parent))
    ended = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path), str(writes)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == -9, ended.stderr
    was_acknowledged = "acknowledged" in ended.stdout
    assert was_acknowledged is (writes == WRITES)
    found = shelf.open(kept.slug)
    after = replace(called(1), brief=replace(PLAIN.brief, level=3))
    assert found.routine in (called(0), after)
    if was_acknowledged:
        assert found.routine == after
    assert read_routine(kept.folder / "routine.json") == found.routine
    assert read_brief(kept.folder / "brief.toml") == found.routine.brief
    assert len(found.history.steps) == (1 if found.routine == called(0) else 2)
    assert not (kept.folder / "versions" / ".writing").exists()
    assert shelf.put(kept.slug, called(5), "Later.", seen=found.version).routine == called(5)


def test_titles_of_all_kinds_have_folders_of_their_own(shelf: Shelf) -> None:
    titles = ["夜", "../..", "Lamplight", "lamplight", "a" * 300, "con.", "Für zwei"]
    slugs = [shelf.add(replace(PLAIN, title=t), "", "Begun.").slug for t in titles]
    assert len(set(slugs)) == len(titles)
    assert set(shelf.slugs()) == set(slugs)
    assert all(routine_shelf.SLUG.fullmatch(slug) for slug in slugs)
    assert slug_of("Für zwei") == "fur-zwei"


@pytest.mark.parametrize("slug", ["..", "", "a/b", "Lamp", "a" * 80, "none", ".hidden"])
def test_what_is_no_routine_is_refused_in_a_sentence(shelf: Shelf, slug: str) -> None:
    shelf.add(called(0), "", "Begun.")
    with pytest.raises(BadInput, match="there is no such routine"):
        shelf.open(slug)
