"""The sound that takes were filmed with: low under the music, in time with the picture.

Loudness is measured by pyloudnorm (ITU-R BS.1770-4), moments by where clicks stand in the file.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.track_files import TrackFiles
from rondel.app.kept_sound import KeptPiece, KeptSound, kept_pieces
from rondel.app.make_sound import SoundWishes, make_sound
from rondel.app.progress import Silent
from rondel.app.sound_report import SoundReport
from rondel.drawing.frames.film import Source
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script
from rondel.model.routine import Routine
from rondel.model.shots import FittedPassage, Shot, TimeMap
from rondel.model.time import Tempo
from rondel.music.instruments.tone import RATE, Stereo
from sound_routines import CRAFT, four_minutes, row_of
from track_routines import SHORT

SECONDS = 24.0  # of the takes here
CLICKS = np.arange(1.0, SECONDS - 1, 1.7)
UNDER_LU = 15.0  # what docs and README promise: low under the music


def _routine() -> Routine:
    """Half a minute of composed music."""
    routine = row_of(SHORT, bpm=20)
    return replace(routine, tempo=(Tempo(bar=0, bpm=Fraction(120)),), brief=None)


def _take(path: Path, rate: int = 44_100) -> Path:
    """Write what a camera heard: a soft hiss, and a click at each of CLICKS."""
    dice = np.random.default_rng(5)
    sound = 0.01 * dice.standard_normal((round(SECONDS * rate), 1))
    for second in CLICKS:
        at = round(second * rate)
        sound[at : at + rate // 1000] += 0.7
    soundfile.write(path, sound.astype(np.float32), rate)
    return path


def _piece(path: Path, start: float, end: float, shows: tuple[float, ...]) -> KeptPiece:
    at = tuple(np.linspace(start, end, len(shows)).tolist())
    played = TimeMap(at=at, shows=shows)
    return KeptPiece(take=path.name, path=path, digest="0", start=start, end=end, map=played)


def _make(out: Path, *pieces: KeptPiece) -> SoundReport:
    wishes = SoundWishes(kept=KeptSound(pieces=pieces, tracks=TrackFiles()))
    return make_sound(_routine(), CRAFT, None, out, SoundFiles(), Silent(), wishes=wishes)


def _read(path: Path) -> Stereo:
    return np.asarray(soundfile.read(path, dtype="float32", always_2d=True)[0])


def _clicks(sound: Stereo) -> list[float]:
    """Return the seconds at which clicks begin: a camera's hiss is far below them."""
    loud = np.abs(sound[:, 0])
    over = np.flatnonzero(loud > 0.4 * loud.max())
    first = over[np.insert(np.diff(over) > RATE // 10, 0, True)]
    return [float(at) / RATE for at in first]


def test_it_is_heard_when_its_picture_is_seen_and_nowhere_else(tmp_path: Path) -> None:
    take = _take(tmp_path / "hands.wav")
    # Slow, then quick: the picture shows second 1 at 2, second 7 at 10, and second 17 at 18.
    piece = _piece(take, 2.0, 18.0, (1.0, 7.0, 17.0))
    report = _make(tmp_path / "session", piece)
    kept = _read(tmp_path / "session" / "stems" / "takes.flac")
    lies = [c for c in CLICKS if 1.4 < c < 16.6]  # clear of where it comes and goes
    wanted = [float(np.interp(c, piece.map.shows, piece.map.at)) for c in lies]
    assert len(wanted) >= 8
    assert _clicks(kept) == pytest.approx(wanted, abs=0.002)
    assert not kept[: round(2.0 * RATE)].any()
    assert not kept[round(18.0 * RATE) :].any()
    assert "takes" in report.layers
    assert "stems/takes.flac" in report.files
    assert not report.notes


def test_it_stands_low_under_the_music_and_is_in_the_session(tmp_path: Path) -> None:
    take = _take(tmp_path / "hands.wav")
    report = _make(tmp_path / "session", _piece(take, 1.0, 22.0, (1.0, 22.0)))
    stems = {name: _read(tmp_path / "session" / "stems" / f"{name}.flac") for name in report.layers}
    kept = stems.pop("takes")
    music = np.sum(list(stems.values()), axis=0)
    meter = pyloudnorm.Meter(RATE)
    under = meter.integrated_loudness(music) - meter.integrated_loudness(kept)
    assert under == pytest.approx(UNDER_LU, abs=0.7)
    session = _read(tmp_path / "session" / "session.flac")
    gain = 10 ** (report.master_gain_db / 20)
    # Off by no more than the limiter takes, and by 24 bits.
    assert float(np.median(np.abs(session - gain * (music + kept)))) < 1e-4
    assert float(np.median(np.abs(session - gain * music))) > 1e-4
    assert report.loudness.integrated == pytest.approx(report.target.lufs, abs=0.3)


def test_without_it_nothing_changes_and_without_sound_it_is_told(tmp_path: Path) -> None:
    plain = _make(tmp_path / "plain")
    assert not (tmp_path / "plain" / "stems" / "takes.flac").exists()
    mute = tmp_path / "mute.mp4"
    mute.write_bytes(b"no sound" * 99)
    report = _make(tmp_path / "mute", _piece(mute, 1.0, 22.0, (1.0, 22.0)))
    assert report.notes[-1].startswith("The sound of mute.mp4 is left out: ")
    one, two = (_read(tmp_path / name / "session.flac") for name in ("plain", "mute"))
    assert np.array_equal(one, two)
    assert plain.layers == report.layers[:-1]


def test_what_is_drawn_is_not_heard() -> None:
    routine = four_minutes()
    passage = routine.line[0]
    start, end = routine.start_seconds(passage), routine.end_seconds(passage)
    played = TimeMap(at=(start, end), shows=(3.0, 3.0 + end - start))
    shot = Shot(take="hands.mp4", map=played, beats=(), landings=())
    fitted = FittedPassage(passage=passage.id, technique=passage.technique, beats=(), shots=(shot,))
    source = Source(path="/somewhere/hands.mp4", digest="d", seconds=500.0)
    (piece,) = kept_pieces(routine, CRAFT, (fitted,), {"hands.mp4": source})
    cards = Script(routine, CRAFT).first_free_frame / FRAMES_PER_SECOND
    assert piece.start == pytest.approx(max(start, cards), abs=0.05)
    assert piece.start > start  # the cards at the beginning
    assert piece.end <= end
