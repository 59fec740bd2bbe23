"""Names tried on people: what was counted, and which names are truly better.

A technique may have several candidate names. Shown to people of one audience, so many laughed and
so many remembered it later; or of two names, so many preferred one. More counts as better for all
three; whether laughing is what she wants, the teacher knows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from rondel.model.preferences import chance, groups, strengths
from rondel.model.proportions import USUAL, difference, normal_quantile, wilson

#: The longest name and the largest room that are taken for meant.
MOST_LETTERS, MOST_PEOPLE = 60, 100_000
#: What is only "perhaps" may be wrong in one case of five.
PERHAPS = 0.8
#: Names whose shares lie surely this near are as good as each other (our choice).
NEAR = 0.1


class Measure(StrEnum):
    """What is counted when a name is shown."""

    LAUGHED = "laughed"
    REMEMBERED = "remembered"


class Verdict(StrEnum):
    """How sure it is that one name is better than another."""

    CLEARLY = "clearly better"
    PERHAPS = "perhaps better"
    ALIKE = "about the same"
    TOO_FEW = "too few to say"


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """One showing of a name: None where laughing or remembering was not counted.

    ValueError where more people did something than were there.
    """

    technique: str
    audience: str
    name: str
    shown: int
    laughed: int | None = None
    remembered: int | None = None

    def __post_init__(self) -> None:
        _named(self.name, self.audience)
        if not 1 <= self.shown <= MOST_PEOPLE:
            raise ValueError(f"shown must be from 1 to {MOST_PEOPLE} people")
        for what in Measure:
            did = self.of(what)
            if did is not None and not 0 <= did <= self.shown:
                raise ValueError(f"{what} must be from 0 to the {self.shown} people it was shown")
        if self.laughed is None and self.remembered is None:
            raise ValueError("laughed or remembered must be counted, or both")

    def of(self, measure: Measure) -> int | None:
        return self.laughed if measure is Measure.LAUGHED else self.remembered


@dataclass(frozen=True, slots=True, kw_only=True)
class Duel:
    """Two names side by side: `preferred` of `of` people liked `one` better than `other`."""

    technique: str
    audience: str
    one: str
    other: str
    preferred: int
    of: int

    def __post_init__(self) -> None:
        _named(self.one, self.audience)
        _named(self.other, self.audience)
        if self.one.casefold() == self.other.casefold():
            raise ValueError("other must be another name")
        if not 1 <= self.of <= MOST_PEOPLE:
            raise ValueError(f"of must be from 1 to {MOST_PEOPLE} people")
        if not 0 <= self.preferred <= self.of:
            raise ValueError(f"preferred must be from 0 to the {self.of} people who were asked")


def _named(name: str, audience: str) -> None:
    for what, word in (("name", name), ("audience", audience)):
        if not word.strip() or word != word.strip() or len(word) > MOST_LETTERS:
            raise ValueError(f"{what} must be a word or a few, {MOST_LETTERS} letters at most")


@dataclass(frozen=True, slots=True, kw_only=True)
class NameTrials:
    """All that was counted in a studio, in the order it was entered."""

    counts: tuple[Count, ...] = ()
    duels: tuple[Duel, ...] = ()

    def of(self, technique: str, audience: str | None = None) -> NameTrials:
        """Return what is about one technique, and one audience where it is named."""
        rows = replace(
            self,
            counts=tuple(c for c in self.counts if c.technique == technique),
            duels=tuple(d for d in self.duels if d.technique == technique),
        )
        if audience is None:
            return rows
        return NameTrials(
            counts=tuple(c for c in rows.counts if c.audience == audience),
            duels=tuple(d for d in rows.duels if d.audience == audience),
        )

    @property
    def audiences(self) -> tuple[str, ...]:
        """The audiences in the order they were first met."""
        rows: tuple[Count | Duel, ...] = (*self.counts, *self.duels)
        return tuple(dict.fromkeys(row.audience for row in rows))

    @property
    def names(self) -> tuple[str, ...]:
        """The names in the order they were first met."""
        pairs = [n for d in self.duels for n in (d.one, d.other)]
        return tuple(dict.fromkeys([*(c.name for c in self.counts), *pairs]))

    def then(self, row: Count | Duel) -> NameTrials:
        """Return the same with one more entry."""
        if isinstance(row, Count):
            return replace(self, counts=(*self.counts, row))
        return replace(self, duels=(*self.duels, row))

    def without(self, row: Count | Duel) -> NameTrials:
        """Return the same without the last entry that is like `row`; ValueError if none is."""
        rows: list[Count | Duel] = list(self.counts if isinstance(row, Count) else self.duels)
        if row not in rows:
            raise ValueError("this entry is not there any more")
        del rows[len(rows) - 1 - rows[::-1].index(row)]
        if isinstance(row, Count):
            return replace(self, counts=tuple(r for r in rows if isinstance(r, Count)))
        return replace(self, duels=tuple(r for r in rows if isinstance(r, Duel)))


# ------------------------------------------------------------------ what it tells
@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """How well a name does, 0 to 1, with the interval of 95 percent.

    `hits` of `of` people were counted. For preferences the mark is the chance to be preferred to a
    name as good as the mean of all, `hits` all preferences for it and `of` all it took part in.
    """

    name: str
    share: float
    low: float
    high: float
    hits: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The first name of a table, beside one of the others."""

    better: str
    other: str
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Names, the best first, and the best beside each of the others."""

    marks: tuple[Mark, ...]
    comparisons: tuple[Comparison, ...]


def standing(counts: Iterable[Count], measure: Measure) -> Standing:
    """Return how the names stand in one measure; showings of the same name are added up.

    A difference is "clearly" where its interval leaves nothing out at 95 percent, "perhaps" at 80;
    both shared among all pairs of names (Bonferroni), because the best is picked after looking.
    """
    sums: dict[str, tuple[int, int]] = {}
    for count in counts:
        did = count.of(measure)
        if did is not None:
            hits, of = sums.get(count.name, (0, 0))
            sums[count.name] = (hits + did, of + count.shown)
    marks = _sorted(_share(name, hits, of) for name, (hits, of) in sums.items())
    pairs = len(marks) * (len(marks) - 1) // 2

    def compare(other: Mark) -> Verdict:
        two = (marks[0].hits, marks[0].of), (other.hits, other.of)
        low, high = difference(*two, _each(USUAL, pairs))
        if low > 0:
            return Verdict.CLEARLY
        if difference(*two, _each(PERHAPS, pairs))[0] > 0:
            return Verdict.PERHAPS
        return Verdict.ALIKE if low >= -NEAR and high <= NEAR else Verdict.TOO_FEW

    return Standing(marks=marks, comparisons=_compared(marks, compare))


def _share(name: str, hits: int, of: int) -> Mark:
    low, high = wilson(hits, of)
    return Mark(name=name, share=hits / of, low=low, high=high, hits=hits, of=of)


def _sorted(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    return tuple(sorted(marks, key=lambda m: (-m.share, m.name)))


def _each(confidence: float, pairs: int) -> float:
    """Return the confidence of each of `pairs` that keeps `confidence` for all together."""
    return 1 - (1 - confidence) / max(1, pairs)


def _compared(marks: Sequence[Mark], compare: Callable[[Mark], Verdict]) -> tuple[Comparison, ...]:
    return tuple(
        Comparison(better=marks[0].name, other=m.name, verdict=compare(m)) for m in marks[1:]
    )


def preferred(duels: Iterable[Duel]) -> tuple[Standing, ...]:
    """Return how the names stand by preferences: one table for names that met, if only by others.

    Intervals and leads are those of normal log strengths; words as in `standing`.
    """
    rows = tuple(duels)
    names = tuple(dict.fromkeys(n for d in rows for n in (d.one, d.other)))
    place = {name: i for i, name in enumerate(names)}
    wins = [[0] * len(names) for _ in names]
    for d in rows:
        wins[place[d.one]][place[d.other]] += d.preferred
        wins[place[d.other]][place[d.one]] += d.of - d.preferred
    return tuple(_table([names[i] for i in g], _part(wins, g)) for g in groups(wins))


def _part(wins: Sequence[Sequence[int]], group: Sequence[int]) -> list[list[int]]:
    return [[wins[i][j] for j in group] for i in group]


def _table(names: Sequence[str], wins: Sequence[Sequence[int]]) -> Standing:
    found, z = strengths(wins), normal_quantile(USUAL)
    place = {name: i for i, name in enumerate(names)}

    def mark(i: int) -> Mark:
        at, reach = found.log_strength[i], z * found.spread(i)
        hits = sum(wins[i])
        of = hits + sum(row[i] for row in wins)
        low, high = chance(at - reach), chance(at + reach)
        return Mark(name=names[i], share=chance(at), low=low, high=high, hits=hits, of=of)

    marks = _sorted(map(mark, range(len(names))))
    pairs = len(marks) * (len(marks) - 1) // 2

    def compare(other: Mark) -> Verdict:
        lead, error = found.lead(place[marks[0].name], place[other.name])
        reach = error * normal_quantile(_each(USUAL, pairs))
        if lead > reach:
            return Verdict.CLEARLY
        if lead > error * normal_quantile(_each(PERHAPS, pairs)):
            return Verdict.PERHAPS
        is_near = chance(lead - reach) >= 0.5 - NEAR and chance(lead + reach) <= 0.5 + NEAR
        return Verdict.ALIKE if is_near else Verdict.TOO_FEW

    return Standing(marks=marks, comparisons=_compared(marks, compare))
