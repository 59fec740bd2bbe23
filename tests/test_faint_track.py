"""Silent or faint music does not take the voice down with it, and the teacher is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from rondel.adapters.loudness import R128Meter
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.track_files import TrackFiles
from rondel.app.make_sound import SoundWishes, make_sound
from rondel.app.mix_sound import VOICE_OVER_MUSIC
from rondel.app.play_track import BroughtTrack
from rondel.app.ports.sound import Loudness
from rondel.app.ports.voice import Speech, SpokenCue
from rondel.app.progress import Silent
from rondel.app.sound_report import SoundReport, level_notes
from rondel.music.instruments.tone import RATE
from rondel.music.loudness_targets import SESSION
from sound_routines import CRAFT
from track_routines import BEATS, course_of, piece, set_to, swaying, ticking

SECONDS = swaying(BEATS)


def _made(folder: Path, lufs: float | None) -> SoundReport:
    """Return a session over a track of so many LUFS (None: silence), with words in noise."""
    wave = ticking(SECONDS[:-1], SECONDS[-1], rate=RATE, chord=(110.0, 220.0))
    sound = np.repeat(wave[:, None], 2, axis=1)
    meter = R128Meter()
    meter.add(sound)
    sound *= 0.0 if lufs is None else 10 ** ((lufs - meter.result().integrated) / 20)
    path = folder / "track.wav"
    soundfile.write(path, sound, RATE, subtype="FLOAT")
    routine = set_to(SECONDS, course_of((piece(0, SECONDS[-1], 0),), track_seconds=SECONDS[-1]))
    lot = np.random.default_rng(3)
    words = (0.1 * lot.standard_normal(3 * RATE)).astype(np.float32)
    spoken = tuple(
        SpokenCue(cue_id=name, text="So.", start_seconds=at, samples=words, sample_rate=RATE)
        for name, at in (("c01", 2.0), ("c02", 12.0), ("c03", 20.0))
    )
    track = BroughtTrack(path=path, name="track.wav", tracks=TrackFiles())
    return make_sound(
        routine,
        CRAFT,
        Speech(spoken=spoken),
        folder / "session",
        SoundFiles(),
        Silent(),
        wishes=SoundWishes(track=track),
    )


@pytest.mark.parametrize(("lufs", "says"), [(None, "The music is silent"), (-65.0, "very faint")])
def test_over_silent_or_faint_music_the_voice_is_heard_and_the_teacher_told(
    tmp_path: Path, lufs: float | None, says: str
) -> None:
    report = _made(tmp_path, lufs)
    assert report.loudness.integrated == pytest.approx(SESSION.lufs, abs=0.5)
    assert min(c.voice_lufs for c in report.cues) > SESSION.lufs - 2
    assert says in report.notes[0]
    assert "louder copy" in report.notes[0]


def test_soft_music_that_can_be_raised_stands_with_the_voice_as_ever(tmp_path: Path) -> None:
    report = _made(tmp_path, -42.0)
    assert report.notes == ()
    assert report.loudness.integrated == pytest.approx(SESSION.lufs, abs=0.5)
    over = [c.voice_lufs - (-42.0 + report.master_gain_db) for c in report.cues]
    assert over == pytest.approx([VOICE_OVER_MUSIC] * 3, abs=0.3)


def _heard(lufs: float) -> Loudness:
    return Loudness(
        integrated=lufs, range_lu=3, true_peak_db=-2, most_momentary=lufs, most_short_term=lufs
    )


@pytest.mark.parametrize(
    ("lufs", "says"),
    [
        (-16.4, ()),
        (-16.6, ("at -16.6 LUFS and not at -16 as asked: it is 0.6 LU too soft.",)),
        (-15.4, ("at -15.4 LUFS and not at -16 as asked: it is 0.6 LU too loud.",)),
        (float("-inf"), ("is silent",)),
    ],
)
def test_a_loudness_that_is_missed_by_more_than_half_a_unit_is_told(
    lufs: float, says: tuple[str, ...]
) -> None:
    notes = level_notes(_heard(lufs), SESSION, -20.0, is_faint=False)
    assert len(notes) == len(says)
    assert all(part in note for part, note in zip(says, notes, strict=True))
