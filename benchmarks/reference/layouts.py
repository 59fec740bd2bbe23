"""Ways to lay slots out between even returns of the refrain, for both reference planners."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from reference.pieces import END_SECONDS, SLOT_SECONDS, Workshop
from rondel.model.words import Role
from rondel.rules import peak, refrain_spacing


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Bars of every place in order; `kinds` tells what stands there."""

    kinds: tuple[Role, ...]  # ARRIVE, REFRAIN, WORK, PEAK, CLOSE
    bars: tuple[int, ...]

    @cached_property
    def starts(self) -> tuple[int, ...]:
        found, at = [], 0
        for bars in self.bars:
            found.append(at)
            at += bars
        return tuple(found)

    @property
    def places(self) -> range:
        return range(len(self.kinds))


def layouts(shop: Workshop, home_bars: int) -> Iterator[Layout]:
    """Yield ways to lay slots out between even returns, the most even ones first."""
    frame, returns = shop.frame, shop.frame.refrains
    left = frame.bars - returns * home_bars
    low, high = (shop.at_least(s * shop.scale) for s in SLOT_SECONDS)
    step = shop.step
    options = []
    for slot in range(-(-low // step) * step, high + step, step):
        for more in (step, 2 * step, 0, 3 * step):
            most = (left - more) // slot
            for count in range(max(1, most - 2), most + 1):
                ends = left - more - count * slot
                unease = abs(ends * shop.bar_seconds - 75 * max(0.5, shop.scale))
                options.append((unease, slot, more, count, ends))
    for _, slot, more, count, ends in sorted(options):
        layout = _laid(shop, home_bars, slot, slot + more, count, ends)
        if layout is not None:
            yield layout


def _laid(
    shop: Workshop, home_bars: int, slot: int, peak_bars: int, count: int, ends: int
) -> Layout | None:
    """Return `count` slots dealt out between the returns; None where a rule on places breaks."""
    frame, returns = shop.frame, shop.frame.refrains
    first = _arrival(shop, ends)
    if first is None:
        return None
    dealt = [count // (returns + 1) + (i < count % (returns + 1)) for i in range(returns + 1)]
    dealt.sort()
    kinds, bars = [Role.ARRIVE], [first]
    for section, slots in enumerate(dealt):
        kinds += [Role.WORK] * slots
        bars += [slot] * slots
        if section < returns:
            kinds.append(Role.REFRAIN)
            bars.append(home_bars)
    kinds.append(Role.CLOSE)
    bars.append(ends - first)
    best, found = 1.0, None
    for i, kind in enumerate(kinds):
        if kind is not Role.WORK or kinds[i - 1] is not Role.WORK:
            continue  # a peak rises from the work before it
        tried = [*bars[:i], peak_bars, *bars[i + 1 :]]
        middle = (sum(tried[:i]) + peak_bars / 2) / frame.bars
        low, high = peak.MIDDLE
        if low <= middle <= high and abs(middle - 0.7) < best:
            best = abs(middle - 0.7)
            found = Layout(
                kinds=tuple(Role.PEAK if j == i else k for j, k in enumerate(kinds)),
                bars=tuple(tried),
            )
    return found if found is not None and _is_spaced(shop, found) else None


def _arrival(shop: Workshop, ends: int) -> int | None:
    """Return the bars of the arrival, of `ends` that it shares with the closing passage."""
    (low, high), (least, most) = END_SECONDS[Role.ARRIVE], END_SECONDS[Role.CLOSE]
    first = max(shop.at_least(low * shop.scale), min(ends // 2, shop.at_most(high)))
    last = ends - first
    is_long_enough = last >= shop.at_least(least * shop.scale)
    return first if is_long_enough and last <= shop.at_most(most) else None


def _is_spaced(shop: Workshop, layout: Layout) -> bool:
    """True where the returns are as far apart as the rule asks."""
    even = float(shop.brief.minutes) * 60 / (shop.frame.refrains + 1)
    least = min(refrain_spacing.MIN_GAP_SECONDS * shop.scale, refrain_spacing.MIN_GAP_SHARE * even)
    gaps, bars = [], 0
    for kind, length in zip(layout.kinds, layout.bars, strict=True):
        if kind is Role.REFRAIN:
            gaps.append(bars * shop.bar_seconds)
            bars = 0
        else:
            bars += length
    gaps.append(bars * shop.bar_seconds)
    most = refrain_spacing.MAX_GAP_SHARE * even
    return all(g >= least for g in gaps[1:-1]) and all(g <= most for g in gaps)
