"""How long does sound take, next to merely encoding the same minutes?

    python benchmarks/sound.py [--minutes 15] [--seed 1]

Plans a routine, speaks its cues and makes its sound in a scratch folder. The reference, in the
same run: libav reads the finished session and encodes it to AAC again, nothing else. Prints
seconds and the ratio to the reference for every stage, wall clock and processor, and the memory.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.voice import BundledVoice
from rondel.app.make_plan import make_plan
from rondel.app.make_sound import make_sound
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.model.brief import Brief
from rondel.model.words import Intention

T = TypeVar("T")


def _timed(work: Callable[[], T]) -> tuple[T, float, float]:
    wall, processor = time.perf_counter(), time.process_time()
    result = work()
    return result, time.perf_counter() - wall, time.process_time() - processor


def _encode_only(source: Path, out: Path) -> None:
    files = SoundFiles()
    with files.open_sink(out) as sink:
        for block in files.blocks_of(source):
            sink.write(block)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--minutes", type=Fraction, default=Fraction(15))
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    craft = builtin_craft()
    brief = Brief(
        title="Measured",
        minutes=asked.minutes,
        intention=Intention.SETTLE,
        level=2,
        seed=asked.seed,
    )
    routine = make_plan(brief, craft).routine
    if routine is None:
        raise SystemExit("no routine of this length could be planned")
    speech, said, said_cpu = _timed(lambda: speak_cues(routine, None, BundledVoice(), Silent()))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder)
        report, wall, cpu = _timed(
            lambda: make_sound(routine, craft, speech, out, SoundFiles(), Silent())
        )
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
        _, alone, alone_cpu = _timed(lambda: _encode_only(out / "session.flac", out / "again.m4a"))
    print(f"session                {report.seconds:8.1f} s, {len(report.layers)} layers")
    print(f"reference: encode only {alone:8.1f} s wall {alone_cpu:8.1f} s processor")
    print(f"speaking the cues      {said:8.1f} s wall {said_cpu:8.1f} s processor")
    for stage, seconds in report.stage_seconds.items():
        print(f"{stage:22} {seconds:8.1f} s wall, {seconds / alone:5.2f} of the reference")
    print(
        f"all sound              {wall:8.1f} s wall {cpu:8.1f} s processor, "
        f"{wall / alone:5.2f} and {cpu / alone_cpu:5.2f} of the reference"
    )
    print(f"most memory            {most:8.0f} MB")
    least = min((c.above_music_lu for c in report.cues), default=float("nan"))
    print(
        f"loudness {report.loudness.integrated:.2f} LUFS, true peak "
        f"{report.loudness.true_peak_db:.2f} dBTP, encoded {report.encoded.integrated:.2f} LUFS "
        f"{report.encoded.true_peak_db:.2f} dBTP, voice at least {least:.1f} LU above the music"
    )


if __name__ == "__main__":
    main()
