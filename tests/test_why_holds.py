"""What is said of an exchange holds against the checker, on the routine with that exchange."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.app.explain_plan import explain_plan
from rondel.app.lawful import lawful_in, minded_in
from rondel.checker.check import check, is_lawful, minded
from rondel.model.brief import Brief, Keep
from rondel.model.finding import Severity
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Contact, Intention, Position, Role
from rondel.planner.alternatives import Alternatives, Instead
from rondel.planner.attempts import NORMAL, QUICK
from rondel.planner.groups import groups_of
from rondel.planner.plan import plan
from rondel.planner.swaps import swaps_at

CRAFT = builtin_craft()
SETTLE = Brief(title="Lamplight", minutes=Fraction(15), intention=Intention.SETTLE, level=2)
BRIEFS = {
    "settle": SETTLE,
    "wake": replace(SETTLE, intention=Intention.WAKE, level=4),
    "tired": replace(
        SETTLE,
        minutes=Fraction(20),
        main_regions=("shoulders", "feet"),
        positions=(Position.SEATED,),
        spare=(Contact.THUMB,),
        level=1,
    ),
    "crowded": replace(
        SETTLE,
        minutes=Fraction(9),
        refrains=6,
        open_minutes=Fraction(3),
        main_regions=("feet", "scalp"),
        level=1,
    ),
    "scalp": replace(
        SETTLE,
        minutes=Fraction(10),
        avoid_regions=tuple(sorted({r.id for r in CRAFT.regions} - {"scalp"})),
        level=1,
    ),
    "forearms": replace(
        SETTLE,
        minutes=Fraction(12),
        intention=Intention.WAKE,
        level=1,
        spare=tuple(c for c in Contact if c is not Contact.FOREARM),
    ),
    "quick": replace(
        SETTLE, minutes=Fraction(25, 2), intention=Intention.WAKE, level=3, bpm=Fraction(200)
    ),
    "arms": replace(random_brief(129, CRAFT, longest=25), title="Arms"),
    "hour": replace(SETTLE, minutes=Fraction(60), level=4, main_regions=("shoulders", "calves")),
    "kept": replace(SETTLE, keep=(Keep(technique="bellows"),), minutes=Fraction(10)),
}


@cache
def planned(name: str) -> Routine:
    routine = plan(
        BRIEFS[name], CRAFT, effort=NORMAL if name in ("scalp", "quick") else QUICK
    ).routine
    assert routine is not None
    return routine


@cache
def alternatives(name: str) -> Alternatives:
    routine = planned(name)
    return Alternatives(routine, CRAFT, lawful_in(CRAFT), minded_in(CRAFT))


@cache
def explained(name: str) -> tuple[Routine, tuple[str, ...]]:
    return explain_plan(planned(name), CRAFT)


def told(name: str) -> Iterator[tuple[Passage, str]]:
    """Yield every reason of a passage."""
    yield from ((p, says) for p in explained(name)[0].line for says in p.why)


def named(says: str) -> Technique:
    """Return the technique whose name `says` begins with."""
    return max(
        (t for t in CRAFT.techniques if says.startswith(t.plain)), key=lambda t: len(t.plain)
    )


def exchange(name: str, passage: Passage, technique: Technique) -> Instead:
    """Return the exchange that a sentence of `passage` speaks of."""
    return next(
        i
        for i in alternatives(name).techniques
        if i is not None
        and passage.id in {p.id for p in i.row}
        and technique.id in {p.technique for p in i.other}
    )


def remarks(before: Routine, after: Routine) -> list[str]:
    """Return what the checker minds after an exchange in bars in which it did not before."""
    now = Counter((f.rule, f.at_bar) for f in check(before, CRAFT))
    return [
        f"{f.rule} in bar {f.at_bar}: {f.message}"
        for f in check(after, CRAFT)
        if (f.rule, f.at_bar) not in now
    ]


def shares(routine: Routine, region: str) -> float:
    """Return about which part of the working bars is on `region`."""
    work = [p for p in routine.line if p.role in (Role.WORK, Role.PEAK) and p.technique]
    on = [p for p in work if CRAFT.technique(p.technique or "").region == region]
    return sum(p.bars for p in on) / sum(p.bars for p in work)


def test_what_would_do_as_well_leaves_no_remark_and_serves_no_wish_better() -> None:
    """Costs made up for each other: hands that leave the body twice for a main region's share."""
    held = 0
    for name, brief in BRIEFS.items():
        for passage, says in told(name):
            if not re.search(r"would do as well here", says):
                continue
            then = exchange(name, passage, named(says)).then
            assert remarks(planned(name), then) == [], (name, says)
            for region in brief.main_regions:
                assert shares(then, region) <= shares(planned(name), region) + 0.01, (name, says)
            held += 1
    assert held > 10


