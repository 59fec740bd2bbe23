"""Made-up ambient tracks with exact truth, for tests and benchmarks.

`make_track(seed, seconds)` renders one: a drone without a beat, a motif that returns, pulses,
late soft drums, breaks, rises, a fade. The truth comes from the form it was rendered from, never
from its sound. A minute at 22050 Hz takes about a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ambient_forms import Form, Part, Tune, make_form
from ambient_sounds import TIMBRES, Sound, drum, in_room, note, pad, wash
from rondel.model.track import Heard, Section, Span

#: Level of each layer, before a seed moves it by up to 3 dB.
LEVELS = {
    "drone": 0.10,
    "pad": 0.05,
    "motif": 0.22,
    "lead": 0.18,
    "arp": 0.10,
    "bass": 0.20,
    "drums": 0.34,
    "shimmer": 0.05,
    "rise": 0.22,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class AmbientTrack:
    """`sound` is float32 (frames, 2) at `rate`; `truth` what a perfect listener would hear."""

    seed: int
    sound: Sound
    rate: int
    truth: Heard
    form: Form


def make_track(seed: int, seconds: float, rate: int = 22050, wander: str = "waves") -> AmbientTrack:
    """Return a track of about `seconds`, the same for the same arguments; `wander`: `make_form`."""
    form = make_form(seed, seconds, wander)
    sound = _Render(form, rate).sound()
    return AmbientTrack(seed=seed, sound=sound, rate=rate, truth=truth_of(form), form=form)


def truth_of(form: Form) -> Heard:
    """Return what a form says of beats, parts, rises and returns, in seconds.

    Beats run through the whole track; where only a motif over held tones implies them, the
    span is `unsure`. A part's energy is what its layers weigh, from 0 for the softest to 1.
    """
    weights = [part.energy for part in form.parts]
    least, most = min(weights), max(weights)
    ends = [*(form.at_bar(part.first) for part in form.parts[1:]), form.seconds]
    starts = [0.0, *ends[:-1]]
    spans = [Span(start=start, end=end) for start, end in zip(starts, ends, strict=True)]
    return Heard(
        seconds=form.seconds,
        bpm=form.bpm,
        is_constant=form.is_constant,
        beats_per_bar=form.beats_per_bar,
        beats=form.beats[:-1],
        downbeats=form.beats[: -1 : form.beats_per_bar],
        beatless=_joined([s for s, p in zip(spans, form.parts, strict=True) if _is_still(p)]),
        unsure=tuple(s for s, p in zip(spans, form.parts, strict=True) if p.kind == "theme"),
        sections=tuple(
            Section(
                span=span,
                energy=(part.energy - least) / max(most - least, 1e-9),
                has_beat=part.has_beat,
            )
            for span, part in zip(spans, form.parts, strict=True)
        ),
        returns=tuple(
            Span(start=form.at_bar(one.bar), end=form.at_bar(one.bar + form.motif.bars))
            for part in form.parts
            for one in part.returns
        ),
        rises=tuple(Span(start=start, end=end) for _, start, end in form.rises),
        confidence=1.0,
    )


def _is_still(part: Part) -> bool:
    return part.kind in ("drone", "break")


def _joined(spans: list[Span]) -> tuple[Span, ...]:
    joined: list[Span] = []
    for span in spans:
        if joined and joined[-1].end == span.start:
            joined[-1] = Span(start=joined[-1].start, end=span.end)
        else:
            joined.append(span)
    return tuple(joined)


class _Render:
    """Puts the sounds of one form together, layer by layer, on one mono track."""

    def __init__(self, form: Form, rate: int) -> None:
        self._form, self._rate = form, rate
        self._chance = np.random.default_rng([form.seed, 11])
        self._mono = np.zeros(int(form.seconds * rate), dtype=np.float32)
        self._levels = {
            name: level * 10 ** (self._chance.uniform(-3, 3) / 20) for name, level in LEVELS.items()
        }
        names = [str(n) for n in self._chance.permutation(sorted(TIMBRES))]
        struck = [name for name in names if not TIMBRES[name].is_held]
        self._timbres = {"motif": names[0], "lead": names[int(self._chance.integers(0, 3))]}
        self._timbres |= {"arp": struck[1], "bass": struck[2], "shimmer": struck[3]}
        self._dull = self._chance.uniform(1.1, 2.0)
        self._drums = self._drum_pattern()

    def sound(self) -> Sound:
        for part in self._form.parts:
            self._held(part)
            self._moving(part)
            self._melodies(part)
        self._risen()
        room = (self._chance.uniform(0.8, 2.4), self._chance.uniform(0.2, 0.6))
        sound = in_room(self._mono, self._rate, *room, seed=self._form.seed)
        last = self._form.parts[-1]
        fade_from = int(self._form.at_bar(last.first) * self._rate)
        length = len(sound) - fade_from
        sound[fade_from:] *= (np.linspace(1, 0, length, dtype=np.float32) ** 1.2)[:, None]
        edge = int(1.5 * self._rate)
        sound[:edge] *= np.linspace(0, 1, edge, dtype=np.float32)[:, None]
        sound += self._chance.standard_normal(sound.shape).astype(np.float32) * 2e-4
        loudest = float(np.abs(sound).max())
        return np.asarray(np.tanh(sound * (0.8 / max(0.8, loudest))), dtype=np.float32)

    def _midi(self, step: int) -> int:
        octave, degree = divmod(step, 7)
        return self._form.root + 12 * octave + self._form.mode[degree]

    def _add(self, sound: Sound, at: float, level: float) -> None:
        start = int(at * self._rate)
        end = min(start + len(sound), len(self._mono))
        if 0 <= start < end:
            self._mono[start:end] += level * sound[: end - start]

    def _held(self, part: Part) -> None:
        start, end = self._form.at_bar(part.first), self._form.at_bar(part.past)
        if "drone" in part.layers:
            low = self._midi(0) - 24 if self._midi(0) > 50 else self._midi(0) - 12
            tone = pad(low, end - start + 1.5, self._rate, 1.5, self._chance)
            self._add(tone, start, self._levels["drone"])
        for bar, past, chord in self._changes(part):
            begin, finish = self._form.at_bar(bar), self._form.at_bar(past)
            for step in (chord, chord + 2, chord + 4, chord + 8):
                tone = pad(
                    self._midi(step), finish - begin + 1.0, self._rate, self._dull, self._chance
                )
                self._add(tone, max(0.0, begin - 0.15), self._levels["pad"])

    def _changes(self, part: Part) -> list[tuple[int, int, int]]:
        """Return (bar, past, chord) of a part; slow where nothing moves."""
        every = 4 if _is_still(part) else 2 if len(part.chords) == 2 else 1
        bars = [*range(part.first, part.past, every), part.past]
        return [
            (bar, past, part.chords[(bar - part.first) // every % len(part.chords)])
            for bar, past in pairwise(bars)
        ]

    def _moving(self, part: Part) -> None:
        meter = self._form.beats_per_bar
        chords = {b: c for bar, past, c in self._changes(part) for b in range(bar, past)}
        figure = self._chance.integers(0, 6, size=2 * meter)
        rests = self._chance.random(2 * meter) < 0.15
        for bar in range(part.first, part.past):
            first = bar * meter
            if "arp" in part.layers:
                for half, rung in enumerate(figure):
                    if not rests[half] or half == 0:
                        step = chords[bar] + (0, 2, 4, 7, 9, 11)[rung]
                        self._play("arp", step, first + half / 2, 0.5, 0.7 + 0.3 * (half % 2 == 0))
            if "shimmer" in part.layers:
                for half in range(2 * meter):
                    step = chords[bar] + 14 + int(self._chance.choice((0, 2, 4)))
                    self._play("shimmer", step, first + half / 2, 0.5, 1.0)
            if "bass" in part.layers:
                for late in (0, meter - 1) if bar % 2 else (0,):
                    self._play("bass", chords[bar] - 14, first + late, 1.5, 1.0)
            if "drums" in part.layers:
                for beat, name, force in self._drums:
                    at = self._second(first + beat) + self._chance.normal(0, 0.002)
                    force *= self._chance.uniform(0.85, 1.0)
                    self._add(drum(name, self._rate), at, self._levels["drums"] * force)

    def _drum_pattern(self) -> list[tuple[float, str, float]]:
        meter = self._form.beats_per_bar
        low = [(0.0, "low", 1.0)]
        low += [(2.0, "low", 0.7)] if meter == 4 and self._chance.random() < 0.6 else []
        back = (1.0, 3.0) if meter == 4 and self._chance.random() < 0.7 else (meter - 1.0,)
        grains = np.arange(0, meter, 0.5 if self._chance.random() < 0.6 else 1.0)
        return [
            *low,
            *((beat, "brush", 0.35) for beat in back),
            *((float(beat), "grain", 0.16 if beat % 1 else 0.1) for beat in grains),
        ]

    def _melodies(self, part: Part) -> None:
        meter = self._form.beats_per_bar
        for one in part.returns:
            self._tune("motif", self._form.motif, one.bar * meter, 7 * one.octave + 7, 1.0)
            if one.is_doubled:
                self._tune("motif", self._form.motif, one.bar * meter, 7 * one.octave + 14, 0.45)
        for bar in part.answers:
            self._tune("motif", self._form.answer, bar * meter, 7, 0.8)
        if "lead" in part.layers:
            for bar in range(part.first, part.past - self._form.lead.bars + 1, 4):
                self._tune("lead", self._form.lead, bar * meter, 7, 1.0)

    def _tune(self, layer: str, tune: Tune, first_beat: int, up: int, level: float) -> None:
        for beat, length, step in tune.notes:
            force = level * self._chance.uniform(0.75, 1.0)
            self._play(layer, step + up, first_beat + beat, length, force)

    def _play(self, layer: str, step: int, beat: float, length: float, level: float) -> None:
        start, end = self._second(beat), self._second(beat + length)
        sound = note(
            self._timbres[layer],
            self._midi(step),
            max(10, round((end - start) * 20) * 5),
            self._rate,
        )
        self._add(sound, start + self._chance.normal(0, 0.006), self._levels[layer] * level)

    def _second(self, beat: float) -> float:
        beats = self._form.beats
        whole = min(int(beat), len(beats) - 2)
        return beats[whole] + (beat - whole) * (beats[whole + 1] - beats[whole])

    def _risen(self) -> None:
        for kind, start, end in self._form.rises:
            self._add(self._rise(kind, end - start), start, self._levels["rise"])
        for start, end in self._form.washes:
            sound = wash(end - start, self._rate, False, self._chance)
            self._add(sound, start, 0.6 * self._levels["rise"])

    def _rise(self, kind: str, seconds: float) -> Sound:
        if kind == "noise":
            return wash(seconds, self._rate, True, self._chance)
        count = int(seconds * self._rate)
        grown = np.linspace(0, 1, count, dtype=np.float32) ** 2
        grown[-int(0.1 * self._rate) :] *= np.linspace(1, 0, int(0.1 * self._rate))
        steps = (0, 4, 7, 9) if kind == "pad" else (14,)
        sound = np.zeros(count, dtype=np.float32)
        for step in steps:
            tone = pad(self._midi(step), seconds + 2, self._rate, 1.0, self._chance)
            sound += tone[int(self._rate) :][:count] * (0.35 if kind == "pad" else 0.8)
        return sound * grown
