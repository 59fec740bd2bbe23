"""Random valid briefs for tests and measurements of the planner: the same for the same seed."""

from __future__ import annotations

import random
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft
from rondel.model.words import Contact, Intention, Position, Side


def random_brief(seed: int, craft: Craft, *, longest: int = 60) -> Brief:
    """Return a brief of 3 to `longest` minutes that asks for what a teacher might."""
    dice = random.Random(seed)

    def maybe(share: float) -> bool:
        return dice.random() < share

    minutes = _minutes(dice, longest)
    regions = [r.id for r in craft.regions]
    cautions = [c.id for c in craft.cautions if not c.forbids.everything]
    mains = dice.sample(regions, dice.randint(1, 3)) if maybe(0.5) else []
    avoided = dice.sample(regions, dice.randint(1, 3)) if maybe(0.25) else []
    return Brief(
        title=f"Random {seed}",
        minutes=minutes,
        intention=dice.choice(list(Intention)),
        level=dice.randint(1, 5),
        refrains=dice.randint(1, max(1, round(minutes / 3))) if maybe(0.5) else None,
        main_regions=tuple(mains),
        avoid_regions=tuple(r for r in avoided if r not in mains),
        spare=tuple(dice.sample(list(Contact), dice.randint(1, 3))) if maybe(0.3) else (),
        stretch=maybe(0.7),
        positions=tuple(dice.sample(list(Position), dice.randint(1, 3))) if maybe(0.4) else (),
        cautions=tuple(dice.sample(cautions, dice.randint(1, 2))) if maybe(0.25) else (),
        open_minutes=Fraction(dice.randint(1, max(1, int(minutes / 4)))) if maybe(0.2) else 0,  # type: ignore[arg-type]
        bpm=Fraction(dice.randint(44, 120)) if maybe(0.25) else None,
        trained=maybe(0.1),
        keep=(_keep(dice, craft, minutes),) if maybe(0.25) else (),
    )


def _minutes(dice: random.Random, longest: int) -> Fraction:
    kind = dice.random()
    if kind < 0.4:
        return Fraction(dice.choice([5, 10, 12, 15, 15, 20, 30]))
    if kind < 0.6:
        return Fraction(dice.randint(30, 120), 10)
    return Fraction(dice.randint(6, longest * 2), 2)


def _keep(dice: random.Random, craft: Craft, minutes: Fraction) -> Keep:
    technique = dice.choice([t for t in craft.techniques if not t.helps_turn])
    at = Fraction(int(minutes * 60 * Fraction(dice.randint(15, 85), 100)))
    return Keep(
        technique=technique.id,
        at_seconds=at if dice.random() < 0.6 else None,
        minutes=dice.choice([Fraction(1), Fraction(1), Fraction(3, 2)])
        if dice.random() < 0.3
        else None,
        side=dice.choice([Side.LEFT, Side.RIGHT])
        if technique.lateral and dice.random() < 0.3
        else None,
        pressure=dice.randint(*technique.pressure) if dice.random() < 0.3 else None,
    )
