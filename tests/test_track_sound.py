"""A brought track in a finished session: in its place, joined unheard, ended, at its loudness."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.track_files import TrackFiles
from rondel.app.make_sound import SoundWishes, make_sound
from rondel.app.play_track import BroughtTrack
from rondel.app.progress import Silent
from rondel.app.sound_report import SoundReport
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.spans import times_scale
from rondel.model.track import Piece
from rondel.music.instruments.tone import RATE, Stereo
from rondel.music.key_finding import find_key
from rondel.music.lining_up import best_shift
from rondel.music.loudness_targets import TARGETS
from rondel.music.playing import Stretch, crossed, played, stretches
from rondel.music.soundness import measured
from rondel.music.tail import tail_span
from sound_routines import CRAFT
from track_routines import (
    BEATS,
    Track,
    course_of,
    looped,
    piece,
    set_to,
    swaying,
    write_track,
)

BEAT = swaying(BEATS - 12)  # a track of 48 beats, of which 12 are played twice
SESSION_BEATS = looped(BEAT, again_from=20, again_to=32)


@dataclass(kw_only=True)
class _Made:
    folder: Path
    routine: Routine
    report: SoundReport

    def sound(self, name: str) -> NDArray[np.float32]:
        samples, rate = soundfile.read(self.folder / name, dtype="float32", always_2d=True)
        assert rate == RATE
        return np.asarray(samples)

    @cached_property
    def track(self) -> NDArray[np.float32]:
        return self.sound("stems/track.flac")


def _make(
    routine: Routine, track: Track, out: Path, *, heard: tuple[float, ...] = (), **more: object
) -> _Made:
    brought = BroughtTrack(
        path=track.path, name="music/evening.flac", tracks=TrackFiles(), heard_beats=heard
    )
    wishes = SoundWishes(track=brought, **more)  # type: ignore[arg-type]
    report = make_sound(routine, CRAFT, None, out, SoundFiles(), Silent(), wishes=wishes)
    return _Made(folder=out, routine=routine, report=report)


def _loop_pieces() -> tuple[Piece, ...]:
    return (piece(0, BEAT[32], 0), piece(BEAT[20], BEAT[-1], BEAT[32]))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> _Made:
    """A track whose beats 20 to 32 are played twice, at a foreign rate, in six channels."""
    folder = tmp_path_factory.mktemp("looped")
    track = write_track(folder, beats=BEAT[:-1], seconds=BEAT[-1], channels=6)
    course = course_of(_loop_pieces(), track_seconds=BEAT[-1])
    return _make(set_to(SESSION_BEATS, course), track, folder / "session")


def _ticks(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the seconds at which the track's bright ticks begin: where 2.4 kHz enters."""
    mono = np.pad(sound.mean(axis=1).astype(np.float64), (96, 0))  # so that one at 0 s enters too
    at = np.arange(len(mono)) / RATE
    moved = mono * np.exp(-2j * np.pi * 2400 * at)
    steps = np.concatenate([[0], np.cumsum(moved)])
    level = np.abs(steps[96:] - steps[:-96]) / 96  # the last 2 ms
    least = 0.3 * level.max()
    rises = np.flatnonzero((level[1:] > least) & (level[:-1] <= least)) / RATE
    kept = [r for i, r in enumerate(rises) if i == 0 or r - rises[i - 1] > 0.1]
    return np.array(kept)


def test_beats_of_the_mix_lie_where_the_clock_of_the_routine_has_them(made: _Made) -> None:
    clock = made.routine.clock
    assert len(clock.beat_seconds) == BEATS + 1
    beats = np.array([clock.seconds_at(b) for b in range(BEATS)])
    ticks = _ticks(made.sound("session.flac"))
    # Within a crossing of the track with itself the ticks of both sides may lie side by side.
    calm = np.abs(beats - BEAT[32] + 0.25) > 0.4
    off = np.array([ticks[np.argmin(np.abs(ticks - b))] - b for b in beats[calm]])
    assert calm.sum() >= BEATS - 2
    assert np.abs(off).max() < 0.0035  # the 2 ms of the measure included
    assert len(made.sound("session.flac")) == round(clock.total_seconds * RATE)


