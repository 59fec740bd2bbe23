"""Can three hours be heard in little memory, and how long does each minute of them take?

    python benchmarks/long_track.py [--hours 3] [--rate 48000] [--reference]

Writes a made-up track into a scratch folder (a tick every beat of a tempo that is known, over a
hum, quiet for its first tenth), then runs `rondel listen` on it in a process of its own. Prints
processor seconds a minute of sound, the most memory, and how far the tempo is off. With
`--reference` librosa loads and tracks the same file in a process of its own, for comparison.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

BPM = 66.0
CHUNK_SECONDS = 20
GOAL_SECONDS, GOAL_MEGABYTES = 2.0, 1000.0

LIBROSA = """
import sys, librosa
sound, rate = librosa.load(sys.argv[1])
tempo, beats = librosa.beat.beat_track(y=sound, sr=rate, start_bpm=75, units="time")
print(float(60 / ((beats[-1] - beats[0]) / (len(beats) - 1))))
"""


def write_track(path: Path, seconds: float, rate: int) -> None:
    """Write the made-up track, a chunk at a time."""
    rng = np.random.default_rng(7)
    every = 60 / BPM
    t = np.arange(int(0.25 * rate)) / rate
    tick = 0.5 * np.sin(2 * np.pi * 330 * t) * np.exp(-t / 0.05)
    with soundfile.SoundFile(path, "w", rate, 2) as file:
        size = CHUNK_SECONDS * rate
        for start in range(0, int(seconds * rate), size):
            sound = 0.003 * rng.standard_normal(size)
            sound += 0.05 * np.sin(2 * np.pi * 110 * (start + np.arange(size)) / rate)
            first = int(np.ceil(max(start / rate, seconds / 10) / every))
            for beat in np.arange(first, (start + size) / rate / every):
                at = round(beat * every * rate) - start
                end = min(at + len(tick), size)
                sound[at:end] += tick[: end - at]
            file.write(np.repeat(sound[:, None], 2, axis=1).astype(np.float32))


def run(command: list[str]) -> tuple[str, float, float, float]:
    """Return what `command` prints, its processor and wall seconds, and its most megabytes."""
    before, wall = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    watched = [sys.executable, "-c", WATCH, *command]
    done = subprocess.run(watched, capture_output=True, text=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr}")
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    megabytes = float(done.stderr.rsplit("MOST", 1)[1]) / 1000
    return done.stdout, cpu, time.perf_counter() - wall, megabytes


#: Runs a command and tells, last of all, the most memory that it had.
WATCH = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:]).returncode
print("MOST", resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss, file=sys.stderr)
raise SystemExit(code)
"""


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--hours", type=float, default=3.0)
    words.add_argument("--rate", type=int, default=48_000)
    words.add_argument("--reference", action="store_true")
    asked = words.parse_args()
    minutes = asked.hours * 60
    with tempfile.TemporaryDirectory() as folder:
        track = Path(folder) / "long.flac"
        write_track(track, minutes * 60 - CHUNK_SECONDS, asked.rate)
        rondel = [sys.executable, "-m", "rondel.cli.main", "listen", str(track), "--json"]
        rows = [("rondel", rondel)]
        if asked.reference:
            rows.append(("librosa", [sys.executable, "-c", LIBROSA, str(track)]))
        for name, command in rows:
            out, cpu, wall, megabytes = run(command)
            bpm = json.loads(out)["bpm"] if name == "rondel" else float(out)
            print(
                f"{name:8} {minutes:5.0f} min: {cpu / minutes:5.2f} processor s a minute "
                f"({wall:6.1f} s in all), {megabytes:6.0f} MB, tempo off by "
                f"{abs(bpm / BPM - 1) * 100:.3f} %",
                flush=True,
            )
            if name == "rondel":
                met = cpu / minutes <= GOAL_SECONDS and megabytes <= GOAL_MEGABYTES
                print(f"goal: {GOAL_SECONDS} s a minute, {GOAL_MEGABYTES:.0f} MB: {met}")


if __name__ == "__main__":
    main()
