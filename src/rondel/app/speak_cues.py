"""Speak every cue of a routine, with the teacher's own recordings where she made them.

No word is spoken across a change of passage: what is too long for its place begins earlier, and
where that is not enough, something shorter is said in its stead.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rondel.app.ports.voice import VOICE_SPEAKS, Recordings, Speaker, Speech, SpokenCue
from rondel.app.progress import Progress
from rondel.cues.languages import PHRASES
from rondel.cues.pace import estimate_seconds
from rondel.model.names import language_of
from rondel.model.routine import Cue, Routine
from rondel.model.time import as_minutes
from rondel.music.voice_edges import (
    MARGIN_SECONDS,
    cut_after,
    levelled,
    trimmed,
    with_room,
    words_span,
)

#: Apart from each other, even where a recording is too long for its place.
SECONDS_APART = 1.0
SECONDS_APART_AT_LEAST = 0.3
FORGIVEN_SECONDS = 0.05
ROUNDING_SECONDS = 1e-6
QUOTED_CHARACTERS = 60
#: A recording shorter than this, or with no louder sample, holds no words (common practice, no
#: source: the shortest cue takes four times as long, and -60 dB is the noise of a quiet room).
SHORTEST_SECONDS = 0.3
SILENT_RATE = 1000  # samples a second of what nobody speaks
SOFTEST = 0.001
#: Of the time that the bundled voice may take at its calm pace: who speaks twice as fast still says
#: all the words, and who takes more than twice as long says others.
TOO_SHORT, TOO_LONG = 0.45, 2.2

_SENTENCE_END = re.compile(r"(?<=[.!?])\s+")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a cue may sound: words should begin at `wanted`, be over at `until` so that the next
    cue is not pushed, and must be over at `change`."""

    earliest: float
    wanted: float
    until: float
    change: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Words:
    """Something that can be said: its sound, with `lead` seconds of room before the words and
    `trail` after them."""

    text: str
    samples: NDArray[np.float32]
    rate: int
    lead: float = 0.0
    trail: float = 0.0
    is_own: bool = False

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


def speak_cues(
    routine: Routine, own_voice: Recordings | None, speaker: Speaker, progress: Progress
) -> Speech:
    """Return all cues of `routine` as sound, in order, apart from each other, equally loud.

    A cue that the teacher recorded herself is taken from `own_voice`, unless nothing is to be heard
    there; `Speech.notes` says which recording is used for which words, so that one made for other
    words is noticed. Words that last longer than their place begin earlier where there is room. A
    recording that would still run into a change gives way to the bundled voice, and words of that
    to fewer of its sentences; `Speech.notes` says by how much they are too long. In a language that
    the bundled voice does not speak, words without a recording are there to be read only, and a
    note says how many. Raises BadInput for a recording that cannot be read.
    """
    progress.begin("Speaking the cues", len(routine.cues))
    work = _Work(routine=routine, own_voice=own_voice, speaker=speaker)
    for i in range(len(routine.cues)):
        work.say(i)
        progress.advance(1)
    progress.end()
    silent = len(work.spoken) - sum(s.is_heard for s in work.spoken)
    if silent:
        work.notes.insert(0, _no_voice(silent, len(routine.cues)))
    about_files = _file_notes(routine, own_voice, work.used) if own_voice else ()
    return Speech(spoken=tuple(work.spoken), notes=(*about_files, *work.notes))


