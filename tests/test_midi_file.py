"""Scores as Standard MIDI Files, read back by a library that shares no code with the writer."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from itertools import accumulate, pairwise
from pathlib import Path

import mido
import pytest
from miditk.smf import MidiSequence  # type: ignore[import-untyped]
from miditk.smf.converters import read_varlen  # type: ignore[import-untyped]
from mido.midifiles.meta import encode_variable_int

from rondel.adapters.midi_file import (
    CHANNELS,
    PROGRAMS,
    TICKS_PER_BEAT,
    midi_bytes,
    tempo_map,
    write_midi,
)
from rondel.model.routine import Music
from rondel.model.time import Clock, Tempo
from rondel.music.compose import compose
from rondel.music.score import LayerName, Score
from sound_routines import CRAFT, fifteen_minutes, four_minutes

NOTE_OFF, NOTE_ON, CONTROL, PROGRAM = 0x80, 0x90, 0xB0, 0xC0
MARKER, END_OF_TRACK, TEMPO = 0x06, 0x2F, 0x51


def _read(score: Score) -> MidiSequence:
    return MidiSequence.fromfile(BytesIO(midi_bytes(score)))


def _seconds_of_ticks(read: MidiSequence, ticks: list[int]) -> list[float]:
    """Turn ticks into seconds by the tempi of the file alone, as any reader must."""
    changes = [
        (e.ticks, int.from_bytes(e.data)) for e in read.meta_events() if e.meta_type == TEMPO
    ]
    starts = list(accumulate(((b[0] - a[0]) * a[1] for a, b in pairwise(changes)), initial=0))
    found = []
    for tick in ticks:
        i = max(k for k, change in enumerate(changes) if change[0] <= tick)
        found.append(
            (starts[i] + (tick - changes[i][0]) * changes[i][1]) / read.tick_division / 1_000_000
        )
    return found


@pytest.mark.parametrize(
    ("number", "written"),
    [
        (0x00, "00"),
        (0x40, "40"),
        (0x7F, "7F"),
        (0x80, "81 00"),
        (0x2000, "C0 00"),
        (0x3FFF, "FF 7F"),
        (0x4000, "81 80 00"),
        (0x0FFFFFFF, "FF FF FF 7F"),
    ],
)
def test_lengths_are_written_as_in_the_table_of_the_standard(number: int, written: str) -> None:
    # Standard MIDI Files 1.0, "Variable-length quantity", the table of examples.
    assert bytes(encode_variable_int(number)) == bytes.fromhex(written)
    assert read_varlen(bytes.fromhex(written)) == number


@pytest.mark.parametrize(
    ("written", "bpm"), [("07A120", 120.0), ("047CE5", 204.0), ("06BB57", 136.0)]
)
def test_tempi_are_written_as_microseconds_a_beat(written: str, bpm: float) -> None:
    # Standard MIDI Files 1.0, set tempo FF 51 03: 07A120 is its own example (120 a minute).
    clock = Clock(
        beats_per_bar=4,
        bars=4,
        tempi=(Tempo(bar=0, bpm=Fraction(60_000_000, int(written, 16))),),
    )
    ((beat, micros),) = tempo_map(clock)
    assert (beat, micros.to_bytes(3)) == (0, bytes.fromhex(written))
    assert 60_000_000 / micros == pytest.approx(bpm, abs=0.001)
    message = mido.MetaMessage("set_tempo", tempo=micros)
    assert bytes(message.bytes()) == bytes.fromhex("FF5103" + written)


@pytest.mark.parametrize("bpm", ["60", "60.73", "73.019", "181/3", "55.555", "119.97"])
def test_beats_stay_in_place_over_two_hours(bpm: str) -> None:
    tempo = Fraction(bpm)
    bars = int(120 * tempo / 4)
    clock = Clock(beats_per_bar=4, bars=bars, tempi=(Tempo(bar=0, bpm=tempo),))
    changes = tempo_map(clock)
    reached, at, current, worst = Fraction(0), 0, 0, Fraction(0)
    following = dict(changes)
    for at in range(clock.beats):
        current = following.get(at, current)
        worst = max(worst, abs(reached / 1_000_000 - clock.exact_seconds_at(at)))
        reached += current
    assert worst < Fraction(1, 1000)
    assert len(changes) < bars / 20  # the tempo is not set over and over


def test_a_foreign_reader_finds_every_note_of_every_layer() -> None:
    score = compose(fifteen_minutes(bpm=Fraction("61.37")), CRAFT)
    read = _read(score)
    assert (read.format, read.num_tracks) == (1, len(score.layers) + 1)
    assert read.tick_division == TICKS_PER_BEAT
    for number, layer in enumerate(score.layers, start=1):
        events = [e for e in read if e.track == number]
        ons = [e for e in events if e.type == NOTE_ON]
        assert {e.channel for e in ons} == {CHANNELS[layer.name]}
        (program,) = [e for e in events if e.type == PROGRAM]
        assert program.data[0] == PROGRAMS[layer.name]
        seconds = _seconds_of_ticks(read, [e.ticks for e in ons])
        found = sorted((e.data[0], at, e.data[1]) for at, e in zip(seconds, ons, strict=True))
        meant = sorted((n.pitch, score.start_seconds(n), n.velocity) for n in layer.notes)
        assert [(p, v) for p, _, v in found] == [(p, v) for p, _, v in meant]
        assert [s for _, s, _ in found] == pytest.approx([s for _, s, _ in meant], abs=0.0005)


def test_the_drum_stands_on_the_percussion_channel() -> None:
    # General MIDI level 1: percussion is channel 10, counted from 1.
    assert CHANNELS[LayerName.DRUM] == 9
    assert [n for n, c in CHANNELS.items() if c == 9] == [LayerName.DRUM]
    assert len(set(CHANNELS.values())) == len(CHANNELS)


def test_every_key_is_let_go_before_it_is_struck_again() -> None:
    read = _read(compose(fifteen_minutes(), CRAFT))
    for track in range(1, read.num_tracks):
        down: set[int] = set()
        for event in (e for e in read if e.track == track and e.type in (NOTE_ON, NOTE_OFF)):
            pitch, velocity = event.data
            if event.type == NOTE_ON and velocity:
                assert pitch not in down
                down.add(pitch)
            else:
                assert pitch in down
                down.discard(pitch)
        assert not down


def test_passages_are_markers_and_tracks_end_with_the_routine() -> None:
    routine = four_minutes()
    read = _read(compose(routine, CRAFT))
    marks = [e for e in read.meta_events() if e.meta_type == MARKER]
    assert [e.ticks for e in marks] == [
        routine.start_beat(p) * TICKS_PER_BEAT for p in routine.line
    ]
    assert marks[1].data.startswith(b"refrain: ")
    ends = {e.ticks for e in read.meta_events() if e.meta_type == END_OF_TRACK}
    assert ends <= {routine.clock.beats * TICKS_PER_BEAT}


def test_swelling_tones_carry_their_swell_as_expression() -> None:
    score = compose(four_minutes(), CRAFT)
    read = _read(score)
    number = [layer.name for layer in score.layers].index(LayerName.RISER) + 1
    values = [e.data[1] for e in read if e.track == number and e.type == CONTROL]
    assert max(values) > 110
    assert min(values) < 30


def test_a_brought_track_gives_its_own_beats_to_the_file() -> None:
    routine = four_minutes()
    beats = routine.clock.beats
    seconds = tuple(0.97 * b + 0.02 * (b % 5) for b in range(beats + 1))
    routine = replace(routine, music=Music(kind="track", path="a.flac", beat_seconds=seconds))
    read = _read(compose(routine, CRAFT))
    found = _seconds_of_ticks(read, [b * TICKS_PER_BEAT for b in range(beats)])
    assert found == pytest.approx(seconds[:-1], abs=0.001)


def test_what_a_track_plays_before_the_first_beat_has_its_time_in_the_file() -> None:
    routine = four_minutes()
    for before in (0.4, 21.5):
        seconds = tuple(before + 0.75 * b for b in range(routine.clock.beats + 1))
        track = replace(routine, music=Music(kind="track", path="a.flac", beat_seconds=seconds))
        lead = 1 if before < 16.7 else 2  # a beat of the file lasts 16.7 s at most: 2^24 µs
        found = _seconds_of_ticks(
            _read(compose(track, CRAFT)),
            [(b + lead) * TICKS_PER_BEAT for b in range(routine.clock.beats)],
        )
        assert found == pytest.approx(seconds[:-1], abs=0.001)


def test_equal_routines_give_equal_bytes_and_other_seeds_do_not(tmp_path: Path) -> None:
    once, again = (midi_bytes(compose(four_minutes(), CRAFT)) for _ in range(2))
    assert once == again
    assert midi_bytes(compose(four_minutes(seed=8), CRAFT)) != once
    write_midi(compose(four_minutes(), CRAFT), tmp_path / "score.mid")
    assert (tmp_path / "score.mid").read_bytes() == once


def test_titles_that_the_file_cannot_spell_do_not_stop_it() -> None:
    score = compose(replace(four_minutes(), title="灯 ☾"), CRAFT)
    assert _read(score).num_tracks == len(score.layers) + 1
