"""The fixed numbers of one search: where limits lie in bars, and how often things may be."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from rondel.model.words import Intention
from rondel.planner import taste
from rondel.planner.blocks import Kind
from rondel.planner.constraints import (
    close,
    filler,
    keep,
    level,
    opening,
    positions,
    refrain_spacing,
    warm,
)
from rondel.planner.constraints.peak import Summit
from rondel.planner.constraints.refrain_spacing import Spacing
from rondel.planner.frame import Frame
from rondel.planner.material import Material
from rondel.planner.stock import Stock


@dataclass(frozen=True, kw_only=True)
class Grounds:
    """Bars are counted from 0; `window` is the bars in which a technique may come three times."""

    stock: Stock
    frame: Frame
    material: Material
    summit: Summit
    bars: int
    returns: int
    opening: int  # first bar free of the opening
    close: int  # last bar free of the close
    closing: tuple[int, int]
    spacing: Spacing
    warm_need: int
    most_changes: int
    turned_cost: float
    first_stretch: int
    first_filler: int
    window: int
    keep_windows: tuple[tuple[int, int] | None, ...]
    slots: dict[int, int]  # regions that may be worked deep, and their place in `warmed`
    latest_peak: int
    shortest_peak: int
    worked: int  # about how many bars are left for work
    intention: Intention

    @property
    def all_keeps(self) -> int:
        return (1 << len(self.keep_windows)) - 1


def grounds_of(stock: Stock) -> Grounds:
    """Return the numbers for a search over `stock`."""
    frame, brief, home = stock.frame, stock.frame.brief, stock.refrain.block
    closing = frame.closing
    peaks = [*stock.peaks, *(b for b in stock.kept if b.kind is Kind.PEAK)]
    deep = {b.deep_region for b in (*stock.peaks, *stock.kept) if b.deep_region >= 0}
    shortest = min((b.bars for b in peaks), default=0)
    return Grounds(
        stock=stock,
        frame=frame,
        material=stock.material,
        summit=stock.summit,
        bars=frame.bars,
        returns=frame.refrains,
        opening=opening.first_free_bar(frame),
        close=close.last_free_bar(frame),
        closing=closing,
        spacing=refrain_spacing.spacing(frame, length=home.bars, least_tail=closing[0]),
        warm_need=warm.need_bars(frame),
        most_changes=positions.most_changes(brief.minutes),
        turned_cost=taste.turned_cost(brief),
        first_stretch=level.first_stretch_bar(frame),
        first_filler=filler.first_bar(frame, stock.material.prices.last_share),
        window=frame.at_most(Fraction(str(stock.material.prices.per_minutes)) * 60),
        keep_windows=tuple(keep.start_window(k, frame) for k in brief.keep),
        slots={region: slot for slot, region in enumerate(sorted(deep))},
        latest_peak=(stock.summit.last - shortest) // 2,
        shortest_peak=shortest,
        worked=max(1, frame.bars - frame.refrains * home.bars - closing[0]),
        intention=brief.intention,
    )
