"""Routines planned to a track: every rule that must be kept is, by the checker and by the truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import pytest

from cases.reading import routine_from_rows
from heard_tracks import ambient, brief_of, steady, track_second
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.heard_files import FilesBesideTrack
from rondel.app.change_plan import change_plan
from rondel.app.make_plan import make_plan
from rondel.app.ports.tracks import Kept
from rondel.app.set_track import answered_with_track, set_track
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.model.brief import Keep
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.finding import Outcome, Severity
from rondel.model.routine import Routine
from rondel.model.time import as_minutes
from rondel.model.track import Heard, Span
from rondel.model.words import Role
from rondel.planner.against_track import against_track
from rondel.planner.attempts import QUICK, Attempts
from rondel.planner.edits import Insist, Move, Shorten
from rondel.planner.frame import frame_of
from rondel.planner.plan import finished, plan
from rondel.planner.score import score
from rondel.planner.track_reasons import with_track_reasons
from track_truth import broken, strokes_on_beats

CRAFT = builtin_craft()
INTENTIONS = ("settle", "wake", "sleep", "closeness")

#: (seed, seconds of the track, minutes asked): shorter, longer and as long; in three and in four.
TRACKS = tuple(
    (seed, (300, 420, 240, 600)[seed % 4], (5, 4, 6, 3, 7, 4)[seed % 6]) for seed in range(100, 112)
)


@cache
def truth_on(seed: int, seconds: int) -> Heard:
    return ambient(seed, seconds)


@cache
def planned(number: int) -> Routine:
    seed, seconds, minutes = TRACKS[number]
    brief = set_track(brief_of(minutes, INTENTIONS[number % 4]), truth_on(seed, seconds))
    routine = plan(brief, CRAFT, effort=QUICK, loosen=False).routine
    assert routine is not None, TRACKS[number]
    return routine


@pytest.mark.parametrize("number", range(len(TRACKS)))
def test_what_must_be_is_kept_also_against_the_truth_of_the_track(number: int) -> None:
    routine = planned(number)
    seed, seconds, _ = TRACKS[number]
    assert [f for f in check(routine, CRAFT) if f.severity is Severity.MUST] == []
    assert broken(routine, truth_on(seed, seconds), CRAFT) == []
    met, count = strokes_on_beats(routine, truth_on(seed, seconds))
    assert count > 0
    assert met == count


def test_the_judge_of_truth_sees_a_routine_set_to_another_track() -> None:
    """A check that cannot fail would say nothing: here the music is not what was laid out."""
    seen = [broken(planned(n), truth_on(TRACKS[n][0] + 1, 700), CRAFT) for n in range(8)]
    assert sum(bool(rules) for rules in seen) >= 6
    met, count = map(
        sum, zip(*(strokes_on_beats(planned(n), truth_on(7, 700)) for n in range(4)), strict=True)
    )
    assert met < 0.4 * count


def test_what_is_not_sure_does_not_hide_from_the_judge_what_is_wrong() -> None:
    number = next(n for n in range(len(TRACKS)) if len(rhythmic_seconds(planned(n))) > 1)
    routine, truth = planned(number), truth_on(*TRACKS[number][:2])
    first, last = rhythmic_seconds(routine)[0], rhythmic_seconds(routine)[-1]
    unsure = replace(truth, unsure=(Span(start=first - 0.2, end=first + 0.2),))
    both = replace(unsure, beatless=(Span(start=last - 0.2, end=last + 0.2),))
    kinds = [[rule.split(":")[0] for rule in broken(routine, t, CRAFT)] for t in (unsure, both)]
    assert kinds == [["audible, unsure"], ["audible, unsure", "audible"]]


def rhythmic_seconds(routine: Routine) -> list[float]:
    """Where in the track the landings of what needs a beat lie."""
    course = routine.music.course
    assert course is not None
    found = [
        track_second(course, routine.clock.seconds_at(beat))
        for p in routine.passages
        if p.technique is not None and CRAFT.technique(p.technique).is_rhythmic
        for beat in routine.landings(p)
    ]
    return [at for at in found if at is not None]


@pytest.mark.parametrize("number", [1, 5])
def test_search_and_score_agree_on_what_the_track_costs(number: int) -> None:
    seed, seconds, minutes = TRACKS[number]
    brief = set_track(brief_of(minutes, INTENTIONS[number % 4]), truth_on(seed, seconds))
    found = Attempts(brief, CRAFT).find(replace(QUICK, rounds=2, is_whole=True))
    assert found is not None
    told = score(finished(found, CRAFT), CRAFT)
    assert found.cost == pytest.approx(told.total, abs=1e-6)
    assert found.bound is not None
    assert found.bound <= found.cost + 1e-6
    assert dict(told.parts)["track"] > 0


def test_a_routine_on_a_track_says_what_it_is_set_to_and_comes_back_the_same() -> None:
    routine = planned(3)
    music = routine.music
    assert (music.kind, music.path) == ("track", "music/dusk.flac")
    assert len(music.beat_seconds) == routine.bars * routine.beats_per_bar + 1
    data = json.loads(json.dumps(routine_to_dict(routine)))
    assert "laid" not in data["brief"]
    back = routine_from_dict(data)
    assert back == routine
    assert back.brief is not None
    assert back.brief.laid is not None
    assert score(back, CRAFT) == score(routine, CRAFT)
    # `tempo` follows the beats closely enough to read: by a hundredth, every few bars.
    plain = replace(routine, music=replace(music, beat_seconds=()))
    assert plain.clock.total_seconds == pytest.approx(music.beat_seconds[-1], rel=0.01)


def test_without_a_track_nothing_is_planned_otherwise() -> None:
    brief = replace(brief_of(5), track=None)
    plain = plan(brief, CRAFT, effort=QUICK, loosen=False).routine
    assert plain is not None
    assert "track" not in dict(score(plain, CRAFT).parts)
    assert plain.music.course is None
    assert plain.beats_per_bar == 4


def test_make_plan_says_what_was_done_to_the_track_and_what_it_decided() -> None:
    heard = truth_on(21, 200)
    outcome = make_plan(brief_of(5), CRAFT, heard=heard)
    assert outcome.routine is not None
    assert outcome.mattered[0].startswith("The track is ")
    assert any("is played again" in says for says in outcome.mattered)
    why = " ".join(says for p in outcome.routine.passages for says in p.why)
    assert "Begins as the track changes, at " in why
    assert "motif returns here" in why
    assert all(len(p.why) <= 3 for p in outcome.routine.passages)
    assert outcome.routine.cues


def _a_bar_off(routine: Routine) -> Routine:
    """Return `routine` as if its track changed, and its motif returned, a bar earlier."""
    course = routine.music.course
    assert course is not None
    turns, homes = (tuple(b - 1 for b in bars if b) for bars in (course.turns, course.homes))
    phrases = tuple(b for b in course.phrases if b % 8)
    off = replace(course, turns=turns, homes=homes, phrases=phrases)
    return replace(routine, music=replace(routine.music, course=off))


@pytest.mark.parametrize("change", [lambda r: r, _a_bar_off], ids=["as planned", "a bar off"])
def test_reasons_say_what_the_checker_finds(change: Callable[[Routine], Routine]) -> None:
    """Who begins "as the track changes" begins on that very bar; who begins a bar from it is told
    so, and in the midst of a phrase just where the checker says so too."""
    told = [_told(with_track_reasons(change(planned(n)), CRAFT)) for n in range(len(TRACKS))]
    assert sum(told) > 30


def _told(routine: Routine) -> int:
    """Hold what is said of the track in `routine`, and return how often something is."""
    astray = {f.at_bar for f in check(routine, CRAFT) if f.rule == "phrase"}
    course = routine.music.course
    assert course is not None
    told = 0
    for passage in routine.line:
        why, bar = " ".join(passage.why), passage.start_bar
        for words, off in (("as", 0), ("a bar after", -1), ("a bar before", 1)):
            if f"Begins {words} the track changes, at " in why:
                told += 1
                assert bar + off in course.turns
                at = as_minutes(routine.clock.seconds_at_bar(bar + off))
                assert f"the track changes, at {at}" in why
                if off:
                    assert ("in the midst of a phrase" in why) == (bar in astray)
        for words, off in (("returns here", 0), ("returned a bar before", -1), ("later", 1)):
            if f"The track's motif {words}" in why:
                told += 1
                assert bar + off in course.homes
    return told


#: Tracks of which some sections are not made of four bars; phrases begin astray after these.
UNEVEN = (
    (ambient(712, 330), 5.5),
    (steady(360, sections=((0.0, 0.2), (72.0, 0.5), (160.0, 0.9), (288.0, 0.4))), 6),
    (steady(480, sections=((0.0, 0.2), (88.0, 0.5), (184.0, 0.9), (392.0, 0.4))), 8),
)


@pytest.mark.parametrize(("heard", "minutes"), UNEVEN)
def test_passages_find_the_phrases_again_after_a_section_of_odd_length(
    heard: Heard, minutes: float
) -> None:
    brief = set_track(brief_of(minutes), heard)
    assert brief.laid is not None
    assert len({bar % 4 for bar in brief.laid.course.phrases}) > 1
    routine = plan(brief, CRAFT, loosen=False).routine
    assert routine is not None
    found = check(routine, CRAFT)
    assert [f for f in found if f.severity is Severity.MUST] == []
    assert [f.message for f in found if f.rule == "phrase"] == []


def test_a_change_keeps_the_track_and_its_course() -> None:
    routine = planned(5)
    work = next(p for p in routine.line if p.role == "work")
    changed = change_plan(routine, Shorten(passage=work.id, seconds=Fraction(8)), CRAFT)
    assert changed.outcome.routine is not None, changed.outcome.reasons
    new = changed.outcome.routine
    assert new.music == routine.music
    assert new != routine
    assert [f for f in check(new, CRAFT) if f.severity is Severity.MUST] == []
    assert broken(new, truth_on(*TRACKS[5][:2]), CRAFT) == []


def _hastening(seconds: float, share: float) -> Heard:
    """A track that begins slower than its mean by `share`, and ends as much quicker."""
    beats = [0.0]
    while beats[-1] < seconds:
        beats.append(beats[-1] + 1 + share - 2 * share * beats[-1] / seconds)
    sections = ((0.0, 0.2), (100.0, 0.5), (200.0, 0.9), (400.0, 0.4))
    heard = steady(seconds, sections=sections)
    met = tuple(beats[:-1])
    return replace(heard, beats=met, downbeats=met[::4], is_constant=False)


def test_where_bars_are_astray_of_even_ones_a_change_goes_by_the_beats_themselves() -> None:
    routine = plan(
        set_track(brief_of(8), _hastening(480, 0.06)), CRAFT, effort=QUICK, loosen=False
    ).routine
    assert routine is not None
    assert routine.brief is not None
    assert frame_of(routine.brief).astray > 1.5
    insisted, moved = 0, 0
    for passage in routine.line:
        kept = change_plan(routine, Insist(passage=passage.id), CRAFT).outcome.routine
        if kept is not None:
            assert [f for f in check(kept, CRAFT) if f.severity is Severity.MUST] == []
            insisted += 1
        start = routine.start_seconds(passage)
        if passage.role is Role.WORK and start > 90:
            edit = Move(passage=passage.id, to_seconds=Fraction(round(start) - 8))
            new = change_plan(routine, edit, CRAFT).outcome.routine
            assert new is not None
            starts = [new.start_seconds(p) for p in new.line if p.technique == passage.technique]
            assert min(abs(s - float(edit.to_seconds)) for s in starts) <= 4.3  # a slow bar
            moved += 1
    assert insisted > 5
    assert moved > 2


# ---- where it cannot be -------------------------------------------------------------------------


def _silent(minutes: float) -> Heard:
    heard = steady(minutes * 60, sections=((0.0, 0.2), (minutes * 36, 0.5)))
    return replace(heard, beatless=(Span(start=0, end=heard.seconds),))


def test_a_rhythm_that_is_insisted_on_needs_a_beat() -> None:
    keep = (Keep(technique="popcorn", at_seconds=Fraction(120)),)
    heard = _silent(4)
    brief = set_track(brief_of(4, keep=keep), heard)
    says = "Popcorn needs a beat that can be heard, and the track has none at 2:00 for so long."
    assert against_track(brief, CRAFT) == (says,)
    outcome = make_plan(brief_of(4, keep=keep), CRAFT, heard=heard)
    assert outcome.routine is None
    assert outcome.reasons == (says,)
    offers = {change.wish: change.to for entry in outcome.loosen for change in entry.changes}
    assert offers == {"keep": None, "track": None}
    for freed in (replace(brief, keep=()), replace(brief, track=None, laid=None)):
        assert plan(freed, CRAFT, effort=QUICK, loosen=False).routine is not None


def test_a_summit_that_no_peak_can_meet_is_told_with_its_times() -> None:
    heard = steady(600, sections=((0.0, 0.1), (120.0, 1.0), (180.0, 0.1)))
    brief = set_track(brief_of(10), heard)
    laid = brief.laid
    assert laid is not None
    early = replace(laid, course=replace(laid.course, strongest=(30, 45), stands_out=True))
    told = against_track(replace(brief, laid=early), CRAFT)
    # 55 and 85 percent of ten minutes are 5:30 and 8:30; bars 30 and 45 are 2:00 and 3:00.
    assert told == (
        "The track's strongest section comes from 2:00 to 3:00 of the session, and the peak "
        "belongs there; but its middle has to lie between 5:30 and 8:30.",
    )
    assert plan(replace(brief, laid=early), CRAFT, effort=QUICK, loosen=False).routine is None
    # The laying itself does better: it brings the section to where a peak may stand.
    assert against_track(brief, CRAFT) == ()


def test_nothing_is_added_to_an_answer_that_is_a_routine() -> None:
    outcome = Outcome(routine=planned(0))
    assert answered_with_track(outcome, brief_of(5), truth_on(100, 300), CRAFT) is outcome


def test_a_track_laid_out_for_other_minutes_is_of_no_use() -> None:
    brief = set_track(brief_of(8), truth_on(101, 420))
    longer = replace(brief, minutes=Fraction(12))
    routine = plan(longer, CRAFT, effort=QUICK, loosen=False).routine
    assert routine is not None
    assert routine.music.kind == "composed"
    assert routine.clock.total_seconds == pytest.approx(720, abs=0.5)


def _bare(routine: Routine) -> dict[str, object]:
    """Return routine.json as it may be written elsewhere: beats, and nothing more of the track."""
    data = routine_to_dict(routine)
    data["music"] = {
        "kind": "track",
        "path": "dusk.flac",
        "beat_seconds": [float(i) for i in range(routine.bars * routine.beats_per_bar + 1)],
    }
    return data


def test_check_takes_what_was_heard_where_a_routine_does_not_tell(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A rhythm from 0:20 on, and a track that was heard to have no beat at all."""
    routine = routine_from_rows(
        ["wide-wings work both 5 2", "popcorn work both 5 2 stroke=1", "wide-wings close both 10 2"]
    )
    path = tmp_path / "routine.json"
    path.write_text(json.dumps(_bare(routine)), encoding="utf-8")
    main(["check", str(path)])
    assert "the rules of a track were left out" in " ".join(capsys.readouterr().out.split())
    track = tmp_path / "dusk.flac"
    track.write_bytes(b"any")
    heard = replace(steady(80), beatless=(Span(start=0, end=80),))
    kept = Kept(heard=heard, first_bpm=60.0, first_beats_per_bar=4, made_from={})
    FilesBesideTrack(None, keeps=True).keep(track, kept)
    main(["check", str(path), "--json"])
    found = json.loads(capsys.readouterr().out)
    (silent,) = [f for f in found if f["rule"] == "audible"]
    assert (silent["at_bar"], silent["severity"]) == (5, "must")
    assert "from 0:20 to 0:40 none is heard" in silent["message"]
