"""Forms of made-up ambient tracks: what plays when, by a seed, before anything sounds.

Two seeds differ in form and not only in notes: in the number and order of parts, which layers play
in each, where the motif returns and under what, which changes are announced by a rise, in metre,
in tempo and whether it drifts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: Steps of six modes above their root, in semitones.
MODES = {
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
}

#: How much each layer adds to a part's energy.
WEIGHTS = {
    "drone": 0.5,
    "pad": 1.0,
    "motif": 0.8,
    "lead": 0.8,
    "arp": 1.2,
    "bass": 1.2,
    "drums": 2.5,
    "shimmer": 1.0,
}

#: What each kind of part is made of: layers it always has, and layers it may have.
KINDS = {
    "drone": (("drone", "pad"), ()),
    "theme": (("pad", "motif"), ("drone",)),
    "pulse": (("pad", "arp"), ("bass", "drone")),
    "song": (("pad", "arp", "motif"), ("bass",)),
    "drums": (("pad", "bass", "drums"), ("arp", "motif")),
    "bridge": (("pad", "lead", "bass"), ("drums", "arp")),
    "full": (("pad", "bass", "arp", "drums", "motif", "shimmer"), ()),
    "break": (("drone", "pad"), ()),
    "fade": (("pad", "arp"), ("drone", "motif")),
}

#: What may follow what.
FOLLOWS = {
    "drone": ("theme", "pulse", "song"),
    "theme": ("pulse", "song", "drums"),
    "pulse": ("theme", "song", "drums", "bridge"),
    "song": ("drums", "bridge", "break", "full"),
    "drums": ("break", "bridge", "song", "full", "theme"),
    "bridge": ("full", "song", "break", "drums"),
    "full": ("break", "bridge", "theme", "song"),
    "break": ("theme", "full", "song", "drums", "bridge"),
}

PULSED = {"arp", "bass", "drums"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tune:
    """Notes as (beat from the start, length in beats, step of the mode); `bars` long."""

    notes: tuple[tuple[float, float, int], ...]
    bars: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """One playing of the motif: its first bar, octaves moved by, and whether it is doubled."""

    bar: int
    octave: int
    is_doubled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Bars `first` to `past` (excluded) that are alike: layers, chords (roots as steps), tunes."""

    kind: str
    first: int
    past: int
    layers: frozenset[str]
    chords: tuple[int, ...]
    returns: tuple[Return, ...] = ()
    answers: tuple[int, ...] = ()

    @property
    def energy(self) -> float:
        return sum(WEIGHTS[layer] for layer in self.layers)

    @property
    def has_beat(self) -> bool:
        return bool(self.layers & PULSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """Everything about a track but its sound. `beats`: seconds of every beat, the opening's too."""

    seed: int
    root: int
    mode: tuple[int, ...]
    bpm: float
    is_constant: bool
    beats_per_bar: int
    beats: tuple[float, ...]
    parts: tuple[Part, ...]
    motif: Tune
    answer: Tune
    lead: Tune
    rises: tuple[tuple[str, float, float], ...]
    washes: tuple[tuple[float, float], ...]
    seconds: float

    def at_bar(self, bar: int) -> float:
        return self.beats[bar * self.beats_per_bar]


def make_form(seed: int, seconds: float, wander: str = "waves") -> Form:
    """Return the form of a track that lasts about `seconds`; the same for the same arguments.

    `wander`: "waves" (a tempo that is not constant sways in two slow waves) or "chance" (every
    tempo wanders, as chance has it).
    """
    chance = np.random.default_rng([seed, 7])
    beats_per_bar = int(chance.choice((4, 4, 4, 3)))
    bpm = float(np.round(chance.uniform(55, 100), 2))
    is_constant = bool(chance.random() < 0.6) and wander == "waves"
    if wander == "waves":
        beats = _beats(chance, bpm, is_constant, seconds + 90)
    else:
        beats = _by_chance(chance, bpm, seconds + 90)
    motif = _tune(chance, beats_per_bar, bars=2, low=0)
    parts = _parts(chance, beats, beats_per_bar, seconds, motif.bars)
    while sum(len(part.returns) for part in parts) < (5 if seconds >= 200 else 2):
        parts = _parts(chance, beats, beats_per_bar, seconds, motif.bars)
    form = Form(
        seed=seed,
        root=int(chance.integers(45, 57)),
        mode=MODES[str(chance.choice(tuple(MODES)))],
        bpm=bpm,
        is_constant=is_constant,
        beats_per_bar=beats_per_bar,
        beats=tuple(beats[: parts[-1].past * beats_per_bar + 1].tolist()),
        parts=tuple(parts),
        motif=motif,
        answer=_tune(chance, beats_per_bar, bars=2, low=-2),
        lead=_tune(chance, beats_per_bar, bars=4, low=1),
        rises=(),
        washes=(),
        seconds=float(beats[parts[-1].past * beats_per_bar]) + 2.0,
    )
    return _with_rises(form, chance)


def _beats(
    chance: np.random.Generator, bpm: float, is_constant: bool, seconds: float
) -> np.ndarray:
    """Return beats of a steady tempo, or of one that wanders by up to 4 % over a minute or so."""
    first = chance.uniform(0.2, 1.2)
    count = int(seconds * bpm / 60) + 8
    if is_constant:
        return first + 60 / bpm * np.arange(count)
    times = 60 / bpm * np.arange(count)
    wander = sum(
        share * np.sin(2 * np.pi * times / chance.uniform(40, 140) + chance.uniform(0, 2 * np.pi))
        for share in (0.6, 0.4)
    )
    steps = 60 / (bpm * (1 + 0.04 * np.asarray(wander)))
    return first + np.concatenate(([0.0], np.cumsum(steps[:-1])))


def _by_chance(chance: np.random.Generator, bpm: float, seconds: float) -> np.ndarray:
    """Return beats of a tempo that wanders smoothly by up to 4 % without any period.

    White noise through a bell 12 s wide: what it does in half a minute nobody can tell.
    """
    count = int(seconds * bpm / 60) + 8
    wide = 12 * bpm / 60
    bell = np.exp(-0.5 * (np.arange(-int(3 * wide), int(3 * wide) + 1) / wide) ** 2)
    wander = np.convolve(chance.standard_normal(count + len(bell) - 1), bell, mode="valid")
    steps = 60 / (bpm * (1 + 0.04 * wander / np.abs(wander).max()))
    return chance.uniform(0.2, 1.2) + np.concatenate(([0.0], np.cumsum(steps[:-1])))


def _tune(chance: np.random.Generator, beats_per_bar: int, bars: int, low: int) -> Tune:
    """Return a melody that moves mostly by step with a leap or two, and ends on a long note."""
    lengths = (0.5, 0.5, 1.0, 1.0, 1.5, 2.0)
    end = bars * beats_per_bar - chance.choice((1.0, 1.5, 2.0))
    at, step, notes = 0.0, int(chance.integers(low, low + 5)), []
    while at < end:
        length = float(min(chance.choice(lengths), end - at))
        notes.append((at, length, step))
        at += length
        leap = chance.random() < 0.3
        step += int(chance.choice((-4, -3, 3, 4) if leap else (-2, -1, 1, 2)))
        step = int(np.clip(step, low - 2, low + 8))
    notes.append((at, bars * beats_per_bar - at, step))
    return Tune(notes=tuple(notes), bars=bars)


def _parts(
    chance: np.random.Generator,
    beats: np.ndarray,
    beats_per_bar: int,
    seconds: float,
    motif_bars: int,
) -> list[Part]:
    bar_seconds = float(beats[-1] - beats[0]) / (len(beats) - 1) * beats_per_bar
    short = min(1.0, seconds / 300)
    opening = max(2, round(chance.uniform(45, 80) * short / bar_seconds))
    themes = [_chords(chance), _chords(chance)]
    parts = [_part(chance, "drone", 0, opening, themes[0], motif_bars)]
    kind, bar = "drone", opening
    least = max(4, 2 * round(14 * max(short, 0.6) / bar_seconds / 2))
    while bar * bar_seconds < seconds * 0.88:
        kind = str(chance.choice(FOLLOWS[kind]))
        bars = least + 4 * int(chance.integers(0, 3 if short == 1 else 2))
        bars = min(bars, max(least, round(52 / bar_seconds / 4) * 4))
        chords = themes[1] if kind == "bridge" else themes[0]
        part = _part(chance, kind, bar, bars, chords, motif_bars)
        if _too_alike(part, parts[-1]):
            continue
        parts.append(part)
        bar += bars
    return [*parts, _part(chance, "fade", bar, least, themes[0], motif_bars)]


def _too_alike(one: Part, other: Part) -> bool:
    """Are two parts so alike that nobody would hear where one gives way to the other?"""
    differ = one.layers ^ other.layers
    return sum(WEIGHTS[layer] for layer in differ) < 1.9 and one.chords == other.chords


def _chords(chance: np.random.Generator) -> tuple[int, ...]:
    count = int(chance.choice((2, 4, 4, 4)))
    chords = [0]
    while len(chords) < count:
        chord = int(chance.choice((0, 2, 3, 4, 5, 6)))
        if chord != chords[-1]:
            chords.append(chord)
    return tuple(chords)


def _part(
    chance: np.random.Generator,
    kind: str,
    first: int,
    bars: int,
    chords: tuple[int, ...],
    motif_bars: int,
) -> Part:
    always, perhaps = KINDS[kind]
    layers = {*always, *(layer for layer in perhaps if chance.random() < 0.5)}
    returns: list[Return] = []
    answers: list[int] = []
    if "motif" in layers:
        every = int(chance.choice((4, 4, 8))) if bars >= 8 else 4
        for bar in range(first, first + bars - motif_bars + 1, every):
            octave = int(chance.choice((0, 0, 0, 1, -1))) if kind != "theme" else 0
            returns.append(Return(bar=bar, octave=octave, is_doubled=chance.random() < 0.25))
            if every == 4 and chance.random() < 0.45 and bar + 4 <= first + bars:
                answers.append(bar + 2)
    return Part(
        kind=kind,
        first=first,
        past=first + bars,
        layers=frozenset(layers),
        chords=chords,
        returns=tuple(returns),
        answers=tuple(answers),
    )


def _with_rises(form: Form, chance: np.random.Generator) -> Form:
    """Announce some of the changes; and let a wash or two come and go that announces nothing."""
    rises, washes = [], []
    for before, part in zip(form.parts, form.parts[1:], strict=False):
        if part.kind == "fade" or chance.random() > 0.6:
            continue
        end = form.at_bar(part.first)
        start = max(form.at_bar(before.first) + 1, end - chance.uniform(4, 11))
        kind = str(chance.choice(("noise", "pad", "noise", "tone")))
        if end - start > 2.5:
            rises.append((kind, float(start), float(end)))
    for part in form.parts[1:-1]:
        first, past = form.at_bar(part.first), form.at_bar(part.past)
        if past - first > 24 and chance.random() < 0.25:
            washes.append((float(first + 5), float(first + chance.uniform(11, 14))))
    return Form(
        **{
            name: getattr(form, name)
            for name in Form.__dataclass_fields__
            if name not in ("rises", "washes")
        },
        rises=tuple(rises),
        washes=tuple(washes),
    )
