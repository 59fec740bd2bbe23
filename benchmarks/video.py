"""How long the video of the demo takes, against merely encoding its frames, and how true it is.

    python benchmarks/video.py [--brief BRIEF] [--share 1.0] [--keep FOLDER]

Plans the demo, makes its whole video with a click track on every landing, reads the finished file
back, and prints: the worst distance of a landing mark from its beat and from its click, the time
of the stage, the time that libav takes to encode the same frames with the same settings on all
processors (frames are painted beforehand, chunk by chunk, and painting is not counted), their
ratio, and the most memory that the process and its children held. On a machine that others use as
well, the ratio by processor time is the one to trust.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from rondel.adapters.craft_files import DATA, builtin_craft, read_toml
from rondel.adapters.frame_paint import Art, FramePainter
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import X264, LibavVideoMaker, encode_planes
from rondel.app.make_plan import make_plan
from rondel.app.make_video import chunk_bounds, make_video
from rondel.app.progress import Silent
from rondel.drawing.frames.cutting import cut_reel
from rondel.drawing.frames.script import Script
from rondel.model.codec.brief import brief_from_dict
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from video_samples import (
    click_track,
    heard_clicks,
    landing_seconds,
    look_at_mark,
    marked_landings,
)


def planned(brief_path: Path, craft: Craft) -> Routine:
    """Return the routine for a brief; SystemExit where there is none."""
    outcome = make_plan(brief_from_dict(read_toml(brief_path), at=str(brief_path)), craft)
    if outcome.routine is None:
        raise SystemExit("\n".join(outcome.reasons))
    return outcome.routine


class Painted:
    """Copies of the frames of every 1/share-th chunk, painted a batch ahead.

    `processor_seconds` is what the painting took, so that it can be taken off.
    """

    def __init__(self, script: Script, share: float) -> None:
        self._script, self._step = script, max(round(1 / share), 1)
        self.processor_seconds = 0.0
        self.count = 0

    def frames(self) -> Iterator[NDArray[np.uint8]]:
        art = Art(ResvgRasteriser())
        script = self._script
        bounds = chunk_bounds([s.first_frame for s in script.shots], script.frames)
        for first, past in bounds[:: self._step]:
            began = time.process_time()
            painter = FramePainter(cut_reel(script, first, past), art)
            batch = [planes.copy() for planes in painter.frames()]
            self.processor_seconds += time.process_time() - began
            self.count += len(batch)
            yield from batch


def used() -> float:
    """Return the seconds of processor that this process and its finished children have used."""
    both = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(r.ru_utime + r.ru_stime for r in both)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--brief", type=Path, default=DATA / "demo" / "brief.toml")
    parser.add_argument("--share", type=float, default=1.0)
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        measure(asked.brief, asked.share, asked.keep or Path(temporary))


def measure(brief: Path, share: float, folder: Path) -> None:
    craft = builtin_craft()
    routine = planned(brief, craft)
    folder.mkdir(parents=True, exist_ok=True)
    sound, out = folder / "clicks.m4a", folder / "session.mp4"
    landings = landing_seconds(routine)
    click_track(sound, landings, routine.clock.total_seconds)
    before = used()
    report = make_video(
        routine,
        craft,
        (),
        sound,
        out,
        folder / "work",
        ResvgRasteriser(),
        LibavVideoMaker(),
        Silent(),
    )
    stage_processor = used() - before
    print(dict(report.items()))
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"most memory: this process {own:.0f} MB, the largest child {children:.0f} MB")

    marks, clicks = marked_landings(look_at_mark(out)), heard_clicks(out)
    print(f"landings {len(landings)}, marks seen {len(marks)}, clicks heard {len(clicks)}")
    for name, one, other in (("mark - beat", marks, landings), ("mark - click", marks, clicks)):
        if len(one) == len(other):
            far = np.abs(np.array(one) - np.array(other))
            print(
                f"worst |{name}| {far.max() * 1000:.1f} ms, median {np.median(far) * 1000:.1f} ms"
            )

    before, painted = used(), Painted(Script(routine, craft), share)
    plain = folder / "plain.mp4"
    encoding = encode_planes(painted.frames(), 25, plain, threads=0, settings=X264)
    processor = used() - before - painted.processor_seconds
    whole = report["frames"] / painted.count
    print(
        f"merely encoding {painted.count} frames on {os.cpu_count()} processors, for all of them:"
    )
    print(f"  {encoding * whole:.1f} s, {processor * whole:.1f} s of processor")
    print(f"stage: {report['seconds']:.1f} s, {stage_processor:.1f} s of processor")
    print(f"stage / merely encoding: {report['seconds'] / (encoding * whole):.2f} by the clock")
    print(f"                         {stage_processor / (processor * whole):.2f} by processor time")


if __name__ == "__main__":
    main()