def test_away_from_the_join_the_track_is_as_it_was_brought(made: _Made) -> None:
    source = np.concatenate([b for (b,) in TrackFiles().blocks(_source(made), (RATE,))])
    join = round(BEAT[32] * RATE)
    before = slice(RATE, join - 2 * RATE)
    assert np.abs(made.track[before] - source[before]).max() < 1e-4
    # From just before the downbeat on, the second stretch is alone.
    start = join - round(0.015 * RATE)
    shift = round(BEAT[32] * RATE) - round(BEAT[20] * RATE)
    after = made.track[start : -RATE // 10]
    assert np.abs(after - source[start - shift :][: len(after)]).max() < 1e-4


def _source(made: _Made) -> Path:
    return made.folder.parent / "music" / "evening.flac"


def test_a_session_with_a_track_stands_at_its_loudness(made: _Made) -> None:
    assert made.report.loudness.integrated == pytest.approx(-16.0, abs=0.5)
    assert made.report.loudness.true_peak_db <= -1.0
    assert made.report.encoded.true_peak_db <= -1.0
    assert made.report.layers == ("track",)
    assert "loudness range" in made.report.says


def test_the_stem_adds_up_to_the_session(made: _Made) -> None:
    gain = np.float32(10 ** (made.report.master_gain_db / 20))
    whole = made.sound("session.flac")
    calm = np.abs(whole).max(axis=1) < 0.3
    calm = np.convolve(~calm, np.ones(4801), "same") < 0.5  # away from what the limiter takes
    assert calm.mean() > 0.1
    assert np.abs(made.track[calm] * gain - whole[calm]).max() < 1e-3


# ------------------------------------------------------------------ joins
def _held(folder: Path, seconds: float) -> Track:
    return write_track(folder, beats=(), seconds=seconds, rate=48_000)


def test_no_join_clicks_and_a_bare_cut_would(tmp_path: Path) -> None:
    # No whole number of periods of the chord is left out: the wave jumps there.
    track = _held(tmp_path, 25.0)
    pieces = (piece(0, 16.371, 0), piece(10.007, 23.0, 16.371))
    routine = set_to(swaying(BEATS), course_of(pieces, track_seconds=25.0))
    made = _make(routine, track, tmp_path / "session")
    assert measured(made.track).clicks == ()
    wave, _ = soundfile.read(track.path, dtype="float32")
    cut = np.concatenate([wave[: round(16.371 * RATE)], wave[round(10.007 * RATE) :]])
    assert len(measured(np.stack([cut, cut], axis=1)).clicks) == 1


@pytest.mark.parametrize("alike", [0.0, 0.5, 1.0])
def test_two_sounds_cross_at_one_loudness_whatever_they_share(alike: float) -> None:
    lot = np.random.default_rng(4)
    one, other = lot.standard_normal((2, RATE, 2)).astype(np.float32) * 0.1
    other = alike * one + np.sqrt(1 - alike**2) * other
    mixed = crossed(one, other.astype(np.float32))
    power = (mixed.reshape(20, -1) ** 2).mean(axis=1)
    assert 10 * np.log10(power.max() / power.min()) < 0.6
    assert np.allclose(mixed[0], one[0], atol=0.002)
    assert np.allclose(mixed[-1], other[-1], atol=0.002)


def _count(frame: int, frames: int) -> Iterator[Stereo]:
    """A track whose samples tell their own place, in blocks of odd lengths."""
    for start in range(frame, frames, 7001):
        places = np.arange(start, min(start + 7001, frames), dtype=np.float32)
        yield np.stack([places, places], axis=1)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 20), st.floats(0.05, 8)), min_size=1, max_size=6),
    st.floats(0, 3),
    st.floats(0, 6),
)
def test_every_course_fills_the_session_and_every_piece_is_in_its_place(
    spans: list[tuple[float, float]], first_at: float, fade: float
) -> None:
    pieces, at = [], first_at
    for start, seconds in spans:
        pieces.append(piece(start, start + seconds, at))
        at += seconds
    frames, source = round((at + 1) * RATE), round(30 * RATE)
    course = stretches(pieces, lambda _: 0.5, frames, fade)
    sound = np.concatenate(list(played(course, frames, lambda f: _count(f, source))))
    assert sound.shape == (frames, 2)
    assert not sound[: round(first_at * RATE)].any()
    assert not sound[round(at * RATE) + 1 :].any()
    for stretch, after in zip(course, [*course[1:], None], strict=True):
        begins = stretch.start if stretch.crosses else stretch.start + stretch.rise
        ends = after.first if after is not None and after.crosses else stretch.end - stretch.fall
        if begins < ends:
            places = np.arange(begins, ends) - stretch.start + stretch.source
            assert np.array_equal(sound[begins:ends, 0], places.astype(np.float32))


def test_pieces_that_go_on_where_the_last_one_stopped_are_not_cut() -> None:
    pieces = (piece(2.0, 10.0, 0.0), piece(10.0, 20.0, 8.0))
    (only,) = stretches(pieces, lambda _: 0.5, 18 * RATE, 0.0)
    edge = only.fall
    assert only == Stretch(start=0, end=18 * RATE, source=2 * RATE, rise=edge, fall=edge)


