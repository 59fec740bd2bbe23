"""What would be lost with another choice, in a clause worked out from the two routines.

The score names the rule that suffers most. What of that rule then fails, and did not before, is
looked up in the passages themselves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.names import names_shown, technique_names
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import CONTACT_NAME, Contact, Intention, Role
from rondel.planner.alternatives import Instead, Kind
from rondel.planner.constraints import contact_kept, curve, filler, rise, small_areas
from rondel.planner.curves import CLOSENESS_COUNTS, ENERGY, PRESSURE, value_at
from rondel.planner.frame import frame_of
from rondel.planner.material import Material
from rondel.planner.naming import on, thing
from rondel.planner.score import Row, is_turning, own_blocks
from rondel.rules.close import SECONDS as CLOSE
from rondel.rules.curve import ENDINGS, Ending, ending_says
from rondel.rules.opening import SECONDS as OPENING

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

#: What counts as work; the rests that answer it are counted with it in shares.
WORKED = (Role.WORK, Role.PEAK)

_CONTACTS = {Contact.FIST: "fists", Contact.HEEL: "heels of the hand"}
_CURVED = (Role.ARRIVE, Role.WORK, Role.PEAK, Role.CLOSE)
_TIMES = {2: "a second time", 3: "a third time", 4: "a fourth time"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """Tells what `instead` loses. Sentences are those of one craft and one brief."""

    craft: Craft
    material: Material

    def clause(self, instead: Instead) -> str:
        """Return what would suffer most, as in "the palms would work twice running"; "" where
        nothing of it can be put into words."""
        return next(self.clauses(instead), "")

    def clauses(self, instead: Instead, minded: Sequence[str] = ()) -> Iterator[str]:
        """Yield what would suffer, the worst first, as far as it is worth telling; then what else
        breaks one of the rules in `minded`."""
        tellers: dict[str, Callable[[Instead], str]] = {
            "curve": self._curve,
            "contact_kept": self._contact_kept,
            "repeat": self._repeat,
            "vary": self._vary,
            "small_areas": self._small_areas,
            "focus": self._focus,
            "prefer": lambda _: "less of the time would go to what you prefer",
            "taste": self._taste,
            "speed": lambda _: "the glides would have a pace that feels less calm",
            "filler": self._filler,
            "rhythm": lambda _: "no stroke would go hand after hand on the beat",
        }
        suffering = [part for part, more in instead.losses if more >= AS_WELL]
        for part in dict.fromkeys((*suffering, *minded)):
            says = tellers[part](instead) if part in tellers else ""
            if says:
                yield says

    def as_well(self, instead: Instead) -> str:
        """Return what would do as well, and what of it would be otherwise, as in "Snow Slide, on
        the calves, would do as well here"; "" where that is not to be told in a few words."""
        one, two = instead.row[0], instead.other[0]
        says = f"{self.other_names(instead)}{{}} would do as well here{{}}"
        if instead.kind is Kind.REFRAIN:
            pair = self._exchange(instead)
            if pair is None:
                return f"{self.as_refrain(instead)} would make as good a refrain"
            two, one = pair
            new, gone = (self.name(p.technique, instead.now) for p in pair)
            says = f"{new}{{}} in place of {gone} would make as good a refrain{{}}"
        a, b = self._technique(one), self._technique(two)
        if a.region != b.region:
            return says.format(f", {on(self.craft.region(b.region))},", "")
        if a.contact is not b.contact:
            how = f"the {_contacts(b.contact)} rather than the {_contacts(a.contact)}"
            return says.format("", f", with {how}")
        if a.family is not b.family:
            return says.format("", f", {b.family} rather than {a.family}")
        return ""

    def name(self, technique: str | None, routine: Routine) -> str:
        assert technique is not None
        return technique_names(self.craft.technique(technique), names_shown(routine))[0]

    def names(self, row: tuple[Passage, ...], routine: Routine) -> str:
        """Return the names of a row, each once, the main one first."""
        return " and ".join(self.name(t, routine) for t in dict.fromkeys(p.technique for p in row))

    def other_names(self, instead: Instead) -> str:
        """Return the names of what would stand there, but for what stands there anyway."""
        stays = {p.technique for p in instead.row}
        new = tuple(p for p in instead.other if p.technique not in stays)
        return self.names(new or instead.other, instead.now)

    # --- another refrain --------------------------------------------------------------------

    def swapped(self, instead: Instead) -> tuple[str, str] | None:
        """Return the name of what is new in a refrain, and of what it takes the place of, where one
        of several is exchanged; else None."""
        pair = self._exchange(instead)
        if pair is None:
            return None
        return self.name(pair[0].technique, instead.now), self.name(pair[1].technique, instead.now)

    def as_refrain(self, instead: Instead) -> str:
        """Return the other refrain as a whole."""
        names = [self.name(t, instead.now) for t in _in_order(instead.other)]
        first, last = names[0], names[-1]
        if set(_in_order(instead.other)) < set(_in_order(instead.row)):
            return f"{first} alone"
        return first if len(names) == 1 else f"{first} and then {last}"

    def _exchange(self, instead: Instead) -> tuple[Passage, Passage] | None:
        now, then = _in_order(instead.row), _in_order(instead.other)
        is_one = sum(a != b for a, b in zip(now, then, strict=False)) == 1
        if len(now) != len(then) or len(now) < 2 or not is_one:
            return None
        new = next(p for p in instead.other if p.technique not in now)
        return new, next(p for p in instead.row if p.technique not in then)

    # --- names ------------------------------------------------------------------------------

    def _technique(self, passage: Passage) -> Technique:
        assert passage.technique is not None
        return self.craft.technique(passage.technique)

    def _place(self, region: str) -> str:
        return thing(self.craft.region(region))

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
        was = next((p for p in instead.row if p.start_bar == at.start_bar), instead.row[0])
        if worst == "closeness":
            return "the hands would bring the two less near"
        if worst == "energy":
            wished = value_at(ENERGY[instead.now.intention], share)
            then_, now_ = float(self._technique(at).energy), float(self._technique(was).energy)
            how = "livelier" if then_ > wished else "quieter"
            return f"it would be {_even(then_, now_, wished)}{how} than {wish} wishes for then"
        wished = value_at(PRESSURE[instead.now.intention], share)
        deep, were = float(rise.counted(at.pressure)), float(rise.counted(was.pressure))
        how = "firmer" if deep > wished else "lighter"
        return f"hands would be {_even(deep, were, wished)}{how} than {wish} wishes for then"

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
            if a.contact is b.contact:
                yield f"{self._both(one, two, routine)} load the {_contacts(a.contact)}"
        for one, two in pairwise(rows):
            a, b = self._technique(one[0]), self._technique(two[0])
            if a.family is b.family:
                yield f"{self._both(one, two, routine)} be {a.family}"
        places = Counter(self._technique(row[0]).region for row in rows)
        for region, times in places.items():
            if times > 1:
                often = "twice" if times == 2 else f"{times} times"
                yield f"{self._place(region)} would be worked {often}"

    def _both(self, one: Row, two: Row, routine: Routine) -> str:
        """Begin a sentence about two blocks that nothing but the refrain or open bars parts."""
        names = f"{self.name(one[0].technique, routine)} and {self.name(two[0].technique, routine)}"
        is_next = one[-1].end_bar == two[0].start_bar
        how = "one after the other" if is_next else "with no other work between"
        return f"{names}, {how}, would both"

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
                turns = one.position is not two.position or is_turning(routine, one)
                if one.is_open or two.is_open or turns:
                    continue
                a, b = self._technique(one).region, self._technique(two).region
                if contact_kept.leaves(self.craft, a, b):
                    yield (
                        "the hands would have to leave the body between "
                        f"{self._place(a)} and {self._place(b)}"
                    )

        return _first_new(leaving, instead)

    def _small_areas(self, instead: Instead) -> str:
        def too_soon(routine: Routine) -> Iterator[str]:
            least = small_areas.long_cm(self.craft)
            asked, wide = small_areas.regions_with_wide(self.craft, least), set[str]()
            ever = self._passed_over(routine, least)
            for p in routine.line:
                if p.is_open:
                    continue
                technique = self._technique(p)
                region = technique.region
                if small_areas.is_wide(technique, least):
                    wide |= {region, *self.craft.region(region).covers}
                elif small_areas.is_small(technique, least) and region in asked - wide:
                    if region in ever:
                        yield f"{self._place(region)} would meet small strokes before any long one"
                    else:
                        yield f"{self._place(region)} would meet small strokes and no long one"

        return _first_new(too_soon, instead)

    def _passed_over(self, routine: Routine, least: float) -> set[str]:
        """Return the regions that any long stroke works or passes over, early or late."""
        done = [self._technique(p) for p in routine.line if not p.is_open]
        wide = {t.region for t in done if small_areas.is_wide(t, least)}
        return wide.union(*(self.craft.region(region).covers for region in wide))

    def _filler(self, instead: Instead) -> str:
        """Tell that the end has nothing new, neither as work nor as a part of the close."""
        assert instead.then.brief is not None
        frame = frame_of(instead.then.brief, refrains=len(instead.then.refrains))
        first, met = filler.first_bar(frame, self.material.prices.last_share), set[str]()
        for p in instead.then.line:
            if p.is_open:
                continue
            region = self._technique(p).region
            is_new = p.start_bar >= first and p.role is not Role.REFRAIN and region not in met
            if is_new and filler.is_short_and_light(frame, p.bars, p.pressure):
                return ""
            met.add(region)
        return "nothing new would be met near the end"

    def gain(self, instead: Instead) -> str:
        """Tell of the main region that is asked for and would get more of its share; "" where
        none would, so that it matters."""
        brief = instead.now.brief
        is_better = dict(instead.losses).get("focus", 0.0) <= -AS_WELL
        if brief is None or not is_better:
            return ""
        now, then = self.shares(instead.now), self.shares(instead.then)
        asked = [region for region in now if region in brief.main_regions]
        region = max(asked, key=lambda r: then[r] - now[r], default=None)
        if region is None or round(100 * then[region]) <= round(100 * now[region]):
            return ""
        return self._share_says(region, then, now)

    def _share_says(self, region: str, then: dict[str, float], now: dict[str, float]) -> str:
        return (
            f"{self._place(region)} would get {round(100 * then[region])} percent of the work, "
            f"not {round(100 * now[region])}"
        )

    def _focus(self, instead: Instead) -> str:
        """Tell of the main region that loses most of its share."""
        now, then = self.shares(instead.now), self.shares(instead.then)
        region = min(now, key=lambda r: then[r] - now[r], default=None)
        if region is None or round(100 * now[region]) <= round(100 * then[region]):
            return ""
        return self._share_says(region, then, now)

    def shares(self, routine: Routine) -> dict[str, float]:
        """Return of every main region its share of the working time, as the rule counts it: all
        outside refrain, opening and close."""
        total = routine.clock.total_seconds
        scale = min(1.0, total / 360) if routine.brief is None else float(routine.brief.scale)
        low, high = OPENING * scale, total - CLOSE * scale
        sums: dict[str, float] = {}
        for p in routine.line:
            if p.technique is None or p.role is Role.REFRAIN:
                continue
            start, end = routine.start_seconds(p), routine.end_seconds(p)
            region = self._technique(p).region
            worked = max(0.0, min(end, high) - max(start, low))
            sums[region] = sums.get(region, 0.0) + worked
        whole = sum(sums.values()) or 1.0
        mains = [self.material.region_ids[m] for m in self.material.mains]
        return {main: sums.get(main, 0.0) / whole for main in mains}

    @property
    def wished_share(self) -> float:
        """Which share of the working time the main regions should have together."""
        return float(self.material.prices.min_share)

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
        if instead.kind is Kind.REFRAIN:
            return self._homelier(instead)
        ending = ENDINGS[instead.now.intention]
        if self._misses(instead.then, ending) and not self._misses(instead.now, ending):
            return f"it would not end with {ending_says(ending)}"
        return ""

    def _misses(self, routine: Routine, ending: Ending) -> bool:
        last = self._technique(routine.line[-1])
        is_other = bool(ending.families) and last.family not in ending.families
        return is_other or float(last.energy) < ending.min_energy

    def _homelier(self, instead: Instead) -> str:
        """Tell of closeness or width that the other refrain lacks, of home or to come home to."""
        now, then = ([self._technique(p) for p in row] for row in (instead.row, instead.other))
        if sum(t.closeness for t in then) < sum(t.closeness for t in now):
            return "home would bring the two less near"
        if max(t.path_cm for t in then) < max(t.path_cm for t in now):
            return "home would be a narrower stroke"
        return ""


def _in_order(row: Sequence[Passage]) -> tuple[str | None, ...]:
    """Return the techniques of a row, each once."""
    return tuple(dict.fromkeys(p.technique for p in row))


def after_name(clause: str, name: str) -> str:
    """Return `clause` as it goes on after `name` was said: "it would come", not the name again."""
    return f"it{clause.removeprefix(name)}" if clause.startswith(f"{name} would ") else clause


def _first_new(told: Callable[[Routine], Iterator[str]], instead: Instead) -> str:
    """Return the first thing that holds of the other routine and not of this one; or nothing."""
    new = Counter(told(instead.then)) - Counter(told(instead.now))
    return next((says for says in told(instead.then) if new[says]), "")


def _even(then: float, now: float, wished: float) -> str:
    """Return "even " where what stands there now is off the wish on the same side already."""
    return "even " if (now - wished) * (then - wished) > 0 else ""


def _contacts(contact: Contact) -> str:
    name = CONTACT_NAME[contact]
    return _CONTACTS.get(contact, name if name.endswith("s") else f"{name}s")
