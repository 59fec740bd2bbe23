"""What is known of a plan after one more block, for many plans at once."""

from __future__ import annotations

import math

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.bound import Solved
from rondel.planner.constraints import vary
from rondel.planner.halfway import Columns, Past, joined, taken
from rondel.planner.net import DIRECT
from rondel.planner.outlook import Outlook
from rondel.planner.state import BEFORE, FILLER, RHYTHM, STRETCH
from rondel.planner.table import Bools, Floats, Ints

MOST_COUNT = 31  # uses that tables go up to


class Growth:
    """Makes the columns of new plans from those of their parents."""

    def __init__(
        self, solved: Solved, actions: Actions, past: Past, outlook: Outlook | None = None
    ) -> None:
        self.solved, self.actions, self.past, self.outlook = solved, actions, past, outlook
        self.net, self.table = solved.net, solved.table
        self.grounds, self.material = self.table.grounds, self.table.material
        self.prices, frame = self.table.prices, self.grounds.frame
        self.phases = np.array([r.node.phase for r in self.net.rows], dtype=np.int64)
        self.modes = np.array([r.node.mode for r in self.net.rows], dtype=np.int64)
        self.positions = np.array([r.node.position for r in self.net.rows], dtype=np.int64)
        place = solved.relaxation.region_repeats.price
        self.again = np.append(np.full(len(self.material.techniques), self.prices.again), 0.0)
        self.place = np.append(place, 0.0)
        self.window_again = frame.at_most(vary.WINDOW_SECONDS)
        # The last block that looks back is the close; what it can still see is never forgotten.
        latest = self.grounds.bars - self.grounds.closing[0]
        self.forgets = latest > min(self.window_again, self.grounds.window)
        self.peak_costs = self.table.peak_costs
        dice = np.random.default_rng(20261126)
        high = np.iinfo(np.int64).max
        self._sign_technique = dice.integers(0, high, len(self.material.techniques) + 1)
        self._sign_technique[-1] = 0
        self._sign = dice.integers(0, high, 96) | 1

    def is_time_felt(self, best: float) -> bool:
        """True where it may matter, in a plan cheaper than `best`, when a technique came, beyond
        how often: where uses are forgotten, or a technique may come too often in too short a time.

        No plan with so many uses of one is cheaper than the cheapest way and what they really cost
        at least (see `bound`); mostly that is more than `best`.
        """
        if not self.forgets:
            return False
        latest = self.grounds.bars - self.grounds.closing[0]
        if latest > self.window_again:
            return True
        repeats, at = self.solved.relaxation.technique_repeats, self.solved.at.techniques
        few = self.prices.max_times + 1
        uses = np.arange(repeats.pairs.shape[1])
        real = (repeats.pairs - at[:, None] * uses)[:, few:].min(axis=1) + self.prices.too_often
        rise = real - self.solved.credits.techniques[:, 0]
        return bool(self.solved.value() + rise.min(initial=math.inf) < best)

    # ---- new plans -----------------------------------------------------------------------------

    def first(self, actions: Ints, rows: Ints, costs: Floats) -> Columns:
        """Return the plans that arrivals begin, at `costs`."""
        count, a = len(actions), self.actions
        techniques, regions = len(self.material.techniques), len(self.material.region_ids)
        zeros = np.zeros(count, dtype=np.int64)
        names = ("changes", "home_end", "row_start", "row_bars", "run", "longest")
        made: Columns = {name: zeros.copy() for name in (*names, "counted", "flags")}
        made |= {
            "cost": costs,
            "brightest": a.energy[actions],
            "peak_energy": np.full(count, -1.0),
            "warmed": a.warms[actions],
            "wide": a.wide[actions],
            "touched": a.touched[actions],
            "main": np.zeros((count, max(1, len(self.material.mains))), dtype=np.int64),
            "keeps": self._kept(actions),
            "ending": a.ending[actions],
            "uses": np.zeros((count, techniques + 1), dtype=np.uint8),
            "lately": np.zeros((count, techniques + 1), dtype=np.uint8),
            "there": np.zeros((count, regions + 1), dtype=np.uint8),
            "row": rows,
            "parent": np.full(count, -1, dtype=np.int64),
            "action": actions,
        }
        self._count_uses(made, actions)
        if self.forgets:
            made |= {"all_uses": made["uses"].copy(), "all_there": made["there"].copy()}
        self._finish(made)
        return made

    def next(self, bar: int, parents: Ints, actions: Ints, rows: Ints) -> Columns:
        """Return the plans that end at `bar` with `actions` after the plans numbered `parents`."""
        a, before = self.actions, self.past.gathered(parents)
        made, start = dict(before), bar - a.bars[actions]
        made["cost"] = before["cost"] + self._exact(before, actions, start)
        self._follow_peak(made, before, actions, start)
        made["home_end"] = np.where(actions == a.home, bar, before["home_end"])
        made["changes"] = before["changes"] + a.is_turn[actions]
        made["touched"] = before["touched"] | a.touched[actions]
        made["wide"] = before["wide"] | a.wide[actions]
        made["warmed"] = np.minimum(255, before["warmed"] + a.warms[actions])
        made["counted"] = before["counted"] + a.counted[actions]
        main = a.main[actions]
        has = np.nonzero(main >= 0)[0]
        made["main"][has, main[has]] += a.bars[actions[has]]
        made["flags"] = self._flags(before, actions, start)
        made["keeps"] = before["keeps"] | self._kept(actions)
        ending = a.ending[actions]
        made["ending"] = np.where(ending >= 0, ending, before["ending"])
        made["row"], made["parent"], made["action"] = rows, parents, actions
        if self.forgets:
            self._forget(bar, made, before)
        else:
            self._count_uses(made, actions)
        self._finish(made)
        return made

    def made(
        self,
        bar: int,
        parents: Ints,
        actions: Ints,
        rows: Ints,
        start: dict[tuple[int, int], float],
    ) -> Columns:
        """Return the plans of joins that end at `bar`; a parent of -1 is an arrival, whose costs
        stand in `start` by action and row."""
        fresh = parents < 0
        parts = []
        if fresh.any():
            pairs = zip(actions[fresh].tolist(), rows[fresh].tolist(), strict=True)
            costs = np.array([start[pair] for pair in pairs])
            parts.append(self.first(actions[fresh], rows[fresh], costs))
        if not fresh.all():
            parts.append(self.next(bar, parents[~fresh], actions[~fresh], rows[~fresh]))
        return joined(parts) if len(parts) > 1 else parts[0]

    # ---- one column after the other --------------------------------------------------------------

    def _kept(self, actions: Ints) -> Ints:
        keep = self.actions.keep[actions]
        return np.where(keep >= 0, 1 << np.maximum(keep, 0), 0)

    def _count_uses(self, made: Columns, actions: Ints) -> None:
        at = np.arange(len(actions))
        for technique in self.actions.techniques[actions].T:
            made["uses"][at, technique] += 1
            made["lately"][at, technique] += 1
        made["there"][at, self.actions.region[actions]] += 1
        made["uses"][:, -1] = made["lately"][:, -1] = made["there"][:, -1] = 0

    def _flags(self, before: Columns, actions: Ints, start: Ints) -> Ints:
        a, g = self.actions, self.grounds
        flags = before["flags"] | np.where(a.alternates[actions] & (start >= g.opening), RHYTHM, 0)
        flags = flags | np.where(a.stretch[actions], STRETCH, 0)
        new = (a.touched[actions] & ~before["touched"]) != 0
        is_filler = a.light[actions] & new & (start >= g.first_filler)
        return np.asarray(flags | np.where(is_filler, FILLER, 0))

    def _follow_peak(self, made: Columns, before: Columns, actions: Ints, start: Ints) -> None:
        """Follow the peak row, and the runs at 3 that it must outlast."""
        a = self.actions
        is_peak, bars, energy = a.is_peak[actions], a.bars[actions], a.energy[actions]
        begins = is_peak & (self.phases[before["row"]] == BEFORE)
        made["row_start"] = np.where(begins, start, before["row_start"])
        row_bars = np.where(begins, 0, before["row_bars"])
        made["row_bars"] = row_bars + np.where(is_peak, bars, 0)
        run = np.where(a.is_at_three[actions], before["run"] + bars, 0)
        made["run"] = np.where(is_peak, 0, run)
        longest, bright = before["longest"], before["brightest"]
        made["longest"] = np.where(is_peak, longest, np.maximum(longest, made["run"]))
        made["brightest"] = np.where(is_peak, bright, np.maximum(bright, energy))
        peak = before["peak_energy"]
        made["peak_energy"] = np.where(is_peak, np.maximum(peak, energy), peak)

    def _forget(self, bar: int, made: Columns, before: Columns) -> None:
        """Count uses, without those that are longer ago than the rules look back."""
        made["uses"], made["lately"] = before["all_uses"], before["all_uses"].copy()
        made["there"] = before["all_there"]
        self._count_uses(made, made["action"])
        made["all_uses"], made["all_there"] = made["uses"], made["there"]
        starts = bar - self.actions.bars[made["action"]]
        again = bar - self.window_again
        window = max(again, bar - self.grounds.window)
        lately = self.past.before(made["parent"], window)
        long_ago = self.past.before(lately, again)
        for name, whole, at, since in (
            ("lately", "all_uses", lately, window),
            ("uses", "all_uses", long_ago, again),
            ("there", "all_there", long_ago, again),
        ):
            left = made[whole] - self.past.column(whole, at)
            made[name] = np.where((starts >= since)[:, None], left, 0)

    # ---- exact costs -----------------------------------------------------------------------------

    def _exact(self, before: Columns, actions: Ints, start: Ints) -> Floats:
        """Return what the actions add to the exact cost."""
        cost = np.zeros(len(actions))
        own = actions < self.actions.own_count
        if own.any():
            cost[own] = self._exact_own(taken(before, own), actions[own], start[own])
        for i in np.nonzero(~own)[0]:
            row, ending = self.net.rows[before["row"][i]], int(before["ending"][i])
            cost[i] = self._exact_other(row.node.mode, before["row"][i], ending, int(actions[i]))
        return cost

    def _exact_own(self, before: Columns, actions: Ints, start: Ints) -> Floats:
        table, a, at = self.table, self.actions, np.arange(len(actions))
        cost = table.own_cost[actions, np.searchsorted(table.bars, start)]
        cost = cost + self._links(before, actions)
        for technique in a.techniques[actions].T:
            cost += self.again[technique] * before["uses"][at, technique]
            often = before["lately"][at, technique] >= self.prices.max_times
            cost += self.prices.too_often * (often & (technique < len(self.again) - 1))
        region, small = a.region[actions], a.small_of(actions, start)
        cost += self.place[region] * before["there"][at, region]
        cost += self.prices.small_areas * ((small != 0) & (small & before["wide"] == 0))
        is_first = self.phases[before["row"]] == BEFORE
        row, bars = before["row_bars"], a.bars[actions]
        peak = np.where(a.is_peak[actions], self.further_peak(row, bars), 0.0)
        return np.asarray(
            cost + np.where(is_first, self.solved.relaxation.peak_first[actions], peak)
        )

    def further_peak(self, row_bars: Ints, bars: Ints) -> Floats:
        """Return what `bars` more of a peak row save of its being short (0 or less)."""
        last = len(self.peak_costs) - 1
        after = self.peak_costs[np.minimum(row_bars + bars, last)]
        return np.asarray(after - self.peak_costs[np.minimum(row_bars, last)])

    def links(self, mode: int, position: int, endings: Ints, begins: Ints) -> Floats:
        """Return the cost of each beginning after each ending (broadcast), by what stands last."""
        if mode == DIRECT:
            return self.table.direct[endings, begins]
        history = self.table.history[endings, begins]
        return history + self.solved.entering(mode, position)[begins]

    def _links(self, before: Columns, actions: Ints) -> Floats:
        cost = np.zeros(len(actions))
        begins, rows = self.table.begin_of[actions], before["row"]
        keys = self.modes[rows] * 64 + self.positions[rows]
        for key in np.unique(keys).tolist():
            mine = keys == key
            ending = before["ending"][mine]
            cost[mine] = self.links(key // 64, key % 64, ending, begins[mine])
        return cost

    def _exact_other(self, mode: int, number: int, ending: int, action: int) -> float:
        """Return what a return, open bars or a turning cost."""
        row = self.net.rows[number]
        if action == self.actions.home:
            is_direct = mode == DIRECT
            entering = self.table.to_home[ending] if is_direct else self.table.home_after_open
            return float(entering + row.spread + self.table.home_cost[row.tick])
        if action < self.actions.first_turn:
            return row.open_cost
        position = self.actions.turn_positions[action - self.actions.first_turn]
        return next(cost for p, _, cost in row.turns if p == position)

    # ---- keys and signs --------------------------------------------------------------------------

    def _finish(self, made: Columns) -> None:
        """Work out the priced cost so far, and a sign that is equal for equal pasts."""
        made["base"] = self.priced(made, self.solved)
        made["sign"] = self._signs(made)

    def priced(self, made: Columns, solved: Solved) -> Floats:
        """Return the cost so far under the prices of `solved`: with what lies ahead under the same
        prices, no whole plan costs less."""
        credits, at = solved.credits, solved.at
        uses = np.minimum(made["uses"][:, :-1], MOST_COUNT)
        there = np.minimum(made["there"][:, :-1], MOST_COUNT)
        base = made["cost"] + credits.techniques[np.arange(uses.shape[1])[None, :], uses].sum(1)
        base = base + credits.regions[np.arange(there.shape[1])[None, :], there].sum(axis=1)
        if self.material.mains:
            short = self.short(made)
            base = base + at.shortages[0] * short[:, 0] + short[:, 1:] @ at.shortages[1:]
        if at.warmth.any():
            base = base - self.warm(made) @ at.warmth
        return np.asarray(base, dtype=np.float64)

    def short(self, made: Columns) -> Floats:
        """Return by how many bars plans are short so far on their main regions, all together and
        each. Shape (plans, 1 + main regions)."""
        wanted = self.prices.min_share * made["counted"]
        whole = wanted - made["main"].sum(axis=1)
        each = wanted[:, None] / len(self.material.mains) - made["main"]
        return np.concatenate([whole[:, None], each], axis=1)

    def warm(self, made: Columns) -> Floats:
        """Return how warm each deep place is, 1 for warm enough; nothing from the peak on."""
        return np.asarray(self.warmed(made) * (self.phases[made["row"]] == BEFORE)[:, None])

    def warmed(self, made: Columns) -> Floats:
        """Return the same wherever the peak is."""
        return np.asarray(np.minimum(made["warmed"], self._warm_need) / self._warm_need)

    def warmth(self, made: Columns) -> Floats:
        """Return the price of the warmth that deep work could build on."""
        return np.asarray(self.warmed(made) @ self.solved.at.warmth)

    def _signs(self, made: Columns) -> Ints:
        """Return a number a plan, equal where all that rules remember is equal (and different, but
        for chances of about one in 10^12, where it is not); with an outlook, where all is equal
        that rules may still ask for."""
        uses, numbers = made["uses"], self._remembered(made)
        if self.outlook is not None:
            uses = uses.copy()
            uses[:, :-1] *= self.outlook.uses[made["row"]]
            numbers = self.outlook.numbers(made)
        with np.errstate(over="ignore"):
            total = uses.astype(np.int64) @ self._sign_technique
            for sign, column in zip(self._sign[: len(numbers)], numbers, strict=True):
                total = total + sign * column
        return np.asarray(total)

    def _remembered(self, made: Columns) -> list[Ints]:
        """Return all that rules remember of each plan, but for uses of techniques."""
        summit = self.grounds.summit
        numbers = [
            made[name]
            for name in ("row", "ending", "home_end", "counted", "wide", "keeps", "flags")
        ]
        numbers += [made["changes"], made["row_bars"], made["row_start"]]
        numbers.append(np.where(made["flags"] & FILLER, 0, made["touched"]))
        if summit.is_longest:
            numbers += [made["run"], made["longest"]]
        if summit.is_brightest:
            for name in ("brightest", "peak_energy"):
                numbers.append(np.round(made[name] * 1000).astype(np.int64))
        numbers += list(made["main"].T)
        numbers += list(np.minimum(made["warmed"], self._warm_need).T)
        numbers += list(made["there"].astype(np.int64).T)
        return numbers

    @property
    def _warm_need(self) -> int:
        return self.grounds.warm_need


def few(counts: Bools | Ints) -> Ints:
    """Return counts as far as tables go."""
    return np.minimum(counts, MOST_COUNT).astype(np.int64)
