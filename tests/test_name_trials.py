"""Names tried on people: intervals and strengths against published tables and other libraries."""

from __future__ import annotations

import math
import random
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize
from scipy.stats import binomtest

from rondel.adapters.name_trials_files import NAMES, StaleNames, change_trials, read_trials
from rondel.model.codec.name_trials import trials_from_dict, trials_to_dict
from rondel.model.errors import BadInput
from rondel.model.name_trials import (
    Count,
    Duel,
    Measure,
    NameTrials,
    Verdict,
    preferred,
    standing,
)
from rondel.model.preferences import Wins, chance, groups, strengths
from rondel.model.proportions import difference, wilson

# ---- Wilson's interval ------------------------------------------------------------------------

#: Newcombe 1998, Statistics in Medicine 17:857-872, table I, score method without correction
#: (secondary: as public tests of other projects quote it; statsmodels 0.15.0 gave the same).
NEWCOMBE_SINGLE = [
    ((81, 263), (0.2553, 0.3662)),
    ((15, 148), (0.0624, 0.1605)),
    ((0, 20), (0.0000, 0.1611)),
    ((1, 29), (0.0061, 0.1718)),
]
#: What statsmodels 0.15.0, `proportion_confint(hits, of, alpha, method="wilson")`, printed.
STATSMODELS = [
    ((81, 263), 0.95, (0.2552885198782742, 0.36620957698280004)),
    ((7, 12), 0.95, (0.31951131254954973, 0.8067396863412435)),
    ((7, 12), 0.8, (0.40194889264587796, 0.7446531532398447)),
    ((0, 20), 0.95, (0.0, 0.1611251580528194)),
    ((12, 12), 0.95, (0.7575059933447589, 0.9999999999999999)),
]
#: Newcombe 1998, Statistics in Medicine 17:873-890, table II, method 10 (secondary: as
#: public tests of other projects quote it).
NEWCOMBE_DIFFERENCE = [
    ((56, 70), (48, 80), (0.0524, 0.3339)),
    ((9, 10), (3, 10), (0.1705, 0.8090)),
    ((6, 7), (2, 7), (0.0582, 0.8062)),
    ((5, 56), (0, 29), (-0.0381, 0.1926)),
    ((0, 10), (0, 20), (-0.1611, 0.2775)),
    ((0, 10), (0, 10), (-0.2775, 0.2775)),
    ((10, 10), (0, 20), (0.6791, 1.0000)),
    ((10, 10), (0, 10), (0.6075, 1.0000)),
]


@pytest.mark.parametrize(("counted", "interval"), NEWCOMBE_SINGLE)
def test_an_interval_is_the_one_that_newcombe_printed(
    counted: tuple[int, int], interval: tuple[float, float]
) -> None:
    assert wilson(*counted) == pytest.approx(interval, abs=5e-5)


@pytest.mark.parametrize(("counted", "confidence", "interval"), STATSMODELS)
def test_an_interval_is_the_one_of_statsmodels(
    counted: tuple[int, int], confidence: float, interval: tuple[float, float]
) -> None:
    assert wilson(*counted, confidence) == pytest.approx(interval, abs=1e-9)


@given(st.integers(1, 400), st.data(), st.sampled_from([0.8, 0.95, 0.99]))
def test_an_interval_is_the_one_of_scipy(of: int, data: st.DataObject, confidence: float) -> None:
    hits = data.draw(st.integers(0, of))
    found = binomtest(hits, of).proportion_ci(confidence_level=confidence, method="wilson")
    assert wilson(hits, of, confidence) == pytest.approx((found.low, found.high), abs=1e-9)


@pytest.mark.parametrize(("one", "other", "interval"), NEWCOMBE_DIFFERENCE)
def test_a_difference_is_the_one_that_newcombe_printed(
    one: tuple[int, int], other: tuple[int, int], interval: tuple[float, float]
) -> None:
    assert difference(one, other) == pytest.approx(interval, abs=5e-5)


