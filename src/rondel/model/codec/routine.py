"""routine.json: version 1."""

from __future__ import annotations

from dataclasses import asdict, replace
from fractions import Fraction
from itertools import pairwise

from rondel.model.brief import UNTITLED, Brief
from rondel.model.codec.brief import brief_from_dict, brief_to_dict, number_to_json
from rondel.model.codec.course import course_from_dict, course_to_dict
from rondel.model.codec.fields import Fields
from rondel.model.routine import Cue, Music, Passage, Proof, Routine
from rondel.model.time import Tempo
from rondel.model.track import HeardFrom, Laid
from rondel.model.words import Layer, Position, Role, Side

VERSION = 1
#: No routine is longer: the most bars of the most beats.
MOST_BARS, MOST_BEATS_A_BAR = 20_000, 16
MOST_BEATS = MOST_BARS * MOST_BEATS_A_BAR
#: Nobody's hands are quicker; the rule `strokes` asks for half a beat at least.
SHORTEST_STROKE_BEATS = 0.1


def routine_to_dict(routine: Routine) -> dict[str, object]:
    """Return `routine` as routine.json holds it; keys in a fixed order."""
    data: dict[str, object] = {
        "rondel": VERSION,
        "title": routine.title,
        "seed": routine.seed,
        "beats_per_bar": routine.beats_per_bar,
        "tempo": [{"bar": t.bar, "bpm": float(t.bpm)} for t in routine.tempo],
        "bars": routine.bars,
        "passages": [_passage_to_dict(p) for p in routine.passages],
        "cues": [
            {"id": c.id, "at_beat": number_to_json(c.at_beat), "say": c.say} for c in routine.cues
        ],
        "proof": {
            "status": routine.proof.status,
            "objective": routine.proof.objective,
            "bound": routine.proof.bound,
            "solver_seconds": routine.proof.solver_seconds,
        },
        "music": _music_to_dict(routine.music),
    }
    if routine.brief is not None:
        data["brief"] = brief_to_dict(routine.brief)
    return data


def _passage_to_dict(p: Passage) -> dict[str, object]:
    data: dict[str, object] = {
        "id": p.id,
        "technique": p.technique,
        "role": str(p.role),
        "side": str(p.side),
        "position": str(p.position),
        "start_bar": p.start_bar,
        "bars": p.bars,
        "pressure": p.pressure,
        "beats_per_stroke": number_to_json(p.beats_per_stroke),
        "first_landing_beat": number_to_json(p.first_landing_beat),
        "layer": str(p.layer),
        "kept": p.kept,
        "why": list(p.why),
    }
    if p.stretch:
        data["stretch"] = True
    if p.short:
        data["short"] = True
    return data


def _music_to_dict(music: Music) -> dict[str, object]:
    if music.kind == "composed":
        return {"kind": "composed"}
    data: dict[str, object] = {
        "kind": music.kind,
        "path": music.path,
        "beat_seconds": list(music.beat_seconds),
    }
    if music.course is not None:
        data["course"] = course_to_dict(music.course)
    if music.heard_from is not None:
        data["heard_from"] = asdict(music.heard_from)
    return data


def routine_from_dict(data: object, *, at: str = "routine.json") -> Routine:
    """Return the routine that `data` holds; unknown keys are left alone, for later versions.

    Raises BadInput naming the key. Whether the routine is a *good* one is the checker's to say:
    gaps and unknown techniques pass here and become findings.
    """
    f = Fields(data, at=at)
    version = f.whole("rondel")
    if version != VERSION:
        raise f.fail("rondel", f"is {version}; this Rondel reads version {VERSION}")
    carried = f.raw("brief")
    routine = f.build(
        lambda: Routine(
            title=f.text("title", UNTITLED),
            seed=f.whole("seed", 1, low=0),
            beats_per_bar=f.whole("beats_per_bar", 4, low=1, high=MOST_BEATS_A_BAR),
            tempo=tuple(_tempo(t) for t in f.tables("tempo")),
            bars=f.whole("bars", low=1, high=MOST_BARS),
            passages=tuple(_passage(p) for p in f.tables("passages")),
            cues=tuple(_cue(c, i) for i, c in enumerate(f.tables("cues"), start=1)),
            proof=_proof(f.table("proof")),
            music=_music(f.table("music")),
            brief=None if carried is None else _brief(carried, f.where("brief")),
        )
    )
    if not routine.passages:
        raise f.fail("passages", "there must be at least one passage")
    _refuse_twins(f, routine)
    _refuse_other_course(f, routine)
    f.build(lambda: routine.clock)  # a tempo map or track that cannot be read complains here
    return with_laid(routine)


