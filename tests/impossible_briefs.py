"""Random briefs that ask for what cannot be: one wish too many, or two at once.

Every kind is a way in which a teacher's wishes get in each other's way. Most of what comes out
is impossible; whoever uses it plans it to know. The same seed gives the same brief.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import Contact, Intention, Position, Side

#: Changes a brief so that it asks for too much.
Spoil = Callable[[random.Random, Craft, Brief], Brief]


def impossible_brief(seed: int, craft: Craft, *, minutes: Fraction | None = None) -> Brief:
    """Return a brief of one kind (even seeds) or of two kinds at once (odd seeds)."""
    dice = random.Random(seed)
    brief = _plain_brief(dice, seed, minutes)
    names = [dice.choice(tuple(KINDS)) for _ in range(1 + seed % 2)]
    for name in names:
        try:
            brief = KINDS[name](dice, craft, brief)
        except ValueError:
            continue  # three minutes after five were left free: no brief at all
    return replace(brief, title=f"{seed}: {' and '.join(names)}")


def one_of_kind(kind: str, seed: int, craft: Craft, *, minutes: Fraction) -> Brief:
    """Return a brief that asks for too much in the one way named `kind`."""
    dice = random.Random(seed)
    brief = KINDS[kind](dice, craft, _plain_brief(dice, seed, minutes))
    return replace(brief, title=kind)


def _plain_brief(dice: random.Random, seed: int, minutes: Fraction | None) -> Brief:
    return Brief(
        title=f"Too much {seed}",
        minutes=minutes or Fraction(dice.choice([4, 5, 6, 8, 10, 12, 15, 15, 20, 30])),
        intention=dice.choice(list(Intention)),
        level=dice.randint(1, 4),
        stretch=dice.random() < 0.6,
        refrains=dice.randint(1, 3) if dice.random() < 0.3 else None,
        main_regions=("shoulders",) if dice.random() < 0.2 else (),
        spare=(dice.choice(list(Contact)),) if dice.random() < 0.2 else (),
        bpm=Fraction(dice.randint(50, 80)) if dice.random() < 0.15 else None,
    )


# ---- wishes put on top ---------------------------------------------------------------------


def _add_keep(brief: Brief, *keeps: Keep) -> Brief:
    return replace(brief, keep=(*brief.keep, *keeps))


def _some(dice: random.Random, craft: Craft, test: Callable[[Technique], bool]) -> Technique:
    return dice.choice([t for t in craft.techniques if not t.helps_turn and test(t)])


def _at(dice: random.Random, brief: Brief, low: float, high: float) -> Fraction:
    return Fraction(round(float(brief.minutes) * 60 * dice.uniform(low, high)))


def _too_many_returns(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    home = 30 * float(brief.scale) + 10
    return replace(brief, refrains=min(60, round(float(brief.minutes) * 60 / home) + 1))


def _crowded_returns(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """Nearly as many returns as fit, and minutes left free beside them."""
    most = int(brief.minutes * 60 / (45 * brief.scale))
    free = Fraction(max(1, round(float(brief.minutes) * dice.uniform(0.15, 0.4))))
    return replace(brief, refrains=max(1, most), open_minutes=free)


def _too_little_time(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    keeps = [
        Keep(technique=_some(dice, craft, lambda t: t.level == 1).id, minutes=Fraction(1))
        for _ in range(3)
    ]
    return _add_keep(replace(brief, minutes=Fraction(3)), *keeps)


def _open_too_long(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    share = Fraction(dice.randint(60, 95), 100)
    return replace(brief, open_minutes=Fraction(round(brief.minutes * share * 2), 2))


def _open_too_short(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    return replace(brief, open_minutes=Fraction(1, 10))


def _keeps_at_once(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    at = _at(dice, brief, 0.3, 0.8)
    one, two = (_some(dice, craft, lambda t: t.level <= brief.level) for _ in range(2))
    return _add_keep(
        brief,
        Keep(technique=one.id, at_seconds=at, minutes=Fraction(1)),
        Keep(technique=two.id, at_seconds=at + dice.randint(0, 20)),
    )


def _keeps_too_many(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    count = dice.choice([3, 4, 5])
    keeps = [
        Keep(
            technique=_some(dice, craft, lambda t: t.level <= brief.level).id,
            minutes=Fraction(round(brief.minutes * 2 / count), 2),
        )
        for _ in range(count)
    ]
    return _add_keep(brief, *keeps)


def _keeps_far_apart(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """One right after the other, in places or positions that do not meet."""
    at = _at(dice, brief, 0.3, 0.7)
    prone = _some(dice, craft, lambda t: Position.SUPINE not in t.position and t.level == 1)
    supine = _some(dice, craft, lambda t: Position.PRONE not in t.position and t.level == 1)
    gap = dice.choice([45, 60, 75])
    return _add_keep(
        brief,
        Keep(technique=prone.id, at_seconds=at),
        Keep(technique=supine.id, at_seconds=at + round(gap * float(brief.scale))),
    )


def _keeps_that_turn(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """Prone, supine and prone again at times, in a form that allows one turning."""
    prone = _some(dice, craft, lambda t: t.position == (Position.PRONE,) and t.level == 1)
    supine = _some(dice, craft, lambda t: t.region in ("belly", "face", "chest") and t.level == 1)
    again = _some(dice, craft, lambda t: t.position == (Position.PRONE,) and t.level <= 2)
    times = [_at(dice, brief, low, low + 0.1) for low in (0.2, 0.45, 0.7)]
    some = zip((prone, supine, again), times, strict=True)
    return _add_keep(brief, *(Keep(technique=t.id, at_seconds=at) for t, at in some))


def _mains_avoided(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    id = dice.choice([r.id for r in craft.regions])
    return replace(brief, main_regions=(id,), avoid_regions=(id,))


def _main_in_avoided(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    id = dice.choice(["beside_spine", "shoulders", "blades", "lower_back", "between_blades"])
    return replace(brief, main_regions=(id,), avoid_regions=("back",))


def _main_out_of_position(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    id, position = dice.choice(
        [("face", "prone"), ("belly", "prone"), ("chest", "prone"), ("back", "supine")]
    )
    return replace(brief, main_regions=(id,), positions=(Position(position),))


def _mains_and_spared(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    id = dice.choice(["face", "belly", "chest", "neck", "calves", "forearms", "scalp"])
    used = {t.contact for t in craft.techniques if t.region == id}
    return replace(brief, main_regions=(id,), spare=tuple(c for c in Contact if c in used))


def _spared_all(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    left = dice.sample(list(Contact), dice.choice([0, 0, 1]))
    return replace(brief, spare=tuple(c for c in Contact if c not in left))


def _spared_most(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """What is left is light; hardly anything can be the peak."""
    left = dice.choice([("forearm",), ("fingertips",), ("flat_fingers",), ("palm",), ("heel",)])
    main = dice.choice([(), (), ("back",), ("face",), ("scalp",)])
    spare = tuple(c for c in Contact if c not in left)
    return replace(brief, spare=spare, main_regions=main)


def _avoided_all(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    left = dice.sample([r.id for r in craft.regions], dice.randint(0, 2))
    avoided = tuple(r.id for r in craft.regions if r.id not in left)
    return replace(brief, avoid_regions=avoided, main_regions=())


def _keep_spared(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    return replace(_add_keep(brief, Keep(technique=technique.id)), spare=(technique.contact,))


def _keep_avoided(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    avoided = (*brief.avoid_regions, technique.region)
    return replace(_add_keep(brief, Keep(technique=technique.id)), avoid_regions=avoided)


def _keep_out_of_position(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: len(t.position) < 3)
    others = tuple(p for p in Position if p not in technique.position)
    return replace(_add_keep(brief, Keep(technique=technique.id)), positions=others)


def _keep_above_level(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level >= 4)
    return _add_keep(replace(brief, level=1), Keep(technique=technique.id))


def _keep_above_no_stretch(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level == 3)
    return _add_keep(replace(brief, level=2, stretch=False), Keep(technique=technique.id))


def _two_above_level(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    ids = dice.sample([t.id for t in craft.techniques if t.level == 3], 2)
    return _add_keep(replace(brief, level=2, stretch=True), *(Keep(technique=i) for i in ids))


def _stretch_too_early(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level == 3)
    keep = Keep(technique=technique.id, at_seconds=_at(dice, brief, 0.2, 0.6))
    return _add_keep(replace(brief, level=2, stretch=True), keep)


def _deep_too_early(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[1] >= 4 and t.level <= 3)
    keep = Keep(technique=technique.id, pressure=4, at_seconds=_at(dice, brief, 0.0, 0.3))
    return _add_keep(replace(brief, level=3), keep)


def _deep_too_late(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[1] >= 4 and t.level <= 3)
    keep = Keep(technique=technique.id, pressure=4, at_seconds=_at(dice, brief, 0.86, 0.96))
    return _add_keep(replace(brief, level=3), keep)


def _deep_twice(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    ids = [t.id for t in craft.techniques if t.pressure[1] >= 4 and t.level <= 3]
    one, two = dice.sample(ids, 2)
    return _add_keep(
        replace(brief, level=3),
        Keep(technique=one, pressure=4, at_seconds=_at(dice, brief, 0.45, 0.6)),
        Keep(technique=two, pressure=4, at_seconds=_at(dice, brief, 0.75, 0.9)),
    )


def _firm_in_opening(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[0] >= 2 and t.level <= brief.level)
    at = Fraction(round(60 * float(brief.scale)))
    return _add_keep(brief, Keep(technique=technique.id, at_seconds=at))


def _firm_in_close(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[1] >= 3 and t.level <= brief.level)
    at = brief.minutes * 60 - round(45 * float(brief.scale))
    return _add_keep(brief, Keep(technique=technique.id, at_seconds=at, pressure=3))


def _keep_past_the_end(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    at = brief.minutes * 60 - dice.randint(-30, 10)
    return _add_keep(brief, Keep(technique=technique.id, at_seconds=at))


def _keep_too_long(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    share = Fraction(dice.randint(50, 90), 100)
    minutes = Fraction(round(brief.minutes * share * 2), 2)
    return _add_keep(brief, Keep(technique=technique.id, minutes=minutes))


def _keep_too_firm(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[1] < 4 and t.level <= brief.level)
    return _add_keep(brief, Keep(technique=technique.id, pressure=dice.choice([4, 5])))


def _keep_firm_for_level(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.pressure[1] >= 4 and t.level <= 3)
    return _add_keep(
        replace(brief, level=1, stretch=True), Keep(technique=technique.id, pressure=4)
    )


def _positions_and_cautions(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    caution, positions = dice.choice(
        [
            ("pregnancy", ("prone", "supine")),
            ("heart", ("prone",)),
            ("low_blood_pressure", ("seated",)),
        ]
    )
    return replace(brief, cautions=(caution,), positions=tuple(Position(p) for p in positions))


def _main_and_cautions(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    caution, region = dice.choice(
        [
            ("varicose_veins", "calves"),
            ("knee_or_leg_trouble", "thighs"),
            ("neck_trouble", "face"),
            ("pregnancy", "belly"),
        ]
    )
    return replace(brief, cautions=(caution,), main_regions=(region,))


def _keep_and_cautions(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.family.value == "percussion")
    caution = dice.choice(["osteoporosis", "cancer", "heart", "skin_fragile"])
    return replace(_add_keep(brief, Keep(technique=technique.id)), cautions=(caution,))


def _ask_a_clinician(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    ids = [c.id for c in craft.cautions if c.forbids.everything]
    return replace(brief, cautions=(dice.choice(ids),))


def _tempo_too_quick(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """A tempo at the edge, with something insisted on whose strokes hardly fit it."""
    technique = _some(dice, craft, lambda t: not t.family.is_held and t.level <= brief.level)
    keep = Keep(technique=technique.id, minutes=Fraction(dice.choice([7, 11, 13]), 10))
    return _add_keep(replace(brief, bpm=Fraction(dice.choice([30, 31, 181, 199]))), keep)


def _keep_on_no_side(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    side = Side.BOTH if technique.lateral else Side.LEFT
    return _add_keep(brief, Keep(technique=technique.id, side=side))


def _keeps_where_home_must_be(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    """Keeps one after the other, so that no return finds room where one is due."""
    returns = max(2, round(float(brief.minutes) / 1.6))
    techniques = [
        _some(dice, craft, lambda t: t.level <= brief.level and not t.lateral) for _ in range(4)
    ]
    start, each = _at(dice, brief, 0.25, 0.4), round(75 * float(brief.scale))
    keeps = [
        Keep(technique=t.id, at_seconds=start + i * each, minutes=Fraction(each - 5, 60))
        for i, t in enumerate(techniques)
    ]
    return _add_keep(replace(brief, refrains=returns), *keeps)


def _open_and_keeps(dice: random.Random, craft: Craft, brief: Brief) -> Brief:
    technique = _some(dice, craft, lambda t: t.level <= brief.level)
    keep = Keep(technique=technique.id, minutes=Fraction(round(brief.minutes / 5 * 2), 2))
    return _add_keep(replace(brief, open_minutes=Fraction(round(brief.minutes / 2))), keep)


KINDS: dict[str, Spoil] = {
    "too many returns": _too_many_returns,
    "crowded returns": _crowded_returns,
    "too little time": _too_little_time,
    "open too long": _open_too_long,
    "open too short": _open_too_short,
    "keeps at once": _keeps_at_once,
    "keeps too many": _keeps_too_many,
    "keeps far apart": _keeps_far_apart,
    "keeps that turn": _keeps_that_turn,
    "mains avoided": _mains_avoided,
    "main in avoided": _main_in_avoided,
    "main out of position": _main_out_of_position,
    "mains and spared": _mains_and_spared,
    "spared all": _spared_all,
    "spared most": _spared_most,
    "avoided all": _avoided_all,
    "keep spared": _keep_spared,
    "keep avoided": _keep_avoided,
    "keep out of position": _keep_out_of_position,
    "keep above level": _keep_above_level,
    "keep above, no stretch": _keep_above_no_stretch,
    "two above level": _two_above_level,
    "stretch too early": _stretch_too_early,
    "deep too early": _deep_too_early,
    "deep too late": _deep_too_late,
    "deep twice": _deep_twice,
    "firm in opening": _firm_in_opening,
    "firm in close": _firm_in_close,
    "keep past the end": _keep_past_the_end,
    "keep too long": _keep_too_long,
    "keep too firm": _keep_too_firm,
    "keep firm for level": _keep_firm_for_level,
    "positions and cautions": _positions_and_cautions,
    "main and cautions": _main_and_cautions,
    "keep and cautions": _keep_and_cautions,
    "ask a clinician": _ask_a_clinician,
    "tempo too quick": _tempo_too_quick,
    "keep on no side": _keep_on_no_side,
    "keeps where home must be": _keeps_where_home_must_be,
    "open and keeps": _open_and_keeps,
}
