"""Why each passage stands where it stands: true sentences, worked out from the routine itself.

A passage says what put it there, what it prepares, and what would be lost with the next best; at
most three sentences, and no sentence comes twice in a routine.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from rondel.model.routine import Passage, Routine
from rondel.model.spans import OPENING_SECONDS, times_scale
from rondel.model.time import as_minutes
from rondel.model.words import DEEP, PRESSURE_SAYS, Family, Position, Role
from rondel.planner.alternatives import Alternatives, Instead, Kind, Row
from rondel.planner.constraints import filler, opening, rhythm, rise, small_areas, warm
from rondel.planner.constraints.ending import ROUNDING_SECONDS
from rondel.planner.curves import PRESSURE, value_at
from rondel.planner.losses import WISHES, WORKED, Losses, after_name
from rondel.planner.naming import place, thing
from rondel.planner.past import Past
from rondel.planner.score import is_turning
from rondel.planner.verdicts import Verdicts
from rondel.rules.keep import TOLERANCE_BARS

MOST_SENTENCES = 3

_NEAR = 0.75  # levels of pressure that count as what the curve wishes for
_MET_EARLY = 0.3  # share of the time within which a first return is early

_FORM_SAYS = {Family.EMBRACE: "the embrace", Family.HOLDING: "the hold"}

_TURNS = {
    Position.PRONE: "onto the front",
    Position.SUPINE: "onto the back",
    Position.SIDE: "onto the side",
    Position.SEATED: "to sit",
}


def reasoned(alternatives: Alternatives, verdicts: Verdicts | None = None) -> Routine:
    """Return the routine of `alternatives` with the reasons of every passage, in order.

    `verdicts` on them, where they are at hand, save time.
    """
    routine = alternatives.routine
    teller = _Teller(alternatives, verdicts or Verdicts(alternatives))
    whys = {p.id: teller.sentences(p) for p in routine.line}
    return replace(
        routine, passages=tuple(replace(p, why=whys.get(p.id, ())) for p in routine.passages)
    )


class _Teller:
    """Tells about the passages of one routine, in order, and remembers what was said."""

    def __init__(self, alternatives: Alternatives, verdicts: Verdicts) -> None:
        self.alternatives, self.verdicts = alternatives, verdicts
        self.routine, self.craft = alternatives.routine, alternatives.craft
        self.material, self.frame = alternatives.material, alternatives.frame
        self.losses = Losses(craft=self.craft, material=self.material)
        self.past = Past(self.routine, self.craft)
        self.said: dict[str, int] = {}
        self.told: set[str] = set()
        self.rows = {row[0].id: n for n, row in enumerate(alternatives.rows)}
        self.second = {p.id for row in alternatives.rows for p in row[len(row) // 2 :]} & {
            p.id for row in alternatives.rows if _is_pair(row) for p in row
        }

    def sentences(self, passage: Passage) -> tuple[str, ...]:
        """Return why `passage` is there, and remember it as met."""
        told = self._new([*self._kept(passage), *self._why(passage)])
        after = [] if passage.kept else self._new(self._next_best(passage))
        told = [*told[: MOST_SENTENCES - len(after)], *after] or [self._plainly(passage)]
        self.told |= set(told)
        self.past.meet(passage)
        return tuple(told)

    def _new(self, sentences: Iterable[str]) -> list[str]:
        """Return what has not been said word for word."""
        return [says for says in dict.fromkeys(sentences) if says not in self.told]

    def _plainly(self, passage: Passage) -> str:
        """Say what it is, where everything else has been said before."""
        at = as_minutes(self.routine.start_seconds(passage))
        lasts = self._lasts(passage.bars)
        if passage.is_open:
            return f"These bars are left free, too: {lasts} from {at} on."
        here = self._place(passage)
        if self._region(passage) in self.past.touched and passage.role in WORKED:
            so_far = self._lasts(sum(p.bars for p in self._worked_so_far(passage)))
            there = thing(self.craft.region(self._region(passage)))
            return f"These {lasts} make it {so_far} of work for {there}."
        return f"For {here}, {lasts} from {at} on."

    def _worked_so_far(self, passage: Passage) -> list[Passage]:
        """Return the work on the place of `passage`, itself with it."""
        return [
            p
            for p in self.routine.line[: self.routine.line.index(passage) + 1]
            if p.role in WORKED and self._region(p) == self._region(passage)
        ]

    def _is_first(self, what: str) -> bool:
        """True the first time that `what` is asked for."""
        return self._count(what) == 1

    def _count(self, what: str) -> int:
        self.said[what] = self.said.get(what, 0) + 1
        return self.said[what]

    # --- by role ----------------------------------------------------------------------------

    def _why(self, passage: Passage) -> Iterator[str]:
        if passage.is_open:
            return self._open(passage)
        if passage.role is Role.REFRAIN:
            return self._home(passage)
        if is_turning(self.routine, passage):
            return self._turn(passage)
        if passage.id in self.second:
            return self._other_side(passage)
        tellers = {
            Role.ARRIVE: self._arrive,
            Role.REST: self._rest,
            Role.CLOSE: self._close,
            Role.PEAK: self._peak,
        }
        return tellers.get(passage.role, self._work)(passage)

    def _kept(self, passage: Passage) -> Iterator[str]:
        if not passage.kept or passage.id in self.second or self.routine.brief is None:
            return
        wanted = [k for k in self.routine.brief.keep if k.technique == passage.technique]
        start = self.routine.start_seconds(passage)
        at = [float(k.at_seconds) for k in wanted if k.at_seconds is not None]
        nearest = min(at, key=lambda s: abs(s - start), default=None)
        # Insisted on twice, it may be the one whose time is left open.
        is_other = len(at) < len(wanted) and not self._is_met(nearest, start)
        if nearest is None or is_other:
            yield "You insist on it."
        else:
            yield f"You insist on it at {as_minutes(nearest)}."

    def _is_met(self, asked: float | None, start: float) -> bool:
        about = TOLERANCE_BARS * float(self.frame.bar_seconds) + ROUNDING_SECONDS
        return asked is not None and abs(asked - start) <= about

    def _arrive(self, passage: Passage) -> Iterator[str]:
        if not self._is_first("arrive"):
            yield "It belongs to the arrival."
            return
        yield "The hands arrive before anything is asked of anyone."
        quiet = OPENING_SECONDS * times_scale(self.routine)
        course = self.routine.music.course
        if course is not None:
            quiet = self.routine.clock.seconds_at_bar(course.quiet_bars)
        if quiet:
            yield f"Until {as_minutes(quiet)} no beat is heard: each finds a tempo of their own."

    def _home(self, passage: Passage) -> Iterator[str]:
        row = next(r for r in self.routine.refrains if passage in r)
        number, returns = self.routine.refrains.index(row) + 1, len(self.routine.refrains)
        if passage is not row[0]:
            held = self.craft.technique(passage.technique or "").family
            word = _FORM_SAYS.get(held, f"the {held}")
            if held.is_held and self._is_first("held"):
                yield f"{word[:1].upper()}{word[1:]} belongs to the refrain, and makes it home."
            else:
                yield f"{word[:1].upper()}{word[1:]} of return {number}."
            return
        if returns == 1:
            yield "The refrain returns once in so short a form."
            return
        same = ", the same each time" if number == 1 else ""
        yield f"Return {number} of {returns} of the refrain{same}."
        if number == 1 and passage.start_bar <= _MET_EARLY * self.routine.bars:
            yield "Met early, so that it is known when it comes again."
        if self.past.is_after_peak:
            yield "It takes the hands home right after the peak."
        if number == returns:
            yield "The last time, before the routine ends."

    def _open(self, passage: Passage) -> Iterator[str]:
        pieces = sum(p.is_open for p in self.routine.line)
        minutes = self.routine.brief.open_minutes if self.routine.brief else 0
        whole = _minutes(float(minutes))
        if pieces == 1:
            yield f"These bars are left free: {whole}, as the brief asks."
        elif self._is_first("pieces"):
            yield f"These bars are left free: a part of the {whole} that the brief asks for."
        else:
            yield f"These bars are left free, too: {self._lasts(passage.bars)}."
        if self._is_first("open"):
            yield "Nothing is prescribed: here the two do what they like best."

    def _turn(self, passage: Passage) -> Iterator[str]:
        how, seconds = _TURNS[passage.position], self._lasts(passage.bars)
        yield f"The receiver turns {how}; for {seconds} the hands only help."
        if self._is_first("turn"):
            yield "It comes next to the refrain or open bars, where nothing is interrupted."

    def _close(self, passage: Passage) -> Iterator[str]:
        if not self._is_first("close"):
            yield "It belongs to the close."
            return
        last = self._lasts(self.routine.bars - passage.start_bar)
        yield f"It fills the last {last}, {PRESSURE_SAYS[passage.pressure]}."
        if passage is self.routine.line[-1]:
            yield "A hold, a glide or an embrace ends it, as hands are slow to leave."

    def _rest(self, passage: Passage) -> Iterator[str]:
        deep = self._lasts(self.past.deep_run)
        own = self._lasts(passage.bars)
        if self._is_first("rest"):
            yield (
                f"It answers {deep} of deep work on the same place with {own} of light strokes, "
                "which make it last."
            )
        else:
            yield f"It answers {deep} of deep work with {own} of light strokes."

    def _other_side(self, passage: Passage) -> Iterator[str]:
        if self._is_first("other side"):
            other = passage.side.other
            yield f"Their {passage.side} gets what their {other} had, for as long."
        else:
            name = self.losses.name(passage.technique, self.routine)
            yield f"{name} for their {passage.side}, as for their {passage.side.other} before."

    def _peak(self, passage: Passage) -> Iterator[str]:
        if self._is_first("peak"):
            row = [p for p in self.routine.line if p.role is Role.PEAK]
            share = (row[0].start_bar + row[-1].end_bar) / 2 / self.routine.bars
            lies = f"its middle lies at {round(100 * share)} percent of the time"
            yield f"The peak: {self._what_peaks(row)}; {lies}."
            yield from self._main(passage)
        elif passage.pressure < DEEP:
            yield f"{self.losses.name(passage.technique, self.routine)} carries the peak on."
        if passage.pressure >= DEEP:
            where, side = self._region(passage), passage.side
            if self._is_first(f"warmed {where} {side}"):
                warmed = self._lasts(self.past.warm_bars(passage))
                on = f"their {side} side there" if side.is_one_sided else "this place"
                yield f"Before it, {on} has had {warmed} of warming."
            else:
                yield f"{self.losses.name(passage.technique, self.routine)} carries the peak on."
        yield from self._main(passage)

    def _what_peaks(self, row: list[Passage]) -> str:
        top = max(p.pressure for p in row)
        if top >= DEEP:
            most = top == self.material.highest
            return f"the deepest point{' that the limits allow here' if most else ''}"
        if top == 3:
            return "the longest stretch at the firmest pressure"
        return "pressure stays light all through, and energy is highest here"

    # --- work -------------------------------------------------------------------------------

    def _work(self, passage: Passage) -> Iterator[str]:
        told = [
            *self._stretch(passage),
            *self._main(passage),
            *self._prepares(passage),
            *self._answers(passage),
            *self._in_opening(passage),
            *([*self._filler(passage)] or self._wide_or_small(passage)),
            *self._rhythm(passage),
            *self._preferred(passage),
        ]
        return iter(told or [*self._by_curve(passage), *self._comes_from(passage)])

    def _preferred(self, passage: Passage) -> Iterator[str]:
        if self.routine.brief is not None and passage.technique in self.routine.brief.prefer:
            yield "It is one of those that you prefer."

    def _stretch(self, passage: Passage) -> Iterator[str]:
        if passage.stretch and self.routine.brief is not None:
            level = self.craft.technique(passage.technique or "").level
            yield (
                f"The stretch passage: level {level}, above the couple's level "
                f"{self.routine.brief.level}. It may be skipped without regret."
            )

    def _prepares(self, passage: Passage) -> Iterator[str]:
        """Tell of the peak that this warms or leads up to."""
        peak = next((p for p in self.routine.line if p.role is Role.PEAK), None)
        if peak is None or peak.start_bar <= passage.start_bar:
            return
        if self._row_end(passage) == peak.start_bar:
            name = self.losses.name(peak.technique, self.routine)
            step = f": pressure goes from {passage.pressure} to {peak.pressure}"
            rises = peak.pressure > passage.pressure
            yield f"It leads up to the peak, {name}{step if rises else ''}."
        is_there = peak.is_deep and self._region(passage) == self._region(peak)
        if is_there and warm.warms(passage.pressure):
            if self._is_first("warms"):
                yield f"It warms the place of the peak: {self._place(passage)}."
            else:
                yield f"Another {self._lasts(passage.bars)} of warming for the place of the peak."

    def _row_end(self, passage: Passage) -> int:
        row = self.alternatives.rows[self.rows[passage.id]] if passage.id in self.rows else ()
        return row[-1].end_bar if row else passage.end_bar

    def _answers(self, passage: Passage) -> Iterator[str]:
        if self.past.is_after_peak and passage.pressure <= 2:
            yield "Light again after the peak, so that it can sink in."

    def _in_opening(self, passage: Passage) -> Iterator[str]:
        is_quiet = passage.start_bar < opening.first_free_bar(self.frame)
        if is_quiet and self._is_first("opening"):
            yield "In the quiet opening only light glides and holds come."

    def _wide_or_small(self, passage: Passage) -> Iterator[str]:
        technique = self.craft.technique(passage.technique or "")
        region, least = technique.region, self.material.prices.long_cm
        if small_areas.is_wide(technique, least) and region not in self.past.wide:
            if self._is_first("wide"):
                yield f"Long strokes come first: {self._place(passage)}."
        elif (
            small_areas.is_small(technique, least)
            and region in self.past.wide
            and region not in self.past.touched
        ):
            if self._is_first("small"):
                yield f"Wide strokes have passed {self._place(passage)} before; now smaller work."
            else:
                yield f"Smaller work, after the wide strokes: {self._place(passage)}."

    def _filler(self, passage: Passage) -> Iterator[str]:
        if (
            self._region(passage) not in self.past.touched
            and passage.start_bar >= filler.first_bar(self.frame)
            and filler.is_short_and_light(self.frame, passage.bars, passage.pressure)
        ):
            if self._is_first("filler"):
                yield (
                    "One place not yet worked by itself, short and light, near the end: "
                    f"{self._place(passage)}."
                )
            else:
                yield f"Another place that is new: {self._place(passage)}."

    def _rhythm(self, passage: Passage) -> Iterator[str]:
        technique = self.craft.technique(passage.technique or "")
        is_free = passage.start_bar >= opening.first_free_bar(self.frame)
        if not is_free or not rhythm.gives(technique):
            return
        if rhythm.is_asked(self.routine.intention) and self._is_first("rhythm"):
            yield "Hand after hand on the beat: the rhythm that every session should have."

    def _main(self, passage: Passage) -> Iterator[str]:
        """Tell once of each main region, with the share of the work that it truly has."""
        region = self._region(passage)
        shares = self.losses.shares(self.routine)
        if region not in shares or not self._is_first(f"main {region}"):
            return
        is_asked = bool(self.routine.brief and self.routine.brief.main_regions)
        name, percent = self._place(passage), round(100 * shares[region])
        name = name[:1].upper() + name[1:]
        if is_asked:
            yield f"{name}: a main region that you asked for; it has {percent} percent of the work."
        elif percent >= 100 / 2 / len(shares):
            yield f"{name}: with {percent} percent of the work, a main region of this session."

    def _by_curve(self, passage: Passage) -> Iterator[str]:
        """Tell where the pressure is near what the intention wishes for at this time."""
        share = (passage.start_bar + passage.bars / 2) / self.routine.bars
        wished = value_at(PRESSURE[self.routine.intention], share)
        if abs(wished - rise.counted(passage.pressure)) > _NEAR:
            return
        says = PRESSURE_SAYS[passage.pressure]
        if self._is_first(f"curve {_part_of_the_way(share)} {passage.pressure}"):
            wish = WISHES[self.routine.intention]
            yield f"{_part_of_the_way(share)}, {wish} wants hands like these: {says}."

    def _comes_from(self, passage: Passage) -> Iterator[str]:
        """Tell how the hands come here."""
        at = self.routine.line.index(passage)
        before = self.routine.line[at - 1] if at else None
        here = self._place(passage)
        if before is not None and before.is_open:
            yield f"After the open bars the hands may go anywhere: now {here}."
        elif before is None or before.role is Role.REFRAIN:
            yield f"From home the hands may go anywhere: now {here}."
        elif self._region(before) == self._region(passage):
            yield "The hands stay where they are."
        elif self.craft.are_neighbours(self._region(before), self._region(passage)):
            if self._is_first(f"from {self._place(before)} to {here}"):
                yield f"The hands come from {self._place(before)}, next to {here}."
            else:
                yield f"The hands go on to {here}."
        else:
            yield f"After a still hold or an embrace the hands may go anywhere: now {here}."

    # --- the next best ----------------------------------------------------------------------

    def _next_best(self, passage: Passage) -> Iterator[str]:
        """Tell what would be lost with the technique, or the refrain, that is next best."""
        first = self.routine.refrains[0][0] if self.routine.refrains else None
        if passage is first:
            if self.alternatives.refrain is not None:
                yield from self._instead(self.alternatives.refrain)
            return
        if passage.id not in self.rows:
            return
        number = self.rows[passage.id]
        instead, row = self.alternatives.techniques[number], self.alternatives.rows[number]
        if instead is not None:
            yield from self._instead(instead)
        elif self.alternatives.may_be_chosen(row) and passage is row[0]:
            lasts = self._lasts(sum(p.bars for p in row))
            if passage.is_deep:
                yield (
                    "With all else left as it is, no other technique that the brief allows goes so "
                    f"deep in these {lasts}."
                )
            else:
                yield (
                    "With all else left as it is, no other technique that the brief allows fits "
                    f"into these {lasts}."
                )

    def _instead(self, instead: Instead) -> Iterator[str]:
        verdict = self.verdicts.of(instead)
        if verdict.is_as_well:
            as_well = self.losses.as_well(instead)
            yield from [f"{as_well}."] if as_well else []
            return
        names = self.losses.other_names(instead)
        if not verdict.clause:
            return
        clause = after_name(verdict.clause, names)
        swapped = self.losses.swapped(instead)
        if instead.kind is not Kind.REFRAIN:
            yield f"With {names} here instead, {clause}."
        elif swapped is not None:
            new, gone = swapped
            yield f"With {new} in place of {gone} in the refrain, {clause}."
        else:
            yield f"With {self.losses.as_refrain(instead)} as the refrain instead, {clause}."

    # --- words ------------------------------------------------------------------------------

    def _lasts(self, bars: int) -> str:
        seconds = round(float(bars * self.frame.bar_seconds))
        return f"{seconds} seconds" if seconds < 120 else f"{as_minutes(seconds)} minutes"

    def _region(self, passage: Passage) -> str:
        return self.craft.technique(passage.technique or "").region

    def _place(self, passage: Passage) -> str:
        return place(self.craft.region(self._region(passage)))


def _is_pair(row: Row) -> bool:
    return row[0].side.is_one_sided and row[-1].side is row[0].side.other


def _minutes(minutes: float) -> str:
    return {0.5: "half a minute", 1: "one minute"}.get(minutes, f"{minutes:g} minutes")


def _part_of_the_way(share: float) -> str:
    """Return where in the session a share of its time lies, in words."""
    marks = ((0.2, "Near the beginning"), (0.45, "Before the middle"), (0.58, "Around the middle"))
    return next((says for end, says in marks if share < end), "In the later part")
