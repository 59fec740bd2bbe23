"""The cuts of a session as an OpenTimelineIO document, the open interchange format of film cutting.

One clip a passage on the picture track and the whole sound below it, so that footage can be laid
over the very frames of a technique in whatever program a film-maker uses. Schemas as of version
0.17 and later: Timeline.1, Stack.1, Track.1, Clip.2, ExternalReference.1, TimeRange.1,
RationalTime.1. Media stand beside the document and are named without a folder.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

from rondel.model.names import names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine

Document = dict[str, object]

PICTURE, SOUND = "session.mp4", "session.flac"
MEDIA = "DEFAULT_MEDIA"


def cut_list(
    routine: Routine, craft: Craft, *, rate: int, frames: int, frame_at: Callable[[float], int]
) -> str:
    """Return the document: `frames` pictures, `rate` a second, without a gap.

    `frame_at` gives the first frame that shows what happens at a second.
    """
    shown = names_shown(routine)
    # A brought track may begin before the first beat: the first clip shows that too.
    starts = [0, *(frame_at(routine.start_seconds(p)) for p in routine.line[1:])]
    pictures = [
        _clip(
            passage_name(p, craft, shown), PICTURE, (first, past), (frames, rate), _told(routine, p)
        )
        for p, first, past in zip(routine.line, starts, [*starts[1:], frames], strict=True)
    ]
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
    reference = {
        "OTIO_SCHEMA": "ExternalReference.1",
        "name": media,
        "metadata": {},
        "available_range": _range(0, frames, rate),
        "target_url": media,
    }
    return {
        "OTIO_SCHEMA": "Clip.2",
        "name": name,
        "metadata": metadata,
        "source_range": _range(*span, rate),
        "effects": [],
        "markers": [],
        "enabled": True,
        "media_references": {MEDIA: reference},
        "active_media_reference_key": MEDIA,
    }


def _range(first: int, past: int, rate: int) -> Document:
    return {
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": _time(first, rate),
        "duration": _time(past - first, rate),
    }


def _time(frames: int, rate: int) -> Document:
    return {"OTIO_SCHEMA": "RationalTime.1", "value": float(frames), "rate": float(rate)}