def test_there_is_no_share_of_nobody() -> None:
    for counted in ((0, 0), (3, 2), (-1, 5)):
        with pytest.raises(ValueError, match="hits"):
            wilson(*counted)


# ---- Bradley and Terry ------------------------------------------------------------------------

#: Wins of the American League East in 1987, a row's team over a column's: Milwaukee, Detroit,
#: Toronto, New York, Boston, Cleveland, Baltimore (Agresti, Categorical Data Analysis, 2002,
#: section 10.6; the counts from memory: every pair met 13 times, which the test below makes sure
#: of, and other counts would not give the strengths that were published).
BASEBALL = [
    [0, 7, 9, 7, 7, 9, 11],
    [6, 0, 7, 5, 11, 9, 9],
    [4, 6, 0, 7, 7, 8, 12],
    [6, 8, 6, 0, 6, 7, 10],
    [6, 2, 6, 7, 0, 7, 12],
    [4, 4, 5, 6, 6, 0, 6],
    [2, 4, 1, 3, 1, 7, 0],
]
#: Log strengths above Baltimore, with their standard errors, as the R package BradleyTerry2 prints
#: them for the same table (its tests/baseball.Rout.save, looked up; Turner and Firth 2012, Journal
#: of Statistical Software 48(9)).
PUBLISHED = [
    (1.5814, 0.3433),
    (1.4364, 0.3396),
    (1.2945, 0.3367),
    (1.2476, 0.3359),
    (1.1077, 0.3339),
    (0.6839, 0.3319),
]


def test_the_baseball_table_gives_the_strengths_that_were_published() -> None:
    assert all(BASEBALL[i][j] + BASEBALL[j][i] == 13 for i, j in combinations(range(7), 2))
    found = strengths(BASEBALL, prior=0.0)
    for i, expected in enumerate(PUBLISHED):
        assert found.lead(i, 6) == pytest.approx(expected, abs=1e-4)


def _by_scipy(wins: Wins) -> np.ndarray:
    """Return log strengths of mean 0 that maximise the likelihood, by a general optimiser."""
    w = np.asarray(wins, dtype=float)

    def cost(logs: np.ndarray) -> float:
        lead = logs[:, None] - logs[None, :]
        return float((w * np.logaddexp(0, -lead)).sum() + logs.mean() ** 2)

    found = minimize(cost, np.zeros(len(w)), method="BFGS", options={"gtol": 1e-9})
    return np.asarray(found.x - found.x.mean())


@pytest.mark.parametrize("seed", range(6))
def test_strengths_are_the_likeliest_by_a_general_optimiser(seed: int) -> None:
    dice = random.Random(seed)
    size = dice.randint(2, 6)
    wins = [[0 if i == j else dice.randint(0, 9) for j in range(size)] for i in range(size)]
    corrected = [
        [w + 0.5 if i != j and w + wins[j][i] else 0 for j, w in enumerate(row)]
        for i, row in enumerate(wins)
    ]
    assert strengths(wins).log_strength == pytest.approx(_by_scipy(corrected), abs=1e-4)


def test_of_two_names_the_strengths_are_the_odds() -> None:
    # 9 of 12: log odds log(9/3), standard error sqrt(1/9 + 1/3), as for any two by two table.
    lead, error = strengths([[0, 9], [3, 0]], prior=0.0).lead(0, 1)
    assert (lead, error) == pytest.approx((math.log(3), math.sqrt(1 / 9 + 1 / 3)))
    assert chance(lead) == pytest.approx(9 / 12)


def test_no_strength_is_likeliest_for_one_that_always_won() -> None:
    with pytest.raises(ValueError, match="always"):
        strengths([[0, 5], [0, 0]], prior=0.0)
    assert math.isfinite(strengths([[0, 5], [0, 0]]).log_strength[0])


def test_names_that_never_met_are_in_groups_of_their_own() -> None:
    wins = [[0, 1, 0, 0], [0, 0, 0, 0], [0, 0, 0, 2], [0, 0, 3, 0]]
    assert groups(wins) == ((0, 1), (2, 3))
    with pytest.raises(ValueError, match="never met"):
        strengths(wins)