@dataclass(slots=True, kw_only=True)
class _Work:
    """The cues as they are spoken, one after another."""

    routine: Routine
    own_voice: Recordings | None
    speaker: Speaker
    spoken: list[SpokenCue] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    used: dict[str, Cue] = field(default_factory=dict)
    free_from: float = 0.0

    def say(self, index: int) -> None:
        """Say the cue at `index` of the routine in the first way that fits its place."""
        cue = self.routine.cues[index]
        after = self.routine.cues[index + 1 : index + 2]
        place = _place_of(cue, after[0] if after else None, self.routine)
        for words in self._ways(cue):
            start = _start(place, words, self.free_from)
            ready = _within(words, place.change - start)
            if ready is None:
                self.notes.append(_too_long(cue, words, place, start, has_voice=self._has_voice))
                continue
            self._put(cue, ready, place, start)
            return
        if self._has_voice:
            self.notes.append(f"Cue {cue.id} (“{_quoted(cue)}”) is not said at all.")
        else:
            self._show(cue, place)

    @property
    def _has_voice(self) -> bool:
        """True where the bundled voice speaks the language of the cues."""
        return language_of(self.routine) is VOICE_SPEAKS

    def _show(self, cue: Cue, place: _Place) -> None:
        """Let the words of `cue` be read where they would be heard."""
        start = max(place.wanted, self.free_from + SECONDS_APART_AT_LEAST if self.free_from else 0)
        length = min(_guess(cue, self.routine), max(place.change - start, SHORTEST_SECONDS))
        silence = np.zeros(round(length * SILENT_RATE), dtype=np.float32)
        self.spoken.append(
            SpokenCue(
                cue_id=cue.id,
                text=cue.say,
                start_seconds=start,
                samples=silence,
                sample_rate=SILENT_RATE,
                is_heard=False,
            )
        )
        self.free_from = start + length

    def _ways(self, cue: Cue) -> Iterator[_Words]:
        """Yield her recording, then the bundled voice with all the words, then with fewer."""
        own = self._recorded(cue)
        if own is not None:
            yield own
        if not self._has_voice:
            return
        sentences = _SENTENCE_END.split(" ".join(cue.say.split()))
        for count in range(len(sentences), 0, -1):
            text = " ".join(sentences[:count]) if count < len(sentences) else cue.say
            samples, rate = self.speaker.speak(text)
            yield _Words(text=text, samples=levelled(trimmed(samples, rate), rate), rate=rate)

    def _recorded(self, cue: Cue) -> _Words | None:
        """Return her recording of `cue`, ready to be heard; None where none is, or it is silent."""
        recorded = self.own_voice.load(cue.id) if self.own_voice else None
        if self.own_voice is None or recorded is None:
            return None
        samples, rate = recorded
        if np.abs(samples).max(initial=0.0) > SOFTEST:
            ready = levelled(with_room(samples, rate), rate)
            span = words_span(ready, rate)
            if span is not None and (span[1] - span[0]) / rate >= SHORTEST_SECONDS:
                lasts = (span[1] - span[0]) / rate
                self.notes.extend(
                    _length_notes(
                        self.own_voice.name_of(cue.id), cue, lasts, _guess(cue, self.routine)
                    )
                )
                return _Words(
                    text=cue.say,
                    samples=ready,
                    rate=rate,
                    lead=max(0.0, span[0] / rate - MARGIN_SECONDS),
                    trail=max(0.0, (len(ready) - span[1]) / rate - MARGIN_SECONDS),
                    is_own=True,
                )
        instead = "the bundled voice says" if self._has_voice else "nobody says"
        self.notes.append(
            f"Nothing is to be heard in your recording {self.own_voice.name_of(cue.id)}, so "
            f"{instead} “{_quoted(cue)}”; record it again, or take the file away."
        )
        return None

    def _put(self, cue: Cue, words: _Words, place: _Place, start: float) -> None:
        if not len(words.samples):
            return
        if words.is_own and self.own_voice is not None:
            self.used[self.own_voice.name_of(cue.id)] = cue
        self.notes.extend(_place_notes(cue, words, place, start))
        self.spoken.append(
            SpokenCue(
                cue_id=cue.id,
                text=words.text,
                start_seconds=start,
                samples=words.samples,
                sample_rate=words.rate,
            )
        )
        self.free_from = start + words.seconds


# ------------------------------------------------------------------ places
def _place_of(cue: Cue, after: Cue | None, routine: Routine) -> _Place:
    """From its beat to the end of the passage it begins in, or shortly before the next cue."""
    passage = routine.passage_at(float(cue.at_beat))
    change = until = routine.end_seconds(passage)
    if after is not None:
        until = min(until, routine.clock.seconds_at(after.at_beat) - SECONDS_APART_AT_LEAST)
    return _Place(
        earliest=routine.start_seconds(passage),
        wanted=routine.clock.seconds_at(cue.at_beat),
        until=until,
        change=change,
    )


def _start(place: _Place, words: _Words, free_from: float) -> float:
    """Begin as wanted; earlier where the words are too long, and never over the cue before."""
    start = max(place.wanted - words.lead, min(place.earliest, place.wanted))
    if (
        start + words.seconds > place.until + FORGIVEN_SECONDS
        or start + words.seconds > place.change
    ):
        early = max(place.until - words.seconds, place.earliest, free_from + SECONDS_APART)
        start = min(start, early)
    after_last = free_from + SECONDS_APART_AT_LEAST if free_from else 0.0
    return max(start, after_last, 0.0)


