"""JSON Schema (draft 2020-12) of each format, for `rondel schema` and for other programs."""

from __future__ import annotations

from enum import StrEnum

from rondel.model.take import Fault, MotionKind
from rondel.model.words import (
    Contact,
    Family,
    Intention,
    Landing,
    Language,
    Layer,
    MusicLayer,
    NamesShown,
    Position,
    Role,
    Side,
    Trace,
)

Schema = dict[str, object]
DRAFT = "https://json-schema.org/draft/2020-12/schema"


def _words(kind: type[StrEnum]) -> Schema:
    return {"enum": [str(k) for k in kind]}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _number(low: float | None = None, high: float | None = None, kind: str = "number") -> Schema:
    schema: Schema = {"type": kind}
    if low is not None:
        schema["minimum"] = low
    if high is not None:
        schema["maximum"] = high
    return schema


def _whole(low: int | None = None, high: int | None = None) -> Schema:
    return _number(low, high, "integer")


def _table(required: dict[str, Schema], optional: dict[str, Schema], *, closed: bool) -> Schema:
    return {
        "type": "object",
        "properties": {**required, **optional},
        "required": list(required),
        "additionalProperties": not closed,
    }


TEXT: Schema = {"type": "string"}
FLAG: Schema = {"type": "boolean"}
PAIR: Schema = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
PRESSURE = _whole(0, 5)


def brief_schema() -> Schema:
    keep = _table(
        {"technique": TEXT},
        {
            "at": {"type": "string", "pattern": r"^\d+:[0-5]\d(\.\d+)?$"},
            "minutes": _number(0.1, 120),
            "side": _words(Side),
            "pressure": PRESSURE,
        },
        closed=True,
    )
    return _table(
        {"minutes": _number(3, 120), "intention": _words(Intention)},
        {
            "title": TEXT,
            "level": _whole(1, 5),
            "refrains": _whole(1, 60),
            "main_regions": _list(TEXT),
            "avoid_regions": _list(TEXT),
            "spare": _list(_words(Contact)),
            "stretch": FLAG,
            "positions": _list(_words(Position)),
            "cautions": _list(TEXT),
            "open_minutes": _number(0),
            "seed": _whole(0),
            "bpm": _number(30, 200),
            "track": TEXT,
            "names": _words(NamesShown),
            "language": _words(Language),
            "character": _words(Intention),
            "prefer": _list(TEXT),
            "without": _list(_words(MusicLayer)),
            "trained": FLAG,
            "keep": _list(keep),
        },
        closed=True,
    )


def repertoire_schema() -> Schema:
    told = _table({}, {"plain": TEXT, "say": TEXT}, closed=True)
    technique = _table(
        {
            "id": {"type": "string", "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$"},
            "plain": TEXT,
            "anatomical": TEXT,
            "region": TEXT,
            "family": _words(Family),
            "contact": _words(Contact),
            "lateral": FLAG,
            "pressure": PAIR,
            "cycle_seconds": PAIR,
            "landing": _words(Landing),
            "path_cm": _number(0, 400),
            "level": _whole(1, 5),
            "energy": _number(-1, 1),
            "closeness": _number(0, 1),
            "position": _list(_words(Position)),
            "how": TEXT,
            "say": TEXT,
        },
        {
            "refrain": FLAG,
            "trace": _words(Trace),
            "helps_turn": FLAG,
            "from_far_end": FLAG,
            **{str(k): told for k in Language if k is not Language.ENGLISH},
        },
        closed=True,
    )
    return _table({}, {"technique": _list(technique)}, closed=True)


def course_schema() -> Schema:
    piece = _table({"source": PAIR, "at": _number(0)}, {}, closed=False)
    bars = _list(_whole(0))
    return _table(
        {"heard": _list(FLAG), "energy": _list(_number(0, 1)), "strongest": bars},
        {
            "phrases": bars,
            "turns": bars,
            "homes": bars,
            "stands_out": FLAG,
            "pieces": _list(piece),
            "tail_from": {"type": ["number", "null"], "minimum": 0},
            "quiet_seconds": {"type": "number", "minimum": 0},
            "track_seconds": {"type": ["number", "null"], "minimum": 0},
            "fade_seconds": _number(0),
        },
        closed=False,
    )