# ---- what it tells ----------------------------------------------------------------------------


def shown(name: str, hits: int, of: int) -> Count:
    return Count(technique="t", audience="Tuesday couples", name=name, shown=of, remembered=hits)


def duel(one: str, other: str, won: int, of: int) -> Duel:
    return Duel(
        technique="t", audience="Tuesday couples", one=one, other=other, preferred=won, of=of
    )


@pytest.mark.parametrize(
    ("one", "other", "verdict"),
    [
        # Newcombe's interval of the difference, method 10, worked out above for the first.
        ((9, 10), (3, 10), Verdict.CLEARLY),  # 0.17 to 0.81
        ((7, 10), (5, 10), Verdict.TOO_FEW),  # -0.21 to 0.54
        ((8, 10), (5, 10), Verdict.PERHAPS),  # -0.11 to 0.60 at 95, above 0 at 80 percent
        ((500, 1000), (495, 1000), Verdict.ALIKE),  # within 0.05 either way
    ],
)
def test_two_shares_are_told_apart_as_surely_as_they_can_be(
    one: tuple[int, int], other: tuple[int, int], verdict: Verdict
) -> None:
    found = standing([shown("Bread Hands", *one), shown("River", *other)], Measure.REMEMBERED)
    assert [m.name for m in found.marks] == ["Bread Hands", "River"]
    assert [c.verdict for c in found.comparisons] == [verdict]


def test_showings_of_one_name_are_added_up_and_what_was_not_counted_is_left_out() -> None:
    rows = [
        shown("River", 2, 5),
        shown("River", 3, 7),
        Count(technique="t", audience="Tuesday couples", name="River", shown=9, laughed=4),
    ]
    (mark,) = standing(rows, Measure.REMEMBERED).marks
    assert (mark.hits, mark.of) == (5, 12)
    (mark,) = standing(rows, Measure.LAUGHED).marks
    assert (mark.hits, mark.of) == (4, 9)
    assert standing([], Measure.LAUGHED).marks == ()


def test_three_of_three_are_too_few_and_eighteen_of_twenty_are_not() -> None:
    (few,) = preferred([duel("Bread Hands", "River", 3, 3)])
    assert few.comparisons[0].verdict is not Verdict.CLEARLY
    (many,) = preferred([duel("Bread Hands", "River", 18, 20)])
    assert many.comparisons[0].verdict is Verdict.CLEARLY
    assert many.marks[0].name == "Bread Hands"
    assert (many.marks[0].hits, many.marks[0].of) == (18, 20)


def test_a_name_is_placed_by_way_of_another_that_both_met() -> None:
    rows = [duel("Bread Hands", "River", 30, 40), duel("River", "Old Plough", 30, 40)]
    (table,) = preferred(rows)
    assert [m.name for m in table.marks] == ["Bread Hands", "River", "Old Plough"]
    assert {c.other: c.verdict for c in table.comparisons}["Old Plough"] is Verdict.CLEARLY


def test_names_that_never_met_have_tables_of_their_own() -> None:
    found = preferred([duel("Bread Hands", "River", 3, 5), duel("Harp", "Slow Mill", 1, 5)])
    assert [len(t.marks) for t in found] == [2, 2]


def _false_alarms(runs: int, seed: int, is_preference: bool) -> float:
    """Return how often names that are all alike are told "clearly better", in made-up counts."""
    dice, wrong = random.Random(seed), 0
    names = ["A", "B", "C", "D"]

    def hits(of: int, share: float) -> int:
        return sum(dice.random() < share for _ in range(of))

    for _ in range(runs):
        if is_preference:
            rows = [duel(a, b, hits(12, 0.5), 12) for a, b in combinations(names, 2)]
            tables = preferred(rows)
        else:
            counts = [shown(n, hits(25, 0.6), 25) for n in names]
            tables = (standing(counts, Measure.REMEMBERED),)
        wrong += any(c.verdict is Verdict.CLEARLY for t in tables for c in t.comparisons)
    return wrong / runs


