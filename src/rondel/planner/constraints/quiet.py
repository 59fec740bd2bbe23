"""The opening lies where the track has no beat, as far as it has such a span at its start."""

from rondel.model.track import Laid
from rondel.planner.frame import Frame
from rondel.rules.opening import SECONDS


def is_met(frame: Frame, laid: Laid) -> bool:
    """True where the beat does not set in, by more than a bar, before it has to."""
    begins = laid.bar_starts[laid.course.quiet_bars]
    wanted = min(float(SECONDS * frame.scale), laid.course.quiet_seconds)
    return begins >= wanted - float(frame.bar_seconds)
