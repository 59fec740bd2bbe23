"""Made-up songs with known beats, and accompaniments to public melodies: what training hears.

Nothing here is in a test set. Every number is a choice of ours, wide on purpose: a network that
has met many ways of marking a beat leans on none of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from corpora.tunes import Tune

Row = tuple[float, float, float, float, float]  # start, length (beats), pitch, part, velocity

MODES = (
    (0, 2, 4, 5, 7, 9, 11),
    (0, 2, 3, 5, 7, 8, 10),
    (0, 2, 3, 5, 7, 9, 10),
    (0, 2, 4, 6, 7, 9, 11),
    (0, 2, 4, 5, 7, 9, 10),
)
STRUCK = (0, 0, 1, 4, 5, 8, 10, 11, 12, 13, 14, 24, 24, 25, 26, 27, 45, 46, 46, 6, 104, 107, 108)
HELD = (48, 49, 50, 51, 88, 89, 90, 91, 92, 94, 95, 52, 53, 16, 19, 40, 41, 42, 43, 71, 73, 74, 75)
BASSES = (32, 33, 34, 35, 38, 39, 43)
KICK, SNARE, RIM, HAT, OPEN, SHAKER, RIDE, CLAP = 36, 38, 37, 42, 46, 70, 51, 39
CONGAS = (62, 63, 64, 60, 61)


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The metre and harmony of a song: beats a bar, parts of a beat, a chord root each change."""

    beats_per_bar: int
    division: int
    bars: int
    scale: tuple[int, ...]
    root: int
    change: int
    roots: tuple[int, ...]

    def chord(self, beat: float) -> int:
        return self.roots[int(beat // self.change) % len(self.roots)]

    def pitch(self, degree: int) -> int:
        octave, step = divmod(degree, 7)
        return self.root + 12 * octave + self.scale[step]


def make_song(rng: np.random.Generator) -> tuple[Tune, list[tuple[float, float]]]:
    """Return a song and the spans (in beats) in which only held tones sound."""
    frame = _frame(rng)
    layers = _layers(rng)
    total = frame.bars * frame.beats_per_bar
    rows: list[Row] = []
    programs: list[int] = []
    drums: list[bool] = []
    plan, still = _plan(frame, layers, rng)
    for name in layers:
        part = len(programs)
        programs.append(_program(name, rng))
        drums.append(name == "drums")
        play = _LAYERS[name](frame, rng)
        loud = rng.uniform(45, 105)
        rows.extend(
            (start, length, pitch, part, float(np.clip(loud * force + rng.normal(0, 4), 15, 127)))
            for start, length, pitch, force in play
            if _is_on(plan, name, start, frame) and start < total
        )
    notes = np.array(sorted(rows), dtype=float)
    tune = Tune(
        name="song",
        notes=notes,
        beats_per_bar=frame.beats_per_bar,
        first_bar=0,
        metre=f"{frame.beats_per_bar} of {frame.division}",
        programs=tuple(programs),
        drums=tuple(drums),
    )
    return tune, still


def accompany(tune: Tune, rng: np.random.Generator) -> Tune:
    """Return a public melody with chords found for it, played by some of our layers."""
    per_bar = tune.beats_per_bar
    bars = int(np.ceil(tune.beats / per_bar)) + 1
    division = 3 if tune.metre in ("6/8", "9/8", "12/8") else 2
    pitches = tune.notes[:, 2].astype(int)
    tonic = int(pitches[-1]) % 12
    third = np.isin((tonic + 3) % 12, pitches % 12) and not np.isin((tonic + 4) % 12, pitches % 12)
    scale = MODES[1] if third else MODES[0]
    change = per_bar if per_bar < 4 or rng.random() < 0.6 else per_bar // 2
    roots = _harmonise(tune, tonic, scale, change, bars, rng)
    frame = Frame(
        beats_per_bar=per_bar,
        division=division,
        bars=bars,
        scale=scale,
        root=tonic + 48,
        change=change,
        roots=roots,
    )
    names = [n for n in ("chords", "bass", "drums", "pad", "arpeggio") if rng.random() < 0.5]
    rows: list[Row] = [(*row[:3], 0.0, float(rng.uniform(60, 100))) for row in tune.notes.tolist()]
    programs = [int(rng.choice(STRUCK + HELD))]
    drums = [False]
    for name in names or ["bass"]:
        loud = rng.uniform(40, 90)
        part = len(programs)
        rows.extend(
            (start, length, pitch, part, float(np.clip(loud * force, 15, 127)))
            for start, length, pitch, force in _LAYERS[name](frame, rng)
            if start <= tune.notes[-1, 0]
        )
        programs.append(_program(name, rng))
        drums.append(name == "drums")
    return replace(tune, notes=np.array(sorted(rows)), programs=tuple(programs), drums=tuple(drums))


def _harmonise(
    tune: Tune, tonic: int, scale: tuple[int, ...], change: int, bars: int, rng: np.random.Generator
) -> tuple[int, ...]:
    roots = []
    for start in range(0, bars * tune.beats_per_bar, change):
        here = tune.notes[(tune.notes[:, 0] >= start - 0.01) & (tune.notes[:, 0] < start + change)]
        best = []
        for degree in (0, 3, 4, 5, 1, 2):
            chord = {(tonic + scale[(degree + k) % 7]) % 12 for k in (0, 2, 4)}
            fit = sum(row[1] for row in here if int(row[2]) % 12 in chord)
            best.append((fit + rng.uniform(0, 0.4) + 0.2 * (degree == 0), degree))
        roots.append(max(best)[1])
    return tuple(roots)


def _frame(rng: np.random.Generator) -> Frame:
    beats_per_bar, division = [(4, 2), (3, 2), (2, 3), (2, 2), (4, 3), (3, 3)][
        rng.choice(6, p=[0.5, 0.2, 0.1, 0.05, 0.1, 0.05])
    ]
    change = int(rng.choice([beats_per_bar, 2 * beats_per_bar, max(1, beats_per_bar // 2), 1],
                            p=[0.6, 0.15, 0.2, 0.05]))  # fmt: skip
    count = int(rng.choice([2, 4, 4, 8]))
    return Frame(
        beats_per_bar=beats_per_bar,
        division=division,
        bars=int(120 // beats_per_bar),
        scale=MODES[rng.integers(len(MODES))],
        root=int(rng.integers(43, 55)),
        change=change,
        roots=(0, *(int(d) for d in rng.choice([0, 1, 2, 3, 4, 5], size=count - 1))),
    )


def _layers(rng: np.random.Generator) -> list[str]:
    chances = {"pad": 0.6, "chords": 0.5, "arpeggio": 0.5, "bass": 0.6, "drums": 0.5, "tune": 0.6}
    names = [name for name, chance in chances.items() if rng.random() < chance]
    if not set(names) & {"chords", "arpeggio", "bass", "drums", "tune"}:
        names.append(str(rng.choice(["chords", "arpeggio", "drums", "tune"])))
    return names


def _plan(
    frame: Frame, layers: list[str], rng: np.random.Generator
) -> tuple[list[set[str]], list[tuple[float, float]]]:
    """Return the layers on in each bar, and the spans of pads alone."""
    plan: list[set[str]] = []
    while len(plan) < frame.bars:
        size = int(rng.choice([2, 4, 8, 8, 16]))
        on = {name for name in layers if rng.random() < 0.75}
        if "pad" in layers and rng.random() < 0.12:
            on = {"pad"}
        if not on - {"pad"} and not (on and rng.random() < 0.5):
            on = set(layers)
        plan.extend([on] * size)
    still = []
    for bar, on in enumerate(plan[: frame.bars]):
        if on <= {"pad"}:
            still.append((bar * frame.beats_per_bar, (bar + 1) * frame.beats_per_bar))
    return plan, still


def _is_on(plan: list[set[str]], name: str, start: float, frame: Frame) -> bool:
    bar = int(np.floor(start / frame.beats_per_bar + 1e-6))
    return 0 <= bar < len(plan) and name in plan[bar]


def _program(name: str, rng: np.random.Generator) -> int:
    if name == "bass":
        return int(rng.choice(BASSES))
    if name == "pad":
        return int(rng.choice(HELD[:13]))
    if name == "tune":
        return int(rng.choice(STRUCK + HELD))
    return int(rng.choice(STRUCK))


Played = list[tuple[float, float, float, float]]  # start, length, pitch, force


def _beats(frame: Frame) -> int:
    return frame.bars * frame.beats_per_bar


def _pad(frame: Frame, rng: np.random.Generator) -> Played:
    up = 12 * int(rng.integers(0, 2))
    return [
        (beat, frame.change * 0.98, frame.pitch(frame.chord(beat) + step) + up, 1.0)
        for beat in range(0, _beats(frame), frame.change)
        for step in (0, 2, 4)
    ]


def _chords(frame: Frame, rng: np.random.Generator) -> Played:
    style = rng.choice(
        ["beats", "offbeats", "waltz", "pattern", "bars"], p=[0.3, 0.1, 0.2, 0.3, 0.1]
    )
    grid = 1 / frame.division
    cells = frame.beats_per_bar * frame.division
    pattern = rng.random(cells) < 0.4
    pattern[0] |= rng.random() < 0.7
    accent = rng.uniform(0, 0.3)
    played: Played = []
    for bar in range(frame.bars):
        for cell in range(cells):
            beat, part = divmod(cell, frame.division)
            hit = {
                "beats": part == 0,
                "offbeats": part == frame.division - 1 if frame.division == 3 else part == 1,
                "waltz": part == 0 and beat != 0,
                "pattern": bool(pattern[cell]),
                "bars": cell == 0,
            }[str(style)]
            if not hit:
                continue
            at = bar * frame.beats_per_bar + cell * grid
            root = frame.chord(at)
            length = rng.choice([grid * 0.9, 0.9, 0.4])
            force = 0.9 + accent * (cell == 0)
            played.extend((at, length, frame.pitch(root + s) + 12, force) for s in (0, 2, 4))
    return played


def _arpeggio(frame: Frame, rng: np.random.Generator) -> Played:
    per_beat = frame.division * int(rng.choice([1, 1, 2]))
    figure = rng.choice([0, 2, 4, 7, 9, 11], size=int(rng.choice([per_beat * 2, per_beat * 4])))
    figure[0] = 0
    rest = rng.random(len(figure)) < rng.choice([0, 0.1, 0.3])
    up = 12 * int(rng.integers(0, 2))
    accent = rng.uniform(0, 0.3)
    played: Played = []
    for step in range(_beats(frame) * per_beat):
        at = step / per_beat
        place = step % len(figure)
        if rest[place]:
            continue
        force = 0.8 + accent * (step % per_beat == 0) + accent * (at % frame.beats_per_bar == 0)
        pitch = frame.pitch(frame.chord(at) + int(figure[place])) + up
        played.append((at, rng.choice([1, 2, 3]) / per_beat, pitch, force))
    return played


def _bass(frame: Frame, rng: np.random.Generator) -> Played:
    style = rng.choice(["roots", "beats", "pattern", "walk"], p=[0.4, 0.2, 0.25, 0.15])
    cells = frame.beats_per_bar * frame.division
    pattern = rng.random(cells) < 0.25
    pattern[0] = True
    played: Played = []
    for bar in range(frame.bars):
        for cell in range(cells):
            beat, part = divmod(cell, frame.division)
            at = bar * frame.beats_per_bar + cell / frame.division
            root = frame.chord(at)
            hit = {
                "roots": at % frame.change == 0 and part == 0,
                "beats": part == 0,
                "walk": part == 0,
                "pattern": bool(pattern[cell]),
            }[str(style)]
            if hit:
                degree = root + (int(rng.integers(-2, 5)) if style == "walk" and beat else 0)
                length = frame.change if style == "roots" else rng.choice([0.4, 0.9])
                played.append((at, float(length), frame.pitch(degree) - 12, 1.0))
    return played


def _drums(frame: Frame, rng: np.random.Generator) -> Played:
    cells = frame.beats_per_bar * frame.division
    fine = 2 if rng.random() < 0.3 else 1
    kick = np.zeros(cells)
    kick[0] = 1
    if rng.random() < 0.4:
        kick[:: frame.division] = 1
    kick[rng.random(cells) < 0.12] = 1
    snare = np.zeros(cells)
    if rng.random() < 0.8:
        backs = [1, 3] if frame.beats_per_bar == 4 else [frame.beats_per_bar - 1]
        if rng.random() < 0.2:
            backs = [2] if frame.beats_per_bar == 4 else [1]
        snare[[b * frame.division for b in backs]] = 1
    hat = np.zeros(cells * fine)
    every = rng.choice([1, 1, fine, frame.division * fine])
    hat[:: max(1, int(every))] = 1
    hat[rng.random(len(hat)) < 0.1] = 0
    high = int(rng.choice([HAT, SHAKER, RIDE, HAT]))
    back = int(rng.choice([SNARE, RIM, CLAP, SNARE]))
    low = KICK if rng.random() < 0.8 else int(rng.choice(CONGAS))
    parts = rng.random(3) < (0.8, 0.7, 0.75)
    if not parts.any():
        parts[0] = True
    swing = rng.choice([0.0, 0.0, 0.12]) if frame.division == 2 and fine == 1 else 0.0
    played: Played = []
    for bar in range(frame.bars):
        zero = bar * frame.beats_per_bar
        for row, grid, pitch, force, on in (
            (kick, frame.division, low, 1.0, parts[0]),
            (snare, frame.division, back, 0.85, parts[1]),
            (hat, frame.division * fine, high, 0.55, parts[2]),
        ):
            if on:
                played.extend(
                    (
                        zero + cell / grid + swing * (cell % 2),
                        0.2,
                        pitch,
                        force * rng.uniform(0.8, 1),
                    )
                    for cell in np.flatnonzero(row)
                )
        if bar % 8 == 7 and rng.random() < 0.4:
            played.extend(
                (zero + frame.beats_per_bar - 1 + k / 4, 0.2, back, 0.7) for k in range(4)
            )
    return played


def _tune(frame: Frame, rng: np.random.Generator) -> Played:
    cells = 2 * frame.beats_per_bar * frame.division
    weights = np.where(np.arange(cells) % frame.division == 0, 0.6, 0.3)
    weights[:: frame.beats_per_bar * frame.division] = rng.uniform(0.5, 1)
    motifs = [np.flatnonzero(rng.random(cells) < weights * rng.uniform(0.6, 1.3)) for _ in range(3)]
    shapes = [np.cumsum(rng.integers(-2, 3, size=cells)) for _ in range(3)]
    played: Played = []
    for pair in range(0, frame.bars, 2):
        which = int(rng.choice([0, 0, 1, 2]))
        hits = motifs[which]
        for index, cell in enumerate(hits):
            at = pair * frame.beats_per_bar + cell / frame.division
            after = hits[index + 1] if index + 1 < len(hits) else cells
            degree = frame.chord(at) + int(np.clip(shapes[which][cell], -5, 9))
            length = (after - cell) / frame.division * rng.uniform(0.5, 1)
            played.append((at, length, frame.pitch(degree) + 12, rng.uniform(0.8, 1.1)))
    return played


_LAYERS = {
    "pad": _pad,
    "chords": _chords,
    "arpeggio": _arpeggio,
    "bass": _bass,
    "drums": _drums,
    "tune": _tune,
}