@pytest.mark.parametrize("is_preference", [False, True], ids=["counts", "preferences"])
def test_names_that_are_alike_are_seldom_told_apart(is_preference: bool) -> None:
    # At most one in twenty; 800 runs are allowed three standard errors, sqrt(.05 * .95 / 800).
    assert _false_alarms(800, 5, is_preference) <= 0.05 + 3 * 0.0077


def test_a_name_that_is_truly_better_is_mostly_found() -> None:
    dice, found = random.Random(2), 0
    for _ in range(200):
        good = sum(dice.random() < 0.9 for _ in range(40))
        poor = sum(dice.random() < 0.5 for _ in range(40))
        rows = [shown("A", good, 40), shown("B", poor, 40)]
        verdict = standing(rows, Measure.REMEMBERED).comparisons[0].verdict
        found += verdict is Verdict.CLEARLY
    assert found / 200 > 0.9  # a two-sided test of these shares at 5 percent has power 0.98


# ---- what is kept -----------------------------------------------------------------------------

NAME = st.sampled_from(["River", "Bread Hands", "Brot, weich", "Ølg", "雨"])


@st.composite
def trials(draw: st.DrawFn) -> NameTrials:
    found = NameTrials()
    for _ in range(draw(st.integers(0, 6))):
        of = draw(st.integers(1, 30))
        technique, audience = draw(st.sampled_from(["t", "u"])), draw(NAME)
        if draw(st.booleans()):
            did = draw(st.integers(0, of))
            row: Count | Duel = Count(
                technique=technique, audience=audience, name=draw(NAME), shown=of, laughed=did
            )
        else:
            one, other = draw(st.lists(NAME, min_size=2, max_size=2, unique=True))
            did = draw(st.integers(0, of))
            row = Duel(
                technique=technique, audience=audience, one=one, other=other, preferred=did, of=of
            )
        found = found.then(row)
    return found


@given(trials())
def test_what_is_kept_comes_back(kept: NameTrials) -> None:
    assert trials_from_dict(trials_to_dict(kept), at=NAMES) == kept


@given(trials())
def test_an_entry_taken_back_leaves_what_was_there(kept: NameTrials) -> None:
    row = Duel(technique="t", audience="a", one="x", other="y", preferred=1, of=2)
    assert kept.then(row).without(row) == kept


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"remembered": 13}, "remembered must be from 0 to the 12"),
        ({"shown": 0}, "shown must be from 1"),
        ({"name": " "}, "name must be a word"),
        ({"laughed": None, "remembered": None}, "laughed or remembered"),
        ({"shown": "many"}, "whole number"),
        ({"rated": 3}, "not known"),
    ],
)
def test_a_count_that_cannot_be_is_refused_in_a_sentence(
    changed: dict[str, object], says: str
) -> None:
    row = {"technique": "t", "audience": "a", "name": "River", "shown": 12, "remembered": 7}
    with pytest.raises(BadInput, match=says):
        trials_from_dict({"counts": [{**row, **changed}]}, at=NAMES)


def test_a_name_is_not_compared_with_itself() -> None:
    with pytest.raises(ValueError, match="another name"):
        duel("River", "river", 1, 2)


def test_what_was_entered_elsewhere_since_is_never_lost(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    studio = tmp_path_factory.mktemp("studio")
    seen = read_trials(studio).digest
    first = change_trials(studio, seen, lambda t: t.then(shown("River", 3, 5)))
    with pytest.raises(StaleNames):
        change_trials(studio, seen, lambda t: t.then(shown("Harp", 1, 5)))
    assert read_trials(studio) == first
    change_trials(studio, first.digest, lambda t: t.then(shown("Harp", 1, 5)))
    assert read_trials(studio).trials.names == ("River", "Harp")
    assert [p.name for p in studio.iterdir() if p.name.startswith(".part")] == []


def test_a_names_file_that_is_none_is_told_in_a_sentence(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    studio = tmp_path_factory.mktemp("studio")
    (studio / NAMES).write_text("[1, 2]")
    with pytest.raises(BadInput, match="table of keys"):
        read_trials(studio)
