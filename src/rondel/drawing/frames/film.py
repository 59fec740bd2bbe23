"""Takes in the place of drawn frames: which frames are film, what of it, and the titles over it.

Film begins where a passage does and ends with it. The cards of the opening and the last words
stay drawn: they are to be read. Where one shot follows another they dissolve, half before the
landing at which they meet and half after it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.reel import FilmedTake, Footage, Moment, Piece, Placed, Reel, Shown
from rondel.drawing.frames.script import Script
from rondel.drawing.frames.shapes import SIZES, Shape
from rondel.drawing.frames.titles import Title, next_title, now_title
from rondel.model.shots import FittedPassage, Shot

#: A dissolve: long enough to be gentle, short enough that hands are not seen twice.
DISSOLVE_SECONDS = 0.4
#: Film that lasts less than this is not worth a change of picture.
LEAST_SECONDS = 4.0
#: A drawn rest of a passage is at least as long as a chunk must be.
_LEAST_DRAWN = FRAMES_PER_SECOND
#: How long the name of a passage stands as it begins, and what comes next before it ends.
NAME_SECONDS, NEXT_SECONDS = 8.0, 10.0
TITLE_FADE_FRAMES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmSpan:
    """Frames from `first` up to `past` in which the passage of the line at `passage` is film."""

    first: int
    past: int
    passage: int
    shots: tuple[Shot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A take by what it holds and where it lies; seconds long; `cuts` of its camera."""

    path: str
    digest: str
    seconds: float
    cuts: tuple[float, ...] = ()


