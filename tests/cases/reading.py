"""Read rule cases: `<rule id>.toml`, one `[[case]]` a small routine and what is found in it.

A case::

    name = "…"            a sentence
    kind = "pass"         pass | edge | fail; pass and edge find nothing
    brief = {…}           as in brief.toml; minutes 6, settle and level 3 unless said; false: none
    bpm = 60              or tempo = [[bar, bpm], …]; a bar has 4 beats, so at 60 it lasts 4 seconds
    beat_seconds = […]    the seconds of a brought track
    course = {…}          a brought track at a steady tempo, bar by bar: heard (as [first, past]
                          spans of bars), phrases, turns, homes, strongest, stands_out, pieces (as
                          [from, to, at] seconds), tail_from, fade, quiet and track (seconds)
    bars = 90             unless said, where the last row ends
    rows = ["technique role side bars pressure key=value …"]
    finds = [{bar = 3, says = "part of the sentence"}]

In a row `-` is no technique. Keys: stroke (beats; 4 unless said, a hold its whole length), land,
at (the bar it starts at; unless said where the row before ends), position (prone unless said),
layer; and the words stretch, short.
The techniques and regions of `craft.toml` are written for these cases only.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_from_dict
from rondel.model.codec.craft import (
    cautions_from_dict,
    craft_from_parts,
    regions_from_dict,
    techniques_from_dict,
)
from rondel.model.repertoire import Craft
from rondel.model.routine import Music, Passage, Routine
from rondel.model.time import Tempo
from rondel.model.track import Course, Piece, Span
from rondel.model.words import Layer, Position, Role, Side

HERE = Path(__file__).parent
BEATS_PER_BAR = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A finding at `bar` whose sentence holds `says`."""

    bar: int
    says: str


@dataclass(frozen=True, kw_only=True)
class RuleCase:
    """One small routine held against one rule."""

    rule: str
    name: str
    kind: str
    routine: Routine
    brief: Brief | None
    finds: tuple[Expected, ...]


@cache
def small_craft() -> Craft:
    """Return the craft of the cases."""
    data = tomllib.loads((HERE / "craft.toml").read_text(encoding="utf-8"))
    usual = {"anatomical": "-", "how": "-", "say": "-", "closeness": 0.5, "energy": 0}
    rows = [usual | row for row in data["technique"]]
    techniques = techniques_from_dict({"technique": rows}, at="craft.toml")
    places = [{"source": "made up for the cases"} | row for row in data["region"]]
    return craft_from_parts(
        (("craft.toml", t) for t in techniques),
        regions_from_dict({"region": places}, at="craft.toml"),
        cautions_from_dict({"caution": data["caution"]}, at="craft.toml"),
    )


def passages_from_rows(rows: list[str]) -> tuple[Passage, ...]:
    """Return the passages that `rows` describe."""
    found: list[Passage] = []
    for number, row in enumerate(rows, start=1):
        at = found[-1].end_bar if found else 0
        found.append(_passage(row, f"p{number:02d}", at))
    return tuple(found)


def _passage(row: str, id: str, at: int) -> Passage:
    technique, role, side, bars, pressure, *more = row.split()
    extra = dict(part.partition("=")[::2] for part in more)
    craft = small_craft()
    known = craft.has_technique(technique)
    is_held = known and craft.technique(technique).family.is_held
    usual_stroke = int(bars) * BEATS_PER_BAR if is_held else 4
    return Passage(
        id=id,
        technique=None if technique == "-" else technique,
        role=Role(role),
        side=Side(side),
        position=Position(extra.get("position", "prone")),
        start_bar=int(extra.get("at", at)),
        bars=int(bars),
        pressure=int(pressure),
        beats_per_stroke=Fraction(extra.get("stroke", usual_stroke)),
        first_landing_beat=Fraction(extra.get("land", 0)),
        layer=Layer(extra.get("layer", "only")),
        stretch="stretch" in extra,
        short="short" in extra,
    )


def routine_from_rows(rows: list[str], **more: Any) -> Routine:
    """Return a routine of `rows`; `more` holds the keys of a case that speak of time."""
    passages = passages_from_rows(rows)
    tempo = more.get("tempo", [[0, more.get("bpm", 60)]])
    beat_seconds = tuple(float(s) for s in more.get("beat_seconds", ()))
    music = Music(kind="track", path="music/dusk.flac", beat_seconds=beat_seconds)
    return Routine(
        title="A case",
        seed=1,
        beats_per_bar=BEATS_PER_BAR,
        tempo=tuple(Tempo(bar=bar, bpm=Fraction(str(bpm))) for bar, bpm in tempo),
        bars=more.get("bars", max(p.end_bar for p in passages)),
        passages=passages,
        music=music if beat_seconds else Music(),
    )


def with_course(routine: Routine, told: dict[str, Any]) -> Routine:
    """Return `routine` set to the track that `told` describes."""
    bars, beat = routine.bars, 60 / float(routine.tempo[0].bpm)
    seconds = bars * BEATS_PER_BAR * beat
    spans = told.get("heard", [[0, bars]])
    course = Course(
        heard=tuple(any(first <= bar < past for first, past in spans) for bar in range(bars)),
        energy=(0.5,) * bars,
        phrases=tuple(told.get("phrases", range(0, bars, 4))),
        turns=tuple(told.get("turns", ())),
        homes=tuple(told.get("homes", ())),
        strongest=tuple(told.get("strongest", (0, bars))),
        stands_out=told.get("stands_out", False),
        pieces=tuple(
            Piece(source=Span(start=start, end=end), at=at)
            for start, end, at in told.get("pieces", [[0, seconds, 0]])
        ),
        tail_from=told.get("tail_from"),
        fade_seconds=told.get("fade", 0.0),
        quiet_seconds=told.get("quiet", 0.0),
        track_seconds=told.get("track"),
    )
    beats = tuple(i * beat for i in range(bars * BEATS_PER_BAR + 1))
    music = Music(kind="track", path="music/dusk.flac", beat_seconds=beats, course=course)
    return replace(routine, music=music)


def brief_for(wishes: dict[str, Any] | bool | None) -> Brief | None:
    """Return the brief of a case; None where the case has `brief = false`."""
    if wishes is False:
        return None
    usual = {"title": "A case", "minutes": 6, "intention": "settle", "level": 3}
    return brief_from_dict(usual | (wishes if isinstance(wishes, dict) else {}))


def cases_of(rule: str) -> tuple[RuleCase, ...]:
    """Return the cases of `rule`."""
    data = tomllib.loads((HERE / f"{rule}.toml").read_text(encoding="utf-8"))
    return tuple(
        RuleCase(
            rule=rule,
            name=case["name"],
            kind=case["kind"],
            routine=_routine_of(case),
            brief=brief_for(case.get("brief")),
            finds=tuple(Expected(bar=f["bar"], says=f["says"]) for f in case.get("finds", ())),
        )
        for case in data["case"]
    )


def _routine_of(case: dict[str, Any]) -> Routine:
    routine = routine_from_rows(**{k: v for k, v in case.items() if k in _TIMED})
    return with_course(routine, case["course"]) if "course" in case else routine


_TIMED = ("rows", "bpm", "tempo", "beat_seconds", "bars")
