"""How well are beats, bars, spans without a beat and form heard, next to librosa at its best?

    python benchmarks/listen.py [--sets M O S R N] [--parts tuning test]
        [--variants usual other room] [--cache DIR] [--limit N] [--no-reference] [--no-form]
        [--each]

One line a set and part: M public scores, O game tunes, S ambient tracks, R the same with tempi
that wander by chance; M also with `other` instruments or in a `room` and through a codec; N
sounds in which nothing beats. "Beat told" is the share of seconds in which a beat is told without a
doubt, of those that have one, and in N, of all: 0 is right there. After
them the rows of form of S (`tracks/form_rows.py`) on true beats and on beats as heard, and what
all constant tracks of a part have in common. Empty the cache when `corpora` has changed.

Needs music21, mir_eval and librosa (extra `bench`), and Debian's fluidsynth,
fluidr3mono-gm-soundfont and timgm6mb-soundfont. Scores are mir_eval's, the first 5 s trimmed. What
was tuned on and what was not stands in `corpora/split.json` and `tracks/split.json`; both parts
are reported apart. Processor seconds are of everything from sound to beats.
"""

from __future__ import annotations

import argparse
import sys
import time
import warnings
from pathlib import Path

import mir_eval
import numpy as np

from corpora.sets import HEARD_RATE, Known, known_tracks
from rondel.adapters.beat_weights import builtin_network
from rondel.listening.beats import BeatsHeard, hear_beats
from rondel.listening.features import FeatureStream

sys.path.append(str(Path(__file__).resolve().parent / "tracks"))
from form_rows import form_lines
from make import seeds_of

STEP = 0.1  # seconds, for spans

Row = dict[str, float]


def _heard(known: Known) -> tuple[BeatsHeard, float]:
    before = time.process_time()
    stream = FeatureStream(HEARD_RATE)
    for start in range(0, len(known.sound), 10 * HEARD_RATE):
        stream.feed(known.sound[start : start + 10 * HEARD_RATE])
    heard = hear_beats(stream.features(), builtin_network())
    return heard, time.process_time() - before


def _scores(truth: np.ndarray, beats: np.ndarray) -> Row:
    reference, estimate = mir_eval.beat.trim_beats(truth), mir_eval.beat.trim_beats(beats)
    _, same, _, any_level = mir_eval.beat.continuity(reference, estimate)
    measure = mir_eval.beat.f_measure(reference, estimate)
    return {"F": measure, "CMLt": same, "AMLt": any_level}


def _error_ms(truth: np.ndarray, beats: np.ndarray) -> float:
    """Return the median distance in ms of beats that meet one (within mir_eval's 70 ms)."""
    if not len(beats):
        return float("nan")
    off = np.abs(beats[:, None] - truth[None, :]).min(axis=1)
    met = off[off < 0.07]
    return float(1000 * np.median(met)) if len(met) else float("nan")


def _row(known: Known, heard: BeatsHeard, seconds: float) -> Row:
    beats, length = np.array(heard.beats), len(known.sound) / HEARD_RATE
    row = _scores(known.beats, beats)
    row["downbeat F"] = _scores(known.downbeats, np.array(heard.downbeats))["F"]
    row["error ms"] = _error_ms(known.beats, beats)
    row["sharp error ms"] = row["error ms"] if known.is_sharp else float("nan")
    row["bar right"] = float(heard.beats_per_bar == known.beats_per_bar)
    row["constancy right"] = float(heard.is_constant == known.is_constant)
    near = abs(heard.bpm / known.bpm - 1) <= 0.0002
    row["BPM within 0.02 %"] = float(near) if known.is_constant else float("nan")
    offered = [heard.bpm, *(other.bpm for other in heard.others)]
    row["level offered"] = float(any(bool(abs(bpm / known.bpm - 1) < 0.04) for bpm in offered))
    at = np.arange(0, length, STEP)
    judged = ~_inside(at, known.unsure)
    still = _inside(at, known.beatless) & judged
    said = _inside(at, np.array([(s.start, s.end) for s in heard.beatless]).reshape(-1, 2)) & judged
    row |= {"still": float(still.sum()), "said": float(said.sum())}
    row["both"] = float((still & said).sum())
    row["beat told"] = _told(heard, at[judged & ~still])
    row["s a minute"] = 60 * seconds / length
    return row