class Film:
    """All film of one routine: spans of frames, in order."""

    def __init__(
        self,
        script: Script,
        fitted: Sequence[FittedPassage],
        sources: Mapping[str, Source],
        *,
        shape: Shape = Shape.WIDE,
        fills: bool = False,
    ) -> None:
        self._script = script
        self._sources = sources
        self.shape, self._fills = shape, fills
        shots = {one.passage: one.shots for one in fitted}
        self.spans = tuple(_spans(script, shots))
        self._rows = _rows(self.spans)

    @property
    def edges(self) -> tuple[int, ...]:
        """Return the frames at which film begins or ends, in order."""
        return tuple(sorted({f for span in self.spans for f in (span.first, span.past)}))

    @property
    def frames(self) -> int:
        """How many frames are film."""
        return sum(span.past - span.first for span in self.spans)

    def covers(self, frame: int) -> bool:
        return any(span.first <= frame < span.past for span in self.spans)

    def reel(self, first: int, past: int) -> Reel:
        """Return the frames from `first` up to `past`, all of which are film."""
        width, height = SIZES[self.shape]
        takes: dict[FilmedTake, int] = {}
        pieces: dict[Piece, int] = {}
        shown, moments = [], []
        for frame in range(first, past):
            at = bisect_right([span.first for span in self.spans], frame) - 1
            shown.append(self._shown(at, frame, takes))
            placed = tuple(self._titles(self.spans[at], frame, pieces))
            moments.append(Moment(0, 0, 0.0, placed))
        footage = Footage(takes=tuple(takes), shown=tuple(shown), fills=self._fills)
        return Reel(
            first_frame=first,
            width=width,
            height=height,
            frames_per_second=FRAMES_PER_SECOND,
            stills=(),
            pieces=tuple(pieces),
            moments=tuple(moments),
            footage=footage,
            is_of_film=True,
            shape=self.shape,
        )

    def _shown(self, at: int, frame: int, takes: dict[FilmedTake, int]) -> Shown:
        row, second = self._rows[at], frame / FRAMES_PER_SECOND
        now = row.at(second)
        take, shows, speed = self._picture(row.shots[now], second, takes)
        joint, other = row.joint_near(second)
        if other is None or joint is None:
            return Shown(take, shows, speed)
        more, more_shows, more_speed = self._picture(row.shots[other], second, takes)
        share = (second - joint) / DISSOLVE_SECONDS
        mix = _eased(0.5 - abs(share))
        return Shown(take, shows, speed, more, more_shows, more_speed, round(mix, 3))

    def _picture(
        self, shot: Shot, second: float, takes: dict[FilmedTake, int]
    ) -> tuple[int, float, float]:
        source = self._sources[shot.take]
        filmed = FilmedTake(
            path=source.path,
            digest=source.digest,
            cuts=source.cuts,
            is_mirrored=shot.is_mirrored,
        )
        number = takes.setdefault(filmed, len(takes))
        shows, speed = shot.map.beyond(second)
        low, high = _room(shot, source)
        return number, min(max(shows, low), high), speed

    def _titles(self, span: FilmSpan, frame: int, pieces: dict[Piece, int]) -> Iterator[Placed]:
        script = self._script
        began = script.first_frame(span.passage)
        name = now_title(script.routine, span.passage, script.craft, self.shape)
        # The name stands where film takes over, too, though the passage began before.
        since = frame - max(began, span.first)
        left = script.past_frame(span.passage) - frame
        frames = round(NAME_SECONDS * FRAMES_PER_SECOND)
        yield from _placed(name, _shows(since, frames - since), pieces)
        then = next_title(
            script.routine,
            span.passage,
            script.craft,
            self.shape,
            script.seconds_left(span.passage, frame),
        )
        before = round(NEXT_SECONDS * FRAMES_PER_SECOND)
        if span.past - span.first >= frames + before:
            yield from _placed(then, _shows(before - left, left), pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    """Shots one after the other, and the seconds at which each begins."""

    shots: tuple[Shot, ...]
    starts: tuple[float, ...]

    @classmethod
    def of(cls, run: Sequence[FilmSpan]) -> _Row:
        """Return the row of spans that follow each other. What a passage has of film before its
        start and past its end, for a dissolve, is not shown in its neighbours' time."""
        pairs = [
            (shot, max(shot.map.at[0], span.first / FRAMES_PER_SECOND))
            for span in run
            for shot in span.shots
        ]
        return cls(
            shots=tuple(shot for shot, _ in pairs), starts=tuple(start for _, start in pairs)
        )

    def at(self, second: float) -> int:
        return max(0, bisect_right(self.starts, second) - 1)

    def joint_near(self, second: float) -> tuple[float | None, int | None]:
        """Return the joint that is dissolved at `second`, and the other shot there."""
        now = self.at(second)
        half = DISSOLVE_SECONDS / 2
        if now and second - self.starts[now] < half:
            return self.starts[now], now - 1
        if now + 1 < len(self.shots) and self.starts[now + 1] - second < half:
            return self.starts[now + 1], now + 1
        return None, None


def _spans(script: Script, shots: Mapping[str, tuple[Shot, ...]]) -> Iterator[FilmSpan]:
    """Yield the spans of film: no card and no last words in them, and none that is over at once."""
    for index, passage in enumerate(script.line):
        own = shots.get(passage.id, ())
        if not own:
            continue
        begins, ends = script.first_frame(index), script.past_frame(index)
        first = max(begins, script.first_free_frame)
        past = min(ends, script.closing_frame)
        if 0 < first - begins < _LEAST_DRAWN:
            first = begins + _LEAST_DRAWN
        if 0 < ends - past < _LEAST_DRAWN:
            past = ends - _LEAST_DRAWN
        if past - first >= LEAST_SECONDS * FRAMES_PER_SECOND:
            yield FilmSpan(first=first, past=past, passage=index, shots=own)


def _rows(spans: Sequence[FilmSpan]) -> list[_Row]:
    """Return for every span the row of shots that it is part of: as long as film goes on."""
    rows: list[_Row] = []
    first = 0
    for n, span in enumerate(spans):
        if n + 1 == len(spans) or spans[n + 1].first != span.past:
            run = spans[first : n + 1]
            rows += [_Row.of(run)] * len(run)
            first = n + 1
    return rows


def chunk_starts(drawn: Sequence[int], film: Film, least: int) -> list[int]:
    """Return where chunks may begin: at every edge of film, and at the starts of drawn stills that
    lie outside film and at least `least` frames from its edges."""
    edges = film.edges
    free = [
        start
        for start in drawn
        if not film.covers(start) and all(abs(start - edge) >= least for edge in edges)
    ]
    return sorted({0, *free, *edges})


def _room(shot: Shot, source: Source) -> tuple[float, float]:
    """Return from when to when pictures of the take may stand in for `shot`."""
    start, end = shot.map.shows[0], shot.map.shows[-1]
    low = max((cut for cut in (0.0, *source.cuts) if cut <= start + 1e-9), default=0.0)
    later = [cut - 0.05 for cut in source.cuts if cut > start + 0.05]
    return low, min([max(end, source.seconds), *later])


def _placed(title: Title | None, opacity: float, pieces: dict[Piece, int]) -> Iterator[Placed]:
    if title is not None and opacity > 0:
        number = pieces.setdefault(title.piece, len(pieces))
        yield Placed(number, title.x, title.y, opacity=round(opacity, 3))


def _shows(since: int, left: int) -> float:
    """Return how much of a title is to be seen `since` frames after it comes, `left` before."""
    if since < 0 or left <= 0:
        return 0.0
    return _eased(min(1.0, (since + 1) / TITLE_FADE_FRAMES, left / TITLE_FADE_FRAMES))


def _eased(part: float) -> float:
    return part * part * (3 - 2 * part)
