"""What is composed, before it sounds: where the beat is, what returns, what rises, what thins."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from rondel.model.routine import Passage, Routine
from rondel.model.spans import crossings, heard_beats
from rondel.model.words import Intention, Role
from rondel.music.compose import compose, set_out
from rondel.music.modes import MODES
from rondel.music.score import MOST_NUDGE_MS, LayerName, Note, Score
from sound_routines import CRAFT, fifteen_minutes, four_minutes

BEATING = (LayerName.PULSE, LayerName.DRUM, LayerName.BASS, LayerName.SWELL, LayerName.STRINGS)

EVERY_KIND = [
    fifteen_minutes(intention=intention, seed=seed, bpm=bpm)
    for intention, seed, bpm in (
        (Intention.SETTLE, 1, 60),
        (Intention.WAKE, 2, Fraction("76.4")),
        (Intention.SLEEP, 3, 52),
        (Intention.CLOSENESS, 4, 66),
    )
] + [four_minutes(seed=5), fifteen_minutes(seed=6, over=("pony-trot", "1/2"))]


@pytest.fixture(params=range(len(EVERY_KIND)), ids=lambda i: f"routine{i}")
def routine(request: pytest.FixtureRequest) -> Routine:
    index: int = request.param
    return EVERY_KIND[index]


@pytest.fixture
def score(routine: Routine) -> Score:
    return compose(routine, CRAFT)


def _within(notes: tuple[Note, ...], routine: Routine, passage: Passage) -> list[Note]:
    start, end = routine.start_beat(passage), routine.end_beat(passage)
    return [n for n in notes if start <= n.start < end]


def test_every_heard_beat_has_its_pulse_exactly_on_it(routine: Routine, score: Score) -> None:
    pulse = score.layer(LayerName.PULSE)
    assert [n.start for n in pulse] == list(range(*heard_beats(routine)))
    assert all(n.nudge_ms == 0 for n in pulse)


def test_the_first_beat_of_a_bar_is_fuller(routine: Routine, score: Score) -> None:
    pulse = score.layer(LayerName.PULSE)
    for _, bar in _by(pulse, lambda n: n.start // routine.beats_per_bar).items():
        assert all(bar[0].velocity > n.velocity for n in bar[1:])


def test_nothing_beats_before_or_after_the_heard_beats(routine: Routine, score: Score) -> None:
    first, past = heard_beats(routine)
    for name in BEATING:
        assert all(first <= n.start < past and n.end <= past + 1 for n in score.layer(name)), name


def test_free_tones_stand_on_no_grid(routine: Routine, score: Score) -> None:
    first, past = heard_beats(routine)
    struck = [*score.layer(LayerName.PIANO), *score.layer(LayerName.MOTIF)]
    free = [n for n in struck if not first <= n.start < past and n.start >= 0]
    assert len(free) >= 4
    piano = [n.start for n in free if n in score.layer(LayerName.PIANO)]
    assert all(Fraction(1, 16) < at * 2 % 1 < Fraction(15, 16) for at in piano)
    opening = sorted(n.start for n in score.layer(LayerName.PIANO) if n.start < first)
    gaps = [b - a for a, b in pairwise(opening)]
    assert all(abs(a - b) >= Fraction(1, 4) for a, b in pairwise(gaps))  # no even row of three
    assert min(gaps, default=Fraction(9)) * 60 / routine.tempo[0].bpm >= 3


def _motif_of(routine: Routine, score: Score, row: tuple[Passage, ...]) -> list[tuple[object, ...]]:
    start, end = routine.start_beat(row[0]), routine.end_beat(row[-1])
    notes = [n for n in score.layer(LayerName.MOTIF) if start <= n.start < end]
    return [(n.start - start, n.beats, n.pitch, n.velocity, n.nudge_ms) for n in notes]


def test_the_refrain_has_one_motif_the_same_at_every_return(routine: Routine, score: Score) -> None:
    first, past = heard_beats(routine)
    rows = [
        row
        for row in routine.refrains
        if first <= routine.start_beat(row[0]) and routine.end_beat(row[-1]) <= past
    ]
    motifs = [_motif_of(routine, score, row) for row in rows]
    assert len(motifs[0]) >= 8
    assert all(motif == motifs[0] for motif in motifs)


def test_the_motif_sounds_in_the_refrain_and_nowhere_else(routine: Routine, score: Score) -> None:
    for note in score.layer(LayerName.MOTIF):
        assert routine.passage_at(float(note.start)).role is Role.REFRAIN


def test_a_motif_before_the_beat_has_the_same_tones_in_the_same_order() -> None:
    # In a short form the first return may begin before the beat may be heard.
    routine = four_minutes()
    score = compose(routine, CRAFT)
    assert routine.start_beat(routine.refrains[0][0]) < heard_beats(routine)[0]
    first, second = (_motif_of(routine, score, row) for row in routine.refrains)
    assert [t[2] for t in first] == [t[2] for t in second]
    assert [t[1] for t in first] == [t[1] for t in second]


def test_other_seeds_have_other_motifs() -> None:
    motifs = set()
    for seed in range(12):
        routine = fifteen_minutes(seed=seed)
        row = routine.refrains[0]
        tones = _motif_of(routine, compose(routine, CRAFT), row)
        motifs.add(tuple((t[0], t[2]) for t in tones))
    assert len(motifs) >= 9


def test_every_crossing_has_a_rise_that_ends_with_the_change(
    routine: Routine, score: Score
) -> None:
    rises = score.layer(LayerName.RISER)
    assert [(int(n.start), int(n.end)) for n in rises] == [
        (c.start_beat, c.end_beat) for c in crossings(routine)
    ]
    assert all(n.rise == n.beats and n.nudge_ms == 0 for n in rises)


def test_home_and_peak_are_announced_more_fully(routine: Routine, score: Score) -> None:
    great: list[int] = []
    small: list[int] = []
    for note, crossing in zip(score.layer(LayerName.RISER), crossings(routine), strict=True):
        to_peak = crossing.entering.role is Role.PEAK and crossing.leaving.role is not Role.PEAK
        (great if crossing.is_home or to_peak else small).append(note.velocity)
    assert great
    assert min(great) > max(small)


def test_the_drum_plays_only_where_hands_are_rhythmic_or_at_the_peak(
    routine: Routine, score: Score
) -> None:
    drummed = set()
    for note in score.layer(LayerName.DRUM):
        passage = routine.passage_at(float(note.start))
        drummed.add(passage.id)
        technique = CRAFT.technique(passage.technique or "")
        assert technique.is_rhythmic or passage.role is Role.PEAK
    rhythmic = {
        p.id
        for p in routine.line
        if p.technique and CRAFT.technique(p.technique).is_rhythmic and p.role is Role.WORK
    }
    assert rhythmic <= drummed


def test_at_the_peak_the_swell_is_fullest_where_strokes_land(
    routine: Routine, score: Score
) -> None:
    tops = {n.start + n.rise for n in score.layer(LayerName.SWELL) if n.rise is not None}
    peaks = [p for p in routine.line if p.role is Role.PEAK]
    assert peaks
    # Strokes of four seconds and more: one swell each.
    assert tops == {beat for p in peaks for beat in routine.landings(p)}


@pytest.mark.parametrize(("stroke", "landing"), [("1/2", 0), ("1", 0), ("2", 1), ("5/2", 1)])
def test_quick_strokes_at_the_peak_swell_several_at_a_time(stroke: str, landing: int) -> None:
    routine = fifteen_minutes()
    quick = {"beats_per_stroke": Fraction(stroke), "first_landing_beat": Fraction(landing)}
    passages = tuple(
        replace(p, bars=p.bars, **quick) if p.role is Role.PEAK else p  # type: ignore[arg-type]
        for p in routine.passages
    )
    routine = replace(routine, passages=passages)
    swells = compose(routine, CRAFT).layer(LayerName.SWELL)
    for passage in (p for p in passages if p.role is Role.PEAK):
        inside = _within(swells, routine, passage)
        tops = [n.start + n.rise for n in inside if n.rise is not None]
        assert len(set(tops)) >= 8
        assert set(tops) <= set(routine.landings(passage))
        assert all(3 <= n.beats <= 6 for n in inside[:-2])


def test_under_deep_strokes_quick_hands_set_the_drum() -> None:
    routine = fifteen_minutes(over=("pony-trot", "1/2"))
    score = compose(routine, CRAFT)
    peak = next(p for p in routine.line if p.role is Role.PEAK)
    drum = _within(score.layer(LayerName.DRUM), routine, peak)
    assert any(n.start.denominator == 2 for n in drum)
    plain = fifteen_minutes()
    drum = _within(compose(plain, CRAFT).layer(LayerName.DRUM), plain, peak)
    assert drum
    assert all(n.start.denominator == 1 for n in drum)


def test_slow_strokes_are_marked_where_they_land(routine: Routine, score: Score) -> None:
    piano = {n.start for n in score.layer(LayerName.PIANO)}
    heard = range(*heard_beats(routine))
    for passage in routine.line:
        held = passage.technique and CRAFT.technique(passage.technique).family.is_held
        if passage.role not in (Role.WORK, Role.PEAK) or held or passage.beats_per_stroke < 4:
            continue
        for landing in routine.landings(passage):
            assert landing not in heard or landing in piano


def test_fuller_pressure_brings_more_sound(routine: Routine, score: Score) -> None:
    setting = set_out(routine, CRAFT)
    pad = score.layer(LayerName.PAD)
    works = [p for p in routine.line if p.role in (Role.WORK, Role.PEAK)]
    loudness = {p.id: max(n.velocity for n in _within(pad, routine, p)) for p in works}
    firm = [loudness[p.id] for p in works if p.pressure >= 4]
    light = [loudness[p.id] for p in works if p.pressure <= 2]
    assert min(firm) > max(light)
    for name in (LayerName.BASS, LayerName.STRINGS):
        assert any(_within(score.layer(name), routine, p) for p in works if p.pressure >= 4), name
    assert setting.level(works[0]) < setting.level(next(p for p in works if p.pressure == 4))


def test_harmony_is_gapless_and_changes_with_the_passages(routine: Routine) -> None:
    chords = set_out(routine, CRAFT).chords
    assert chords[0].start_bar == 0
    assert chords[-1].end_bar == routine.bars
    assert all(a.end_bar == b.start_bar for a, b in pairwise(chords))
    assert {p.start_bar for p in routine.line} <= {c.start_bar for c in chords}


def test_home_has_the_same_chords_each_time(routine: Routine) -> None:
    chords = set_out(routine, CRAFT).chords
    seen = {
        tuple(
            (c.degree, c.voices, c.bars)
            for c in chords
            if row[0].start_bar <= c.start_bar < row[-1].end_bar
        )
        for row in routine.refrains
    }
    assert len(seen) == 1


def test_voices_lead_by_small_steps_and_never_cross(routine: Routine) -> None:
    chords = set_out(routine, CRAFT).chords
    moves = []
    for before, after in pairwise(chords):
        assert list(after.voices) == sorted(set(after.voices))
        moves += [abs(a - b) for a, b in zip(before.voices, after.voices, strict=True)]
    assert max(moves) <= 9
    assert sum(moves) / len(moves) <= 3.0


def test_every_sustained_tone_belongs_to_the_key(routine: Routine, score: Score) -> None:
    key = set_out(routine, CRAFT).key
    allowed = {(key.root + step) % 12 for step in MODES[key.mode]} | {(key.root + 7) % 12}
    for layer in score.layers:
        if layer.name is not LayerName.DRUM:
            assert {n.pitch % 12 for n in layer.notes} <= allowed, layer.name


def test_no_tone_is_hammered_out_like_a_machine(routine: Routine, score: Score) -> None:
    # Neighbouring strokes of one pitch never keep one velocity more than three times.
    for name in (LayerName.PIANO, LayerName.DRUM, LayerName.PULSE):
        run, last = 1, (0, 0)
        for note in score.layer(name):
            run = run + 1 if (note.pitch, note.velocity) == last else 1
            last = (note.pitch, note.velocity)
            assert run <= 3, (name, note)


def test_liberties_of_touch_stay_within_eight_milliseconds(score: Score) -> None:
    nudges = [n.nudge_ms for layer in score.layers for n in layer.notes]
    assert max(map(abs, nudges)) <= MOST_NUDGE_MS == 8
    assert len(set(nudges)) > 5


def test_the_close_thins_layer_by_layer_to_silence(routine: Routine, score: Score) -> None:
    last = routine.line[-1]
    start = routine.start_beat(last)
    ends = {layer.name: max(n.end for n in layer.notes) for layer in score.layers}
    assert ends[LayerName.PULSE] <= heard_beats(routine)[1]
    assert ends[LayerName.PAD] <= ends[LayerName.DRONE] < routine.clock.beats
    pad = [n for n in score.layer(LayerName.PAD) if n.end > start]
    sounding = [
        sum(n.start <= at < n.end for n in pad) for at in range(start, int(ends[LayerName.PAD]))
    ]
    assert sounding[-1] < sounding[0]
    assert all(b <= a for a, b in pairwise(sounding))


def test_no_note_outlasts_the_routine(routine: Routine, score: Score) -> None:
    assert all(n.end <= routine.clock.beats for layer in score.layers for n in layer.notes)


def test_a_layer_without_notes_is_left_out() -> None:
    rows = fifteen_minutes()
    score = compose(rows, CRAFT)
    assert all(layer.notes for layer in score.layers)
    assert {layer.name for layer in score.layers} == set(LayerName)


def test_the_same_routine_is_composed_alike() -> None:
    assert compose(four_minutes(), CRAFT).layers == compose(four_minutes(), CRAFT).layers


def test_an_unknown_technique_does_not_stop_the_music() -> None:
    routine = four_minutes()
    strange = replace(routine.passages[3], technique="my-own-way")
    passages = (*routine.passages[:3], strange, *routine.passages[4:])
    score = compose(replace(routine, passages=passages), CRAFT)
    assert [n.start for n in score.layer(LayerName.PULSE)] == list(range(*heard_beats(routine)))


def _by(notes: tuple[Note, ...], key: Callable[[Note], object]) -> dict[object, list[Note]]:
    found: dict[object, list[Note]] = defaultdict(list)
    for note in notes:
        found[key(note)].append(note)
    return found
