"""What is said of a track that is too short, comes round often, or is wanted at another tempo."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from heard_tracks import brief_of, steady
from rondel.adapters.craft_files import builtin_craft
from rondel.app.make_plan import make_plan
from rondel.app.set_track import set_track
from rondel.cli.main import main
from rondel.model.track import Section, Span
from rondel.music.laying import lay_out
from rondel.music.track_grid import grid_of
from rondel.planner.against_track import against_track
from rondel.rules.close import SECONDS as CLOSE_SECONDS

CRAFT = builtin_craft()


@pytest.mark.parametrize(("seconds", "bpm", "minutes"), [(5, 75, 3), (11, 60, 7), (40, 40, 7)])
def test_a_track_far_too_short_is_refused_and_never_left_to_a_tail(
    seconds: float, bpm: float, minutes: int
) -> None:
    outcome = make_plan(brief_of(minutes), CRAFT, heard=steady(seconds, bpm))
    assert outcome.routine is None
    (says,) = outcome.reasons
    assert f"(0:{seconds:02d}) is too short for {minutes} minutes" in says
    assert ["Leave the track out; Rondel then composes the music."] in [
        list(entry.sentences) for entry in outcome.loosen
    ]


@pytest.mark.parametrize("bpm", [45, 60, 75, 100])
@pytest.mark.parametrize("seconds", [30, 60, 90, 170, 400])
def test_no_track_that_is_taken_has_a_tail_longer_than_the_close(
    seconds: float, bpm: float
) -> None:
    taken = 0
    for minutes in (3, 5, 12):
        brief = set_track(brief_of(minutes), steady(seconds, bpm))
        assert brief.laid is not None
        laid = brief.laid
        tail = laid.total_seconds - (laid.course.tail_from or laid.total_seconds)
        most = CLOSE_SECONDS * float(brief.scale) + 2 * 4 * 60 / bpm + 0.01
        is_short = any("too short" in says for says in against_track(brief, CRAFT))
        assert is_short == (tail > most)
        taken += not is_short
    assert taken == 3 or seconds == 30


def test_a_family_is_not_planned_on_a_track_far_too_short(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        "rondel.wiring_tracks.read_brief_and_track",
        lambda path, progress: (brief_of(3), steady(5.0)),
    )
    (tmp_path / "b.toml").write_text("", encoding="utf-8")
    assert main(["plan", str(tmp_path / "b.toml"), "--levels", "1,2"]) == 1
    assert "too short for 3 minutes" in " ".join(capsys.readouterr().out.split())


def test_what_comes_round_often_is_told_in_one_sentence() -> None:
    laid = lay_out(steady(30.0), brief_of(7))
    back = len(laid.course.pieces) - 1
    assert back > 20
    (says,) = [says for says in laid.says if "played again" in says]
    assert f"is played again {back} times, from 0:28" in says
    assert len(laid.says) <= 4


def test_two_seams_are_told_one_by_one() -> None:
    laid = lay_out(steady(300.0, sections=((0.0, 0.2), (96.0, 0.5), (192.0, 0.9))), brief_of(7))
    back = [says for says in laid.says if "is played again" in says]
    assert len(back) == len(laid.course.pieces) - 1
    assert 1 <= len(back) <= 3


@pytest.mark.parametrize(
    ("own", "bpm", "says"),
    [
        (60, 60, None),
        (60, 61, None),
        (60, 30, "asks for 30 beats a minute; the track's beat is 60, so the routine counts every "
         "second one: 30 a minute."),
        (60, 120, "so the routine counts two to each: 120 a minute."),
        (60, 150, "so the routine counts two to each: 120 a minute, which is as near as it comes."),
        (60, 80, "so the routine keeps to it, which is as near as it comes."),
        (140, None, "The track's beat, 140 a minute, is quick for hands"),
        (25, None, "The track's beat, 25 a minute, is slow"),
    ],
)  # fmt: skip
def test_the_reason_for_the_tempo_is_the_one_it_was_taken_for(
    own: float, bpm: int | None, says: str | None
) -> None:
    grid = grid_of(steady(300.0, own), None if bpm is None else Fraction(bpm), 60)
    told = " ".join(grid.says)
    assert (says or "") in told
    assert bool(told) == (says is not None)
    if bpm is not None:
        assert "slow" not in told
        assert "quick" not in told


def test_a_bar_before_the_first_bar_line_keeps_the_beats_that_were_heard() -> None:
    """Bars of two are joined by where sections begin; what lies before drifts as the track does."""
    beats = [0.0]
    for number in range(40):
        beats.append(beats[-1] + 1.5 * (1 + 0.01 * number))
    ends = (0.0, beats[2], beats[-1] + 1)
    sections = tuple(
        Section(span=Span(start=a, end=b), energy=0.5, has_beat=True) for a, b in pairwise(ends)
    )
    heard = replace(
        steady(ends[-1], 40.0, 2),
        beats=tuple(beats),
        downbeats=tuple(beats[::2]),
        sections=sections,
    )
    grid = grid_of(heard, None, 60)
    assert grid.beats_per_bar == 4
    assert grid.beats[2:8] == pytest.approx(beats[:6])