def heard_schema() -> Schema:
    """What `rondel listen` writes: seconds from the start of the track."""
    section = _table(
        {"start": _number(0), "end": _number(0), "energy": _number(0, 1), "has_beat": FLAG},
        {},
        closed=False,
    )
    other = _table(
        {"bpm": _number(0), "beats_per_bar": _whole(1), "confidence": _number(0, 1), "says": TEXT},
        {},
        closed=False,
    )
    seconds, spans = _list(_number(0)), _list(PAIR)
    level: Schema = {"type": ["number", "null"]}
    return _table(
        {
            "bpm": _number(0),
            "beats": seconds,
            "downbeats": seconds,
            "beatless": spans,
            "sections": _list(section),
            "returns": spans,
            "rises": spans,
            "confidence": _number(0, 1),
        },
        {
            "seconds": _number(0),
            "is_constant": FLAG,
            "beats_per_bar": _whole(1, 16),
            "unsure": spans,
            "others": _list(other),
            "loudness": level,
            "true_peak": level,
            "shape": _list(_number(0, 1)),
            "motif_guesses": spans,
        },
        closed=False,
    )


def routine_schema() -> Schema:
    passage = _table(
        {
            "id": TEXT,
            "technique": {"type": ["string", "null"]},
            "role": _words(Role),
            "start_bar": _whole(0),
            "bars": _whole(1),
        },
        {
            "side": _words(Side),
            "position": _words(Position),
            "pressure": PRESSURE,
            "beats_per_stroke": {"type": "number", "minimum": 0},
            "first_landing_beat": _number(0),
            "layer": _words(Layer),
            "kept": FLAG,
            "stretch": FLAG,
            "short": FLAG,
            "why": _list(TEXT),
        },
        closed=False,
    )
    cue = _table({"at_beat": _number(0), "say": TEXT}, {"id": TEXT}, closed=False)
    music = _table(
        {"kind": {"enum": ["composed", "track"]}},
        {
            "path": {"type": ["string", "null"]},
            "beat_seconds": _list(_number(0)),
            "course": course_schema(),
            "heard_from": _table({"track": TEXT, "corrections": TEXT}, {}, closed=False),
        },
        closed=False,
    )
    tempo = _table({"bar": _whole(0), "bpm": _number(20, 300)}, {}, closed=False)
    return _table(
        {
            "rondel": {"const": 1},
            "tempo": _list(tempo),
            "bars": _whole(1),
            "passages": {"type": "array", "items": passage, "minItems": 1},
        },
        {
            "title": TEXT,
            "seed": _whole(0),
            "beats_per_bar": _whole(1, 16),
            "cues": _list(cue),
            "proof": _proof_schema(),
            "music": music,
            "brief": brief_schema(),
        },
        closed=False,
    )


def _proof_schema() -> Schema:
    return _table(
        {"status": {"enum": ["optimal", "within", "found"]}},
        {
            "objective": _number(),
            "bound": {"type": ["number", "null"]},
            "solver_seconds": _number(0),
        },
        closed=False,
    )


def findings_schema() -> Schema:
    finding = _table(
        {
            "rule": TEXT,
            "severity": {"enum": ["must", "mind"]},
            "at_bar": _whole(0),
            "message": TEXT,
            "source": TEXT,
        },
        {},
        closed=False,
    )
    return _list(finding)


def seen_schema() -> Schema:
    """What `rondel watch` writes: seconds from the first picture of the take."""
    seconds, spans = _list(_number(0)), _list(PAIR)
    stretch = _table(
        {
            "start": _number(0),
            "end": _number(0),
            "kind": {"enum": [kind.value for kind in MotionKind]},
            "period": _number(0),
            "confidence": _number(0, 1),
            "landings": seconds,
        },
        {"slips": spans, "pauses": spans, "eighths": seconds, "technique": TEXT},
        closed=False,
    )
    fault = _table(
        {"span": PAIR, "fault": {"enum": [fault.value for fault in Fault]}}, {}, closed=False
    )
    return _table(
        {
            "fps": _number(0),
            "strokes": seconds,
            "period": {"type": ["number", "null"]},
            "slips": spans,
            "pauses": spans,
            "confidence": _number(0, 1),
        },
        {
            "seconds": _number(0),
            "width": _whole(1),
            "height": _whole(1),
            "away": spans,
            "cuts": seconds,
            "faults": _list(fault),
            "stretches": _list(stretch),
            "curve": _list(_number(-1, 1)),
            "side": {"enum": [side.value for side in Side]},
            "angle": TEXT,
        },
        closed=False,
    )


SCHEMAS = {
    "brief": brief_schema,
    "repertoire": repertoire_schema,
    "routine": routine_schema,
    "findings": findings_schema,
    "heard": heard_schema,
    "seen": seen_schema,
}


def schema(name: str) -> Schema:
    """Return the JSON Schema called `name`; KeyError where there is none of that name."""
    return {"$schema": DRAFT, "title": f"rondel {name}", **SCHEMAS[name]()}
