"""Write the made-up ambient tracks (S) as WAV with their truth beside them.

    python benchmarks/tracks/make.py OUT [--part tuning|test] [--seeds 7 8] [--rate 44100]

The truth is JSON as `rondel listen` writes it (docs: what is heard in a track), with the seconds
of every beat, downbeat, part, rise and return of the motif, taken from the form and not the sound.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "tests"))

import soundfile  # noqa: E402

from ambient_tracks import AmbientTrack, make_track  # noqa: E402
from rondel.model.codec.track import heard_to_dict  # noqa: E402


def seeds_of(part: str) -> tuple[int, ...]:
    """Return the seeds of `tuning` or `test`."""
    return tuple(int(seed) for seed in _split()[part])


def seconds_of_each() -> float:
    return float(_split()["seconds"])


def write_track(track: AmbientTrack, out: Path) -> None:
    """Write `<seed>.wav` and `<seed>.json` into `out`."""
    out.mkdir(parents=True, exist_ok=True)
    soundfile.write(out / f"{track.seed}.wav", track.sound, track.rate, subtype="PCM_16")
    truth = json.dumps(heard_to_dict(track.truth), indent=1)
    (out / f"{track.seed}.json").write_text(truth + "\n", encoding="utf-8")


def _split() -> dict[str, Any]:
    split: dict[str, Any] = json.loads((HERE / "split.json").read_text(encoding="utf-8"))
    return split


def main() -> None:
    parser = argparse.ArgumentParser(description="Write made-up ambient tracks with their truth.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--part", choices=("tuning", "test"), default="tuning")
    parser.add_argument("--seeds", type=int, nargs="*")
    parser.add_argument("--rate", type=int, default=44100)
    asked = parser.parse_args()
    for seed in asked.seeds or seeds_of(asked.part):
        write_track(make_track(seed, seconds_of_each(), asked.rate), asked.out)
        print(asked.out / f"{seed}.wav")


if __name__ == "__main__":
    main()
