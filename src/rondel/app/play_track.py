"""Play a brought track in a session: as its course says, and with a tail where it has one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

from rondel.app.ports.sound import Block
from rondel.app.ports.tracks import Tracks
from rondel.listening.features import RATE as LISTENING_RATE
from rondel.listening.features import FeatureStream
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.time import as_minutes
from rondel.model.track import Course, Piece, Span
from rondel.music.instruments.tone import RATE, Instrument, Stereo
from rondel.music.key_finding import FoundKey, find_key
from rondel.music.lining_up import best_shift
from rondel.music.markers import passage_markers
from rondel.music.playing import InOrder, Stretch, played, stretches
from rondel.music.score import LayerName, Score
from rondel.music.synth import LayerSound, layer_sounds
from rondel.music.tail import tail_span, write_tail
from rondel.music.weighing import SILENCE, Weigher, integrated

#: The stem with the track itself.
TRACK = "track"

#: Its key is taken from the last so many seconds that are played, its loudness from the last few.
KEY_SECONDS, LOUDNESS_SECONDS = 60, 20
#: A tail is a little softer than the track before it, a tick softer still (LU; our choice).
TAIL_BELOW, TICK_BELOW = 3.0, 9.0
#: Where the track ends in silence, what is composed stands as high as composed music does, LUFS.
USUAL_LUFS = -30.0

#: A file whose length differs by more is another track.
SAME_SECONDS = 0.5

#: A track that goes on past the end of a routine written elsewhere fades over so many seconds.
FADE_SECONDS = 8.0
#: Less than this at the end needs no word.
UNSAID_SECONDS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BroughtTrack:
    """A track in a file, called `name` in the routine; `heard_beats` where it was listened to."""

    path: Path
    name: str
    tracks: Tracks
    heard_beats: tuple[float, ...] = ()

    def sound_from(self, frame: int) -> Iterator[Block]:
        """Yield the track at 48 kHz from `frame` on, to its end."""
        to_skip = frame
        for (block,) in self.tracks.blocks(self.path, (RATE,)):
            if to_skip >= len(block):
                to_skip -= len(block)
                continue
            yield block[to_skip:]
            to_skip = 0

    def whole_seconds(self) -> float:
        """Return how long the track is, exactly: it is read to its end."""
        return sum(len(block) for (block,) in self.tracks.blocks(self.path, (RATE,))) / RATE


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedTrack:
    """The layers of a session with a track, what is written beside it, and notes."""

    score: Score
    layers: tuple[InOrder | Levelled, ...]
    notes: tuple[str, ...]


@dataclass(kw_only=True)
class Levelled:
    """A composed layer at a level of its own."""

    layer: LayerSound
    gain: float
    name: str = field(init=False)

    def __post_init__(self) -> None:
        self.name = str(self.layer.name)

    def block(self, start: int, frames: int) -> Stereo:
        """Return frames `start` to `start + frames`."""
        return self.layer.block(start, frames) * np.float32(self.gain)


def played_track(
    routine: Routine,
    craft: Craft,
    instruments: Mapping[LayerName, Instrument],
    track: BroughtTrack,
    *,
    has_beat_marks: bool,
) -> PlayedTrack:
    """Return the layers of a session with `track`. Raises BadInput where it is another one."""
    frames = round(routine.clock.total_seconds * RATE)
    pieces, fade, notes = _pieces(routine, track)
    course = stretches(pieces, lambda at: _beat_seconds(routine, at), frames, fade)
    is_alone = tail_span(routine) is None and not has_beat_marks
    ending = None if is_alone else _Ending.of(course, track)
    score = write_tail(
        routine,
        ending.key if ending else None,
        passage_markers(routine, craft),
        has_beat_marks=has_beat_marks,
    )
    sound = InOrder(name=TRACK, sound=played(course, frames, track.sound_from))
    beside = _beside(score, instruments, ending.lufs) if ending else ()
    return PlayedTrack(score=score, layers=(sound, *beside), notes=notes)


def _beat_seconds(routine: Routine, at: float) -> float:
    """Return the length of the beat before the second `at` of the session."""
    clock = routine.clock
    beat = round(clock.beat_at(at))
    return float(clock.seconds_at(beat) - clock.seconds_at(beat - 1)) if beat > 0 else 1.0


# ------------------------------------------------------------------ what is played
def _pieces(
    routine: Routine, track: BroughtTrack
) -> tuple[Sequence[Piece], float, tuple[str, ...]]:
    """Return the pieces, how long the last fades, and notes."""
    course = routine.music.course
    if course is None:
        return _whole(routine, track)
    if course.pieces:
        _must_be_the_one(course, track)
    return course.pieces, course.fade_seconds, ()


def _must_be_the_one(course: Course, track: BroughtTrack) -> None:
    """Refuse a track of another length. What the file tells may be a guess, so it is not enough."""
    needed = course.track_seconds or max(piece.source.end for piece in course.pieces)

    def is_other(seconds: float) -> bool:
        is_longer = seconds > needed + SAME_SECONDS and course.track_seconds is not None
        return is_longer or seconds < needed - SAME_SECONDS

    if not is_other(track.tracks.seconds_told(track.path)):
        return
    lasts = track.whole_seconds()
    if is_other(lasts):
        raise BadInput(
            f"this track lasts {as_minutes(lasts)}, and the routine was set to one of "
            f"{as_minutes(needed)}; bring that one back, or plan the routine again",
            at=track.name,
        )


def _whole(routine: Routine, track: BroughtTrack) -> tuple[Sequence[Piece], float, tuple[str, ...]]:
    """Return a track for a routine that was written elsewhere: all of it, under the beats."""
    lasts = track.whole_seconds()
    shift = best_shift(routine.music.beat_seconds, track.heard_beats)
    total = float(routine.clock.total_seconds)
    if shift >= lasts:
        raise BadInput("this track ends before the routine's first beat", at=track.name)
    piece = Piece(source=Span(start=max(0.0, shift), end=lasts), at=max(0.0, -shift))
    notes = []
    if abs(shift) > UNSAID_SECONDS:
        where = "after" if shift < 0 else "before"
        notes.append(
            f"{track.name} begins {abs(shift):.1f} seconds {where} the session, so that its beats "
            "fall on those of the routine."
        )
    left = piece.end - total
    if left > UNSAID_SECONDS:
        notes.append(f"{track.name} goes on after the routine's end, so it fades out there.")
    elif left < -UNSAID_SECONDS:
        notes.append(
            f"{track.name} ends at {as_minutes(piece.end)}, {as_minutes(-left)} before the "
            "routine: after it there is silence."
        )
    return (piece,), min(FADE_SECONDS, total / 4) if left > 0.5 else 0.0, tuple(notes)


# ------------------------------------------------------------------ what is heard at its end
@dataclass(frozen=True, slots=True, kw_only=True)
class _Ending:
    """The key and the loudness of the last seconds of the track that stand at full strength."""

    key: FoundKey
    lufs: float

    @staticmethod
    def of(course: Sequence[Stretch], track: BroughtTrack) -> _Ending:
        sound = _last_seconds(course, track)
        power = Weigher().add(sound[-LOUDNESS_SECONDS * RATE :])
        return _Ending(key=find_key(_pitch_classes(sound)), lufs=integrated(power))


def _last_seconds(course: Sequence[Stretch], track: BroughtTrack) -> Stereo:
    """Return up to a minute of the last stretch, its fade left out where it is long enough."""
    if not course:
        return np.zeros((0, 2), dtype=np.float32)
    last = course[-1]
    lasts = max(last.end - last.start - last.fall, (last.end - last.start) // 2)
    wanted = min(lasts, KEY_SECONDS * RATE)
    parts: list[Stereo] = []
    for block in track.sound_from(last.source + lasts - wanted):
        parts.append(block)
        if sum(len(p) for p in parts) >= wanted:
            break
    return np.concatenate([np.zeros((0, 2), dtype=np.float32), *parts])[:wanted]


def _pitch_classes(sound: Stereo) -> np.ndarray:
    """Return the strength of the 12 pitch classes, C first."""
    stream = FeatureStream()
    mono = sound.mean(axis=1)
    common = np.gcd(LISTENING_RATE, RATE)
    stream.feed(resample_poly(mono, LISTENING_RATE // common, RATE // common).astype(np.float32))
    chroma = stream.features().chroma
    return np.asarray(chroma.mean(axis=0) if len(chroma) else np.zeros(12))


def _beside(
    score: Score, instruments: Mapping[LayerName, Instrument], track_lufs: float
) -> tuple[Levelled, ...]:
    """Return what is composed beside a track of `track_lufs`: the tail's layers as one, ticks."""
    layers = layer_sounds(score, instruments)
    found: list[Levelled] = []
    for below, group in (
        (TAIL_BELOW, [s for s in layers if s.name is not LayerName.PULSE]),
        (TICK_BELOW, [s for s in layers if s.name is LayerName.PULSE]),
    ):
        gain = _gain(group, (track_lufs if track_lufs > -60 else USUAL_LUFS) - below)
        found += [Levelled(layer=layer, gain=gain) for layer in group]
    return tuple(found)


def _gain(layers: Sequence[LayerSound], lufs: float) -> float:
    """Return the gain at which `layers` together stand at `lufs` where they begin."""
    if not layers:
        return 1.0
    first = min(s.score.start_seconds(s.score.layer(s.name)[0]) for s in layers)
    blocks = [s.block(round(first * RATE), LOUDNESS_SECONDS * RATE) for s in layers]
    own = integrated(Weigher().add(np.sum(blocks, axis=0, dtype=np.float32)))
    return float(10 ** ((lufs - own) / 20)) if own > SILENCE else 1.0
