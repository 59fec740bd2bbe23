"""What of its past may still matter to a half-made plan: what may yet follow its row.

Two half-made plans at one row go on alike if they differ only in what no further block can ask
for: uses of techniques that come no more, warmth of places that no deep work follows, a peak that
is over. The cheaper of two such plans is as good as both.
"""

from __future__ import annotations

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.blocks import Block
from rondel.planner.bound import Solved
from rondel.planner.constraints import rhythm
from rondel.planner.halfway import Columns
from rondel.planner.layers import Layer
from rondel.planner.net import DIRECT
from rondel.planner.state import AFTER, BEFORE, FILLER, RHYTHM, WITHIN
from rondel.planner.table import Bools, Floats, Ints

_PARTS = 1_000_000  # of a bar, to which shortages are told apart


class Outlook:
    """What may follow each row of a solved network, and signs of pasts that leave out the rest.

    Shapes: N rows of the network and one for none, T techniques, R regions, W deep places.
    """

    def __init__(self, solved: Solved, actions: Actions) -> None:
        self.solved, self.actions = solved, actions
        self.net, self.table = solved.net, solved.table
        self.grounds, material = self.table.grounds, self.table.material
        sizes = [len(material.techniques), len(material.region_ids), actions.warms.shape[1]]
        windows = solved.relaxation.technique_repeats.windows
        self.knows_uses = windows == 1  # no use is so long ago that it is forgotten
        self._ends = np.cumsum([*sizes, sizes[1], sizes[1]])
        self._all = int(self._ends[-1]) + 1  # a last column tells of runs at 3
        self._asks = self._asked()
        self._close_asks = np.stack([self._of_close(b) for b in self.table.closes])
        self._ahead = np.zeros((self.net.count + 1, self._all), dtype=bool)
        for layer in solved.relaxation.layers:
            self._look(layer)
        self._sort_out()
        self._classes = self._ending_classes()

    # ---- what may follow -----------------------------------------------------------------------

    def _asked(self) -> Floats:
        """Return what each own block asks of the past: uses of its techniques, blocks on its
        region, warmth, long strokes before small areas, whether its places are new."""
        a, count = self.actions, self.actions.own_count
        asks = np.zeros((count, self._all), dtype=np.float64)
        at, (many, regions, slots, small, _) = np.arange(count), self._ends.tolist()
        for slot in a.techniques[:count].T:
            real = slot < many
            asks[at[real], slot[real]] = 1
        asks[at, many + a.region[:count]] = 1
        deep = a.deep_slot[:count]
        asks[at[deep >= 0], regions + deep[deep >= 0]] = 1
        wants = (a.small_early | a.small_late)[:count]
        asks[:, slots:small] = _bits(wants, small - slots)
        asks[:, small:-1] = _bits(np.where(a.light[:count], a.touched[:count], 0), small - slots)
        asks[:, -1] = a.is_at_three[:count]
        return asks

    def _of_close(self, block: Block) -> Bools:
        many, _, slots, small, _ = self._ends.tolist()
        asks = np.zeros(self._all, dtype=bool)
        asks[list(block.numbers)] = True
        asks[many + block.entry_region] = True
        asks[slots:small] = _bits(np.array([block.small]), small - slots)[0]
        return asks

    def _look(self, layer: Layer) -> None:
        """Gather what may follow the rows of a layer; later layers are known."""
        net, ahead = self.net, self._ahead
        found = np.zeros((len(layer.rows), self._all), dtype=bool)
        if len(layer.own):
            able = np.isfinite(np.take(self.solved.ahead.ravel(), layer.places))
            found |= able.astype(np.float64) @ self._asks[layer.own] > 0
            steps = np.unique(net.step_of[layer.own])
            for i, number in enumerate(layer.rows.tolist()):
                row = net.rows[number]
                to = np.unique(np.concatenate([row.steps[steps], row.plain_steps[steps]]))
                found[i] |= ahead[to].any(axis=0)
        for rows in (layer.homes, layer.opens, *(to for _, to, _ in layer.turns)):
            found |= ahead[rows]
        for i in layer.closing.tolist():
            left = self.grounds.bars - layer.bar
            found[i] |= self._close_asks[self.table.close_bars == left].any(axis=0)
        ahead[layer.rows] = found

    def _sort_out(self) -> None:
        """Take apart what was gathered."""
        many, regions, slots, small, _ = self._ends.tolist()
        ahead = self._ahead
        self.uses, self.there = ahead[:, :many], ahead[:, many:regions]
        self.warmed = ahead[:, regions:slots]
        self.wide = _number(ahead[:, slots:small])
        self.touched, self.runs = _number(ahead[:, small:-1]), ahead[:, -1]
        nodes = [row.node for row in self.net.rows]
        self.phases = np.array([node.phase for node in nodes], dtype=np.int64)
        self.is_direct = np.array([node.mode == DIRECT for node in nodes])
        self.returns = np.array([node.returns for node in nodes], dtype=np.int64)
        self.bars = np.array([row.bar for row in self.net.rows], dtype=np.int64)

    def _ending_classes(self) -> tuple[Ints, Ints]:
        """Number the endings so that those after which all costs the same share theirs: after
        something else, and after own blocks."""
        table = self.table
        later = np.concatenate([table.history, table.close_history], axis=1)
        own = (table.direct, table.to_home[:, None], table.close_after_own)
        _, others = np.unique(later, axis=0, return_inverse=True)
        _, direct = np.unique(np.concatenate([later, *own], axis=1), axis=0, return_inverse=True)
        return others.reshape(-1), direct.reshape(-1)

    # ---- signs ---------------------------------------------------------------------------------

    def numbers(self, made: Columns) -> list[Ints]:
        """Return what rules may still ask of each plan, but for uses of techniques."""
        rows, flags, phases = made["row"], made["flags"], self.phases[made["row"]]
        others, direct = self._classes
        ending = np.where(self.is_direct[rows], direct[made["ending"]], others[made["ending"]])
        is_new = flags & FILLER == 0
        if not rhythm.is_asked(self.grounds.intention):
            flags = flags & ~RHYTHM
        found = [rows, ending, made["keeps"], flags, made["changes"]]
        found += [made["wide"] & self.wide[rows]]
        found += [np.where(is_new, made["touched"] & self.touched[rows], 0)]
        found += self._of_peak(made, phases)
        found += self._of_return(made, rows)
        found += self._of_mains(made)
        warmed = np.minimum(made["warmed"], self.grounds.warm_need)
        found += list(np.where(self.warmed[rows], warmed, 0).T)
        found += list(np.where(self.there[rows], made["there"][:, :-1], 0).astype(np.int64).T)
        return found

    def _of_peak(self, made: Columns, phases: Ints) -> list[Ints]:
        """Return what the peak row, or runs before or after it, still hang on."""
        summit = self.grounds.summit
        is_within = phases == WITHIN
        found = [np.where(is_within, made["row_start"], 0)]
        if not summit.is_longest:
            found.append(np.where(is_within, made["row_bars"], 0))
        else:
            found += [made["run"], np.where(phases != BEFORE, made["row_bars"], 0)]
            found.append(np.where(phases != AFTER, made["longest"], 0))
        if summit.is_brightest:
            bright = np.round(made["brightest"] * 1000).astype(np.int64)
            found.append(np.where(phases != AFTER, bright, 0))
            found.append(np.round(made["peak_energy"] * 1000).astype(np.int64))
        return found

    def _of_return(self, made: Columns, rows: Ints) -> list[Ints]:
        """Return between which bars the next return may start, as far as it hangs on the last."""
        g, net = self.grounds, self.net
        done = self.returns[rows]
        is_left = (done > 0) & (done < g.returns)
        at = np.minimum(done, g.returns - 1)
        earliest = np.maximum(np.array(net.first_start)[at], self.bars[rows])
        early = np.maximum(earliest, made["home_end"] + g.spacing.least_gap)
        late = np.minimum(np.array(net.last_start)[at], made["home_end"] + g.spacing.most_gap)
        return [np.where(is_left, early, 0), np.where(is_left, late, 0)]

    def _of_mains(self, made: Columns) -> list[Ints]:
        """Return the shortage of each main region, which is all that the end asks for."""
        count = len(self.table.material.mains)
        if not count:
            return []
        wanted = self.table.prices.min_share * made["counted"] / count
        short = (wanted[:, None] - made["main"]) * _PARTS
        return list(np.round(short).astype(np.int64).T)


def _bits(numbers: Ints, count: int) -> Bools:
    """Return the first `count` bits of each number. Shape (numbers, count)."""
    return np.asarray(numbers[:, None] >> np.arange(count) & 1, dtype=bool)


def _number(bits: Bools) -> Ints:
    """Return the numbers that `_bits` takes apart."""
    return np.asarray(bits.astype(np.int64) @ (np.int64(1) << np.arange(bits.shape[1])))
