"""How well the form of a track is heard: sections, rises, returns of a motif, on the S set.

    python benchmarks/tracks/form_rows.py [--part tuning|test] [--beats true|heard] [--seeds …]

Prints for the set: F of section beginnings (±3 s, first and last left out), of rises by their tops
(±1 s), and of a motif's returns from one that is marked (±1 s, each of first, middle and last
marked in turn, itself not counted); each next to references worked out in the same run. Matching
is mir_eval's. The settings were tuned on the tuning seeds only. `--beats heard` takes beats and
downbeats as Rondel hears them, `true` from the truth, which tells form apart from beats.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import mir_eval
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "tests")]

from make import seconds_of_each, seeds_of  # noqa: E402

from ambient_tracks import make_track  # noqa: E402
from rondel.adapters.beat_weights import builtin_network  # noqa: E402
from rondel.listening.beats import hear_beats  # noqa: E402
from rondel.listening.cells import bar_lines, by_bar, slow_loudness  # noqa: E402
from rondel.listening.features import SLOW, Features, FeatureStream  # noqa: E402
from rondel.listening.motif import find_returns, motif_candidates  # noqa: E402
from rondel.listening.network import BeatNetwork  # noqa: E402
from rondel.listening.rises import hear_rises  # noqa: E402
from rondel.listening.sections import hear_sections  # noqa: E402
from rondel.listening.swells import swell_evidence  # noqa: E402
from rondel.model.track import Heard, Span  # noqa: E402

SECTIONS_WITHIN, RISES_WITHIN, RETURNS_WITHIN = 3.0, 1.0, 1.0
BLOCK = 65536


@dataclass(slots=True)
class Tally:
    """Hits, and how many there were to find and were given, over a set."""

    hits: int = 0
    true: int = 0
    given: int = 0
    each: list[float] = field(default_factory=list)

    def add(self, true: Sequence[float], given: Sequence[float], within: float) -> None:
        pairs = []
        if len(true) and len(given):
            pairs = mir_eval.util.match_events(np.array(true), np.array(sorted(given)), within)
        self.hits += len(pairs)
        self.true += len(true)
        self.given += len(given)
        self.each.append(2 * len(pairs) / max(1, len(true) + len(given)))

    def says(self) -> str:
        precision, recall = self.hits / max(1, self.given), self.hits / max(1, self.true)
        whole = 2 * self.hits / max(1, self.true + self.given)
        worst = min(self.each, default=0.0)
        return f"F {whole:.3f}  P {precision:.3f}  R {recall:.3f}  worst track {worst:.2f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """Beats and downbeats, either true or heard, on which form is heard."""

    beats: tuple[float, ...]
    downbeats: tuple[float, ...]
    beats_per_bar: int
    beatless: tuple[Span, ...]


class FormRows:
    """Gathers the rows of a set, a track at a time."""

    def __init__(self) -> None:
        self._tallies: dict[str, Tally] = {}
        self._strongest: list[float] = []
        self._energy: list[float] = []
        self._candidates: list[bool] = []
        self._still: list[float] = []

    def add(self, truth: Heard, features: Features, counted: Counted) -> None:
        """Hear the form of one track and of its references; keep how well each did."""
        evidence = swell_evidence(features)
        sections = hear_sections(features, counted.downbeats, counted.beatless, evidence)
        heard = [section.span.start for section in sections[1:]]
        true = [section.span.start for section in truth.sections[1:]]
        lines = bar_lines(counted.downbeats, features.seconds)
        even = np.linspace(0, truth.seconds, len(true) + 2)[1:-1].tolist()
        self._add("sections", true, heard, SECTIONS_WITHIN)
        board = _checkerboard(features, lines, len(true))
        self._add("  checkerboard novelty, told how many", true, board, SECTIONS_WITHIN)
        self._add("  even parts, told how many", true, even, SECTIONS_WITHIN)

        tops = [rise.end for rise in truth.rises]
        rises = [rise.end for rise in hear_rises(features, sections, evidence)]
        self._add("rises", tops, rises, RISES_WITHIN)
        louder = _louder_before(features, len(tops))
        self._add("  loudness that grew and fell, told how many", tops, louder, RISES_WITHIN)
        self._returns(truth, features, counted)
        self._energies(truth, sections_at=lambda s: _at(sections, s).energy)
        self._still.append(
            float(
                np.mean(
                    [
                        _at(sections, s).has_beat == _at(truth.sections, s).has_beat
                        for s in np.arange(0.5, truth.seconds, 1.0)
                        if not any(span.holds(s) for span in truth.unsure)
                    ]
                )
            )
        )

    def lines(self) -> Iterable[str]:
        yield from (f"{name:46}{tally.says()}" for name, tally in self._tallies.items())
        yield f"{'energy, correlation with the truth by second':46}{np.mean(self._energy):.3f}"
        yield f"{'true energy of the section called strongest':46}{np.mean(self._strongest):.3f}"
        yield f"{'seconds with the right word on a beat':46}{np.mean(self._still):.3f}"
        yield f"{'a motif among three candidates, unasked':46}{np.mean(self._candidates):.2f}"

    def _add(self, name: str, true: list[float], given: list[float], within: float) -> None:
        self._tallies.setdefault(name, Tally()).add(true, given, within)

    def _returns(self, truth: Heard, features: Features, counted: Counted) -> None:
        starts = [span.start for span in truth.returns]
        for mark in sorted({0, len(starts) // 2, len(starts) - 1}):
            marked = truth.returns[mark]
            rest = [at for k, at in enumerate(starts) if k != mark]
            found = find_returns(features, counted.beats, marked, counted.beats_per_bar)
            given = [span.start for span in found if span != marked]
            self._add("motif from one mark", rest, given, RETURNS_WITHIN)
            plain = _by_chroma(features, marked, len(rest))
            self._add("  chroma correlation, told how many", rest, plain, RETURNS_WITHIN)
        guesses = motif_candidates(
            features, counted.beats, counted.downbeats, counted.beats_per_bar
        )
        near = (min(abs(guess.start - at) for at in starts) < 1 for guess in guesses)
        self._candidates.append(any(near))

    def _energies(self, truth: Heard, sections_at: Callable[[float], float]) -> None:
        seconds = np.arange(0.5, truth.seconds, 1.0)
        heard = np.array([sections_at(s) for s in seconds])
        true = np.array([_at(truth.sections, s).energy for s in seconds])
        self._energy.append(float(np.corrcoef(heard, true)[0, 1]))
        self._strongest.append(float(np.median(true[heard == heard.max()])))


def _at(sections: Sequence, second: float):  # type: ignore[no-untyped-def, type-arg]
    return next((s for s in sections if s.span.holds(second)), sections[-1])


def _checkerboard(features: Features, lines: NDArray[np.float64], count: int) -> list[float]:
    """Peaks of checkerboard novelty (Foote 2000) over bars, kernel of eight bars."""
    loud = by_bar(slow_loudness(features), SLOW, lines)
    unit = loud - loud.mean(axis=0)
    unit = unit / np.maximum(np.linalg.norm(unit, axis=1, keepdims=True), 1e-9)
    alike = np.pad(unit @ unit.T, 4)
    sign = np.kron(np.array([[1, -1], [-1, 1]]), np.ones((4, 4)))
    novelty = np.array([(alike[k : k + 8, k : k + 8] * sign).sum() for k in range(len(loud))])
    return [float(lines[k]) for k in _highest(novelty, 4, count)]


def _louder_before(features: Features, count: int) -> list[float]:
    """Where loudness grew most over five seconds and fell most in the next."""
    level = 20 * np.log10(np.maximum(features.rms, 1e-5))
    grown = np.zeros(len(level))
    for k in range(60, len(level) - 10):
        before, early = level[k - 8 : k - 2].mean(), level[k - 58 : k - 48].mean()
        after = level[k + 2 : k + 10].mean()
        grown[k] = min(before - early, before - after)
    return [k / SLOW for k in _highest(grown, 30, count)]


def _by_chroma(features: Features, marked: Span, count: int) -> list[float]:
    """Where chroma over the length of the mark is most like the mark's."""
    chroma = features.chroma
    first, past = round(marked.start * SLOW), round(marked.end * SLOW)
    motif = chroma[first:past]
    length = len(motif)
    alike = np.zeros(len(chroma))
    for k in range(len(chroma) - length):
        alike[k] = float((chroma[k : k + length] * motif).sum())
    alike[max(0, first - length // 2) : first + length // 2] = 0
    return [k / SLOW for k in _highest(alike, length // 2, count)]


def _highest(values: NDArray[np.float64], apart: int, count: int) -> list[int]:
    chosen: list[int] = []
    for k in np.argsort(-values, kind="stable").tolist():
        if len(chosen) < count and all(abs(k - other) >= apart for other in chosen):
            chosen.append(k)
    return sorted(chosen)


def form_lines(seeds: Sequence[int], bases: Sequence[str], network: BeatNetwork) -> Iterable[str]:
    """Hear the form of the tracks of `seeds` on "true" or "heard" beats, or on each in turn.

    Yields the lines to print, those of the first of `bases` first.
    """
    rows = {basis: FormRows() for basis in bases}
    spent = dict.fromkeys(bases, 0.0)
    for seed in seeds:
        track = make_track(seed, seconds_of_each())
        stream = FeatureStream()
        for start in range(0, len(track.sound), BLOCK):
            stream.feed(track.sound[start : start + BLOCK])
        features = stream.features()
        for basis in bases:
            source = track.truth if basis == "true" else hear_beats(features, network)
            began = time.process_time()
            rows[basis].add(
                track.truth,
                features,
                Counted(
                    beats=source.beats,
                    downbeats=source.downbeats,
                    beats_per_bar=source.beats_per_bar,
                    beatless=source.beatless,
                ),
            )
            spent[basis] += time.process_time() - began
    for basis in bases:
        yield f"beats {basis}; {spent[basis]:.0f} s of processor, references too"
        yield from rows[basis].lines()


def main() -> None:
    parser = argparse.ArgumentParser(description="How well form is heard on made-up tracks.")
    parser.add_argument("--part", choices=("tuning", "test"), default="test")
    parser.add_argument("--seeds", type=int, nargs="*", help="these instead of a part's")
    parser.add_argument("--beats", choices=("true", "heard"), default="true")
    asked = parser.parse_args()
    which = "the given" if asked.seeds else asked.part
    print(f"S, {which} seeds")
    for line in form_lines(asked.seeds or seeds_of(asked.part), [asked.beats], builtin_network()):
        print(line, flush=True)


if __name__ == "__main__":
    main()
