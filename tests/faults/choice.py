"""Faults of what is chosen: `sides`, `level`, `spare`, `avoid`, `cautions`, `keep`."""

from __future__ import annotations

from fractions import Fraction

from faults.pieces import Kinds, Sound, changed, laid, moved_bars, swapped, with_brief
from rondel.model.brief import Keep
from rondel.model.repertoire import Forbids, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import DEEP, Position, Side
from rondel.rules import close, level

KINDS = Kinds()


@KINDS.of("sides", "the same side twice")
def same_side(sound: Sound) -> Routine | None:
    pair = sound.pick(sound.pairs())
    return changed(sound.routine, pair[1:], side=pair[0].side) if pair else None


@KINDS.of("sides", "one side is left out")
def dropped_side(sound: Sound) -> Routine | None:
    pair = sound.pick(sound.pairs())
    if pair is None:
        return None
    kept, gone = pair if sound.dice.random() < 0.5 else pair[::-1]
    longer = changed(sound.routine, [kept], bars=kept.bars + gone.bars)
    return laid(longer, [p for p in longer.line if p.id != gone.id])


@KINDS.of("sides", "one side gets more time")
def uneven_time(sound: Sound) -> Routine | None:
    pair = sound.pick(p for p in sound.pairs() if p[0].bars > 1)
    if pair is None:
        return None
    giver, taker = pair if sound.dice.random() < 0.5 else pair[::-1]
    return moved_bars(sound, giver, taker, 1)


@KINDS.of("sides", "one side gets more pressure")
def uneven_pressure(sound: Sound) -> Routine | None:
    pair = sound.pick(sound.pairs())
    passage = sound.pick(pair or ())
    if passage is None:
        return None
    other = sound.pick(p for p in range(1, DEEP) if p != passage.pressure)
    return changed(sound.routine, [passage], pressure=other)


@KINDS.of("sides", "work that belongs on each side is done on both at once")
def both_at_once(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.worked() if sound.technique(p).lateral)
    side = sound.pick((Side.BOTH, Side.CENTRE))
    return changed(sound.routine, [passage], side=side) if passage else None


@KINDS.of("sides", "work for both sides is done on one")
def one_sided(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.worked() if not sound.technique(p).lateral)
    side = sound.pick((Side.LEFT, Side.RIGHT))
    return changed(sound.routine, [passage], side=side) if passage else None


def _early_end(sound: Sound) -> float:
    """Return the second from which a stretch passage may start."""
    return sound.total * (1 - level.LAST_SHARE)


def _late(sound: Sound) -> list[Passage]:
    """Return the passages that may be the stretch passage by their place."""
    closes = sound.total - close.SECONDS * sound.scale
    return [p for p in sound.worked() if _early_end(sound) + 0.1 < sound.start(p) < closes - 0.1]


def _above(sound: Sound, least: int, most: int) -> list[Technique]:
    """Return the techniques from `least` to `most` levels above the couple's."""
    own = sound.brief.level
    return sound.techniques(lambda t: own + least <= t.level <= own + most)


@KINDS.of("level", "a technique above the level, too early or not allowed")
def too_hard(sound: Sound) -> Routine | None:
    early = [p for p in sound.worked() if sound.start(p) < _early_end(sound) - 0.1]
    passage = sound.pick(early if sound.brief.stretch else sound.worked())
    technique = sound.pick(_above(sound, 1, 4))
    if passage is None or technique is None:
        return None
    return changed(swapped(sound, [passage], technique), [passage], stretch=True)


@KINDS.of("level", "a stretch passage far above the level")
def far_too_hard(sound: Sound) -> Routine | None:
    passage = sound.pick(_late(sound))
    technique = sound.pick(_above(sound, level.MAX_ABOVE + 1, 4))
    if passage is None or technique is None:
        return None
    return changed(swapped(sound, [passage], technique), [passage], stretch=True)


@KINDS.of("level", "a stretch passage that is not marked")
def unmarked(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.line if p.stretch)
    return changed(sound.routine, [passage], stretch=False) if passage else None


@KINDS.of("level", "a second stretch passage")
def second_stretch(sound: Sound) -> Routine | None:
    first = [p.technique for p in sound.line if p.stretch]
    passage = sound.pick(p for p in _late(sound) if not p.stretch)
    technique = sound.pick(t for t in _above(sound, 1, level.MAX_ABOVE) if t.id not in first)
    if not first or passage is None or technique is None:
        return None
    return changed(swapped(sound, [passage], technique), [passage], stretch=True)


