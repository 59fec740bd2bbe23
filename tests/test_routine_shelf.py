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
from rondel.adapters.routine_shelf import Shelf, Stale, slug_of
from rondel.adapters.studio_files import read_routine, write_routine
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


def test_a_spoilt_history_does_not_lose_the_routine(shelf: Shelf) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    for text in ("", "{", "[]", json.dumps({"at": 9, "steps": []}), '{"at": 0, "steps": [1]}'):
        (kept.folder / "versions" / "history.json").write_text(text)
        assert shelf.open(kept.slug).routine == called(0)


KILLED = """
    import os, sys
    from pathlib import Path
    from dataclasses import replace
    sys.path.insert(0, {tests!r})
    from rondel.adapters import atomic, routine_shelf
    from rondel.adapters.routine_shelf import Shelf
    from cue_routines import lot_routine

    shelf, left = Shelf(Path(sys.argv[1])), int(sys.argv[2])
    kept = shelf.open("number-0")
    real, count = routine_shelf.write_text, 0

    def write(path, text):
        global count
        if count == left:
            os.kill(os.getpid(), 9)
        real(path, text)
        count += 1

    routine_shelf.write_text = write
    new = replace(kept.routine, title="Number 1")
    shelf.put("number-0", new, "One step.", seen=kept.version)
    print("acknowledged", flush=True)
    os.kill(os.getpid(), 9)
"""


@pytest.mark.parametrize("writes", range(4))
def test_killed_between_any_two_writes_nothing_acknowledged_is_lost(
    shelf: Shelf, tmp_path: Path, writes: int
) -> None:
    kept = shelf.add(called(0), "", "Begun.")
    script = textwrap.dedent(KILLED).format(tests=str(Path(__file__).parent))
    ended = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path), str(writes)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == -9, ended.stderr
    was_acknowledged = "acknowledged" in ended.stdout
    assert was_acknowledged is (writes == 3)  # version, history, routine.json: three writes
    found = shelf.open(kept.slug)
    assert found.routine in (called(0), called(1))
    if was_acknowledged:
        assert found.routine == called(1)
    assert read_routine(kept.folder / "routine.json") == found.routine
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