def test_a_crossing_is_a_beat_long_and_over_before_the_downbeat() -> None:
    pieces = (piece(0.0, 10.0, 0.0), piece(20.0, 30.0, 10.0))
    before, after = stretches(pieces, lambda _: 0.8, 20 * RATE, 0.0)
    assert after.rise == before.fall == round(0.8 * RATE)
    assert before.end == after.start == round(9.98 * RATE)
    # A piece from the track's very start has nothing before it to come in on.
    _, bare = stretches((piece(5, 9, 0), piece(0, 4, 4)), lambda _: 0.8, 8 * RATE, 0.0)
    assert (bare.rise, bare.source) == (0, 0)


# ------------------------------------------------------------------ fade and tail
@pytest.fixture(scope="module")
def tailed(tmp_path_factory: pytest.TempPathFactory) -> _Made:
    """A track that fades over its last four seconds, with a tail from second 18 on."""
    folder = tmp_path_factory.mktemp("tailed")
    track = write_track(folder, beats=BEAT[:32], seconds=BEAT[-1])
    course = course_of(
        (piece(0, 18.0, 0),), tail_from=18.0, fade_seconds=4.0, track_seconds=BEAT[-1]
    )
    return _make(set_to(swaying(BEATS), course), track, folder / "session")


def _level(sound: NDArray[np.float32], start: float, end: float) -> float:
    part = sound[int(start * RATE) : int(end * RATE)]
    return float(20 * np.log10(np.sqrt((part.astype(np.float64) ** 2).mean()) + 1e-9))


def test_the_track_fades_and_is_gone(tailed: _Made) -> None:
    levels = [_level(tailed.track, s, s + 1) for s in (10, 12, 15, 16, 17)]
    assert levels[0] == pytest.approx(levels[1], abs=2.0)
    assert levels[1] > levels[2] > levels[3] > levels[4]
    assert not tailed.track[18 * RATE :].any()
    assert measured(tailed.track[13 * RATE :]).clicks == ()


def test_a_tail_takes_over_in_the_key_of_the_track_and_ends_in_silence(tailed: _Made) -> None:
    assert tailed.report.key == "A aeolian"
    assert set(tailed.report.layers) == {"track", "drone", "pad"}
    session = tailed.sound("session.flac")
    total = float(tailed.routine.clock.total_seconds)
    before, after = _level(session, 6, 14), _level(session, 19, 24)
    assert before - 9 < after < before
    assert _level(session, 17.5, 18.5) > before - 9  # no hole between them
    span = tail_span(tailed.routine)
    assert span is not None
    scale = times_scale(tailed.routine)
    found = measured(session, [(total - 4 * scale + 0.05, total)])
    assert found.in_silence < 1e-4
    assert found.clicks == ()
    # Only tones of A minor sound in the tail: its strongest pitch classes are A, C, E and D, F.
    tail = session[19 * RATE : 25 * RATE].mean(axis=1)
    spectrum = np.abs(np.fft.rfft(tail * np.hanning(len(tail))))
    hertz = np.fft.rfftfreq(len(tail), 1 / RATE)
    inside = (hertz > 60) & (hertz < 700)
    classes = np.round(12 * np.log2(np.maximum(hertz, 1) / 440)).astype(int) % 12
    power = [float((spectrum[inside & (classes == c)] ** 2).sum()) for c in range(12)]
    assert sum(power[c] for c in (0, 3, 7, 5, 8)) > 0.97 * sum(power)


def test_the_tail_is_in_the_score_that_a_musician_gets(tailed: _Made) -> None:
    assert (tailed.folder / "score.mid").stat().st_size > 200
    assert set(tailed.report.files) == {
        "score.mid",
        "session.flac",
        "session.m4a",
        "stems/track.flac",
        "stems/drone.flac",
        "stems/pad.flac",
    }


@pytest.mark.parametrize("minor", [False, True])
def test_every_key_is_found_from_its_scale_and_chords(minor: bool) -> None:
    # The natural scale once, and the tones of the chords on its first, fourth and fifth degree: the
    # plainest piece of music there is (common practice, no source).
    steps = (0, 2, 3, 5, 7, 8, 10) if minor else (0, 2, 4, 5, 7, 9, 11)
    for root in range(12):
        profile = np.zeros(12)
        for step in steps:
            profile[(root + step) % 12] += 1
        for degree, weight in ((0, 3.0), (3, 1.0), (4, 1.0)):
            for third in (0, 2, 4):
                profile[(root + steps[(degree + third) % 7]) % 12] += weight
        found = find_key(profile)
        assert found.key.root % 12 == root
        assert found.key.mode == ("aeolian" if minor else "ionian")
        assert found.has_third


def test_bare_fifths_have_no_third_and_silence_has_no_key() -> None:
    profile = np.zeros(12)
    profile[[2, 9]] = (3, 2)
    found = find_key(profile)
    assert (found.key.root % 12, found.has_third) == (2, False)
    assert not find_key(np.zeros(12)).has_third


