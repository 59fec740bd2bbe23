"""Takes are chosen for a passage: angles, slips, too little film, hands at rest, the other side."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from film_samples import seen_as
from rondel.adapters.craft_files import builtin_craft
from rondel.app.fit_takes import fit_takes, fitted_sentences
from rondel.app.progress import Silent
from rondel.fitting.choosing import Limits
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.routine import Passage, Routine
from rondel.model.shots import Shot
from rondel.model.take import Seen
from rondel.model.track import Span
from rondel.model.words import Side
from test_fit_takes import lamplight, take_of


def test_angles_are_changed_at_bar_lines_and_not_too_soon() -> None:
    takes = [
        NamedTake(name=f"{angle}.mp4", seen=replace(seen_as(None, (1.0, 2.0), 3.0), angle=angle))
        for angle in ("from above", "close", "from the side")
    ]
    routine, passage = _long_passage()
    own = [replace(take, seen=_for(take.seen, routine, passage, n)) for n, take in enumerate(takes)]
    found = fit_passage(routine, passage, own)
    assert len({shot.take for shot in found.shots}) > 1
    bar = routine.beats_per_bar
    for one, two in pairwise(found.shots):
        lasted = one.map.at[-1] - one.map.at[0]
        assert lasted >= Limits().shortest_shot - 1e-6
        assert one.take != two.take
        beat = float(routine.clock.beat_at(two.map.at[0]))
        assert abs(beat / bar - round(beat / bar)) < 0.02


def _long_passage() -> tuple[Routine, Passage]:
    routine = lamplight()
    line = [p for p in routine.line if not p.is_open and len(routine.landings(p)) > 8]
    return routine, max(line, key=lambda p: routine.seconds_of(p))


def _for(before: Seen, routine: Routine, passage: Passage, seed: int) -> Seen:
    beats = [float(routine.clock.seconds_at(b)) for b in routine.landings(passage)]
    step = float(np.median(np.diff(beats)))
    dice = np.random.default_rng(seed)
    landings = (1.0 + np.cumsum(step * (1 + 0.08 * dice.uniform(-1, 1, 60)))).tolist()
    made = seen_as(passage.technique, tuple(landings), landings[-1] + 1)
    return replace(made, angle=before.angle)


def test_a_slip_is_covered_by_another_angle_or_shown_where_that_is_wished() -> None:
    routine, passage = _long_passage()
    plain = _for(seen_as(None, (1.0, 2.0), 3.0), routine, passage, 1)
    (stretch,) = plain.stretches
    slips = tuple(Span(start=t + 0.1, end=t + 0.4) for t in stretch.landings[4::5])
    slipped = replace(plain, stretches=(replace(stretch, slips=slips),), angle="from above")
    close = replace(_for(seen_as(None, (1.0, 2.0), 3.0), routine, passage, 2), angle="close")
    takes = [NamedTake(name="a.mp4", seen=slipped), NamedTake(name="b.mp4", seen=close)]
    found = fit_passage(routine, passage, takes)
    assert len(found.shots) >= 1
    assert not any(_shows(shot, slip) for shot in found.shots for slip in slips)
    alone = fit_passage(routine, passage, takes[:1], Limits(shows_slips=True))
    assert any(_shows(shot, slip) for shot in alone.shots for slip in slips)
    assert any("slip" in note for note in alone.notes)


def _shows(shot: Shot, slip: Span) -> bool:
    overlaps = shot.landings[0] < slip.end and slip.start < shot.landings[-1]
    return shot.take == "a.mp4" and overlaps


def test_a_take_that_is_too_short_is_shown_again_and_that_is_said() -> None:
    routine, passage = _long_passage()
    whole = _for(seen_as(None, (1.0, 2.0), 3.0), routine, passage, 1)
    (stretch,) = whole.stretches
    short = replace(stretch, landings=stretch.landings[:6])
    take = NamedTake(name="short.mp4", seen=replace(whole, stretches=(short,)))
    found = fit_passage(routine, passage, [take])
    assert len(found.shots) > 1
    assert any("shown again" in note for note in found.notes)
    fitted_all = fit_takes(routine, [take], progress=Silent())
    assert any(
        "too short" in line for line in fitted_sentences(fitted_all, routine, builtin_craft())
    )


def test_hands_that_rest_are_held_for_the_whole_passage() -> None:
    routine, passage = _long_passage()
    for seconds, shots in ((200.0, 1), (9.0, None)):
        still = Seen(seconds=seconds, fps=25.0, width=640, height=360, stretches=())
        take = NamedTake(name="still.mp4", seen=still, technique=passage.technique)
        found = fit_passage(routine, passage, [take])
        assert found.why_not == ""
        assert shots is None or len(found.shots) == shots
        assert found.shots[0].map.at[0] == pytest.approx(routine.start_seconds(passage))
        assert found.shots[-1].map.at[-1] == pytest.approx(routine.end_seconds(passage))
        for shot in found.shots:
            assert 0.59 <= min(shot.map.speeds) <= max(shot.map.speeds) <= 1.0 + 1e-9
            assert shot.map.shows[-1] <= seconds
    other = NamedTake(name="still.mp4", seen=still, technique="another")
    assert "no take is named" in fit_passage(routine, passage, [other]).why_not


def test_the_other_side_is_mirrored_only_where_the_teacher_says_so() -> None:
    left = next(p for p in lamplight().line if p.side is Side.LEFT)
    take_right = take_of(left, side=Side.RIGHT)
    assert fit_passage(lamplight(), left, [take_right]).shots == ()
    found = fit_passage(lamplight(), left, [take_right], Limits(mirrors=True))
    assert found.shots
    assert all(shot.is_mirrored for shot in found.shots)
    assert any("mirror" in note for note in found.notes)


def test_of_hands_that_rest_it_is_told_too_that_they_are_of_one_side_or_mirrored() -> None:
    still = Seen(seconds=200.0, fps=25.0, width=640, height=360, stretches=(), side=Side.RIGHT)
    left = next(p for p in lamplight().line if p.side is Side.LEFT)
    both = next(p for p in lamplight().line if p.side is Side.BOTH and not p.is_open)
    for passage, says in ((left, "mirror"), (both, "film of one side stands for both")):
        take = NamedTake(name="still.mp4", seen=still, technique=passage.technique)
        found = fit_passage(lamplight(), passage, [take], Limits(mirrors=True))
        assert found.shots
        assert [note for note in found.notes if says in note] == list(found.notes) != []
