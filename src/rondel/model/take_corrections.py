"""What a teacher has put right in what was seen in a take. It wins over what was seen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from rondel.model.stretches import joined, less
from rondel.model.track import Span
from rondel.model.words import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """The stretch that goes on at `at` shows the technique with this id."""

    at: float
    technique: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeCorrections:
    """Every kind of correction; what is left out stays as it was seen. Seconds of the take.

    `landing`: a stroke lands just here, and all others of its kind of motion likewise. `taps`:
    strokes as tapped along with some part. `splits`: another motion begins here. `slips`,
    `no_slips`: a hand slips there, or does not. `away`, `no_away`: hands are out of the picture
    there, or in it. `technique`, `side`, `angle`: of the whole take;
    `named`: of a part of it.
    """

    landing: float | None = None
    taps: tuple[float, ...] = ()
    splits: tuple[float, ...] = ()
    slips: tuple[Span, ...] = ()
    no_slips: tuple[Span, ...] = ()
    away: tuple[Span, ...] = ()
    no_away: tuple[Span, ...] = ()
    technique: str | None = None
    side: Side | None = None
    angle: str | None = None
    named: tuple[Named, ...] = ()

    def __post_init__(self) -> None:
        checks = (
            (_rises(self.taps), "taps must come one after the other"),
            (_rises(self.splits), "motions must begin one after the other"),
            (
                joined(self.slips) == less(self.slips, self.no_slips),
                "no place can be a slip and none",
            ),
            (
                joined(self.away) == less(self.away, self.no_away),
                "hands cannot be in the picture and out of it",
            ),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    @property
    def is_empty(self) -> bool:
        return self == NONE

    def then(self, later: TakeCorrections) -> TakeCorrections:
        """Return these corrections and `later` ones, which win. Saying a thing twice adds nothing.

        A landing and taps take the place of earlier ones; splits, spans and names are added.
        """
        again = {one.at for one in later.named}
        return TakeCorrections(
            landing=self.landing if later.landing is None else later.landing,
            taps=later.taps or self.taps,
            splits=tuple(sorted({*self.splits, *later.splits})),
            slips=joined((*less(self.slips, later.no_slips), *later.slips)),
            no_slips=joined((*less(self.no_slips, later.slips), *later.no_slips)),
            away=joined((*less(self.away, later.no_away), *later.away)),
            no_away=joined((*less(self.no_away, later.away), *later.no_away)),
            technique=later.technique or self.technique,
            side=later.side or self.side,
            angle=later.angle or self.angle,
            named=(*(one for one in self.named if one.at not in again), *later.named),
        )

    def forgetting(self, kind: str) -> TakeCorrections:
        """Return these corrections without those of one `kind`, a key of FORGETTABLE."""
        return replace(self, **{name: getattr(NONE, name) for name in FORGETTABLE[kind]})


def of_another_take_says(at: str, end: str) -> str:
    """Return what is said where what was put right earlier names a time after the take's end."""
    return (
        f"what is put right in it names {at}, and it ends at {end}, as if that were of another "
        "take; take it back with --forget-corrections"
    )


def _rises(seconds: tuple[float, ...]) -> bool:
    return all(earlier < later for earlier, later in pairwise(seconds))


NONE = TakeCorrections()

#: What may be taken back, in a teacher's words, and which corrections that takes away.
FORGETTABLE: dict[str, tuple[str, ...]] = {
    "landings": ("landing", "taps"),
    "motions": ("splits",),
    "names": ("technique", "side", "angle", "named"),
    "slips": ("slips", "no_slips"),
    "away": ("away", "no_away"),
}
