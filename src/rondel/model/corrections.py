"""What a teacher has put right in what was heard in a track. It wins over what was heard."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from rondel.model.stretches import joined, less
from rondel.model.track import Span

#: Fewer taps than this tell no tempo.
LEAST_TAPS = 4
#: Beats a minute that a teacher may count.
SLOWEST_BPM, FASTEST_BPM = 20, 300


def _rises(seconds: tuple[float, ...]) -> bool:
    return all(earlier < later for earlier, later in pairwise(seconds))


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """The section that begins about `of` begins at `to` instead, in seconds."""

    of: float
    to: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrections:
    """Every kind of correction; what is left out stays as it was heard. Seconds of the track.

    `bpm`: the tempo to count in. `bars_at`: bars begin here; each rules until the next, the first
    before itself too. `taps`: the beats as tapped along with some stretch. `motif`: one place
    where the motif sounds. `strongest`: the section that holds this second is the strongest of
    the track. `with_beat`, `without_beat`: a beat is, or is not, to be heard there.
    """

    bpm: float | None = None
    beats_per_bar: int | None = None
    bars_at: tuple[float, ...] = ()
    taps: tuple[float, ...] = ()
    moved: tuple[Moved, ...] = ()
    motif: Span | None = None
    strongest: float | None = None
    with_beat: tuple[Span, ...] = ()
    without_beat: tuple[Span, ...] = ()

    def __post_init__(self) -> None:
        checks = (
            (self.bpm is None or self.bpm > 0, "bpm must be above 0"),
            (self.bpm is None or not self.taps, "either taps or bpm may tell the tempo, not both"),
            (not 0 < len(self.taps) < LEAST_TAPS, f"there must be {LEAST_TAPS} taps or more"),
            (_rises(self.taps), "taps must come one after the other"),
            (_rises(self.bars_at), "bars must begin one after the other"),
            (
                joined(self.with_beat) == less(self.with_beat, self.without_beat),
                "no place can be both with and without a beat",
            ),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    @property
    def is_empty(self) -> bool:
        return self == NONE

    def then(self, later: Corrections) -> Corrections:
        """Return these corrections and `later` ones, which win. Saying a thing twice adds nothing.

        A tempo takes the place of taps, and taps of a tempo; bars that begin take the place of
        all earlier ones.
        """
        tells_tempo = later.bpm is not None or bool(later.taps)
        again = {moved.of for moved in later.moved}
        return Corrections(
            bpm=later.bpm if tells_tempo else self.bpm,
            taps=later.taps if tells_tempo else self.taps,
            beats_per_bar=later.beats_per_bar or self.beats_per_bar,
            bars_at=later.bars_at or self.bars_at,
            moved=(*(m for m in self.moved if m.of not in again), *later.moved),
            motif=later.motif or self.motif,
            strongest=self.strongest if later.strongest is None else later.strongest,
            with_beat=joined((*less(self.with_beat, later.without_beat), *later.with_beat)),
            without_beat=joined((*less(self.without_beat, later.with_beat), *later.without_beat)),
        )

    def forgetting(self, kind: str) -> Corrections:
        """Return these corrections without those of one `kind`, a key of FORGETTABLE."""
        return replace(self, **{name: getattr(NONE, name) for name in FORGETTABLE[kind]})


NONE = Corrections()

#: What may be taken back, in a teacher's words, and which corrections that takes away.
FORGETTABLE: dict[str, tuple[str, ...]] = {
    "tempo": ("bpm", "taps"),
    "bars": ("bars_at", "beats_per_bar"),
    "sections": ("moved",),
    "motif": ("motif",),
    "strongest": ("strongest",),
    "beat": ("with_beat", "without_beat"),
}
