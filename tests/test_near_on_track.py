"""A plan near another on the same track: hands go with the music, passages with its phrases."""

from __future__ import annotations

from dataclasses import replace

import pytest

from heard_tracks import ambient, brief_of, steady
from rondel.app.set_track import set_track
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.routine import Routine
from rondel.model.track import HeardFrom, Laid
from rondel.planner.attempts import QUICK
from rondel.planner.nearness import places_by_music
from rondel.planner.plan import plan
from sound_routines import CRAFT


def laid_of(brief: Brief) -> Laid:
    assert brief.laid is not None
    return brief.laid


def planned(brief: Brief, near: Routine | None = None) -> Routine:
    routine = plan(brief, CRAFT, near=near, effort=QUICK, loosen=False).routine
    assert routine is not None
    return routine


def test_the_same_bars_are_held_to_themselves() -> None:
    brief = set_track(brief_of(5), ambient(712, 330))
    assert places_by_music(planned(brief), laid_of(brief)) is None


def test_bars_are_held_to_those_in_which_the_same_music_is_heard() -> None:
    """The second of the track that is heard in the middle of a bar is the judge, not the bars."""
    heard = ambient(712, 330)
    old = planned(set_track(brief_of(5.5), heard))
    laid = laid_of(set_track(brief_of(7), heard))
    places = places_by_music(old, laid)
    assert places is not None
    assert len(places) == laid.bars
    course = old.music.course
    assert course is not None
    starts = laid.bar_starts
    told = 0
    for bar, place in enumerate(places):
        if place is None:
            continue
        middle = (starts[bar] + starts[bar + 1]) / 2
        first, past = (float(old.clock.seconds_at_bar(b)) for b in (place, place + 1))
        sources = [
            (middle - p.at + p.source.start, q.source.start - q.at)
            for p in laid.course.pieces
            if p.at <= middle < p.end
            for q in course.pieces
            if q.at <= (first + past) / 2 < q.end
        ]
        assert any(first + shift <= second < past + shift for second, shift in sources), bar
        told += 1
    assert told > 0.9 * laid.bars


def test_other_music_is_held_to_bar_by_bar() -> None:
    heard = replace(steady(300, sections=((0.0, 0.2), (150.0, 0.8))), heard_from=_from("a"))
    old = planned(set_track(brief_of(4), heard))
    other = laid_of(set_track(brief_of(5), replace(heard, heard_from=_from("b"))))
    assert places_by_music(old, other) is None
    same = laid_of(set_track(brief_of(5), heard))
    assert places_by_music(old, same) is not None
    composed = planned(replace(brief_of(4), track=None))
    assert places_by_music(composed, same) is None


def _from(track: str) -> HeardFrom:
    return HeardFrom(track=track * 64, corrections="0" * 64)


@pytest.mark.parametrize(("seed", "seconds", "minutes", "other"), [(712, 330, 5.5, 7)])
def test_near_with_other_minutes_keeps_the_phrases_and_the_hands(
    seed: int, seconds: float, minutes: float, other: float
) -> None:
    """Bar by bar, this plan began a passage in the midst of a phrase and kept two thirds of what
    was done; now it keeps more, on the phrases."""
    heard = ambient(seed, seconds)
    old = planned(set_track(brief_of(minutes), heard))
    near = planned(set_track(brief_of(other), heard), near=old)
    assert not [f for f in check(near, CRAFT) if f.rule == "phrase"]
    assert _kept(old, near) >= 0.75


def _kept(one: Routine, other: Routine) -> float:
    """Return the share of the bars of the shorter routine that are in both, in the same order."""
    a, b = ([(p.technique, p.side, p.bars) for p in r.line] for r in (one, other))
    best = [[0] * (len(b) + 1) for _ in range(len(a) + 1)]
    for i, (t, s, n) in enumerate(a):
        for j, (u, v, m) in enumerate(b):
            alike = best[i][j] + (min(n, m) if (t, s) == (u, v) else 0)
            best[i + 1][j + 1] = max(alike, best[i][j + 1], best[i + 1][j])
    return best[-1][-1] / min(one.bars, other.bars)
