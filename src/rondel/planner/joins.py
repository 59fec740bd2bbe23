"""Joins: which block may follow which half-made plan, and the key of each join.

The key is the exact cost up to the end of the block plus the least that lies ahead (see `bound`).
Here stands what the network forgets and the rules remember: earlier uses, warming, deadlines that
hang on the last return, the peak row.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.blocks import Block
from rondel.planner.bound import Solved
from rondel.planner.growth import MOST_COUNT, Growth, few
from rondel.planner.halfway import Columns, taken
from rondel.planner.net import DIRECT, Row
from rondel.planner.state import BEFORE, WITHIN
from rondel.planner.table import NEVER, Bools, Floats, Ints

_AT_ONCE = 512  # plans joined in one go, so that memory stays small

#: Takes joins: bar of the end, keys, numbers of plans, actions, rows.
Push = Callable[[int, Floats, Ints, Ints, Ints], None]


class Joins:
    """Joins plans at one bar with all that may follow; what may be better than `best` is pushed."""

    def __init__(self, solved: Solved, actions: Actions, growth: Growth, push: Push) -> None:
        self.solved, self.actions, self.growth, self.push = solved, actions, growth, push
        self.net, self.table = solved.net, solved.table
        self.grounds, self.prices = self.table.grounds, self.table.prices
        self.none = len(self.table.material.techniques)
        credits, at = solved.credits, solved.at
        again = solved.relaxation.technique_repeats.price
        self.technique_rise = _rise(again, credits.techniques, at.techniques)
        self.region_rise = _rise(growth.place[:-1], credits.regions, at.regions)
        # In long forms a use may cost less than it is priced at (see `bound.Repeats`).
        slots = actions.techniques.shape[1]
        rise = slots * self.technique_rise.min(initial=0.0) + self.region_rise.min(initial=0.0)
        self._least_rise = min(0.0, float(rise))
        remembered = solved.relaxation.remembered
        self._known_strokes = sum(1 << bit for sort, bit in remembered if sort == "stroke")
        self.peak_energy = self._peak_energies()
        self.best = NEVER

    def _peak_energies(self) -> Floats:
        """Return the most energy that a peak may have, by position."""
        own, a = self.table.own, self.actions
        rows = []
        for position in self.table.positions:
            able = a.is_peak[: len(own)] & self.table.lies(own, position)
            rows.append(a.energy[: len(own)][able].max() if able.any() else -1.0)
        return np.array(rows)

    def after(self, bar: int, plans: Columns, numbers: Ints) -> None:
        """Join `plans` (numbered `numbers`), which end at `bar`."""
        leaves = self.may_leave(plans)
        keys = self.growth.modes[plans["row"]] * 64 + self.growth.positions[plans["row"]]
        for key in np.unique(keys).tolist():
            mine = np.nonzero(keys == key)[0]
            for i in range(0, len(mine), _AT_ONCE):
                some = mine[i : i + _AT_ONCE]
                here = plans if len(some) == len(leaves) else taken(plans, some)
                self._own(bar, key // 64, key % 64, here, numbers[some], leaves[some])
        for number in np.unique(plans["row"][leaves]).tolist():
            mine = np.nonzero(leaves & (plans["row"] == number))[0]
            self._others(self.net.rows[number], taken(plans, mine), numbers[mine])

    def may_leave(self, plans: Columns) -> Bools:
        """Return which plans are not bound to go on with their peak."""
        summit = self.grounds.summit
        middle = 2 * plans["row_start"] + plans["row_bars"]
        fine = (summit.first <= middle) & (middle <= summit.last)
        if summit.is_longest:
            fine &= plans["row_bars"] > plans["longest"]
        return np.asarray(fine | (self.growth.phases[plans["row"]] != WITHIN))

    # ---- own blocks ----------------------------------------------------------------------------

    def _own(
        self, bar: int, mode: int, position: int, some: Columns, numbers: Ints, leaves: Bools
    ) -> None:
        """Join plans that end alike with own blocks."""
        own = self.solved.relaxation.own_in[position]
        rows, which = np.unique(some["row"], return_inverse=True)
        ahead = self.solved.steps(rows)
        least = some["base"].min() + self._least_rise
        able = np.nonzero(ahead.min(axis=0) + least < self.best)[0]
        if not len(able):
            return
        own, ahead = own[able], ahead[:, able]
        begins = self.table.begin_of[own]
        keys = some["base"][:, None] + ahead[which]
        keys += self.growth.links(mode, position, some["ending"][:, None], begins[None, :])
        self._add_history(bar, own, keys, some)
        self._forbid(bar, own, keys, some, leaves)
        steps = self.net.step_of[own]
        landing = np.stack([self.net.rows[row].steps[steps] for row in rows])[which]
        if bar >= self.grounds.first_filler:
            self._fillers(own, rows, which, keys, landing, some)
        plan, block = np.nonzero(keys < self.best)
        if len(plan):
            actions, found = own[block], keys[plan, block]
            ends = bar + self.actions.bars[actions]
            for end in np.unique(ends).tolist():
                mine = ends == end
                rows_then = landing[plan[mine], block[mine]]
                self.push(end, found[mine], numbers[plan[mine]], actions[mine], rows_then)

    def _add_history(self, bar: int, own: Ints, keys: Floats, some: Columns) -> None:
        """Add what blocks cost for what was there before."""
        a = self.actions
        rises = self._rises(self.technique_rise, some["uses"])
        keys += rises[:, a.techniques[own, 0]]
        for slot in range(1, a.techniques.shape[1]):
            technique = a.techniques[own, slot]
            having = np.nonzero(technique < self.none)[0]
            if len(having):
                keys[:, having] += rises[:, technique[having]]
        keys += self._rises(self.region_rise, some["there"])[:, a.region[own]]
        if some["lately"].max() >= self.prices.max_times:
            often = some["lately"][:, a.techniques[own, 0]] >= self.prices.max_times
            keys += self.prices.too_often * often
        wanting = a.small_of(own, np.full(len(own), bar)) & ~self._known_strokes
        small = np.nonzero(wanting)[0]
        unprepared = wanting[small][None, :] & some["wide"][:, None] == 0
        keys[:, small] += self.prices.small_areas * unprepared

    def _rises(self, rise: Floats, uses: Ints) -> Floats:
        """Return what one more use of each thing adds to the key of each plan."""
        return np.asarray(rise[np.arange(len(rise))[None, :], few(uses)])

    def _forbid(self, bar: int, own: Ints, keys: Floats, some: Columns, leaves: Bools) -> None:
        """Take out what rules forbid that look further back than the network."""
        a, g = self.actions, self.grounds
        latest = self._latest_ends(some)
        keys[(bar + a.bars[own])[None, :] > latest[:, None]] = NEVER
        is_peak = a.is_peak[own]
        if not leaves.all():
            keys[np.ix_(~leaves, ~is_peak)] = NEVER
        phases = self.growth.phases[some["row"]]
        if g.summit.is_longest:
            # No run elsewhere may be as long as the peak row. Before it, runs stay so short that
            # a peak of middling length is enough.
            share = 1 if self.net.is_wide else 2
            row = np.where(phases != BEFORE, some["row_bars"], g.summit.most_bars // share)
            room = row - some["run"]
            long = a.is_at_three[own][None, :] & (a.bars[own][None, :] >= room[:, None])
            keys[long] = NEVER
        if g.summit.is_brightest:
            most = self._most_energy(phases, some)
            keys[(a.energy[own][None, :] > most[:, None]) & ~is_peak[None, :]] = NEVER
        deep = np.nonzero(a.deep_slot[own] >= 0)[0]
        if len(deep):
            warmed = some["warmed"][:, a.deep_slot[own[deep]]]
            keys[:, deep] = np.where(warmed < g.warm_need, NEVER, keys[:, deep])
        peaks = np.nonzero(is_peak & (keys < self.best).any(axis=0))[0]
        if len(peaks):
            keys[:, peaks] += self._peaks(bar, own[peaks], phases, some)

    def _latest_ends(self, some: Columns) -> Ints:
        """Return by when the next return must start, as it hangs on the last one."""
        spacing, rows = self.grounds.spacing, some["row"]
        done = np.array([self.net.rows[row].node.returns for row in rows.tolist()])
        latest = some["home_end"] + spacing.most_gap
        return np.where(done < self.grounds.returns, latest, self.grounds.bars)

    def _most_energy(self, phases: Ints, some: Columns) -> Floats:
        # The peak may come after a turning, so the brightest of all positions counts.
        most = np.where(phases == BEFORE, self.peak_energy.max(), some["peak_energy"])
        return np.asarray(most, dtype=np.float64)

    def _peaks(self, bar: int, own: Ints, phases: Ints, some: Columns) -> Floats:
        """Return what peak blocks cost beyond what the network knows; never where they may not
        be."""
        a, summit = self.actions, self.grounds.summit
        goes_on = (phases == WITHIN)[:, None]
        bars = a.bars[own][None, :]
        start = np.where(goes_on, some["row_start"][:, None], bar)
        length = np.where(goes_on, some["row_bars"][:, None], 0) + bars
        fine = (2 * start + length <= summit.last) & (length <= summit.most_bars)
        if summit.is_brightest:
            least = np.maximum(some["brightest"], self.table.home.energy)
            fine &= a.energy[own][None, :] >= least[:, None]
        if not summit.is_longest:
            fine &= summit.first <= 2 * start + length
        known = np.array([self.net.rows[row].node.row for row in some["row"].tolist()])
        rise = self.growth.further_peak(some["row_bars"][:, None], bars)
        rise = rise - self.growth.further_peak(known[:, None], bars)
        if self.solved.at.warmth.any():
            # From here on warmth is no longer priced, neither what there is nor what was asked.
            asked = self.solved.own_warmth[own][None, :]
            rise = np.where(goes_on, rise, self.growth.warmth(some)[:, None] - asked)
            return np.where(fine, rise, NEVER)
        return np.where(fine, np.where(goes_on, rise, 0.0), NEVER)

    def _fillers(
        self, own: Ints, rows: Ints, which: Ints, keys: Floats, landing: Ints, some: Columns
    ) -> None:
        """Correct light blocks that are no filler, as their place was touched before."""
        a = self.actions
        light = np.nonzero(a.light[own])[0]
        if not len(light):
            return
        blocks = own[light]
        steps, ending = self.net.step_of[blocks], self.table.end_of[blocks]
        plain = np.stack([self.net.rows[row].plain_steps[steps] for row in rows])
        counted = np.stack([self.net.rows[row].steps[steps] for row in rows])
        ahead = self.solved.ahead[counted, ending]
        ahead = np.where(np.isfinite(ahead), ahead, 0.0)  # their keys are never already
        lost = self.solved.ahead[plain, ending] - ahead
        old = (a.touched[blocks][None, :] & ~some["touched"][:, None]) == 0
        keys[:, light] += np.where(old, lost[which], 0.0)
        landing[:, light] = np.where(old, plain[which], landing[:, light])

    # ---- the refrain, open bars, turnings ------------------------------------------------------

    def _others(self, row: Row, some: Columns, numbers: Ints) -> None:
        table, a, none = self.table, self.actions, self.net.count
        if row.home != none:
            self._push_other(row.bar, self._homes(row, some), numbers, a.home, row.home)
        if row.open != none:
            keys = some["base"] + row.open_cost + self.solved.ahead[row.open, some["ending"]]
            late = row.bar + table.opens[row.node.opens].bars > self._latest_ends(some)
            action = a.first_open + row.node.opens
            self._push_other(row.bar, np.where(late, NEVER, keys), numbers, action, row.open)
        for position, turned, cost in row.turns:
            keys = some["base"] + cost + self.solved.ahead[turned, some["ending"]]
            keys = np.where(self._is_unturned(row, some, table.turns[position]), NEVER, keys)
            action = a.first_turn + a.turn_positions.index(position)
            self._push_other(row.bar, keys, numbers, action, turned)

    def _homes(self, row: Row, some: Columns) -> Floats:
        table, spacing, ending = self.table, self.grounds.spacing, some["ending"]
        entering = table.to_home[ending] if row.node.mode == DIRECT else table.home_after_open
        cost = entering + self.solved.home_cost(row)
        keys = some["base"] + cost + self.solved.ahead[row.home, ending]
        early = row.bar < some["home_end"] + spacing.least_gap
        late = row.bar > some["home_end"] + spacing.most_gap
        return np.where(late | (early & (row.node.returns > 0)), NEVER, keys)

    def _is_unturned(self, row: Row, some: Columns, block: Block) -> Bools:
        """Return where the receiver may not turn."""
        g = self.grounds
        never = row.bar + block.bars > self._latest_ends(some)
        never |= some["changes"] >= g.most_changes
        if g.summit.is_brightest:
            phases = self.growth.phases[some["row"]]
            never |= block.energy > self._most_energy(phases, some)
        return never

    def _push_other(self, bar: int, keys: Floats, numbers: Ints, action: int, row: int) -> None:
        able = np.nonzero(keys < self.best)[0]
        if len(able):
            same = np.full(len(able), action), np.full(len(able), row)
            self.push(bar + int(self.actions.bars[action]), keys[able], numbers[able], *same)


def _rise(price: Floats, credit: Floats, multipliers: Floats) -> Floats:
    """Return what a use adds to a key beyond its price, by thing and earlier uses (a last row of
    nothing is for no thing)."""
    real = price[:, None] * np.arange(credit.shape[1] - 1)[None, :]
    rise = real + credit[:, 1:] - credit[:, :-1] - multipliers[:, None]
    return np.vstack([rise[:, : MOST_COUNT + 1], np.zeros((1, MOST_COUNT + 1))])
