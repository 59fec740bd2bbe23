"""Why each passage stands where it stands: true sentences, worked out from the plan itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rondel.model.time import as_minutes
from rondel.model.words import DEEP, PRESSURE_SAYS, Intention, Role, Side
from rondel.planner.blocks import Block, Kind, Part
from rondel.planner.constraints import filler, opening, rhythm, rise, small_areas, warm
from rondel.planner.curves import PRESSURE, value_at
from rondel.planner.finish import Placed
from rondel.planner.frame import Frame
from rondel.planner.material import Material
from rondel.planner.naming import place

_NEAR = 0.75  # levels of pressure

#: How a session of each intention is spoken of in reasons.
_WISHES = {
    Intention.SETTLE: "settling",
    Intention.WAKE: "waking",
    Intention.SLEEP: "falling asleep",
    Intention.CLOSENESS: "being close",
}


def _part_of_the_way(share: float) -> str:
    """Return where in the session a share of its time lies, in words."""
    marks = ((0.2, "Near the beginning"), (0.45, "Before the middle"), (0.58, "Around the middle"))
    return next((says for end, says in marks if share < end), "In the later part")


@dataclass
class _Past:
    """What has been met so far, while sentences are made in order."""

    returns: int = 0
    touched: int = 0
    wide: int = 0
    rhythms: int = 0
    warmed: dict[tuple[int, Side], int] | None = None

    def warm_bars(self, region: int, side: Side) -> int:
        """Return the bars of warming that `side` of `region` has had."""
        have = self.warmed or {}
        both = have.get((region, Side.BOTH), 0) + have.get((region, Side.CENTRE), 0)
        if side.is_one_sided:
            return both + have.get((region, side), 0)
        return both + min(have.get((region, Side.LEFT), 0), have.get((region, Side.RIGHT), 0))


def reasons_for(material: Material, frame: Frame, placed: Placed) -> tuple[tuple[str, ...], ...]:
    """Return the sentences of every passage, in order."""
    past = _Past(warmed={})
    found: list[tuple[str, ...]] = []
    for i, (start, block, _) in enumerate(placed):
        after = placed[i + 1][1] if i + 1 < len(placed) else None
        before = placed[i - 1][1] if i else None
        teller = _Teller(material, frame, past, start, block, before, after, placed)
        at = start
        for n, part in enumerate(block.parts):
            found.append(tuple(teller.sentences(n, part, at)))
            at += part.bars
            _remember_part(material, past, part)
        past.touched |= block.touched
        past.wide |= block.wide
        past.rhythms += block.alternates
        past.returns += block.kind is Kind.HOME
    return tuple(found)


def _remember_part(material: Material, past: _Past, part: Part) -> None:
    if part.technique >= 0 and warm.warms(part.pressure) and past.warmed is not None:
        key = (material.regions[part.technique], part.side)
        past.warmed[key] = past.warmed.get(key, 0) + part.bars


class _Teller:
    """Tells about the parts of one block."""

    def __init__(
        self,
        material: Material,
        frame: Frame,
        past: _Past,
        start: int,
        block: Block,
        before: Block | None,
        after: Block | None,
        placed: Placed,
    ) -> None:
        self.material, self.frame, self.past = material, frame, past
        self.start, self.block, self.before, self.after = start, block, before, after
        self.placed = placed

    def sentences(self, n: int, part: Part, at: int) -> list[str]:
        """Return why `part`, the passage number `n` of the block, starts at bar `at`."""
        kind = self.block.kind
        if part.role is Role.REST and kind is not Kind.TURN:
            return [self._rest(n)]
        is_second = n and part.side.is_one_sided and part.side is self.block.parts[-1].side
        if is_second and kind in (Kind.WORK, Kind.PEAK) and self._mirrors(n):
            other = self.block.parts[0].side
            return [f"The {part.side} side gets what the {other} side had, for as long."]
        tellers: dict[Kind, Callable[[], list[str]]] = {
            Kind.ARRIVE: self._arrive,
            Kind.HOME: lambda: self._home(n),
            Kind.OPEN: self._open,
            Kind.TURN: self._turn,
            Kind.CLOSE: self._close,
            Kind.PEAK: lambda: self._peak(part, at),
            Kind.WORK: lambda: self._work(part, at),
        }
        told = tellers[kind]()
        if self.block.keep >= 0 and part.technique == self.block.technique:
            told.insert(0, self._kept())
        return told

    def _mirrors(self, n: int) -> bool:
        half = len(self.block.parts) // 2
        return n >= half and self.block.parts[n].technique == self.block.parts[n - half].technique

    def _seconds(self, bars: int) -> str:
        seconds = round(float(bars * self.frame.bar_seconds))
        return f"{seconds} seconds" if seconds < 120 else f"{as_minutes(seconds)} minutes"

    def _region(self, number: int) -> str:
        id = self.material.region_ids[number]
        return place(self.material.craft.region(id))

    def _name(self, block: Block) -> str:
        return self.material.techniques[block.technique].plain

    def _kept(self) -> str:
        wanted = self.material.brief.keep[self.block.keep]
        if wanted.at_seconds is None:
            return "You insist on it."
        return f"You insist on it at {as_minutes(float(wanted.at_seconds))}."

    def _arrive(self) -> list[str]:
        quiet = as_minutes(float(self.frame.brief.scale * 90))
        told = ["The hands arrive before anything is asked of anyone."]
        odd = self.block.bars % self.frame.step
        if odd and self.block.bars != self.frame.step:
            told.append(
                f"It is {self.block.bars} bars long, so that all that follows falls on "
                f"phrases of {self.frame.step} bars."
            )
        told.append(f"Until {quiet} no beat is heard: each finds a tempo of their own.")
        return told

    def _home(self, n: int) -> list[str]:
        number = self.past.returns + 1
        if n:
            t = self.material.techniques[self.block.parts[n].technique]
            word = "An embrace" if t.family == "embrace" else "A hold"
            return [f"{word} belongs to the refrain, and makes it home."]
        returns = self.frame.refrains
        told = [f"Return {number} of {returns} of the refrain, the same each time."]
        if returns == 1:
            return ["The refrain returns once in so short a form."]
        if self.before is not None and self.before.kind is Kind.PEAK:
            told.append("It takes the hands home right after the peak.")
        if number == 1:
            told.append("Met early, so that it is known when it comes again.")
        elif number == self.frame.refrains:
            told.append("The last time, before the routine ends.")
        return told

    def _open(self) -> list[str]:
        pieces = sum(b.kind is Kind.OPEN for _, b, _ in self.placed)
        whole = f"{float(self.frame.brief.open_minutes):g} minutes left free"
        told = f"These bars are the {whole} in the brief."
        if pieces > 1:
            told = f"These bars are part of the {whole} in the brief, which come in {pieces} parts."
        return [told, "Nothing is prescribed: here the two do what they like best."]

    def _turn(self) -> list[str]:
        position = next(p for s, _, p in self.placed if s == self.start)
        names = {"prone": "onto the front", "supine": "onto the back", "seated": "to sit"}
        how = names.get(position, "onto the side")
        told = [
            f"The receiver turns {how}; for {self._seconds(self.block.bars)} the hands only help."
        ]
        return [*told, "It comes next to the refrain or open bars, where nothing is interrupted."]

    def _close(self) -> list[str]:
        told = [f"It fills the last {self._seconds(self.block.bars)}, {self._pressure()}."]
        return [*told, "A hold, a glide or an embrace ends it, as hands are slow to leave."]

    def _pressure(self) -> str:
        return PRESSURE_SAYS[self.block.parts[-1].pressure]

    def _rest(self, n: int) -> str:
        deep = 0
        for part in reversed(self.block.parts[:n]):
            if part.pressure < DEEP:
                break
            deep += part.bars
        rest = self.block.parts[n]
        return (
            f"It answers {self._seconds(deep)} of deep work on the same place with "
            f"{self._seconds(rest.bars)} of light strokes."
        )

    def _peak(self, part: Part, at: int) -> list[str]:
        share = (self.start + self.block.bars / 2) / self.frame.bars
        place = f"its middle lies at {round(100 * share)} percent of the time"
        region = self.material.regions[part.technique]
        if part.pressure >= DEEP:
            warmed = self._seconds(self.past.warm_bars(region, part.side))
            side = "this side" if part.side.is_one_sided else "this place"
            return [
                f"The peak: the deepest point that the limits allow here; {place}.",
                f"Before it, {side} has had {warmed} of warming.",
                *self._main(region),
            ]
        if part.pressure == 3:
            return [f"The peak: the longest stretch at the firmest pressure; {place}."]
        return [f"The peak: limits keep pressure light, so energy is highest here; {place}."]

    def _main(self, region: int) -> list[str]:
        if region not in self.material.mains:
            return []
        asked = "a main region that you asked for"
        chosen = "one of the main regions chosen for this session"
        is_asked = bool(self.frame.brief.main_regions)
        name = self._region(region)
        return [f"{name[:1].upper()}{name[1:]}: {asked if is_asked else chosen}."]

    def _work(self, part: Part, at: int) -> list[str]:
        told = [*self._stretch(part), *self._prepares(part), *self._answers(part)]
        region = self.material.regions[part.technique]
        t = self.material.techniques[part.technique]
        bit = 1 << region
        if at < opening.first_free_bar(self.frame):
            told.append("In the quiet opening only light glides and holds come.")
        if small_areas.is_wide(t) and not self.past.wide & bit:
            told.append(f"Long strokes come first: {self._region(region)}.")
        elif small_areas.is_small(t) and self.past.wide & bit and not self.past.touched & bit:
            told.append("Wide strokes have passed here before; now smaller work.")
        if self._is_filler(bit):
            told.append(
                "One place not yet worked by itself, short and light, near the end: "
                f"{self._region(region)}."
            )
        if (
            self.block.alternates
            and not self.past.rhythms
            and rhythm.is_asked(self.frame.brief.intention)
        ):
            told.append("Hand after hand on the beat: the rhythm that every session should have.")
        told += self._main(region)
        return told or [*self._by_curve(part, at), *self._comes_from(region)]

    def _is_filler(self, bit: int) -> bool:
        return (
            self.block.light
            and self.start >= filler.first_bar(self.frame)
            and not self.past.touched & bit
        )

    def _stretch(self, part: Part) -> list[str]:
        if not part.stretch:
            return []
        level = self.material.techniques[part.technique].level
        return [
            f"The stretch passage: level {level}, above the couple's level "
            f"{self.frame.brief.level}. It may be skipped without regret."
        ]

    def _prepares(self, part: Part) -> list[str]:
        """Tell of the peak that this warms or leads up to."""
        for _, block, _ in self.placed:
            if block.kind is not Kind.PEAK:
                continue
            if self.after is block:
                return [
                    f"It leads up to the peak, {self._name(block)}: pressure rises step by step, "
                    f"from {part.pressure} to {block.parts[0].pressure}."
                ]
            is_before = self._start_of(block) > self.start
            is_there = block.deep_region == self.material.regions[part.technique]
            if is_before and is_there and warm.warms(part.pressure):
                return [f"It warms the place of the peak: {self._region(block.deep_region)}."]
        return []

    def _start_of(self, block: Block) -> int:
        return next(start for start, b, _ in self.placed if b is block)

    def _answers(self, part: Part) -> list[str]:
        if self.before is not None and self.before.kind is Kind.PEAK and part.pressure <= 2:
            return ["Light again after the peak, so that it can sink in."]
        return []

    def _by_curve(self, part: Part, at: int) -> list[str]:
        """Tell where the pressure is near what the intention wishes for at this time."""
        share = (at + part.bars / 2) / self.frame.bars
        intention = self.frame.brief.intention
        wished = value_at(PRESSURE[intention], share)
        if abs(wished - rise.counted(part.pressure)) > _NEAR:
            return []
        return [
            f"{_part_of_the_way(share)}, {_WISHES[intention]} wants hands like these: "
            f"{PRESSURE_SAYS[part.pressure]}."
        ]

    def _comes_from(self, region: int) -> list[str]:
        """Tell how the hands come here."""
        if self.before is None or self.before.exit_free:
            return [
                f"From what came before, the hands may go anywhere: now {self._region(region)}."
            ]
        if self.before.exit_region == region:
            return ["The hands stay where they are."]
        return [
            f"The hands come from {self._region(self.before.exit_region)}, next to "
            f"{self._region(region)}."
        ]
