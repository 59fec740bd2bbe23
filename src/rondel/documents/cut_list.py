"""The cuts of a session as an OpenTimelineIO document, the open interchange format of film cutting.

One clip a passage on the picture track and the whole sound below it, so that footage can be laid
over the very frames of a technique in whatever program a film-maker uses. Schemas as of version
0.17 and later: Timeline.1, Stack.1, Track.1, Clip.2, ExternalReference.1, TimeRange.1,
RationalTime.1, LinearTimeWarp.1. What Rondel makes stands beside the document and is named without
a folder; takes are named by the way to them.

A take that is played at a changing speed becomes a row of clips, one a stroke, each at the even
speed that brings its ends to where they belong. The exact map of time is kept in the first one.
"""

from __future__ import annotations

import json
import string
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.names import names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.shots import Shot

Document = dict[str, object]

#: What stands in an address as it is.
_PLAIN = frozenset(string.ascii_letters + string.digits + "-._~/")
PICTURE, SOUND = "session.mp4", "session.flac"
MEDIA = "DEFAULT_MEDIA"


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedSpan:
    """Frames from `first` up to `past` of the passage with this id that are film."""

    passage: str
    first: int
    past: int
    shots: tuple[Shot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeMedia:
    """Where a take lies, as a way from the document, and how long it is."""

    address: str
    seconds: float


def cut_list(
    routine: Routine,
    craft: Craft,
    *,
    rate: int,
    frames: int,
    frame_at: Callable[[float], int],
    filmed: Sequence[FilmedSpan] = (),
    media: Mapping[str, TakeMedia] | None = None,
    video: str = PICTURE,
) -> str:
    """Return the document: `frames` pictures, `rate` a second, without a gap.

    `frame_at` gives the first frame that shows what happens at a second. `filmed`: what is film, in
    order, of takes that lie where `media` says, by name. `video` is the file of what is drawn.
    """
    shown = names_shown(routine)
    # A brought track may begin before the first beat: the first clip shows that too.
    starts = [0, *(frame_at(routine.start_seconds(p)) for p in routine.line[1:])]
    pictures: list[Document] = []
    for p, first, past in zip(routine.line, starts, [*starts[1:], frames], strict=True):
        name, told = passage_name(p, craft, shown), _told(routine, p)
        at = first
        for span in (one for one in filmed if one.passage == p.id):
            if span.first > at:
                pictures.append(_clip(name, video, (at, span.first), (frames, rate), told))
            pictures += _film_clips(name, span, rate, media or {}, told)
            at = span.past
        if past > at:
            pictures.append(_clip(name, video, (at, past), (frames, rate), told))
    sound = [_clip("sound", SOUND, (0, frames), (frames, rate), {})]
    tracks = [_track("picture", "Video", pictures), _track("sound", "Audio", sound)]
    document: Document = {
        "OTIO_SCHEMA": "Timeline.1",
        "name": routine.title,
        "metadata": {},
        "global_start_time": None,
        "tracks": _composition("Stack.1", "tracks", tracks),
    }
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def _film_clips(
    name: str, span: FilmedSpan, rate: int, media: Mapping[str, TakeMedia], told: Document
) -> list[Document]:
    """Return the clips of a span of film: cut at the landings, and played evenly in between."""
    found: list[Document] = []
    for shot in span.shots:
        marks = [round(t * rate) for t in (shot.map.at[0], *shot.beats[1:-1], shot.map.at[-1])]
        edges = sorted({min(max(mark, span.first), span.past) for mark in marks})
        for n, (first, past) in enumerate(pairwise(edges)):
            start, end = shot.map.shown(first / rate), shot.map.shown(past / rate)
            take = media[shot.take]
            clip = _clip_of(
                name,
                take.address,
                {**told, "rondel_take": _shot_told(shot)} if n == 0 else told,
                whole=_range(0, take.seconds * rate, rate),
                source=_range(start * rate, start * rate + past - first, rate),
            )
            clip["effects"] = [_warp((end - start) * rate / (past - first))]
            found.append(clip)
    return found


def _shot_told(shot: Shot) -> Document:
    return {
        "take": shot.take,
        "mirrored": shot.is_mirrored,
        "at": list(shot.map.at),
        "shows": list(shot.map.shows),
    }


def _warp(scalar: float) -> Document:
    return {
        "OTIO_SCHEMA": "LinearTimeWarp.1",
        "name": "",
        "metadata": {},
        "effect_name": "LinearTimeWarp",
        "time_scalar": scalar,
    }


def _told(routine: Routine, passage: Passage) -> Document:
    """Return what a cutter may want to know of a passage, under a name of our own."""
    facts = {
        "passage": passage.id,
        "technique": passage.technique,
        "role": str(passage.role),
        "side": str(passage.side),
        "first_landing_seconds": [
            round(float(routine.clock.seconds_at(b)), 3) for b in routine.landings(passage)[:1]
        ],
    }
    return {"rondel": facts}


def _composition(schema: str, name: str, children: Sequence[Document]) -> Document:
    return {
        "OTIO_SCHEMA": schema,
        "name": name,
        "metadata": {},
        "source_range": None,
        "effects": [],
        "markers": [],
        "enabled": True,
        "children": list(children),
    }


def _track(name: str, kind: str, clips: Sequence[Document]) -> Document:
    return {**_composition("Track.1", name, clips), "kind": kind}


def _clip(
    name: str, media: str, span: tuple[int, int], whole: tuple[int, int], metadata: Document
) -> Document:
    """Return the frames `span` of `media`, which has `whole` (frames, frames a second)."""
    frames, rate = whole
    first, past = span
    return _clip_of(
        name,
        media,
        metadata,
        whole=_range(0, frames, rate),
        source=_range(first, past, rate),
    )


def _clip_of(
    name: str, media: str, metadata: Document, *, whole: Document, source: Document
) -> Document:
    reference = {
        "OTIO_SCHEMA": "ExternalReference.1",
        "name": media,
        "metadata": {},
        "available_range": whole,
        "target_url": _address(media),
    }
    return {
        "OTIO_SCHEMA": "Clip.2",
        "name": name,
        "metadata": metadata,
        "source_range": source,
        "effects": [],
        "markers": [],
        "enabled": True,
        "media_references": {MEDIA: reference},
        "active_media_reference_key": MEDIA,
    }


def _address(way: str) -> str:
    """Return the way to a file as an address: by RFC 3986, what has a meaning there and what is
    no plain letter is written by its bytes, or "take #1.mp4" would be "take "."""
    return "".join(
        chr(byte) if chr(byte) in _PLAIN else f"%{byte:02X}" for byte in way.encode("utf-8")
    )


def _range(first: float, past: float, rate: int) -> Document:
    return {
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": _time(first, rate),
        "duration": _time(past - first, rate),
    }


def _time(frames: float, rate: int) -> Document:
    return {"OTIO_SCHEMA": "RationalTime.1", "value": float(frames), "rate": float(rate)}
