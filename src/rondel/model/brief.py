"""What the teacher asks for."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from rondel.model.track import Laid
from rondel.model.words import (
    Contact,
    Intention,
    Language,
    MusicLayer,
    NamesShown,
    Position,
    Side,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keep:
    """A technique the teacher insists on, with as much of its place as she says.

    `at_seconds` is its start from the beginning of the routine.
    """

    technique: str
    at_seconds: Fraction | None = None
    minutes: Fraction | None = None
    side: Side | None = None
    pressure: int | None = None


#: What stands wherever a title would, when nobody gave one.
UNTITLED = "Untitled"


def titled(title: str) -> str:
    """Return `title`, or the word that stands for it where nothing of it can be seen."""
    can_be_seen = any(letter.isprintable() and not letter.isspace() for letter in title)
    return title if can_be_seen else UNTITLED


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """A wish for a routine. None means: chosen by Rondel. No title means `UNTITLED`.

    `laid` is the track as it is laid out for these minutes: worked out, not asked for, so it is
    never written in a brief and does not tell two briefs apart.
    """

    title: str
    minutes: Fraction
    intention: Intention
    level: int
    refrains: int | None = None
    main_regions: tuple[str, ...] = ()
    avoid_regions: tuple[str, ...] = ()
    spare: tuple[Contact, ...] = ()
    stretch: bool = True
    positions: tuple[Position, ...] = ()
    cautions: tuple[str, ...] = ()
    open_minutes: Fraction = Fraction(0)
    seed: int = 1
    bpm: Fraction | None = None
    track: str | None = None
    names: NamesShown = NamesShown.PLAIN
    language: Language | None = None  # of the cues; None is the studio's, else English
    character: Intention | None = None  # of composed music; None is as the intention has it
    prefer: tuple[str, ...] = ()  # techniques that are rather used, such as those that are filmed
    without: tuple[MusicLayer, ...] = ()  # layers of composed music that are left out
    trained: bool = False  # the hands are a trained practitioner's
    keep: tuple[Keep, ...] = ()
    laid: Laid | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", titled(self.title))
        checks = (
            (3 <= self.minutes <= 120, "minutes must be from 3 to 120"),
            (1 <= self.level <= 5, "level must be 1 to 5"),
            (self.refrains is None or self.refrains >= 1, "refrains must be 1 or more"),
            (0 <= self.open_minutes < self.minutes, "open_minutes must be less than minutes"),
            (self.bpm is None or 30 <= self.bpm <= 200, "bpm must be from 30 to 200"),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    @property
    def scale(self) -> Fraction:
        """The times scale s = min(1, minutes / 6), for every time that a rule marks as scaled."""
        return min(Fraction(1), self.minutes / 6)