def _within(words: _Words, seconds: float) -> _Words | None:
    """Return `words` if they are over within `seconds`, room after them cut where it must be."""
    if words.seconds <= seconds + ROUNDING_SECONDS:
        return words
    if words.seconds - words.trail > seconds:
        return None
    samples = cut_after(words.samples, words.rate, seconds)
    return _Words(
        text=words.text, samples=samples, rate=words.rate, lead=words.lead, is_own=words.is_own
    )


def _guess(cue: Cue, routine: Routine) -> float:
    """Return the seconds that the words of `cue` may take in the language of `routine`."""
    return estimate_seconds(cue.say, PHRASES[language_of(routine)].SECONDS_A_CHARACTER)


# ------------------------------------------------------------------ sentences
def _no_voice(silent: int, cues: int) -> str:
    """Say how many cues nobody speaks, and how they get a voice."""
    return (
        f"{silent} of {cues} cues are without a voice, because the bundled voice speaks English "
        "only: they are there to be read, and are heard once you record them as voice/<cue id>.wav."
    )


def _quoted(cue: Cue) -> str:
    return _short(cue.say)


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= QUOTED_CHARACTERS else f"{words[:QUOTED_CHARACTERS].rstrip()}…"


def _too_long(cue: Cue, words: _Words, place: _Place, start: float, *, has_voice: bool) -> str:
    """Say by how much words are too long for their place, and what is done instead."""
    over = start + words.seconds - words.trail - place.change
    at = as_minutes(place.change)
    told = f"{over:.1f} seconds too long for its place: it would run into the change at {at}"
    if words.is_own:
        instead = "The bundled voice speaks there instead" if has_voice else "It is left out"
        return (
            f"Your recording of cue {cue.id} (“{_quoted(cue)}”) is {told}. {instead}; speak it "
            "faster or say less."
        )
    if words.text == cue.say:
        return f"Cue {cue.id} (“{_quoted(cue)}”) is {told}. Shorten it or let it begin earlier."
    return f"Cue {cue.id} is still {told} where only “{_short(words.text)}” is said."


def _place_notes(cue: Cue, words: _Words, place: _Place, start: float) -> Iterator[str]:
    """Say in a sentence where a cue comes late, is cut short, or pushes the next one."""
    what = f"Your recording of cue {cue.id}" if words.is_own else f"Cue {cue.id}"
    over = start + words.seconds - words.trail - place.until
    late = start + words.lead - place.wanted
    if words.text != cue.say:
        yield f"Of cue {cue.id} only this is said: “{_short(words.text)}”"
    elif late > FORGIVEN_SECONDS + words.lead:
        yield (
            f"{what} (“{_quoted(cue)}”) begins {late:.1f} seconds late, because the cue before it "
            "is too long."
        )
    elif over > FORGIVEN_SECONDS:
        advice = "speak it faster or say less" if words.is_own else "shorten it or move it"
        yield (
            f"{what} (“{_quoted(cue)}”) lasts {words.seconds:.1f} seconds, {over:.1f} more than "
            f"there is room for before the next cue: {advice}."
        )


def _length_notes(name: str, cue: Cue, seconds: float, needed: float) -> Iterator[str]:
    """Say where a recording lasts so short or so long that it may hold other words."""
    if TOO_SHORT * needed <= seconds <= TOO_LONG * needed:
        return
    yield (
        f"Your recording {name} lasts {seconds:.1f} seconds, but “{_quoted(cue)}” takes about "
        f"{needed:.0f}: was it made for other words? Listen to it, and record it again if so."
    )


def _file_notes(routine: Routine, own_voice: Recordings, used: Mapping[str, Cue]) -> Iterator[str]:
    """Say which recordings stand for which words, and what lies beside them unused."""
    if len(used) == 1:
        yield from (f"Your recording {n} is used for: “{_quoted(c)}”" for n, c in used.items())
    elif used:
        each = "; ".join(f"{name} for “{_quoted(cue)}”" for name, cue in used.items())
        yield f"Your {len(used)} recordings are used: {each}."
    ids = [cue.id for cue in routine.cues]
    unused = own_voice.unused(ids)
    if unused:
        known = f" (here {ids[0]} to {ids[-1]})" if ids else ""
        yield (
            f"Not used in voice/: {', '.join(unused)}. A recording is called by the id of its "
            f"cue{known}, as c03.wav, once; the cues stand in routine.json."
        )
