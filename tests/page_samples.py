"""A small repertoire and hand-written routines for the tests of page and paper. All invented."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from rondel.model.brief import Brief
from rondel.model.repertoire import Caution, Craft, Forbids, Region, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import (
    Contact,
    Family,
    Intention,
    Landing,
    Layer,
    Position,
    Role,
    Side,
    Trace,
)


def technique(
    id: str,
    anatomical: str,
    family: Family,
    trace: Trace,
    *,
    lateral: bool = False,
    landing: Landing = Landing.CONTACT,
    contact: Contact = Contact.PALM,
    region: str = "back",
    refrain: bool = False,
) -> Technique:
    """Return a technique whose plain name is its id in words."""
    return Technique(
        id=id,
        plain=id.replace("-", " ").capitalize(),
        anatomical=anatomical,
        region=region,
        family=family,
        contact=contact,
        lateral=lateral,
        pressure=(0, 4),
        cycle_seconds=(Fraction(1, 4), Fraction(120)),
        landing=landing,
        path_cm=Fraction(40),
        level=1,
        energy=Fraction(0),
        closeness=Fraction(1, 2),
        position=(Position.PRONE,),
        refrain=refrain,
        how="Lay both hands on and let them sink before they move. Lean from the hips.",
        say="slow and easy",
        trace=trace,
    )


G, K, F, P, V, X = (
    Family.GLIDING,
    Family.KNEADING,
    Family.FRICTION,
    Family.PERCUSSION,
    Family.VIBRATION,
    Family.PRESSING,
)
TECHNIQUES = (
    technique("arrive", "resting hands over the whole back", Family.HOLDING, Trace.SPOT),
    technique("wide-wings", "trapezius and latissimus", G, Trace.OUTWARD, landing=Landing.TURN),
    technique("homecoming", "whole-back glide", G, Trace.OUTWARD, landing=Landing.TURN),
    technique("and-hold", "arms round the ribs", Family.EMBRACE, Trace.WRAP, refrain=True),
    technique("river-stones", "upper trapezius", F, Trace.CIRCLE, lateral=True),
    technique("bread-hands", "upper trapezius and deltoid", K, Trace.ALTERNATE, lateral=True),
    technique("piano-stairs", "erector spinae, outer edge", G, Trace.ALTERNATE, lateral=True),
    technique(
        "slow-plough",
        "erector spinae, heel of the hand",
        X,
        Trace.ALONG,
        contact=Contact.HEEL,
        landing=Landing.DEEPEST,
        region="beside_spine",
        lateral=True,
    ),
    technique(
        "rain-on-top", "erector spinae", P, Trace.SPOT, contact=Contact.FINGERTIPS, lateral=True
    ),
    technique(
        "collar-drift", "levator scapulae", G, Trace.ALONG, landing=Landing.TURN, lateral=True
    ),
    technique("salt-rub", "rhomboids, across the fibres", F, Trace.ACROSS, lateral=True),
    technique("hum", "gluteus maximus", V, Trace.SPOT, lateral=True),
    technique("feather-down", "whole-back glide", G, Trace.OUTWARD, landing=Landing.TURN),
    technique("rest", "resting hands", Family.HOLDING, Trace.SPOT),
)


def region(id: str, name: str, *, lateral: bool = False, care: tuple[str, ...] = ()) -> Region:
    return Region(
        id=id,
        name=name,
        lateral=lateral,
        neighbours=(),
        limit=3,
        trained_limit=4,
        care=care,
        source="common practice, no source",
    )


CRAFT = Craft(
    techniques=TECHNIQUES,
    regions=(
        region("back", "the back", care=("Never press on the spine itself.",)),
        region(
            "beside_spine",
            "beside the spine",
            lateral=True,
            care=("Stay two fingers away from the spine.", "Light over the kidneys."),
        ),
    ),
    cautions=(
        Caution(
            id="pregnancy",
            name="Pregnancy",
            says="In pregnancy, ask the midwife first.",
            forbids=Forbids(),
            source="common practice, no source",
        ),
    ),
)

BRIEF = Brief(
    title="Lamplight",
    minutes=Fraction(15),
    intention=Intention.SETTLE,
    level=2,
    spare=(Contact.THUMB,),
)

Row = tuple[str | None, Role, Side, int, int, Fraction | int]
A, R, W, PK, RS, OP, C = (
    Role.ARRIVE,
    Role.REFRAIN,
    Role.WORK,
    Role.PEAK,
    Role.REST,
    Role.OPEN,
    Role.CLOSE,
)
L, RT, B = Side.LEFT, Side.RIGHT, Side.BOTH
HOME: tuple[Row, ...] = (
    ("homecoming", R, B, 10, 2, 8),
    ("and-hold", R, B, 4, 1, 16),
)
LAMPLIGHT: tuple[Row, ...] = (
    ("arrive", A, B, 6, 0, 24),
    ("wide-wings", W, B, 10, 1, 8),
    ("wide-wings", W, B, 7, 2, 4),
    *HOME,
    ("river-stones", W, L, 9, 2, 4),
    ("river-stones", W, RT, 9, 2, 4),
    ("bread-hands", W, L, 8, 3, 2),
    ("bread-hands", W, RT, 8, 3, 2),
    *HOME,
    ("piano-stairs", W, L, 12, 2, 1),
    ("piano-stairs", W, RT, 12, 2, 1),
    ("salt-rub", W, L, 4, 3, 2),
    ("salt-rub", W, RT, 4, 3, 2),
    ("hum", W, L, 3, 2, 4),
    ("hum", W, RT, 3, 2, 4),
    *HOME,
    ("slow-plough", W, L, 6, 3, 8),
    ("slow-plough", PK, L, 8, 4, 8),
    ("rain-on-top", RS, L, 6, 1, 1),
    ("slow-plough", PK, RT, 8, 4, 8),
    ("rain-on-top", RS, RT, 6, 1, 1),
    *HOME,
    ("collar-drift", W, L, 7, 2, 4),
    ("collar-drift", W, RT, 7, 2, 4),
    (None, OP, B, 9, 2, 4),
    ("feather-down", C, B, 8, 1, 8),
    ("rest", C, B, 9, 0, 36),
)


def routine_of(rows: tuple[Row, ...], brief: Brief = BRIEF, bpm: int = 60) -> Routine:
    """Return a routine of `rows`, gapless, four beats a bar."""
    passages, bar = [], 0
    craft = {t.id: t for t in TECHNIQUES}
    for i, (name, role, side, bars, pressure, step) in enumerate(rows, start=1):
        bps = Fraction(step)
        late = name is not None and craft[name].landing is not Landing.CONTACT
        passages.append(
            Passage(
                id=f"p{i:02d}", technique=name, role=role, side=side, position=Position.PRONE,
                start_bar=bar, bars=bars, pressure=pressure, beats_per_stroke=bps,
                first_landing_beat=Fraction(int(bps / 2)) if late and bps > 1 else Fraction(0),
            )
        )  # fmt: skip
        bar += bars
    return Routine(
        title=brief.title, seed=1, beats_per_bar=4, tempo=(Tempo(bar=0, bpm=Fraction(bpm)),),
        bars=bar, passages=tuple(passages), brief=brief,
    )  # fmt: skip


def lamplight() -> Routine:
    """Return a quarter of an hour with every kind of mark."""
    return routine_of(LAMPLIGHT)


def long_evening() -> Routine:
    """Return about an hour: the same rows, one after another, four times."""
    middle = LAMPLIGHT[1:-2]
    rows = (LAMPLIGHT[0], *middle, *middle, *middle, *middle, *LAMPLIGHT[-2:])
    return routine_of(rows, replace(BRIEF, title="The long evening", minutes=Fraction(60)))


def layered() -> Routine:
    """Return the quarter of an hour with light drumming over the slow strokes of the peak."""
    base = lamplight()
    peak = next(p for p in base.passages if p.role is Role.PEAK)
    under = replace(peak, layer=Layer.UNDER)
    over = replace(
        peak, id="p19o", technique="rain-on-top", layer=Layer.OVER, pressure=1,
        beats_per_stroke=Fraction(1), first_landing_beat=Fraction(0),
    )  # fmt: skip
    row: list[Passage] = []
    for p in base.passages:
        row.extend((under, over) if p is peak else (p,))
    return replace(base, passages=tuple(row))
