"""What would be lost with another choice, in a clause worked out from the two routines.

The score names the rule that suffers most. What of that rule then fails, and did not before, is
looked up in the passages themselves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.names import names_shown, technique_names
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import CONTACT_NAME, Contact, Intention, Role
from rondel.planner.alternatives import Instead, Kind
from rondel.planner.constraints import contact_kept, curve, rise, small_areas
from rondel.planner.curves import CLOSENESS_COUNTS, ENERGY, PRESSURE, value_at
from rondel.planner.material import Material
from rondel.planner.naming import place
from rondel.planner.score import own_blocks
from rondel.rules.book import BY_ID

#: Costs nearer than this are told as equal: about what half a minute one fifth of a level of
#: pressure off the curve costs.
AS_WELL = 0.05

#: How a session of each intention is spoken of in reasons.
WISHES = {
    Intention.SETTLE: "settling",
    Intention.WAKE: "waking",
    Intention.SLEEP: "falling asleep",
    Intention.CLOSENESS: "being close",
}

_PREPOSITIONS = ("above", "below", "beside", "between", "behind", "under")
_CONTACTS = {Contact.FIST: "fists", Contact.HEEL: "heels of the hand"}
_CURVED = (Role.ARRIVE, Role.WORK, Role.PEAK, Role.CLOSE)
_WORKED = (Role.WORK, Role.PEAK)
_TIMES = {2: "a second time", 3: "a third time", 4: "a fourth time"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """Tells what `instead` loses. Sentences are those of one craft and one brief."""

    craft: Craft
    material: Material

    def clause(self, instead: Instead) -> str:
        """Return what would suffer most, as in "the palms would work twice running"."""
        part, more = instead.losses[0]
        assert more > 0
        tellers: dict[str, Callable[[Instead], str]] = {
            "curve": self._curve,
            "contact_kept": self._contact_kept,
            "repeat": self._repeat,
            "vary": self._vary,
            "small_areas": self._small_areas,
            "focus": self._focus,
            "taste": self._taste,
            "speed": lambda _: "the glides would have a pace that feels less calm",
            "filler": lambda _: "nothing new would be met near the end",
            "rhythm": lambda _: "no stroke would go hand after hand on the beat",
        }
        says = tellers[part](instead) if part in tellers else ""
        return says or self._rule(part)

    def again(self, instead: Instead, names: str) -> str:
        """Return the short sentence for a loss of which the clause has been told before."""
        if instead.losses[0][0] == "curve" and instead.kind is Kind.TECHNIQUE:
            what = self._curve(instead).removeprefix("it would be ").removeprefix("hands would be ")
            if what.startswith("the hands"):
                return f"{names} would bring the two less near, too."
            return f"{names} would be {what.partition(' ')[0]} than wished, too."
        return f"{names} would serve less well."

    def name(self, technique: str | None, routine: Routine) -> str:
        assert technique is not None
        return technique_names(self.craft.technique(technique), names_shown(routine))[0]

    def names(self, row: tuple[Passage, ...], routine: Routine) -> str:
        """Return the names of a row, each once, the main one first."""
        return " and ".join(self.name(t, routine) for t in dict.fromkeys(p.technique for p in row))

    def _rule(self, part: str) -> str:
        if part in BY_ID:
            return f"the rule “{BY_ID[part].name}” would suffer"
        return "the whole would be less even"

    def _technique(self, passage: Passage) -> Technique:
        assert passage.technique is not None
        return self.craft.technique(passage.technique)

    def _place(self, region: str) -> str:
        """Return the region as a thing: "the calves", but "the place beside the spine"."""
        words = place(self.craft.region(region))
        whole, comma, rest = words.partition(", ")
        if comma and rest.split()[0] in _PREPOSITIONS:
            words = whole
        return words if words.startswith("the ") else f"the place {words}"

    # --- the curves -------------------------------------------------------------------------

    def _curve(self, instead: Instead) -> str:
        """Tell which of pressure, energy and closeness goes further from what is wished for."""
        now, then = self._apart(instead.now), self._apart(instead.then)
        worst = max(now, key=lambda what: then[what] - now[what])
        wish = WISHES[instead.now.intention]
        if instead.kind is Kind.ORDER:
            return f"{worst} would rise and fall less as {wish} wishes"
        at = max(
            (p for p in instead.other if p.role in _CURVED),
            key=lambda p: p.bars,
            default=instead.other[0],
        )
        share = (at.start_bar + at.bars / 2) / instead.now.bars
        if worst == "closeness":
            return "the hands would bring the two less near"
        if worst == "energy":
            above = float(self._technique(at).energy) > value_at(
                ENERGY[instead.now.intention], share
            )
            return f"it would be {'livelier' if above else 'quieter'} than {wish} wishes for then"
        firm = rise.counted(at.pressure) > value_at(PRESSURE[instead.now.intention], share)
        return f"hands would be {'firmer' if firm else 'lighter'} than {wish} wishes for then"

    def _apart(self, routine: Routine) -> dict[str, float]:
        """Return about how far the passages lie from the curves, by what is wished for."""
        intention = routine.intention
        apart = dict.fromkeys(("pressure", "energy", "closeness"), 0.0)
        for p in routine.line:
            if p.role not in _CURVED or p.is_open:
                continue
            technique = self._technique(p)
            share = (p.start_bar + p.bars / 2) / routine.bars
            pressure = rise.counted(p.pressure) - value_at(PRESSURE[intention], share)
            energy = float(technique.energy) - value_at(ENERGY[intention], share)
            distant = 1 - float(technique.closeness)
            apart["pressure"] += p.bars * curve.PRESSURE_COUNTS * pressure**2
            apart["energy"] += p.bars * curve.ENERGY_COUNTS * energy**2
            apart["closeness"] += p.bars * CLOSENESS_COUNTS[intention] * distant
        return apart

    # --- variety ----------------------------------------------------------------------------

    def _vary(self, instead: Instead) -> str:
        return _first_new(self._alike, instead)

    def _alike(self, routine: Routine) -> Iterator[str]:
        """Yield what is alike in the blocks, the weightiest kinds first."""
        rows = tuple(own_blocks(routine))
        uses = Counter(t for row in rows for t in {p.technique for p in row})
        for technique, times in uses.items():
            for n in range(2, times + 1):
                again = _TIMES.get(n, "yet again")
                yield f"{self.name(technique, routine)} would come {again}"
        for one, two in pairwise(rows):
            a, b = self._technique(one[0]), self._technique(two[0])
            both = f"{self.name(a.id, routine)} and {self.name(b.id, routine)}"
            if a.contact is b.contact:
                yield f"{both}, one after the other, would both load the {_contacts(a.contact)}"
        for one, two in pairwise(rows):
            a, b = self._technique(one[0]), self._technique(two[0])
            if a.family is b.family:
                both = f"{self.name(a.id, routine)} and {self.name(b.id, routine)}"
                yield f"{both}, one after the other, would both be {a.family}"
        places = Counter(self._technique(row[0]).region for row in rows)
        for region, times in places.items():
            if times > 1:
                often = "twice" if times == 2 else f"{times} times"
                yield f"{self._place(region)} would be worked {often}"

    def _repeat(self, instead: Instead) -> str:
        def repeated(routine: Routine) -> Iterator[str]:
            rows = tuple(own_blocks(routine))
            for one, two in pairwise(rows):
                for technique in {p.technique for p in one} & {p.technique for p in two}:
                    yield f"{self.name(technique, routine)} would come twice at once"
            uses = Counter(t for row in rows for t in {p.technique for p in row})
            for technique, times in uses.items():
                yield from (
                    f"{self.name(technique, routine)} would come too often" for _ in range(2, times)
                )

        return _first_new(repeated, instead)

    # --- places -----------------------------------------------------------------------------

    def _contact_kept(self, instead: Instead) -> str:
        def leaving(routine: Routine) -> Iterator[str]:
            for one, two in pairwise(routine.line):
                if one.is_open or two.is_open:
                    continue
                a, b = self._technique(one).region, self._technique(two).region
                if contact_kept.cost(self.craft, a, b):
                    yield (
                        "the hands would have to leave the body between "
                        f"{self._place(a)} and {self._place(b)}"
                    )

        return _first_new(leaving, instead)

    def _small_areas(self, instead: Instead) -> str:
        def too_soon(routine: Routine) -> Iterator[str]:
            least = small_areas.long_cm(self.craft)
            asked, wide = small_areas.regions_with_wide(self.craft, least), set[str]()
            for p in routine.line:
                if p.is_open:
                    continue
                technique = self._technique(p)
                region = technique.region
                if small_areas.is_wide(technique, least):
                    wide |= {region, *self.craft.region(region).covers}
                elif small_areas.is_small(technique, least) and region in asked - wide:
                    yield f"{self._place(region)} would meet small strokes before any long one"

        return _first_new(too_soon, instead)

    def _focus(self, instead: Instead) -> str:
        """Tell of the main region that loses most of its share."""
        now, then = self.shares(instead.now), self.shares(instead.then)
        region = min(now, key=lambda r: then[r] - now[r], default=None)
        if region is None or round(100 * now[region]) <= round(100 * then[region]):
            return ""
        return (
            f"{self._place(region)} would get {round(100 * then[region])} percent of the work, "
            f"not {round(100 * now[region])}"
        )

    def shares(self, routine: Routine) -> dict[str, float]:
        """Return of every main region its share of the working time."""
        worked = [p for p in routine.line if p.role in _WORKED]
        worked += [p for row in own_blocks(routine) for p in row if p.role is Role.REST]
        whole = sum(p.bars for p in worked) or 1
        mains = [self.material.region_ids[m] for m in self.material.mains]
        return {
            main: sum(p.bars for p in worked if self._technique(p).region == main) / whole
            for main in mains
        }

    def _taste(self, instead: Instead) -> str:
        mains = {self.material.region_ids[m] for m in self.material.mains}

        def on_main(routine: Routine) -> bool:
            return any(
                self._technique(p).region in mains for p in routine.line if p.role is Role.PEAK
            )

        if on_main(instead.now) and not on_main(instead.then):
            return "the peak would lie away from the main regions"
        if any(p.stretch for p in instead.now.line) and not any(
            p.stretch for p in instead.then.line
        ):
            return "there would be no passage to grow into"
        return ""


def _first_new(told: Callable[[Routine], Iterator[str]], instead: Instead) -> str:
    """Return the first thing that holds of the other routine and not of this one; or nothing."""
    new = Counter(told(instead.then)) - Counter(told(instead.now))
    return next((says for says in told(instead.then) if new[says]), "")


def _contacts(contact: Contact) -> str:
    name = CONTACT_NAME[contact]
    return _CONTACTS.get(contact, name if name.endswith("s") else f"{name}s")