@KINDS.of("spare", "a spared contact")
def spared(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    technique = sound.pick(sound.techniques(lambda t: t.contact in sound.brief.spare))
    return swapped(sound, [passage], technique) if passage and technique else None


def _parts(sound: Sound, regions: tuple[str, ...]) -> frozenset[str]:
    """Return `regions` with the regions that they cover."""
    return frozenset(regions).union(*(sound.craft.region(r).covers for r in regions))


@KINDS.of("avoid", "work on an avoided region")
def avoided(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    parts = _parts(sound, sound.brief.avoid_regions)
    technique = sound.pick(sound.techniques(lambda t: t.region in parts))
    return swapped(sound, [passage], technique) if passage and technique else None


@KINDS.of("avoid", "strokes that pass over an avoided region")
def passed_over(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    parts = _parts(sound, sound.brief.avoid_regions)
    technique = sound.pick(
        sound.techniques(lambda t: t.region not in parts and bool(sound.touched(t) & parts))
    )
    return swapped(sound, [passage], technique) if passage and technique else None


def _forbidden(sound: Sound) -> Forbids | None:
    id = sound.pick(sound.brief.cautions)
    return sound.craft.caution(id).forbids if id else None


@KINDS.of("cautions", "a family, contact or region that a caution forbids")
def against_caution(sound: Sound) -> Routine | None:
    forbids = _forbidden(sound)
    if forbids is None:
        return None
    parts = _parts(sound, forbids.regions)
    technique = sound.pick(
        sound.techniques(
            lambda t: (
                t.family in forbids.families
                or t.contact in forbids.contacts
                or bool(sound.touched(t) & parts)
            )
        )
    )
    passage = sound.pick(sound.worked())
    return swapped(sound, [passage], technique) if passage and technique else None


@KINDS.of("cautions", "pressure above what a caution allows")
def too_firm_for_caution(sound: Sound) -> Routine | None:
    forbids = _forbidden(sound)
    if forbids is None:
        return None
    options = []
    for p in sound.worked():
        here = sound.touched(sound.technique(p))
        limits = [limit for region, limit in forbids.region_limits if region in here]
        most = min([forbids.max_pressure, *limits])
        options += [(p, high) for high in range(most + 1, 6)]
    choice = sound.pick(options)
    return changed(sound.routine, [choice[0]], pressure=choice[1]) if choice else None


@KINDS.of("cautions", "a position that a caution forbids")
def lying_against_caution(sound: Sound) -> Routine | None:
    forbids = _forbidden(sound)
    passage = sound.pick(sound.line)
    position: Position | None = sound.pick(forbids.positions) if forbids else None
    if passage is None or position is None:
        return None
    return changed(sound.routine, [passage], position=position)


@KINDS.of("cautions", "a session where a clinician is asked first")
def no_session(sound: Sound) -> Routine | None:
    caution = sound.pick(c for c in sound.craft.cautions if c.forbids.everything)
    assert caution is not None
    return with_brief(sound.routine, cautions=(*sound.brief.cautions, caution.id))


def _kept(sound: Sound) -> tuple[Keep, list[Passage]] | None:
    """Return what the teacher insists on, with every passage of that technique."""
    keep = sound.pick(sound.brief.keep)
    if keep is None:
        return None
    return keep, [p for p in sound.line if p.technique == keep.technique]


@KINDS.of("keep", "what she insists on is gone")
def kept_gone(sound: Sound) -> Routine | None:
    kept = _kept(sound)
    if kept is None:
        return None
    keep, there = kept
    was = sound.craft.technique(keep.technique)
    other = sound.pick(sound.techniques(lambda t: t.id != was.id and t.lateral == was.lateral))
    return swapped(sound, there, other) if other else None


@KINDS.of("keep", "what she insists on has another pressure")
def kept_pressure(sound: Sound) -> Routine | None:
    kept = _kept(sound)
    if kept is None or kept[0].pressure is None:
        return None
    keep, there = kept
    pressure = sound.pick(p for p in range(6) if p != keep.pressure)
    return changed(sound.routine, there, pressure=pressure)


@KINDS.of("keep", "what she insists on comes at another time")
def kept_late(sound: Sound) -> Routine | None:
    kept = _kept(sound)
    if kept is None or kept[0].at_seconds is None:
        return None
    asked, there = float(kept[0].at_seconds), kept[1]
    others = [p for p in sound.line if p not in there]
    options = []
    for at in range(len(others) + 1):
        routine = laid(sound.routine, [*others[:at], *there, *others[at:]])
        starts = [
            routine.start_seconds(p) for p in routine.line if p.technique == kept[0].technique
        ]
        if all(abs(start - asked) > sound.bar_seconds + 0.1 for start in starts):
            options.append(routine)
    return sound.pick(options)


@KINDS.of("keep", "she insists on something that is not there")
def kept_absent(sound: Sound) -> Routine | None:
    used = {p.technique for p in sound.line}
    absent = sound.pick(sound.techniques(lambda t: t.id not in used))
    assert absent is not None
    keep = Keep(technique=absent.id, at_seconds=Fraction(sound.dice.randint(60, 150)))
    return with_brief(sound.routine, keep=(*sound.brief.keep, keep))
