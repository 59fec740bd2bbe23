"""Techniques, and the body they meet: regions with lay limits, sites of care, cautions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from rondel.model.settings import UNCHANGED, Settings
from rondel.model.words import Contact, Family, Landing, Language, Position, Trace


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A technique in another language: what is empty is said as it stands in its own."""

    language: Language
    plain: str = ""
    say: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Technique:
    """One taught way of using the hands.

    `pressure` is the lowest and highest of 0 to 5; `cycle_seconds` the fastest and slowest
    stroke; `path_cm` the length of one whole stroke (there and back, where it returns).
    """

    id: str
    plain: str
    anatomical: str
    region: str
    family: Family
    contact: Contact
    lateral: bool
    pressure: tuple[int, int]
    cycle_seconds: tuple[Fraction, Fraction]
    landing: Landing
    path_cm: Fraction
    level: int
    energy: Fraction
    closeness: Fraction
    position: tuple[Position, ...]
    refrain: bool
    how: str
    say: str
    trace: Trace = Trace.SPOT
    helps_turn: bool = False  # hands only help the receiver turn over
    from_far_end: bool = False  # goes out where others come home: down the back, to the fingers
    told: tuple[Told, ...] = ()

    def __post_init__(self) -> None:
        low, high = self.pressure
        fast, slow = self.cycle_seconds
        checks = (
            (0 <= low <= high <= 5, "pressure must be two numbers from 0 to 5, the lower first"),
            (0 < fast <= slow, "cycle_seconds must be two numbers above 0, the faster first"),
            (self.path_cm >= 0, "path_cm must not be negative"),
            (1 <= self.level <= 5, "level must be 1 to 5"),
            (-1 <= self.energy <= 1, "energy must be from -1 to 1"),
            (0 <= self.closeness <= 1, "closeness must be from 0 to 1"),
            (bool(self.position), "position must name at least one position"),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    def __hash__(self) -> int:
        # Ids tell techniques apart; to hash every field made looking one up slow.
        return hash(self.id)

    def in_language(self, language: Language) -> Technique:
        """Return the same technique, named and told in `language` as far as it is known there."""
        told = next((t for t in self.told if t.language is language), None)
        if told is None:
            return self
        return replace(self, plain=told.plain or self.plain, say=told.say or self.say)

    @property
    def is_alternating(self) -> bool:
        """True for hand after hand, which the rule `rhythm` asks for."""
        return self.trace is Trace.ALTERNATE

    @property
    def is_rhythmic(self) -> bool:
        """True where the strokes need a beat that can be heard: struck, or hand after hand."""
        return self.family is Family.PERCUSSION or self.is_alternating


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A part of the body worked, with the pressure limits of a lay and of a trained hand."""

    id: str
    name: str
    lateral: bool
    neighbours: tuple[str, ...]
    limit: int
    trained_limit: int
    source: str
    covers: tuple[str, ...] = ()  # regions that a stroke here also passes over
    forbidden_families: tuple[Family, ...] = ()
    care: tuple[str, ...] = ()  # sites of care, as sentences
    length_cm: Fraction = Fraction(0)  # the longest one-way path here, mean body
    length_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Forbids:
    """What a caution takes away. `region_limits` caps pressure region by region."""

    everything: bool = False  # no session until a clinician has been asked
    regions: tuple[str, ...] = ()
    families: tuple[Family, ...] = ()
    contacts: tuple[Contact, ...] = ()
    positions: tuple[Position, ...] = ()
    max_pressure: int = 5
    region_limits: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A condition that a brief may name, in words that defer to a clinician."""

    id: str
    name: str
    says: str
    forbids: Forbids
    source: str


@dataclass(frozen=True, kw_only=True)
class Craft:
    """All that is known before a brief comes: techniques, regions, cautions. Ids are unique.

    `settings` are what the teacher changed in the rule book.
    """

    techniques: tuple[Technique, ...]
    regions: tuple[Region, ...]
    cautions: tuple[Caution, ...]
    settings: Settings = UNCHANGED

    @cached_property
    def _techniques(self) -> dict[str, Technique]:
        return {t.id: t for t in self.techniques}

    @cached_property
    def _regions(self) -> dict[str, Region]:
        return {r.id: r for r in self.regions}

    @cached_property
    def _cautions(self) -> dict[str, Caution]:
        return {c.id: c for c in self.cautions}

    def in_language(self, language: Language) -> Craft:
        """Return the same craft, its techniques named and told in `language`."""
        told = tuple(t.in_language(language) for t in self.techniques)
        return self if told == self.techniques else replace(self, techniques=told)

    def technique(self, id: str) -> Technique:
        """Return the technique called `id`; KeyError if there is none."""
        return self._techniques[id]

    def region(self, id: str) -> Region:
        """Return the region called `id`; KeyError if there is none."""
        return self._regions[id]

    def caution(self, id: str) -> Caution:
        """Return the caution called `id`; KeyError if there is none."""
        return self._cautions[id]

    def has_technique(self, id: str) -> bool:
        return id in self._techniques

    def has_region(self, id: str) -> bool:
        return id in self._regions

    def has_caution(self, id: str) -> bool:
        return id in self._cautions

    def are_neighbours(self, one: str, other: str) -> bool:
        """True for a region and itself, and for regions that either names as its neighbour."""
        return (
            one == other
            or other in self._regions[one].neighbours
            or one in self._regions[other].neighbours
        )
