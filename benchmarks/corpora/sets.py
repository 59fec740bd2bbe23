"""The sets of tracks with known beats that hearing is measured on, kept in a cache folder.

M: public scores of music21's corpus. O: tunes of Debian's openttd-openmsx, re-timed. S: made-up
ambient tracks. R: the same with tempi that wander by chance and not in waves. N: sounds in which
nothing beats. Which work is tuned on and which is only tested stands in `split.json` and, for S, R
and N, in `benchmarks/tracks/split.json`.
"""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

from corpora.game_tunes import game_tune
from corpora.rendering import FONTS, RATE, Sound, in_a_room, rendered, through_codec
from corpora.tunes import DRUMS, Performance, Rows, Tune, again, perform

HERE = Path(__file__).resolve().parent
HEARD_RATE = 22050

#: Programs of General MIDI with a clear attack, for works that name none: piano, electric piano,
#: nylon guitar, harp, vibraphone, strings, organ, flute, clarinet.
PROGRAMS = (0, 0, 4, 24, 46, 11, 48, 19, 73, 71)
SECONDS = {"M": 90.0, "O": 90.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A track with its truth in seconds; `sound` (frames, channels) at 22.05 kHz."""

    name: str
    part: str
    sound: Sound
    beats: Rows
    downbeats: Rows
    beats_per_bar: int
    bpm: float
    is_constant: bool
    beatless: Rows
    unsure: Rows
    is_sharp: bool


def known_tracks(which: str, part: str, cache: Path, variant: str = "usual") -> Iterator[Known]:
    """Yield the tracks of set `which` ("M", "O", "S", "R", "N"); `variant`: usual, other, room."""
    if which == "N":
        yield from _unbeaten(part)
        return
    if which in ("S", "R"):
        yield from _ambient(which, part, cache)
        return
    for name in json.loads((HERE / "split.json").read_text(encoding="utf-8"))[which][part]:
        performance, is_sharp = _performance(which, name, cache)
        sound = _sound(performance, which, variant, cache)
        yield Known(
            name=name,
            part=part,
            sound=sound,
            beats=performance.beats,
            downbeats=performance.downbeats,
            beats_per_bar=performance.beats_per_bar,
            bpm=performance.bpm,
            is_constant=performance.is_constant,
            beatless=np.zeros((0, 2)),
            unsure=np.zeros((0, 2)),
            is_sharp=is_sharp,
        )


def _performance(which: str, name: str, cache: Path) -> tuple[Performance, bool]:
    digest = int(hashlib.sha256(f"{which}:{name}".encode()).hexdigest()[:12], 16)
    rng = np.random.default_rng(digest)
    tune = _score(name, cache) if which == "M" else _game_tune(name, cache)
    low, high = (55.0, 108.0) if which == "M" else (60.0, 100.0)
    bpm = round(float(rng.uniform(low, high)), 2)
    drift = 0.04 if which == "M" and rng.random() < 0.4 else 0.0
    programs = [0] * 16
    if tune.programs:
        for part, program in enumerate(tune.programs):
            programs[part % 15 + (part % 15 >= DRUMS)] = program
        is_sharp = any(tune.drums) or programs[0] < 48
    else:
        program = int(rng.choice(PROGRAMS))
        programs = [program] * 16
        is_sharp = program < 16 or program in (24, 46)
    played = perform(
        again(tune, SECONDS[which] * bpm / 60),
        bpm=bpm,
        drift=drift,
        rng=rng,
        programs=tuple(programs),
        seconds=SECONDS[which],
        lead=float(rng.uniform(0.5, 2.0)),
    )
    return replace(played, name=name), is_sharp


def _score(name: str, cache: Path) -> Tune:
    kept = cache / "scores" / (name.replace("/", "_") + ".npz")
    if not kept.exists():
        import music21
        from music21 import converter

        from corpora.scores import tune_of

        base = Path(music21.__file__).parent / "corpus"
        tune = tune_of(converter.parse(base / name), name)
        kept.parent.mkdir(parents=True, exist_ok=True)
        np.savez(kept, notes=tune.notes, bar=[tune.beats_per_bar, tune.first_bar], m=tune.metre)
    with np.load(kept) as held:
        per_bar, first = (int(value) for value in held["bar"])
        return Tune(
            name=name,
            notes=held["notes"],
            beats_per_bar=per_bar,
            first_bar=first,
            metre=str(held["m"]),
        )


def _game_tune(name: str, cache: Path) -> Tune:
    folder = cache / "openmsx"
    if not folder.exists():
        import subprocess

        folder.mkdir(parents=True)
        subprocess.run(["apt-get", "download", "-q", "openttd-openmsx"], cwd=folder, check=True)
        package = next(folder.glob("*.deb"))
        subprocess.run(["dpkg", "-x", str(package), str(folder)], check=True)
    return game_tune(next(folder.rglob(f"{name}.mid")))


def _sound(performance: Performance, which: str, variant: str, cache: Path) -> Sound:
    name = performance.name.replace("/", "_")
    path = cache / "sound" / f"{which}-{variant}-{name}.flac"
    if not path.exists():
        sound = rendered(performance, FONTS["other" if variant == "other" else "usual"])
        if variant == "room":
            sound = through_codec(in_a_room(sound, len(name)))
        path.parent.mkdir(parents=True, exist_ok=True)
        small = soxr.resample(sound, RATE, HEARD_RATE)
        soundfile.write(path, np.clip(small, -1, 1), HEARD_RATE)
    return np.asarray(soundfile.read(path, dtype="float32", always_2d=True)[0])


def _ambient(which: str, part: str, cache: Path) -> Iterator[Known]:
    sys.path.insert(0, str(HERE.parents[1] / "tests"))
    from ambient_tracks import AmbientTrack, make_track, truth_of

    split: dict[str, Any] = json.loads((HERE.parent / "tracks" / "split.json").read_text())
    wander = "waves" if which == "S" else "chance"
    for seed in split[part] if which == "S" else split[f"{part} by chance"]:
        path = cache / "sound" / f"{which}-{seed}.flac"
        if path.exists():
            from ambient_forms import make_form

            truth = truth_of(make_form(seed, float(split["seconds"]), wander))
            sound = soundfile.read(path, dtype="float32", always_2d=True)[0]
        else:
            track: AmbientTrack = make_track(seed, float(split["seconds"]), HEARD_RATE, wander)
            truth, sound = track.truth, track.sound
            path.parent.mkdir(parents=True, exist_ok=True)
            soundfile.write(path, np.clip(sound, -1, 1), HEARD_RATE)
        yield Known(
            name=f"ambient {which} {seed}",
            part=part,
            sound=np.asarray(sound),
            beats=np.array(truth.beats),
            downbeats=np.array(truth.downbeats),
            beats_per_bar=truth.beats_per_bar,
            bpm=truth.bpm,
            is_constant=truth.is_constant,
            beatless=np.array([(s.start, s.end) for s in truth.beatless]).reshape(-1, 2),
            unsure=np.array([(s.start, s.end) for s in truth.unsure]).reshape(-1, 2),
            is_sharp=True,
        )


def _unbeaten(part: str) -> Iterator[Known]:
    sys.path.insert(0, str(HERE.parents[1] / "tests"))
    from unbeaten_tracks import KINDS, make_unbeaten

    split: dict[str, Any] = json.loads((HERE.parent / "tracks" / "split.json").read_text())
    lasts = float(split["unbeaten seconds"])
    for kind in KINDS:
        for seed in split[f"{part} unbeaten"]:
            yield Known(
                name=f"{kind} {seed}",
                part=part,
                sound=make_unbeaten(kind, seed, lasts, HEARD_RATE),
                beats=np.zeros(0),
                downbeats=np.zeros(0),
                beats_per_bar=4,
                bpm=60.0,
                is_constant=False,
                beatless=np.array([(0.0, lasts)]),
                unsure=np.zeros((0, 2)),
                is_sharp=False,
            )
