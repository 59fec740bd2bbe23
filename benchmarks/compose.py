"""How good is composed music, next to a plain composer and to printed chorales?

    python benchmarks/compose.py [--seeds 10] [--sound 1] [--corpus]

Composes a quarter of an hour for every intention and seed and prints every measure beside the same
measure of a plain composer in the same run: chords drawn at random from the mode and voiced as they
come, a tune that walks at random. With `--corpus`, where music21 is installed, also of forty
chorales of J. S. Bach (its corpus; public domain). `--sound N` renders N seeds of each intention,
four minutes each, and measures what is heard.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import music_measures as measures
from rondel.model.routine import Routine
from rondel.model.words import Intention
from rondel.music.compose import compose, set_out
from rondel.music.instruments.tone import RATE
from rondel.music.modes import Key
from rondel.music.score import LayerName, Score
from rondel.music.setting import Setting
from rondel.music.soundness import measured
from rondel.music.synth import layer_sounds, session_frames
from rondel.music.tail import silent_end
from rondel.rules.length import NOMINAL_BPM
from sound_routines import CRAFT, fifteen_minutes, four_minutes

CHORALES = 40


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One piece as the measures take it: chords from the bass up, a tune, its motif."""

    name: str
    chords: tuple[measures.Voices, ...]
    melody: measures.Melody
    returns: tuple[measures.Melody, ...] = ()
    rest: measures.Melody = ()


def _composed(routine: Routine) -> tuple[Piece, Setting, Score]:
    setting, score = set_out(routine, CRAFT), compose(routine, CRAFT)
    chords = tuple((c.bass, *c.voices) for c in setting.chords)
    rests = [
        (at, pitch)
        for at, pitch in measures.melody(score)
        if routine.passage_at(float(at)).role != "refrain"
    ]
    piece = Piece(
        name=f"{routine.intention} {routine.seed}",
        chords=chords,
        melody=measures.melody(score),
        returns=tuple(measures.motif_at(score, routine)),
        rest=tuple(rests),
    )
    return piece, setting, score


def _plain(like: Piece, key: Key, seed: int) -> Piece:
    """Return a piece of as many chords and tones, drawn at random in the same mode."""
    lot = random.Random(seed)
    chords = []
    for _ in like.chords:
        degree = lot.randrange(7)
        classes = key.triad(degree)
        tones = [p for p in range(50, 75) if p % 12 in classes]
        bass = lot.choice([p for p in range(36, 51) if p % 12 == classes[0]])
        chords.append((bass, *sorted(lot.sample(tones, 4))))
    step, walk = 10, []
    for at, _ in like.melody:
        move = lot.choice((-3, -2, -1, 0, 1, 2, 3))
        step += move if 4 <= step + move <= 16 else -move
        walk.append((at, key.pitch(step, 1)))
    starts = [tune[0][0] for tune in like.returns]
    counts = [len(tune) for tune in like.returns]
    returns = []
    for start, count in zip(starts, counts, strict=True):
        here = [tone for tone in walk if tone[0] >= start][:count]
        returns.append(tuple(here))
    taken = {tone for tune in returns for tone in tune}
    rest = tuple(tone for tone in walk if tone not in taken)
    return Piece(
        name="plain", chords=tuple(chords), melody=tuple(walk), returns=tuple(returns), rest=rest
    )


def _chorales() -> list[Piece]:
    """Return chorales of music21's corpus: the chord at every quarter, the soprano as the tune."""
    from music21 import corpus

    pieces: list[Piece] = []
    for path in corpus.getComposer("bach"):
        if len(pieces) == CHORALES:
            break
        score = corpus.parse(path)
        parts = list(score.parts)
        if len(parts) != 4:
            continue
        rows = [[n for n in part.flatten().notes if n.isNote] for part in parts]
        ends = max(float(n.offset + n.quarterLength) for row in rows for n in row)
        chords = []
        for beat in range(int(ends)):
            sounding = [
                next(
                    (n.pitch.midi for n in row if n.offset <= beat < n.offset + n.quarterLength), 0
                )
                for row in rows
            ]
            if all(sounding) and sorted(sounding) == sounding[::-1]:
                chords.append(tuple(int(p) for p in reversed(sounding)))
        tune = tuple((Fraction(n.offset).limit_denominator(16), n.pitch.midi) for n in rows[0])
        pieces.append(Piece(name=str(path), chords=tuple(chords), melody=tune))
    return pieces


def _mean(values: Sequence[float]) -> float:
    return float(np.mean(values))