def test_a_newcomer_that_would_do_as_well_leaves_no_remark() -> None:
    for name in BRIEFS:
        if any(says.endswith("would do as well.") for says in explained(name)[1]):
            newcomer = alternatives(name).newcomer
            assert newcomer is not None
            assert remarks(planned(name), newcomer.then) == []


def test_what_a_wish_would_gain_is_told_with_what_the_checker_would_mind() -> None:
    held = 0
    for name, brief in BRIEFS.items():
        for passage, says in told(name):
            found = re.fullmatch(
                r"With (.+) here instead, (.+) would get (\d+) percent of the work, not (\d+)"
                r"(?:, but (.+))?\.",
                says,
            )
            if found is None or int(found[3]) < int(found[4]):
                continue
            then = exchange(name, passage, named(found[1])).then
            grown = [r for r in brief.main_regions if shares(then, r) > shares(planned(name), r)]
            assert grown, (name, says)
            assert bool(found[5]) >= bool(remarks(planned(name), then)), (name, says)
            if found[5] and "leave the body" in found[5]:
                assert "leave the body" in " ".join(remarks(planned(name), then)), (name, says)
            held += 1
    assert held >= 2


def test_where_hands_are_said_to_leave_the_body_the_checker_says_so_too() -> None:
    """The score is stricter: it asks for regions side by side, the checker for strokes."""
    held = 0
    for name in BRIEFS:
        for passage, says in told(name):
            found = re.fullmatch(r"With (.+?)( here instead| in .*refrain.*), .*leave the .*", says)
            if found is not None:
                of = exchange(name, passage, named(found[1])) if "here" in found[2] else None
                then = (of or alternatives(name).refrain or pytest.fail(says)).then
                assert "both hands leave the body" in " ".join(remarks(planned(name), then)), says
                held += 1
    assert held > 5


@pytest.mark.parametrize(
    ("rule", "says_so"),
    [
        ("small_areas", "would meet small strokes before any long one"),
        ("filler", "nothing new would be met near the end"),
    ],
)
def test_what_else_is_said_to_be_lost_the_checker_minds_too(rule: str, says_so: str) -> None:
    held = 0
    for name in BRIEFS:
        for passage, says in told(name):
            if re.fullmatch(rf"With .+ here instead, .*{says_so}\.", says):
                then = exchange(name, passage, named(says.removeprefix("With "))).then
                assert any(r.startswith(rule) for r in remarks(planned(name), then)), (name, says)
                held += 1
    assert held


def test_as_good_a_refrain_is_one_by_the_rules_and_is_named_whole() -> None:
    """A base stroke is no refrain by itself, and what stands there already takes no place."""
    held = Counter[str]()
    for name in BRIEFS:
        row, routine = planned(name).refrains[0], planned(name)
        now = list(dict.fromkeys(p.technique for p in row))
        for says in (*(s for _, s in told(name)), *explained(name)[1]):
            if "would make as good a refrain" not in says:
                continue
            whole = says.rpartition(": ")[2].partition(" would make")[0]
            new = [named(part).id for part in re.split(r" and then | in place of ", whole)]
            kind = "in place of" if "in place of" in whole else whole.rpartition(" ")[2]
            if kind == "in place of":
                assert new[1] in now, (name, says)
                assert new[0] not in now, (name, says)
                new = [new[0] if t == new[1] else str(t) for t in now]
            assert any(CRAFT.technique(t or "").family.is_held for t in new), (name, says)
            assert len(set(new)) == len(new), (name, says)
            instead = alternatives(name).refrain
            assert instead is not None
            assert new == list(dict.fromkeys(p.technique for p in instead.other)), (name, says)
            assert is_lawful(instead.then, CRAFT)
            assert remarks(routine, instead.then) == [], (name, says)
            held[kind] += 1
    assert held["in place of"]
    assert held["alone"]
    assert sum(held.values()) > held["in place of"] + held["alone"]  # one more: both anew


def fitting(routine: Routine, row: tuple[Passage, ...]) -> list[str]:
    """Return the other techniques that any swap brings into the bars of `row` lawfully."""
    group = next(g for g in groups_of(routine, CRAFT) if row[0].id in {p.id for p in g.passages})
    used = {p.technique for p in row}
    swaps = (
        (t.id, swap.routine)
        for t in CRAFT.techniques
        if not t.helps_turn and t.id not in used
        for swap in swaps_at(t, group, routine, CRAFT)
    )
    return [id for id, swapped in swaps if is_lawful(swapped, CRAFT)]


