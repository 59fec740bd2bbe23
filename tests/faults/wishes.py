"""Faults of good taste, the `mind` rules: each is put in where the rule is not strained yet."""

from __future__ import annotations

from fractions import Fraction

from faults.pieces import Kinds, Sound, changed, swapped, with_brief
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Family, Intention, Role
from rondel.rules import close, filler, opening, repeat, small_areas, speed

KINDS = Kinds()


@KINDS.of("repeat", "the same technique in the next block")
def again_at_once(sound: Sound) -> Routine | None:
    options = [
        (one, two)
        for one, two in zip(sound.rounds(), sound.rounds()[1:], strict=False)
        if one[-1].end_bar == two[0].start_bar
    ]
    choice = sound.pick(options)
    if choice is None:
        return None
    one, two = choice
    return swapped(sound, two, sound.technique(one[0]))


@KINDS.of("repeat", "one technique too often")
def too_often(sound: Sound) -> Routine | None:
    rounds = sound.rounds()[::2]  # no two neighbours
    count = repeat.MAX_TIMES + 1
    if len(rounds) < count:
        return None
    first = sound.dice.randrange(len(rounds) - count + 1)
    some = rounds[first : first + count]
    seconds = sound.start(some[-1][0]) - sound.start(some[0][0])
    if seconds >= repeat.PER_MINUTES * 60 - 0.1:
        return None
    technique = sound.technique(some[0][0])
    return swapped(sound, [p for r in some for p in r], technique)


@KINDS.of("focus", "the work is not where it was asked for")
def elsewhere(sound: Sound) -> Routine | None:
    worked = {sound.technique(p).region for p in sound.worked()}
    region = sound.pick(r.id for r in sound.craft.regions if r.id not in worked)
    return with_brief(sound.routine, main_regions=(region,)) if region else None


@KINDS.of("focus", "all the work on the main regions goes elsewhere")
def lost_focus(sound: Sound) -> Routine | None:
    mains = sound.brief.main_regions
    there = [p for p in sound.worked() if sound.technique(p).region in mains]
    lowest, latest = opening.SECONDS * sound.scale, sound.total - close.SECONDS * sound.scale
    counted = [p for p in sound.line if lowest < sound.end(p) and sound.start(p) < latest]
    if not there or not any(p.role is Role.WORK for p in counted):
        return None
    technique = sound.pick(sound.techniques(lambda t: t.region not in mains and not t.lateral))
    return swapped(sound, there, technique) if technique else None


@KINDS.of("filler", "nothing new in the last quarter")
def no_filler(sound: Sound) -> Routine | None:
    begins = sound.total * (1 - filler.LAST_SHARE)
    early = [p for p in sound.worked() if sound.start(p) < begins - 1]
    late = [p for p in sound.worked() if sound.start(p) >= begins - 1]
    known = sound.pick(early)
    if known is None or not late:
        return None
    return swapped(sound, late, sound.technique(known))


@KINDS.of("curve", "firm at first, light ever after")
def upside_down(sound: Sound) -> Routine | None:
    third = sound.total / 3
    first = [p for p in sound.worked() if sound.start(p) < third]
    later = [p for p in sound.worked() if sound.start(p) >= third]
    return changed(changed(sound.routine, first, pressure=5), later, pressure=1)


@KINDS.of("curve", "firmest at the very end")
def ends_hard(sound: Sound) -> Routine | None:
    last = [p for p in sound.worked() if sound.end(p) > sound.total * 0.9]
    others = [p for p in sound.worked() if p not in last]
    if sum(p.bars for p in last) > sound.routine.bars / 2:
        return None
    return changed(changed(sound.routine, last, pressure=5), others, pressure=1)


@KINDS.of("curve", "lively at the end, where it should calm")
def ends_lively(sound: Sound) -> Routine | None:
    if sound.brief.intention not in (Intention.SETTLE, Intention.SLEEP):
        return None
    last = [p for p in sound.worked() if sound.end(p) > sound.total * 0.9]
    technique = sound.pick(sound.techniques(lambda t: t.energy >= Fraction(9, 10)))
    if technique is None or sum(p.bars for p in last) > sound.routine.bars / 3:
        return None
    return swapped(sound, last, technique)