def _row(name: str, *groups: Sequence[float]) -> None:
    """Print the mean of each group, and its least and most."""
    cells = [
        f"{np.mean(g):8.3f} ({np.min(g):.3f} to {np.max(g):.3f})".ljust(32) if len(g) else "-"
        for g in groups
    ]
    print(f"{name:44}", *cells)


def _leadings(groups: Sequence[Sequence[Piece]]) -> None:
    led = [[measures.leading(p.chords) for p in group] for group in groups]
    _row("a voice moves, semitones a change", *[[x.mean_move for x in g] for g in led])
    _row("widest move of a middle voice", *[[x.widest for x in g] for g in led])
    _row("parallel fifths and octaves a 100 changes", *[[x.parallels for x in g] for g in led])
    _row("voices that overlap a 100 changes", *[[x.overlaps for x in g] for g in led])


def _tunes(groups: Sequence[Sequence[Piece]]) -> None:
    _row(
        "melody: tones struck again",
        *[[measures.repeated_share(p.melody) for p in g] for g in groups],
    )
    _row(
        "melody: one pitch in a row at most",
        *[[measures.longest_run([t for _, t in p.melody]) for p in g] for g in groups],
    )
    _row(
        f"two pieces: shared runs of {measures.GRAM} intervals",
        *[
            [measures.shared_grams(a.melody, b.melody) for a, b in combinations(g, 2)]
            for g in groups
        ],
    )
    of_returns = [
        [
            min((measures.alike(a, b) for a, b in combinations(p.returns, 2)), default=1.0)
            for p in g
            if p.returns
        ]
        for g in groups
    ]
    _row("motif: alike at every return", *of_returns)
    elsewhere = [
        [measures.alike_elsewhere(p.returns[0][:8], p.rest) for p in g if p.returns] for g in groups
    ]
    _row("motif: most like it anywhere else", *elsewhere)


def _phrases(settings: Sequence[Setting], scores: Sequence[Score]) -> None:
    """Print what is tied to phrases; a plain composer has none to compare with."""
    quickens, breathes, changes = [], [], []
    for setting, score in zip(settings, scores, strict=True):
        chords = setting.chords
        starts = {p.start_bar for p in setting.phrases}
        changes.append(
            _mean([a.degree != b.degree for a, b in pairwise(chords) if b.start_bar in starts])
        )
        halves: list[list[int]] = [[], []]
        for phrase in setting.phrases:
            bars = [c.bars for c in chords if c.phrase is phrase]
            if len(bars) > 1:
                halves[0].append(bars[0])
                halves[1].append(bars[-1])
        quickens.append(_mean(halves[0]) / _mean(halves[1]))
        breathes.append(_breath(setting, score))
    _row("harmony changes with a new phrase, share", changes)
    _row("first chord of a phrase over its last one", quickens)
    _row("tones in a phrase's last bar over the others", breathes)


