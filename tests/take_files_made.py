"""Takes written to files of many kinds, for tests: what a camera, a phone or a bad copy leaves."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.video.stream import VideoStream

from take_scenes import Grey

TICKS = 90_000  # a second
QUICK = {"crf": "23", "preset": "superfast"}  # a fifth of the time of the usual preset


def write_take(
    path: Path,
    pictures: Iterable[tuple[float, Grey]],
    *,
    codec: str = "libx264",
    fps: int = 25,
    options: dict[str, str] | None = None,
) -> Path:
    """Write (second, grey picture) as film; seconds need not be even."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream(codec, rate=fps, options=options or QUICK)
        assert isinstance(stream, VideoStream)
        stream.pix_fmt = "yuv420p"
        stream.time_base = Fraction(1, TICKS)
        stream.codec_context.time_base = Fraction(1, TICKS)
        for second, picture in pictures:
            height, width = picture.shape
            if not stream.codec_context.is_open:
                stream.width, stream.height = width, height
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="gray")
            frame = frame.reformat(format="yuv420p")
            frame.pts = round(second * TICKS)
            frame.time_base = Fraction(1, TICKS)
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path
