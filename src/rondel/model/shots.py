"""Film that shows a passage: which part of which take, and how fast it is played."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

#: Film at about its own speed shows the pictures that there are.
SLOWED_BELOW = 0.97
#: So near (as a share of the step from one picture to the next) a picture stands for the moment.
NEAR_ENOUGH = 0.12


def is_made_up(share: float, speed: float) -> bool:
    """True where a moment at `share` of the way between two pictures gets one of its own."""
    return speed < SLOWED_BELOW and min(share, 1 - share) > NEAR_ENOUGH


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeMap:
    """Which second of the take is shown at each second of the session: a line from knot to knot.

    `at` and `shows` rise together, in seconds. Raises ValueError where they do not.
    """

    at: tuple[float, ...]
    shows: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.at) < 2 or len(self.at) != len(self.shows):
            raise ValueError("a time map goes from one moment to another")
        for row in (self.at, self.shows):
            if any(b <= a for a, b in pairwise(row)):
                raise ValueError("a time map must rise")

    def shown(self, second: float) -> float:
        """Return what is shown at a second of the session; outside the map, its nearer end."""
        return _between(self.at, self.shows, second)

    def when(self, second: float) -> float:
        """Return when the take's `second` is shown; the nearer end where it is not."""
        return _between(self.shows, self.at, second)

    def when_beyond(self, second: float) -> float:
        """Return when the take's `second` is shown, or would be if film went on as at its ends."""
        n = _knot(self.shows, second)
        share = (second - self.shows[n]) / (self.shows[n + 1] - self.shows[n])
        return self.at[n] + share * (self.at[n + 1] - self.at[n])

    def beyond(self, second: float) -> tuple[float, float]:
        """Return what is shown at a second, and how fast; before and after the map as at its ends.

        Speed is that from one knot to the next.
        """
        n = _knot(self.at, second)
        speed = (self.shows[n + 1] - self.shows[n]) / (self.at[n + 1] - self.at[n])
        return self.shows[n] + (second - self.at[n]) * speed, speed

    @property
    def speeds(self) -> tuple[float, ...]:
        """The speed from each knot to the next: 1 as it was filmed."""
        steps = zip(pairwise(self.shows), pairwise(self.at), strict=True)
        return tuple((d - c) / (b - a) for (c, d), (a, b) in steps)


def _knot(row: tuple[float, ...], value: float) -> int:
    """Return the knot before `value`, of those that have one after them."""
    return min(max(bisect_right(row, value) - 1, 0), len(row) - 2)


def _between(row: tuple[float, ...], other: tuple[float, ...], value: float) -> float:
    n = _knot(row, value)
    share = min(1.0, max(0.0, (value - row[n]) / (row[n + 1] - row[n])))
    return other[n] + share * (other[n + 1] - other[n])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A part of a take that is shown without a cut.

    `beats`: where strokes should land, in seconds of the session; `landings`: those strokes, in
    seconds of the take. `is_mirrored`: shown as in a mirror, for the other side.
    """

    take: str
    map: TimeMap
    beats: tuple[float, ...]
    landings: tuple[float, ...]
    is_mirrored: bool = False

    @property
    def off(self) -> tuple[float, ...]:
        """How much later than its beat each stroke is shown to land, in seconds."""
        return tuple(
            self.map.when_beyond(landing) - beat
            for landing, beat in zip(self.landings, self.beats, strict=True)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPassage:
    """A passage with its shots; none where no take fits, and `why_not` then says why.

    `beats`: the session seconds of its landings. `notes`: what is to be known of its shots.
    """

    passage: str
    technique: str | None
    beats: tuple[float, ...]
    shots: tuple[Shot, ...] = ()
    why_not: str = ""
    notes: tuple[str, ...] = ()

    @property
    def off(self) -> tuple[float, ...]:
        """How much later each landing of the passage is shown than it sounds, in seconds."""
        wanted = set(self.beats)
        pairs = [pair for shot in self.shots for pair in zip(shot.beats, shot.off, strict=True)]
        return tuple(off for beat, off in pairs if beat in wanted)

    @property
    def speeds(self) -> tuple[float, float] | None:
        """The slowest and the fastest that film is played; None without film."""
        speeds = [speed for shot in self.shots for speed in shot.map.speeds]
        return (min(speeds), max(speeds)) if speeds else None