@KINDS.of("curve", "strokes at the very end, where a hold is wished")
def ends_in_strokes(sound: Sound) -> Routine | None:
    if sound.brief.intention not in (Intention.SLEEP, Intention.CLOSENESS):
        return None
    technique = sound.pick(sound.techniques(lambda t: not t.family.is_held and not t.lateral))
    return swapped(sound, sound.line[-1:], technique) if technique else None


@KINDS.of("vary", "one contact in every block")
def one_contact(sound: Sound) -> Routine | None:
    """Different techniques of one contact, all over the work."""
    work = sound.rounds()
    peak = sound.peak_row()
    contact = sound.pick({t.contact: None for t in sound.craft.techniques})
    some = sound.techniques(lambda t: t.contact is contact and not t.lateral)
    if len(work) < 4 or len(some) < 3:
        return None
    routine = sound.routine
    for place, row in enumerate([*work, peak]):
        spoilt = Sound(routine=routine, craft=sound.craft, dice=sound.dice)
        routine = swapped(spoilt, row, some[place % len(some)])
    return routine


@KINDS.of("vary", "one technique in every block")
def one_technique(sound: Sound) -> Routine | None:
    work = sound.rounds()
    technique = sound.pick(sound.techniques(lambda t: not t.lateral))
    if len(work) < 5 or technique is None:
        return None
    return swapped(sound, [p for row in work for p in row], technique)


@KINDS.of("vary", "one family only")
def one_family(sound: Sound) -> Routine | None:
    work = [p for p in sound.worked() if p.role in (Role.WORK, Role.PEAK, Role.REST)]
    family = sound.pick([f for f in Family if not f.is_held])
    some = sound.techniques(lambda t: t.family is family and not t.lateral)
    if len(sound.rounds()) < 5 or not some:
        return None
    routine = sound.routine
    for place, passage in enumerate(work):
        spoilt = Sound(routine=routine, craft=sound.craft, dice=sound.dice)
        routine = swapped(spoilt, [passage], some[place % len(some)])
    return routine


@KINDS.of("small_areas", "a small area before the long strokes")
def small_first(sound: Sound) -> Routine | None:
    def is_long(t: Technique) -> bool:
        return t.path_cm >= small_areas.LONG_CM and not t.family.is_held

    options: list[tuple[Passage, Technique]] = []
    small = sound.techniques(lambda t: not is_long(t) and not t.family.is_held)
    for t in small:
        long_ones = [
            p
            for p in sound.worked()
            if is_long(sound.technique(p)) and t.region in sound.touched(sound.technique(p))
        ]
        if long_ones:
            first = long_ones[0].start_bar
            options += [(p, t) for p in sound.worked() if p.start_bar < first]
    choice = sound.pick(options)
    return swapped(sound, [choice[0]], choice[1]) if choice else None


def _calming(sound: Sound) -> list[Passage]:
    """Return the light glides of a session that should calm."""
    if sound.brief.intention not in (Intention.SETTLE, Intention.SLEEP):
        return []
    return [
        p for p in sound.worked() if sound.technique(p).family is Family.GLIDING and p.pressure <= 2
    ]


def _at_speed(sound: Sound, low: float, high: float) -> Routine | None:
    """Return the routine with a glide between `low` and `high` cm a second, on a mean body."""
    beat = sound.bar_seconds / sound.routine.beats_per_bar
    options = []
    for p in _calming(sound):
        path = float(sound.technique(p).path_cm)
        for beats in (Fraction(1, 2), *map(Fraction, range(1, p.bars * 4 + 1))):
            if low < path / (float(beats) * beat) < high:
                options.append((p, beats))
    choice = sound.pick(options)
    return changed(sound.routine, [choice[0]], beats_per_stroke=choice[1]) if choice else None


@KINDS.of("speed", "a calming glide rushes")
def too_fast(sound: Sound) -> Routine | None:
    return _at_speed(sound, speed.CM_PER_SECOND[1] + 0.1, 1000)


@KINDS.of("speed", "a calming glide crawls")
def too_slow(sound: Sound) -> Routine | None:
    return _at_speed(sound, 0, speed.CM_PER_SECOND[0] - 0.01)


@KINDS.of("rhythm", "no hand after hand")
def no_rhythm(sound: Sound) -> Routine | None:
    if sound.brief.intention is Intention.SLEEP:
        return None  # nothing is asked of it
    there = [p for p in sound.worked() if sound.technique(p).is_alternating]
    other = sound.pick(sound.techniques(lambda t: not t.is_alternating and not t.lateral))
    return swapped(sound, there, other) if there and other else None