@pytest.mark.parametrize("name", BRIEFS)
def test_where_nothing_else_is_said_to_fit_no_swap_into_these_bars_holds(name: str) -> None:
    found = alternatives(name)
    rows = {row[0].id: row for row in found.rows}
    for passage, says in told(name):
        nothing = re.search(r"no other technique .* these (\S+) (seconds|minutes)", says)
        assert nothing or "othing else" not in says
        if nothing:
            row = rows[passage.id]
            seconds = round(sum(planned(name).seconds_of(p) for p in row))
            clock = f"{seconds // 60}:{seconds % 60:02d}"
            assert nothing[1] == (clock if nothing[2] == "minutes" else str(seconds))
            assert fitting(planned(name), row) == []
    for row, instead in zip(found.rows, found.techniques, strict=True):
        if instead is None and not any(p.kept for p in row):
            assert fitting(planned(name), row) == []


def test_that_nothing_else_fits_is_said_somewhere() -> None:
    assert any("no other technique" in says for name in BRIEFS for _, says in told(name))
    assert any("nothing else that the brief allows" in s for n in BRIEFS for s in explained(n)[1])


def test_a_pair_gives_way_to_one_stroke_where_nothing_side_by_side_fits() -> None:
    """With only what is not done side by side left, the bars of a pair are looked at whole."""
    found = alternatives("settle")
    row = next(r for r in found.rows if len(r) == 2 and r[0].side.is_one_sided)
    cut = list(found._otherwise_cut(row))
    assert cut
    for other in cut:
        assert len(other) == 1
        assert (other[0].start_bar, other[0].end_bar) == (row[0].start_bar, row[-1].end_bar)
        assert not other[0].side.is_one_sided


def test_one_alternative_has_one_reason_wherever_it_is_told() -> None:
    held = 0
    for name in BRIEFS:
        routine, mattered = explained(name)
        peak = next(p for p in routine.line if p.role is Role.PEAK)
        for says in mattered:
            summed = re.fullmatch(r"The peak is .*: with (.+) instead, (.+)\.", says)
            here = [
                w for w in peak.why if summed and w.startswith(f"With {summed[1]} here instead, ")
            ]
            if summed and here:
                assert here == [f"With {summed[1]} here instead, {summed[2]}."]
                held += 1
            if says.startswith("The refrain is ") and "would make as good" in says:
                first = routine.refrains[0][0]
                assert says.rpartition(": ")[2] in first.why
                held += 1
    assert held > 5


def test_what_is_minded_is_what_check_finds_and_is_no_must() -> None:
    for name in BRIEFS:
        for routine in (planned(name), *(i.then for i in alternatives(name).techniques if i)):
            found = [f for f in check(routine, CRAFT) if f.severity is Severity.MIND]
            assert sorted(map(str, minded(routine, CRAFT))) == sorted(map(str, found))


def test_time_so_far_is_added_up() -> None:
    held = 0
    for name in BRIEFS:
        for passage, says in told(name):
            found = re.fullmatch(
                r"These (.+) make it (\S+) (seconds|minutes) of work for .+\.", says
            )
            if found is None:
                continue
            routine, region = planned(name), CRAFT.technique(passage.technique or "").region
            seconds = sum(
                routine.seconds_of(p)
                for p in routine.line
                if p.role in (Role.WORK, Role.PEAK)
                and p.start_bar <= passage.start_bar
                and CRAFT.technique(p.technique or "").region == region
            )
            clock = f"{round(seconds) // 60}:{round(seconds) % 60:02d}"
            assert found[2] == (clock if found[3] == "minutes" else str(round(seconds)))
            held += 1
    assert held


def test_open_bars_of_equal_length_are_each_told_with_their_time() -> None:
    """Three pieces that last alike: the third was once said word for word, and had no reason."""
    brief = replace(random_brief(216, CRAFT, longest=25), title="Three pieces")
    routine = plan(brief, CRAFT, effort=QUICK, loosen=False).routine
    assert routine is not None
    pieces = [p for p in explain_plan(routine, CRAFT)[0].line if p.is_open]
    assert len({p.bars for p in pieces}) == 1
    assert len(pieces) == len({p.why for p in pieces}) == 3
    assert re.fullmatch(r"These bars are left free, too: .+ from \d+:\d\d on\.", pieces[-1].why[-1])