def _unbeaten_row(known: Known, heard: BeatsHeard, seconds: float) -> Row:
    length = len(known.sound) / HEARD_RATE
    told = _told(heard, np.arange(0, length, STEP))
    return {"beat told": told, "confidence": heard.confidence, "s a minute": 60 * seconds / length}


def _told(heard: BeatsHeard, at: np.ndarray) -> float:
    """Return in which share of the seconds `at` a beat is told without a doubt."""
    away = np.array([(s.start, s.end) for s in (*heard.beatless, *heard.unsure)]).reshape(-1, 2)
    return float((~_inside(at, away)).mean()) if len(at) else float("nan")


def _inside(at: np.ndarray, spans: np.ndarray) -> np.ndarray:
    inside = np.zeros(len(at), dtype=bool)
    for start, end in spans:
        inside |= (at >= start) & (at < end)
    return inside


def _reference(known: Known) -> Row:
    import librosa

    before = time.process_time()
    _, beats = librosa.beat.beat_track(
        y=known.sound.mean(axis=1), sr=HEARD_RATE, start_bpm=75, units="time"
    )
    row = _scores(known.beats, np.asarray(beats))
    row["error ms"] = _error_ms(known.beats, np.asarray(beats))
    row["s a minute"] = 60 * (time.process_time() - before) / (len(known.sound) / HEARD_RATE)
    return row


def _say(title: str, rows: list[Row]) -> None:
    parts = []
    for key in rows[0]:
        if key in ("still", "said", "both"):
            continue
        values = np.array([row[key] for row in rows])
        if np.isnan(values).all():
            continue
        value = np.nanmedian(values) if "ms" in key else np.nanmean(values)
        parts.append(f"{key} {value:.3f}" if "ms" not in key else f"{key} {value:.1f}")
    if rows[0].get("still") is not None and sum(row["still"] for row in rows) > 0:
        both, said, still = (sum(row[key] for row in rows) for key in ("both", "said", "still"))
        parts.append(f"beatless P {both / max(said, 1):.3f} R {both / still:.3f}")
    print(f"{title} ({len(rows)}): {', '.join(parts)}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure how well beats are heard.")
    parser.add_argument("--sets", nargs="+", default=["M", "O", "S", "R", "N"])
    parser.add_argument("--parts", nargs="+", default=["tuning", "test"])
    parser.add_argument("--variants", nargs="+", default=["usual"])
    parser.add_argument("--cache", type=Path, default=Path("out/listen"))
    parser.add_argument("--limit", type=int, default=10**6)
    parser.add_argument("--no-reference", action="store_true")
    parser.add_argument("--no-form", action="store_true")
    parser.add_argument("--each", action="store_true", help="a line for every track")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    together: dict[str, list[Row]] = {part: [] for part in asked.parts}
    for which in asked.sets:
        for variant in asked.variants if which == "M" else ["usual"]:
            for part in asked.parts:
                together[part] += _measured(which, part, variant, asked)
    for part, rows in together.items():
        _say_constant(part, rows)
        if "S" in asked.sets and not asked.no_form:
            print(f"form of S {part}", end=", ")
            for line in form_lines(seeds_of(part), ("true", "heard"), builtin_network()):
                print(line, flush=True)


def _measured(which: str, part: str, variant: str, asked: argparse.Namespace) -> list[Row]:
    """Hear the tracks of one set and part, say how well, and return the rows."""
    rows: list[Row] = []
    others: list[Row] = []
    for known in known_tracks(which, part, asked.cache, variant):
        if len(rows) == asked.limit:
            break
        rows.append((_unbeaten_row if which == "N" else _row)(known, *_heard(known)))
        if asked.each:
            _say(known.name, rows[-1:])
        if not asked.no_reference and which != "N":
            others.append(_reference(known))
    _say(f"{which} {part} {variant}, Rondel", rows)
    if others:
        _say(f"{which} {part} {variant}, librosa", others)
    return rows


def _say_constant(part: str, rows: list[Row]) -> None:
    near = np.array([row["BPM within 0.02 %"] for row in rows if "BPM within 0.02 %" in row])
    near = near[~np.isnan(near)]
    if len(near):
        print(f"all constant tracks, {part} ({len(near)}): BPM within 0.02 % {near.mean():.3f}")


if __name__ == "__main__":
    main()
