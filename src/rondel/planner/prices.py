"""What each `mind` rule costs here: the rule book's own weights, or what a teacher made of them."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.settings import Settings
from rondel.planner.constraints import (
    contact_kept,
    filler,
    repeat,
    rhythm,
    small_areas,
    vary,
)
from rondel.rules.book import BY_ID
from rondel.rules.filler import LAST_SHARE
from rondel.rules.focus import MIN_SHARE
from rondel.rules.small_areas import LONG_CM


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """Costs by event, and the numbers of `mind` rules. `curve` and `speed` are factors; `focus` is
    the whole weight."""

    curve: float
    speed: float
    focus: float
    contact_kept: float
    at_once: float
    too_often: float
    same_contact: float
    same_family: float
    again: float
    place: float
    main_place: float
    small_areas: float
    filler: float
    rhythm: float
    min_share: float  # of the working time for the main regions
    max_times: int  # that a technique may come in a window of
    per_minutes: float
    last_share: float  # of the time, where the filler stands
    long_cm: float  # from where on a stroke is long

    def place_again(self, is_main: bool) -> float:
        """Return what a block on a region costs for each earlier one there."""
        return self.main_place if is_main else self.place


#: Main regions that the teacher asked for weigh so much more than those chosen for her.
ASKED = 2.0


def prices_of(settings: Settings, *, is_asked: bool) -> Prices:
    """Return the costs under `settings`; `is_asked` where the brief names its main regions."""

    def factor(rule: str) -> float:
        own = BY_ID[rule].weight
        return settings.weight(rule, own) / own

    vary_by, repeat_by = factor("vary"), factor("repeat")
    return Prices(
        curve=factor("curve"),
        speed=factor("speed"),
        focus=settings.weight("focus", BY_ID["focus"].weight) * (ASKED if is_asked else 1.0),
        contact_kept=contact_kept.COST * factor("contact_kept"),
        at_once=repeat.AT_ONCE * repeat_by,
        too_often=repeat.TOO_OFTEN * repeat_by,
        same_contact=vary.CONTACT * vary_by,
        same_family=vary.FAMILY * vary_by,
        again=vary.AGAIN * vary_by,
        place=vary.PLACE * vary_by,
        main_place=vary.MAIN_PLACE * vary_by,
        small_areas=small_areas.COST * factor("small_areas"),
        filler=filler.COST * factor("filler"),
        rhythm=rhythm.COST * factor("rhythm"),
        min_share=settings.number("focus", "min_share", MIN_SHARE),
        max_times=int(settings.number("repeat", "max_times", repeat.OFTEN)),
        per_minutes=settings.number("repeat", "per_minutes", repeat.WINDOW_SECONDS / 60),
        last_share=settings.number("filler", "last_share", LAST_SHARE),
        long_cm=settings.number("small_areas", "long_cm", LONG_CM),
    )
