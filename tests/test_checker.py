"""The checker never fails on a routine, however odd, and says things in order."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cases.reading import brief_for, routine_from_rows, small_craft
from rondel.checker.blocks import partners_of
from rondel.checker.check import FINDERS, check
from rondel.checker.findings import opening
from rondel.checker.measures import measure, measures_to_dict
from rondel.checker.view import look
from rondel.model.brief import Brief, Keep
from rondel.model.routine import Music, Passage, Routine
from rondel.model.time import Tempo
from rondel.model.track import Course, Piece, Span
from rondel.model.words import Contact, Intention, Layer, Position, Role, Side
from rondel.rules.book import RULES

TECHNIQUES = [t.id for t in small_craft().techniques]
REGIONS = [r.id for r in small_craft().regions]
CAUTIONS = [c.id for c in small_craft().cautions]

words = st.text(max_size=8)
a_technique = st.one_of(st.none(), st.sampled_from(TECHNIQUES), words)
beats = st.one_of(
    st.integers(1, 64).map(Fraction), st.fractions(min_value=Fraction(1, 64), max_value=64)
)

passages = st.builds(
    Passage,
    id=st.sampled_from(["p01", "p02", "p03"]),
    technique=a_technique,
    role=st.sampled_from(Role),
    side=st.sampled_from(Side),
    position=st.sampled_from(Position),
    start_bar=st.integers(0, 60),
    bars=st.integers(1, 40),
    pressure=st.integers(0, 5),
    beats_per_stroke=beats,
    first_landing_beat=st.fractions(min_value=0, max_value=200),
    layer=st.sampled_from(Layer),
    kept=st.booleans(),
    stretch=st.booleans(),
    short=st.booleans(),
)

keeps = st.builds(
    Keep,
    technique=st.one_of(st.sampled_from(TECHNIQUES), words),
    at_seconds=st.one_of(st.none(), st.fractions(min_value=0, max_value=9000)),
    minutes=st.one_of(st.none(), st.fractions(min_value=Fraction(1, 10), max_value=120)),
    side=st.one_of(st.none(), st.sampled_from(Side)),
    pressure=st.one_of(st.none(), st.integers(0, 5)),
)

briefs = st.builds(
    Brief,
    title=words,
    minutes=st.fractions(min_value=3, max_value=120),
    intention=st.sampled_from(Intention),
    level=st.integers(1, 5),
    refrains=st.one_of(st.none(), st.integers(1, 9)),
    main_regions=st.lists(st.one_of(st.sampled_from(REGIONS), words), max_size=3).map(tuple),
    avoid_regions=st.lists(st.one_of(st.sampled_from(REGIONS), words), max_size=2).map(tuple),
    spare=st.lists(st.sampled_from(Contact), max_size=2).map(tuple),
    stretch=st.booleans(),
    positions=st.lists(st.sampled_from(Position), max_size=2).map(tuple),
    cautions=st.lists(st.one_of(st.sampled_from(CAUTIONS), words), max_size=2).map(tuple),
    open_minutes=st.fractions(min_value=0, max_value=2),
    bpm=st.one_of(st.none(), st.integers(30, 200).map(Fraction)),
    trained=st.booleans(),
    keep=st.lists(keeps, max_size=2).map(tuple),
)

bpms = st.fractions(min_value=Fraction(1, 2), max_value=400)
any_tempi = st.lists(st.builds(Tempo, bar=st.integers(0, 80), bpm=bpms), max_size=3).map(tuple)
good_tempi = st.tuples(bpms, st.dictionaries(st.integers(1, 80), bpms, max_size=3)).map(
    lambda found: tuple(
        Tempo(bar=bar, bpm=bpm) for bar, bpm in [(0, found[0]), *sorted(found[1].items())]
    )
)
tempi = st.one_of(good_tempi, good_tempi, any_tempi)

music = st.one_of(
    st.just(Music()),
    st.lists(st.floats(0, 5000), max_size=40).map(
        lambda seconds: Music(kind="track", path="x.flac", beat_seconds=tuple(seconds))
    ),
)

routines = st.builds(
    Routine,
    title=words,
    seed=st.just(1),
    beats_per_bar=st.integers(0, 7),
    tempo=tempi,
    bars=st.integers(0, 100),
    passages=st.lists(passages, max_size=12).map(tuple),
    music=music,
    brief=st.one_of(st.none(), briefs),
)


def _with_a_track(routine: Routine, seconds: list[float]) -> Routine:
    """Return `routine` with a beat after each of `seconds`, repeated as often as needed."""
    beats = max(routine.bars, 1) * max(routine.beats_per_bar, 1)
    times = [0.0]
    for i in range(beats):
        times.append(times[-1] + seconds[i % len(seconds)])
    music = Music(kind="track", path="x.flac", beat_seconds=tuple(times))
    return replace(routine, music=music)


def _with_a_course(routine: Routine, marks: list[int], is_clear: bool) -> Routine:
    """Return `routine` on a track that changes, returns and falls silent at `marks` (bars)."""
    bars = max(routine.bars, 1)
    rising = tuple(sorted(set(marks)))
    course = Course(
        heard=tuple(sum(mark <= bar for mark in marks) % 2 == 0 for bar in range(bars)),
        energy=(0.5,) * bars,
        phrases=rising,
        turns=rising[::2],
        homes=rising[1::2],
        strongest=(bars // 2, bars),
        stands_out=is_clear,
        pieces=tuple(Piece(source=Span(start=0, end=mark + 1), at=mark) for mark in rising),
        quiet_seconds=float(sum(marks)),
        track_seconds=float(bars),
    )
    return replace(routine, music=replace(routine.music, course=course))


tracked = st.builds(_with_a_track, routines, st.lists(st.floats(0.1, 3), min_size=1, max_size=9))
marks = st.lists(st.integers(0, 120), max_size=6)
coursed = st.builds(_with_a_course, tracked, marks, st.booleans())


@settings(max_examples=400, deadline=None)
@given(routine=st.one_of(routines, tracked, coursed), brief=st.one_of(st.none(), briefs))
def test_no_routine_makes_the_checker_fail(routine: Routine, brief: Brief | None) -> None:
    order = {rule.id: i for i, rule in enumerate(RULES)}
    found = check(routine, small_craft(), brief)
    assert [(f.at_bar, order[f.rule]) for f in found] == sorted(
        (f.at_bar, order[f.rule]) for f in found
    )
    assert all(f.message and f.at_bar >= 0 for f in found)
    measures_to_dict(measure(routine, small_craft(), brief))


@settings(max_examples=200, deadline=None)
@given(passages=st.lists(passages, max_size=12).map(tuple))
def test_blocks_cut_the_line_without_loss_and_partners_are_mutual(
    passages: tuple[Passage, ...],
) -> None:
    routine = replace(routine_from_rows(["wide-wings work both 90 2"]), passages=passages)
    view = look(routine, small_craft(), None)
    assert tuple(p for b in view.blocks for p in b.passages) == view.line
    for i, partner in enumerate(view.partners):
        if partner is not None:
            assert view.partners[partner] == i
            assert abs(partner - i) == 1
            assert view.blocks[i].side is view.blocks[partner].side.other
    assert partners_of(view.blocks) == view.partners


WHOLE = [
    "wide-wings arrive both 12 1 stroke=8",
    "wide-wings refrain both 6 2 stroke=8",
    "winter-coat refrain both 6 0",
    "milk-path work left 8 2 stroke=8",
    "milk-path work right 8 2 stroke=8",
    "slow-plough work left 8 3 stroke=8",
    "slow-plough work right 8 3 stroke=8",
    "rope-hands peak left 8 4",
    "milk-path rest left 4 2 stroke=8",
    "rope-hands peak right 8 4",
    "milk-path rest right 4 2 stroke=8",
    "wide-wings refrain both 6 2 stroke=8",
    "winter-coat refrain both 6 0",
    "snow-slide close both 8 1 stroke=8",
]  # 100 bars of 4 s: 400 s


def test_a_whole_routine_by_hand_breaks_no_must_rule() -> None:
    """Six minutes and forty seconds, by hand; the same rows are broken below, one rule at a time.

    Opening until 90 s, bar 22.5; close from 340 s, bar 85. Refrain twice: g = 133.3 s, so at most
    240 s before, between and after, and at least 44.4 s between. Beside the spine left: 8 + 8
    bars, 64 s, before the peak. Peak row bars 56 to 80: middle 68 %.
    """
    brief = brief_for({"minutes": 400 / 60, "refrains": 2})
    assert brief is not None
    brief = replace(brief, minutes=Fraction(400, 60))
    found = check(routine_from_rows(WHOLE), small_craft(), brief)
    assert [f.message for f in found if f.severity == "must"] == []


@pytest.mark.parametrize(
    ("row", "becomes", "rule"),
    [
        (0, "wide-wings arrive both 11 1 stroke=4", "length"),
        (0, "wide-wings arrive both 12 1 stroke=7", "strokes"),
        (13, "snow-slide close both 8 0 stroke=8", "range"),
        (0, "bread-shoulders arrive both 12 1", "opening"),
        (13, "bread-shoulders close both 8 1", "close"),
        (11, "wide-wings refrain both 6 1 stroke=8", "refrain_same"),
        (1, "wide-wings work both 6 2 stroke=8", "refrain_same"),
        (4, "milk-path work right 8 1 stroke=8", "sides"),
        (5, "snow-slide work both 8 3 stroke=8", "warm"),
        (8, "milk-path rest left 4 3 stroke=8", "rest"),
        (3, "rope-hands work left 8 4", "peak"),
        (13, "birch-bark close left 8 1 stroke=8", "sides"),
        (5, "birch-bark work left 8 3 stroke=8", "reach"),
        (3, "milk-path work left 8 2 stroke=8 position=supine", "positions"),
    ],
)
def test_one_change_to_it_is_found(row: int, becomes: str, rule: str) -> None:
    brief = replace(brief_for({}) or _never(), minutes=Fraction(400, 60), refrains=2)
    rows = [*WHOLE[:row], becomes, *WHOLE[row + 1 :]]
    found = check(routine_from_rows(rows), small_craft(), brief)
    assert rule in {f.rule for f in found if f.severity == "must"}


def _never() -> Brief:
    raise AssertionError


def test_the_brief_given_comes_before_the_one_the_routine_carries() -> None:
    carried = brief_for({"minutes": 6, "spare": ["palm"]})
    routine = replace(routine_from_rows(["wide-wings work both 90 2"]), brief=carried)
    assert "spare" in {f.rule for f in check(routine, small_craft())}
    assert "spare" not in {f.rule for f in check(routine, small_craft(), brief_for({}))}


def test_without_a_brief_only_a_brief_s_wishes_are_left_out() -> None:
    routine = routine_from_rows(["millstone work left 90 5"])
    rules = {f.rule for f in check(routine, small_craft())}
    assert rules.isdisjoint({"level", "spare", "avoid", "cautions", "keep"})
    assert {"opening", "close", "refrain_same", "sides", "warm", "peak", "limits"} <= rules


def test_a_routine_without_passages_is_a_finding() -> None:
    empty = replace(routine_from_rows(["wide-wings work both 9 2"]), passages=())
    found = check(empty, small_craft())
    assert [f.rule for f in found] == ["length"]
    assert "no passages" in found[0].message


def test_a_tempo_that_cannot_be_read_is_a_finding() -> None:
    late = replace(
        routine_from_rows(["wide-wings work both 9 2"]), tempo=(Tempo(bar=2, bpm=Fraction(60)),)
    )
    found = check(late, small_craft())
    assert "The tempo cannot be read" in found[0].message


def test_a_brought_track_may_miss_the_time_by_a_bar() -> None:
    # 90 bars of 4 beats; a beat lasts 1.01 s, so the routine lasts 363.6 s, 3.6 s too long; a bar
    # lasts 4.04 s. At 1.02 s it is 7.2 s too long.
    for beat, expected in ((1.01, []), (1.02, ["7.2 seconds longer"])):
        seconds = [i * beat for i in range(361)]
        routine = routine_from_rows(["wide-wings work both 90 2 stroke=8"], beat_seconds=seconds)
        found = [f for f in check(routine, small_craft(), brief_for({})) if f.rule == "length"]
        assert len(found) == len(expected)
        assert all(words in f.message for f, words in zip(found, expected, strict=True))


def test_a_beat_in_the_opening_would_be_found() -> None:
    """The composer's own span is looked at, not trusted: here it is moved by hand."""
    view = look(routine_from_rows(["wide-wings work both 90 2"]), small_craft(), brief_for({}))
    assert list(opening.findings(view)) == []
    view.__dict__["heard"] = (80, 300)  # from 80 s; the opening lasts until 90 s
    assert "A beat is heard from 1:20 on" in next(iter(opening.findings(view))).message


def test_every_rule_has_a_finder() -> None:
    assert list(FINDERS) == [r.id for r in RULES]
