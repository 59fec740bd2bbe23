"""Stems of the teacher's own: found, used in place of ours, and never written over."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.stem_files import find_stems
from rondel.app.make_sound import SoundWishes, make_sound
from rondel.app.progress import Silent
from rondel.app.sound_report import SoundReport
from rondel.app.take_stems import OwnStems
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.time import Tempo
from rondel.music.instruments.tone import RATE, Stereo
from sound_routines import CRAFT, row_of
from track_routines import SHORT


def _routine() -> Routine:
    """Half a minute of composed music."""
    routine = row_of(SHORT, bpm=20)
    return replace(routine, tempo=(Tempo(bar=0, bpm=Fraction(120)),), brief=None)


def _make(out: Path, own: OwnStems | None = None) -> SoundReport:
    wishes = SoundWishes(own_stems=own) if own else None
    return make_sound(_routine(), CRAFT, None, out, SoundFiles(), Silent(), wishes=wishes)


def _made(report: SoundReport, out: Path) -> dict[str, object]:
    """Return what made.json says after a make."""
    files = {name: _digest(out / name) for name in report.files}
    return {"stages": {"audio": {"files": files, "measured": report.as_dict()}}}


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _hers(path: Path, seconds: float = 30.0, rate: int = RATE) -> Stereo:
    """Write a stem of hers, a soft tone, and return it."""
    at = np.arange(round(seconds * rate)) / rate
    wave = 0.05 * np.sin(2 * np.pi * 330 * at) * np.minimum(1, at)
    sound = np.stack([wave, wave], axis=1).astype(np.float32)
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, sound, rate)
    return sound


def _read(path: Path) -> Stereo:
    return np.asarray(soundfile.read(path, dtype="float32", always_2d=True)[0])


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SoundReport]:
    out = tmp_path_factory.mktemp("studio") / "session"
    return out, _make(out)


def test_our_own_stems_are_never_taken_for_hers(
    first: tuple[Path, SoundReport], tmp_path: Path
) -> None:
    out, report = first
    assert len(report.layers) >= 3
    assert find_stems(tmp_path, out, _made(report, out)).by_layer == {}
    # Nor where made.json is gone: they bear our mark.
    assert find_stems(tmp_path, out, {}).by_layer == {}


def test_a_stem_beside_the_routine_sounds_in_place_of_ours(
    first: tuple[Path, SoundReport], tmp_path: Path
) -> None:
    out, before = first
    hers = _hers(tmp_path / "music" / "stems" / "Pad.wav", rate=44_100, seconds=29.0)
    own = find_stems(tmp_path, tmp_path / "session", {})
    report = _make(tmp_path / "session", own)
    assert report.layers == before.layers
    assert report.own_stems["pad"]["file"] == "music/stems/Pad.wav"
    assert report.own_stems["pad"]["sha256"] == _digest(tmp_path / "music" / "stems" / "Pad.wav")
    assert report.notes == ("Of your own stems these sound in place of ours: music/stems/Pad.wav.",)
    # Hers is in the session at its rate; all others are as they were, to the byte.
    pad = _read(tmp_path / "session" / "stems" / "pad.flac")
    assert len(pad) == 30 * RATE
    assert np.abs(pad[29 * RATE + 100 :]).max() == 0
    middle = np.sqrt((pad[5 * RATE : 20 * RATE] ** 2).mean())
    assert middle == pytest.approx(np.sqrt((hers[5 * 44_100 : 20 * 44_100] ** 2).mean()), rel=0.01)
    for layer in report.layers:
        if layer != "pad":
            name = f"stems/{layer}.flac"
            assert _digest(tmp_path / "session" / name) == _digest(out / name)


def test_the_stems_with_hers_add_up_to_the_session(tmp_path: Path) -> None:
    _hers(tmp_path / "stems" / "drone.flac")
    report = _make(tmp_path / "session", find_stems(tmp_path, tmp_path / "session", {}))
    total = np.sum([_read(tmp_path / "session" / f"stems/{n}.flac") for n in report.layers], axis=0)
    mix = total * np.float32(10 ** (report.master_gain_db / 20))
    session = _read(tmp_path / "session" / "session.flac")
    calm = np.abs(mix).max(axis=1) < 0.4
    calm = np.convolve(~calm, np.ones(4801), "same") < 0.5  # away from what the limiter takes
    assert calm.mean() > 0.2
    assert np.abs(mix[calm] - session[calm]).max() < 1e-3
    assert report.loudness.integrated == pytest.approx(-16.0, abs=0.5)


def test_a_stem_put_into_the_session_stays_hers_however_often_it_is_made(tmp_path: Path) -> None:
    out = tmp_path / "session"
    made = _made(_make(out), out)
    _hers(out / "stems" / "drone.flac")
    kept = _digest(out / "stems" / "drone.flac")
    for _ in range(2):
        own = find_stems(tmp_path, out, made)
        assert own.by_layer["drone"].is_in_place
        report = _make(out, own)
        made = _made(report, out)
        assert "stems/drone.flac" in report.files  # so that it is not taken away either
        assert _digest(out / "stems" / "drone.flac") == kept
        assert report.own_stems["drone"]["file"] == "session/stems/drone.flac"
    # Taken away, ours comes back.
    (out / "stems" / "drone.flac").unlink()
    assert find_stems(tmp_path, out, made).by_layer == {}


def test_hers_in_the_session_comes_before_one_beside_the_routine(tmp_path: Path) -> None:
    out = tmp_path / "session"
    _hers(out / "stems" / "pad.flac")
    _hers(tmp_path / "stems" / "pad.flac", 29.5)
    _hers(tmp_path / "stems" / "harp.flac")
    own = find_stems(tmp_path, out, {})
    assert own.by_layer["pad"].is_in_place
    (note,) = own.beside
    assert note.startswith("Not used: stems/harp.flac, stems/pad.flac. A stem is called by")


def test_a_stem_of_another_length_is_refused_in_a_sentence(tmp_path: Path) -> None:
    _hers(tmp_path / "stems" / "pad.flac", 45.0)
    own = find_stems(tmp_path, tmp_path / "session", {})
    with pytest.raises(BadInput, match=r"stems/pad\.flac: this stem lasts 0:45 and .* 0:30"):
        _make(tmp_path / "session", own)
    assert not (tmp_path / "session" / "session.flac").exists()


def test_a_voice_of_hers_is_not_lost_but_led_to_where_words_belong(tmp_path: Path) -> None:
    out = tmp_path / "session"
    _hers(out / "stems" / "voice.flac")
    with pytest.raises(BadInput, match=r"session/stems/voice\.flac: .* voice/"):
        find_stems(tmp_path, out, {})


def test_a_session_in_the_folder_of_its_routine_keeps_to_the_same_rule(tmp_path: Path) -> None:
    _hers(tmp_path / "stems" / "pad.flac")
    own = find_stems(tmp_path, tmp_path, {})
    assert own.by_layer["pad"].is_in_place
    assert own.beside == ()


class _StopsWhileMixing(Silent):
    """Someone who presses Ctrl-C during the second stage."""

    stage = ""

    def begin(self, stage: str, total: float) -> None:
        self.stage = stage

    def advance(self, done: float) -> None:
        if self.stage == "Mixing the sound":
            raise KeyboardInterrupt


def test_a_make_that_was_stopped_leaves_no_stem_that_could_pass_for_hers(
    first: tuple[Path, SoundReport], tmp_path: Path
) -> None:
    out, report = first
    made = _made(report, out)
    louder = replace(_routine(), seed=99)
    with pytest.raises(KeyboardInterrupt):
        make_sound(louder, CRAFT, None, out, SoundFiles(), _StopsWhileMixing())
    assert find_stems(tmp_path, out, made).by_layer == {}
    assert not list(out.rglob(".part-*"))