# ------------------------------------------------------------------ beat marks
def test_nothing_ticks_over_a_track_unless_asked(made: _Made, tmp_path: Path) -> None:
    assert "pulse" not in made.report.layers
    track = _held(tmp_path, 32.0)
    beats = swaying(BEATS)
    course = course_of((piece(0, 32.0, 0),), quiet_bars=5)
    ticking = _make(set_to(beats, course), track, tmp_path / "session", has_beat_marks=True)
    pulse = ticking.sound("stems/pulse.flac")
    assert not pulse[: int((beats[20] - 0.1) * RATE)].any()
    rise = np.abs(pulse).max(axis=1)
    for beat in range(20, BEATS - 4):
        start = round(beats[beat] * RATE)
        assert rise[start : start + 1200].max() > 3 * rise[start - 480 : start - 48].max()
    assert _level(pulse, 15, 25) < _level(ticking.track, 15, 25) - 4


# ------------------------------------------------------------------ without a course
def test_a_routine_from_elsewhere_plays_the_track_under_its_beats(tmp_path: Path) -> None:
    # The track's beats begin at 3.2 s, the routine's at 0: only a shift of 3.2 s fits all of them.
    own = tuple(b + 3.2 for b in swaying(BEATS))
    track = write_track(tmp_path, beats=own, seconds=40.0)
    routine = set_to(swaying(BEATS), None)
    made = _make(routine, track, tmp_path / "session", heard=own)
    ticks = _ticks(made.sound("session.flac"))
    off = [float(np.abs(ticks - routine.clock.seconds_at(b)).min()) for b in range(1, BEATS - 18)]
    assert max(off) < 0.004
    assert "begins 3.2 seconds before" in made.report.notes[0]
    assert "fades out" in made.report.notes[1]
    # Not listened to, it is taken at its word.
    plain = _make(routine, track, tmp_path / "plain")
    assert _ticks(plain.sound("session.flac"))[0] == pytest.approx(3.2, abs=0.004)


def test_a_track_that_ends_early_leaves_silence_and_is_told(tmp_path: Path) -> None:
    track = write_track(tmp_path, beats=swaying(20), seconds=15.0)
    made = _make(set_to(swaying(BEATS), None), track, tmp_path / "session")
    assert made.report.notes == (
        "music/evening.flac ends at 0:15, 0:15 before the routine: after it there is silence.",
    )
    assert not made.track[round(15.1 * RATE) :].any()


@given(st.floats(-40, 40), st.integers(0, 1000))
@settings(max_examples=30, deadline=None)
def test_the_shift_of_uneven_beats_is_found(shift: float, seed: int) -> None:
    lot = np.random.default_rng(seed)
    wanted = np.cumsum(0.6 + 0.2 * lot.random(100)) + 50
    heard = wanted + shift + lot.normal(0, 0.01, 100)
    assert best_shift(wanted, heard) == pytest.approx(shift, abs=0.01)
    assert best_shift(wanted, wanted) == pytest.approx(0.0, abs=1e-6)


def test_beats_that_fit_nowhere_shift_nothing() -> None:
    wanted = np.cumsum(np.full(60, 0.5))
    heard = np.cumsum(np.random.default_rng(1).uniform(0.2, 1.7, 60))
    assert best_shift(wanted, heard) == 0.0
    assert best_shift(wanted, ()) == 0.0


# ------------------------------------------------------------------ the wrong track
def test_a_track_of_another_length_is_refused_in_a_sentence(tmp_path: Path) -> None:
    track = write_track(tmp_path, beats=(), seconds=20.0)
    course = course_of((piece(0, 30.0, 0),), track_seconds=30.0)
    with pytest.raises(BadInput, match=r"evening\.flac: this track lasts 0:20, .* one of 0:30"):
        _make(set_to(swaying(BEATS), course), track, tmp_path / "session")
    assert not (tmp_path / "session" / "session.flac").exists()


# ------------------------------------------------------------------ loudness by name
@pytest.mark.parametrize("name", sorted(TARGETS))
def test_every_loudness_is_met_under_its_peak(name: str, tmp_path: Path) -> None:
    track = write_track(tmp_path, beats=BEAT[:20], seconds=20.0, rate=48_000)
    made = _make(set_to(swaying(BEATS), None), track, tmp_path / "session", loudness=TARGETS[name])
    assert made.report.loudness.integrated == pytest.approx(TARGETS[name].lufs, abs=0.5)
    assert made.report.loudness.true_peak_db <= -1.0
    words = json.loads(json.dumps(made.report.as_dict()))
    assert words["target"]["name"] == name
    assert words["loudness"]["range_lu"] is not None
