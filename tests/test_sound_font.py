"""The optional SoundFont: used where it can be had, never needed."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from rondel.adapters import soundfont
from rondel.adapters.soundfont import SampledPiano, find_soundfont, instruments_for
from rondel.model.errors import BadInput, OutsideFailure
from rondel.music.instruments.tone import RATE, Tone
from rondel.music.score import LayerName
from rondel.music.synth import BUILT_IN


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _records(form: str, *rows: tuple[object, ...]) -> bytes:
    return b"".join(struct.pack("<" + form, *row) for row in rows)


def _tiny_soundfont() -> bytes:
    """Return the smallest useful SoundFont 2.01: one preset, one instrument, one decaying tone.

    Written from the published record layout (SoundFont Technical Specification 2.04, section 7).
    """
    rate, key = 22_050, 60
    at = np.arange(rate * 2) / rate
    hertz = 440.0 * 2 ** ((key - 69) / 12)
    tone = sum(np.sin(2 * np.pi * hertz * n * at) / n**1.5 for n in range(1, 8))
    wave = (np.asarray(tone) * np.exp(-2 * at) * 9000).astype("<i2").tobytes() + b"\0" * 92
    frames = len(at)
    info = b"INFO" + _chunk(b"ifil", struct.pack("<HH", 2, 1)) + _chunk(b"INAM", b"tiny\0\0")
    sdta = b"sdta" + _chunk(b"smpl", wave)
    pdta = b"pdta" + b"".join(
        (
            _chunk(b"phdr", _records("20sHHHIII", (b"Piano", 0, 0, 0, 0, 0, 0),
                                     (b"EOP", 0, 0, 1, 0, 0, 0))),
            _chunk(b"pbag", _records("HH", (0, 0), (1, 0))),
            _chunk(b"pmod", _records("HHhHH", (0, 0, 0, 0, 0))),
            _chunk(b"pgen", _records("HH", (41, 0), (0, 0))),
            _chunk(b"inst", _records("20sH", (b"Piano", 0), (b"EOI", 1))),
            _chunk(b"ibag", _records("HH", (0, 0), (1, 0))),
            _chunk(b"imod", _records("HHhHH", (0, 0, 0, 0, 0))),
            _chunk(b"igen", _records("HH", (53, 0), (0, 0))),
            _chunk(b"shdr", _records("20sIIIIIBbHH",
                                     (b"tone", 0, frames, 8, frames - 8, rate, key, 0, 0, 1),
                                     (b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0))),
        )
    )  # fmt: skip
    body = b"sfbk" + _chunk(b"LIST", info) + _chunk(b"LIST", sdta) + _chunk(b"LIST", pdta)
    return _chunk(b"RIFF", body)


@pytest.fixture
def font(tmp_path: Path) -> Path:
    path = tmp_path / "tiny.sf2"
    path.write_bytes(_tiny_soundfont())
    return path


def test_without_font_or_player_the_built_in_instruments_play(
    monkeypatch: pytest.MonkeyPatch, font: Path
) -> None:
    monkeypatch.setattr(soundfont, "find_soundfont", lambda: None)
    assert instruments_for() is BUILT_IN
    monkeypatch.setattr(soundfont, "find_soundfont", lambda: font)
    monkeypatch.setattr(soundfont, "_player", lambda: None)
    assert instruments_for() is BUILT_IN


def test_a_font_asked_for_without_the_player_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, font: Path
) -> None:
    monkeypatch.setattr(soundfont, "_player", lambda: None)
    with pytest.raises(OutsideFailure, match="pip install"):
        instruments_for(font)


def test_a_font_is_found_in_the_usual_place(tmp_path: Path) -> None:
    assert find_soundfont((tmp_path / "none", tmp_path)) is None
    for name in ("b.sf2", "a.SF3", "notes.txt"):
        (tmp_path / name).touch()
    assert find_soundfont((tmp_path / "none", tmp_path)) == tmp_path / "a.SF3"


def test_a_file_that_is_no_font_is_named(tmp_path: Path) -> None:
    pytest.importorskip("tinysoundfont")
    path = tmp_path / "letter.sf2"
    path.write_bytes(b"Dear reader")
    with pytest.raises(BadInput, match="not a SoundFont"):
        instruments_for(path)
    with pytest.raises(BadInput, match="cannot be read"):
        instruments_for(tmp_path / "missing.sf2")


def test_the_piano_of_a_font_plays_in_tune_and_darker_when_soft(font: Path) -> None:
    pytest.importorskip("tinysoundfont")
    piano = instruments_for(font)[LayerName.PIANO]
    assert isinstance(piano, SampledPiano)
    ratios, levels = [], []
    for velocity in (35, 100):
        tone = Tone(start=0, frames=2 * RATE, rise=None, pitch=69, velocity=velocity, number=0)
        block = np.zeros((RATE, 2), dtype=np.float32)
        piano.sound(tone).add_to(block, 0)
        spectrum = np.abs(np.fft.rfft(block.mean(axis=1)))
        assert abs(int(np.argmax(spectrum)) - 440) <= 1  # A4, ISO 16
        ratios.append(spectrum[1500:].sum() / spectrum[:600].sum())
        levels.append(float(np.sqrt((block**2).mean())))
    assert ratios[1] > 1.3 * ratios[0]
    assert levels[1] > 2 * levels[0]
