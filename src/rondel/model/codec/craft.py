"""repertoire/*.toml, and the built-in regions and cautions."""

from __future__ import annotations

import re
from collections.abc import Iterable

from rondel.model.codec.brief import number_to_json
from rondel.model.codec.fields import Fields, closest
from rondel.model.repertoire import Caution, Craft, Forbids, Region, Technique, Told
from rondel.model.words import Contact, Family, Landing, Language, Position, Trace

_TECHNIQUE_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


def techniques_from_dict(data: object, *, at: str) -> tuple[Technique, ...]:
    """Return the techniques of one repertoire file."""
    f = Fields(data, at=at)
    found = tuple(_technique(t) for t in f.tables("technique"))
    f.refuse_others()
    return found


def _technique(f: Fields) -> Technique:
    id = f.text("id")
    if not _TECHNIQUE_ID.fullmatch(id):
        raise f.fail("id", f'"{id}" must be lower-case words joined by hyphens')
    low, high = f.pair("pressure")
    if low.denominator != 1 or high.denominator != 1:
        raise f.fail("pressure", "must be two whole numbers from 0 to 5")
    technique = f.build(
        lambda: Technique(
            id=id,
            plain=f.text("plain"),
            anatomical=f.text("anatomical"),
            region=f.text("region"),
            family=f.choice("family", Family),
            contact=f.choice("contact", Contact),
            lateral=f.flag("lateral"),
            pressure=(int(low), int(high)),
            cycle_seconds=f.pair("cycle_seconds"),
            landing=f.choice("landing", Landing),
            path_cm=f.number("path_cm", low=0, high=400),
            level=f.whole("level", low=1, high=5),
            energy=f.number("energy", low=-1, high=1),
            closeness=f.number("closeness", low=0, high=1),
            position=f.choices("position", Position),
            refrain=f.flag("refrain", False),
            how=f.text("how"),
            say=f.text("say"),
            trace=f.choice("trace", Trace, _usual_trace(f)),
            helps_turn=f.flag("helps_turn", False),
            from_far_end=f.flag("from_far_end", False),
            told=_told(f),
        )
    )
    f.refuse_others()
    return technique


def _told(f: Fields) -> tuple[Told, ...]:
    """Return a technique in other languages: tables called by the language's code, as `de`."""
    found = []
    for language in Language:
        if language is Language.ENGLISH or f.raw(str(language)) is None:
            continue
        words = f.table(str(language))
        found.append(
            Told(language=language, plain=words.text("plain", ""), say=words.text("say", ""))
        )
        words.refuse_others()
    return tuple(found)


def _usual_trace(f: Fields) -> Trace:
    """Return the shape that strokes of this family usually have, for files that do not say."""
    return {
        Family.GLIDING: Trace.ALONG,
        Family.KNEADING: Trace.CIRCLE,
        Family.PERCUSSION: Trace.ALTERNATE,
        Family.EMBRACE: Trace.WRAP,
    }.get(f.choice("family", Family), Trace.SPOT)


def technique_to_dict(t: Technique) -> dict[str, object]:
    """Return `t` as a repertoire file holds it."""
    return {
        "id": t.id,
        "plain": t.plain,
        "anatomical": t.anatomical,
        "region": t.region,
        "family": str(t.family),
        "contact": str(t.contact),
        "lateral": t.lateral,
        "pressure": list(t.pressure),
        "cycle_seconds": [number_to_json(s) for s in t.cycle_seconds],
        "landing": str(t.landing),
        "path_cm": number_to_json(t.path_cm),
        "level": t.level,
        "energy": number_to_json(t.energy),
        "closeness": number_to_json(t.closeness),
        "position": [str(p) for p in t.position],
        "refrain": t.refrain,
        "how": t.how,
        "say": t.say,
        "trace": str(t.trace),
        "helps_turn": t.helps_turn,
        "from_far_end": t.from_far_end,
        **{
            str(told.language): {k: v for k, v in (("plain", told.plain), ("say", told.say)) if v}
            for told in t.told
        },
    }