def _breath(setting: Setting, score: Score) -> float:
    last: list[int] = []
    others: list[int] = []
    struck = [int(n.start // setting.meter) for n in score.layer(LayerName.PIANO)]
    counts = np.bincount(struck, minlength=setting.routine.bars)
    for phrase in setting.phrases:
        if phrase.bars < 3 or not setting.is_heard(phrase.start_bar * setting.meter):
            continue
        if setting.is_heard(phrase.end_bar * setting.meter - 1):
            last.append(int(counts[phrase.end_bar - 1]))
            others += counts[phrase.start_bar : phrase.end_bar - 1].tolist()
    return _mean(last) / _mean(others)


def _touch(scores: Sequence[Score]) -> None:
    nudges = [[abs(n.nudge_ms) for n in s.layer(LayerName.PIANO)] for s in scores]
    _row("piano: furthest from its beat, ms", [float(max(n)) for n in nudges])
    runs = [measures.longest_run([n.pitch for n in s.layer(LayerName.PIANO)]) for s in scores]
    _row("piano: one pitch in a row at most", runs)
    same = [measures.same_bars(s.layer(LayerName.PIANO), 4) for s in scores]
    _row("piano: bars that repeat the one before", same)
    rubs = [measures.rubbing(s) for s in scores]
    _row("low seconds held, seconds a minute", [low for low, _ in rubs])
    _row("semitones held, seconds a minute", [wide for _, wide in rubs])
    touch = [float(np.std([n.velocity for n in s.layer(LayerName.PIANO)])) for s in scores]
    _row("piano: spread of velocity", touch)


def _features(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return a window's sound as a vector: pitch classes, and power in third octaves."""
    mono = sound.mean(axis=1)
    window = np.hanning(16384)
    power = sum(
        np.abs(np.fft.rfft(mono[at : at + 16384] * window)) ** 2
        for at in range(0, len(mono) - 16384, 16384)
    )
    hertz = np.fft.rfftfreq(16384, 1 / RATE)
    used = (hertz > 60) & (hertz < 2000)
    classes = np.round(12 * np.log2(hertz[used] / 440)).astype(int) % 12
    chroma = np.bincount(classes, weights=np.asarray(power)[used], minlength=12)
    edges = 80 * 2 ** (np.arange(18) / 3)
    bands = [np.asarray(power)[(hertz >= a) & (hertz < b)].sum() for a, b in pairwise(edges)]
    loud = 10 * np.log10(np.asarray(bands) + 1e-9)
    return np.concatenate([10 * chroma / chroma.sum(), (loud - loud.mean()) / 10])


def _render(score: Score) -> dict[LayerName, NDArray[np.float32]]:
    frames = session_frames(score)
    return {layer.name: layer.block(0, frames) for layer in layer_sounds(score)}


def _sounds(seeds: int) -> None:
    print(f"\nHeard: four minutes, {seeds} seeds of each intention (a whole mix without voice)")
    crests, widths, losses, leans, clicks, silent, shares = [], [], [], [], [], [], []
    halves: list[tuple[NDArray[np.float64], NDArray[np.float64]]] = []
    for intention in Intention:
        for seed in range(seeds):
            routine = four_minutes(
                intention=intention, seed=seed, bpm=Fraction(NOMINAL_BPM[intention])
            )
            stems = _render(compose(routine, CRAFT))
            mix = np.asarray(sum(stems.values()), dtype=np.float32)
            sound = measured(mix, [silent_end(routine)])
            crests.append(measures.crest_db(mix))
            widths.append(measures.width(mix))
            losses.append(measures.mono_loss_db(mix))
            leans.append(sound.lean)
            clicks.append(float(len(sound.clicks) + sound.clipped))
            silent.append(sound.in_silence)
            shares.append(measures.band_shares(mix, RATE))
            pieces = np.array_split(mix, 16)
            vectors = [_features(piece) for piece in pieces]
            halves.append((np.mean(vectors[::2], axis=0), np.mean(vectors[1::2], axis=0)))
    _row("crest factor, dB", crests)
    _row("side's share of power", widths)
    _row("lost in mono, dB", losses)
    _row("lean to one side (DC)", leans)
    _row("clicks and flattened peaks", clicks)
    _row("highest sample in planned silence", silent)
    for name, share in zip(
        ("63", "125", "250", "500", "1k", "2k"), np.array(shares).T, strict=True
    ):
        _row(f"share of power, octave from {name} Hz", share.tolist())
    within = [float(np.linalg.norm(a - b)) for a, b in halves]
    between = [float(np.linalg.norm(a[0] - b[1])) for a, b in combinations(halves, 2)]
    _row("distance of two halves of one piece", within)
    _row("distance of two pieces", between)
    found = [
        int(np.argmin([np.linalg.norm(a - other[1]) for other in halves])) == i
        for i, (a, _) in enumerate(halves)
    ]
    print(f"a half finds its other half among {len(halves)} pieces: {np.mean(found):.2f}")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--seeds", type=int, default=10)
    words.add_argument("--sound", type=int, default=0)
    words.add_argument("--corpus", action="store_true")
    asked = words.parse_args()
    began = time.process_time()
    ours: list[Piece] = []
    plain: list[Piece] = []
    settings: list[Setting] = []
    scores: list[Score] = []
    for intention in Intention:
        for seed in range(asked.seeds):
            bpm = Fraction(NOMINAL_BPM[intention])
            piece, setting, score = _composed(
                fifteen_minutes(intention=intention, seed=seed, bpm=bpm)
            )
            ours.append(piece)
            settings.append(setting)
            scores.append(score)
            plain.append(_plain(piece, setting.key, 1000 + len(plain)))
    spent = time.process_time() - began
    chorales = _chorales() if asked.corpus else []
    heads = ("composed", "plain reference", f"{len(chorales)} chorales" if chorales else "")
    print(f"{len(ours)} pieces of a quarter of an hour, {spent / len(ours):.2f} s processor each")
    print(
        f"{len({s.key.name for s in settings})} keys, modes:",
        ", ".join(sorted({s.key.mode for s in settings})),
    )
    print(" " * 44, *[f"{h:32}" for h in heads])
    groups = [ours, plain, chorales] if chorales else [ours, plain]
    _leadings(groups)
    _tunes(groups)
    print("\nTied to phrases, and touch (composed)")
    _phrases(settings, scores)
    _touch(scores)
    if asked.sound:
        _sounds(asked.sound)


if __name__ == "__main__":
    main()