def with_laid(routine: Routine) -> Routine:
    """Return `routine` with its track laid out in its brief, where both are known."""
    brief, music = routine.brief, routine.music
    if brief is None or brief.track is None or music.course is None:
        return routine
    laid = Laid(
        minutes=brief.minutes,
        beats_per_bar=routine.beats_per_bar,
        beat_seconds=music.beat_seconds,
        course=music.course,
        heard_from=music.heard_from,
    )
    return replace(routine, brief=replace(brief, laid=laid))


def _refuse_twins(f: Fields, routine: Routine) -> None:
    """Ids name passages and recordings, so two alike would be mistaken for each other."""
    for key, ids in (
        ("passages", [p.id for p in routine.passages]),
        ("cues", [c.id for c in routine.cues]),
    ):
        for one, next_one in pairwise(sorted(ids)):
            if one == next_one:
                raise f.fail(key, f'the id "{one}" stands twice; give each its own')


def _refuse_other_course(f: Fields, routine: Routine) -> None:
    """A course tells of every bar of this routine, or it is the course of another."""
    course = routine.music.course
    if course is not None and course.bars != routine.bars:
        says = f"tells of {course.bars} bars, and the routine has {routine.bars}; plan it again"
        raise f.table("music").fail("course", says)


def _brief(carried: object, at: str) -> Brief:
    return brief_from_dict(carried, at=at)


def _tempo(f: Fields) -> Tempo:
    return f.build(lambda: Tempo(bar=f.whole("bar", low=0), bpm=f.number("bpm", low=20, high=300)))


def _passage(f: Fields) -> Passage:
    technique = f.maybe_text("technique")
    return f.build(
        lambda: Passage(
            id=f.text("id"),
            technique=technique,
            role=f.choice("role", Role),
            side=f.choice("side", Side, Side.BOTH),
            position=f.choice("position", Position, Position.PRONE),
            start_bar=f.whole("start_bar", low=0, high=MOST_BARS),
            bars=f.whole("bars", low=1, high=MOST_BARS),
            pressure=f.whole("pressure", 2 if technique is None else 1, low=0, high=5),
            beats_per_stroke=_stroke(f),
            first_landing_beat=f.number("first_landing_beat", 0, low=0, high=MOST_BEATS),
            layer=f.choice("layer", Layer, Layer.ONLY),
            kept=f.flag("kept", False),
            stretch=f.flag("stretch", False),
            short=f.flag("short", False),
            why=f.texts("why"),
        )
    )


def _stroke(f: Fields) -> Fraction:
    """Return the beats of one stroke; an open passage may leave them out."""
    if f.raw("technique") is None and not f.raw("beats_per_stroke"):
        return Fraction(4)
    return f.number("beats_per_stroke", low=SHORTEST_STROKE_BEATS, high=MOST_BEATS)


def _cue(f: Fields, place: int) -> Cue:
    return Cue(
        id=f.text("id", f"c{place:02d}"),
        at_beat=f.number("at_beat", low=0, high=MOST_BEATS),
        say=f.text("say"),
    )


def _proof(f: Fields) -> Proof:
    bound = f.raw("bound")
    return Proof(
        status=f.text("status", "found"),
        objective=float(f.number("objective", 0)),
        bound=None if bound is None else float(f.number("bound")),
        solver_seconds=float(f.number("solver_seconds", 0)),
    )


def _music(f: Fields) -> Music:
    kind = f.text("kind", "composed")
    if kind not in ("composed", "track"):
        raise f.fail("kind", f'"{kind}" is not known; allowed are composed, track')
    course = f.raw("course")
    return Music(
        kind=kind,
        path=f.maybe_text("path"),
        beat_seconds=() if f.raw("beat_seconds") is None else f.numbers("beat_seconds", low=0),
        course=None if course is None else course_from_dict(course, at=f.where("course")),
        heard_from=None if f.raw("heard_from") is None else _heard_from(f.table("heard_from")),
    )


def _heard_from(f: Fields) -> HeardFrom:
    return HeardFrom(track=f.text("track"), corrections=f.text("corrections"))