def regions_from_dict(data: object, *, at: str) -> tuple[Region, ...]:
    """Return the regions of the body file."""
    f = Fields(data, at=at)
    found = tuple(_region(r) for r in f.tables("region"))
    f.refuse_others()
    return found


def _region(f: Fields) -> Region:
    region = Region(
        id=f.text("id"),
        name=f.text("name"),
        lateral=f.flag("lateral"),
        neighbours=f.texts("neighbours"),
        limit=f.whole("limit", low=0, high=5),
        trained_limit=f.whole("trained_limit", low=0, high=5),
        source=f.text("source"),
        covers=f.texts("covers"),
        forbidden_families=f.choices("forbidden_families", Family),
        care=f.texts("care"),
        length_cm=f.number("length_cm", 0, low=0),
        length_source=f.text("length_source", ""),
    )
    f.refuse_others()
    return region


def region_to_dict(r: Region) -> dict[str, object]:
    """Return `r` as `rondel regions --json` prints it."""
    return {
        "id": r.id,
        "name": r.name,
        "lateral": r.lateral,
        "neighbours": list(r.neighbours),
        "limit": r.limit,
        "trained_limit": r.trained_limit,
        "source": r.source,
        "covers": list(r.covers),
        "forbidden_families": [str(x) for x in r.forbidden_families],
        "care": list(r.care),
        "length_cm": number_to_json(r.length_cm),
        "length_source": r.length_source,
    }


def cautions_from_dict(data: object, *, at: str) -> tuple[Caution, ...]:
    """Return the cautions of the body file."""
    f = Fields(data, at=at)
    found = tuple(_caution(c) for c in f.tables("caution"))
    f.refuse_others()
    return found


def _caution(f: Fields) -> Caution:
    caution = Caution(
        id=f.text("id"),
        name=f.text("name"),
        says=f.text("says"),
        forbids=_forbids(f.table("forbids")),
        source=f.text("source"),
    )
    f.refuse_others()
    return caution


def _forbids(f: Fields) -> Forbids:
    limits = f.table("region_limits")
    forbids = Forbids(
        everything=f.flag("everything", False),
        regions=f.texts("regions"),
        families=f.choices("families", Family),
        contacts=f.choices("contacts", Contact),
        positions=f.choices("positions", Position),
        max_pressure=f.whole("max_pressure", 5, low=0, high=5),
        region_limits=tuple((k, limits.whole(k, low=0, high=5)) for k in sorted(limits.names())),
    )
    f.refuse_others()
    return forbids


def caution_to_dict(c: Caution) -> dict[str, object]:
    """Return `c` as `rondel cautions --json` prints it; what forbids nothing is left out."""
    forbids = c.forbids
    found: dict[str, object] = {
        "everything": forbids.everything,
        "regions": list(forbids.regions),
        "families": [str(x) for x in forbids.families],
        "contacts": [str(x) for x in forbids.contacts],
        "positions": [str(x) for x in forbids.positions],
        "region_limits": dict(forbids.region_limits),
    }
    kept = {k: v for k, v in found.items() if v}
    if forbids.max_pressure < 5:
        kept["max_pressure"] = forbids.max_pressure
    return {"id": c.id, "name": c.name, "says": c.says, "forbids": kept, "source": c.source}


def craft_from_parts(
    techniques: Iterable[tuple[str, Technique]],
    regions: tuple[Region, ...],
    cautions: tuple[Caution, ...],
) -> Craft:
    """Return the craft, after making sure that every id is met once and every region is known.

    `techniques` come with the file they stand in, for the error's sake.
    """
    known = {r.id for r in regions}
    seen: dict[str, str] = {}
    kept = []
    for at, technique in techniques:
        f = Fields({}, at=f"{at}: technique {technique.id}")
        if technique.id in seen:
            raise f.fail("id", f"stands twice, here and in {seen[technique.id]}; rename one")
        if technique.region not in known:
            allowed = ", ".join(sorted(known))
            hint = closest(technique.region, known)
            says = f'"{technique.region}" is not known; allowed are {allowed}{hint}'
            raise f.fail("region", says)
        seen[technique.id] = at
        kept.append(technique)
    return Craft(techniques=tuple(kept), regions=regions, cautions=cautions)
