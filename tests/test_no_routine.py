"""Briefs that no routine can meet: reasons that are true, and sets of wishes that truly help."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from impossible_briefs import KINDS, impossible_brief, one_of_kind
from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import FINDERS, check
from rondel.checker.view import look
from rondel.cli.refusal import say_why_not
from rondel.model.brief import Brief, Keep
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.codec.outcome import refusal_to_dict
from rondel.model.errors import BadInput
from rondel.model.finding import Change, Loosening, Outcome, Severity
from rondel.model.routine import Routine
from rondel.model.words import Contact, Intention, Position, Side
from rondel.planner.attempts import QUICK, Attempts
from rondel.planner.constraints import peak
from rondel.planner.handful import handful
from rondel.planner.loosen import loosenings
from rondel.planner.plan import plan, planned_among_few, planned_quickly
from rondel.planner.reasons import clinician_reasons, is_ruled_out, reasons_of
from rondel.planner.steps import wishes_of
from rondel.planner.stock import stock_of
from rondel.planner.trial import Trial, serves
from test_planner_exhaustive import routine_from, rows, thinned, tiny

CRAFT = builtin_craft()
LAMP = Brief(title="Lamplight", minutes=Fraction(10), intention=Intention.SETTLE, level=2)


def sentences(brief: Brief) -> str:
    return " ".join(reason.says for reason in reasons_of(brief, CRAFT))


# ---- reasons are true ------------------------------------------------------------------------


def refused(seeds: range, minutes: Fraction | None = None) -> list[Brief]:
    briefs = [impossible_brief(seed, CRAFT, minutes=minutes) for seed in seeds]
    return [b for b in briefs if not clinician_reasons(b, CRAFT) and reasons_of(b, CRAFT)]


def is_policy(says: str) -> bool:
    """True for what could be planned round: most work on a place where nothing can be done."""
    return says.startswith("You ask for most work")


def test_where_a_reason_is_given_the_search_finds_nothing() -> None:
    tried = 0
    for brief in refused(range(400, 440), Fraction(5)):
        if all(is_policy(reason.says) for reason in reasons_of(brief, CRAFT)):
            continue
        tried += 1
        assert Attempts(brief, CRAFT).find(QUICK) is None, (brief, sentences(brief))
    assert tried > 20


@cache
def lawful_routines() -> tuple[Brief, tuple[Routine, ...]]:
    """Return every lawful routine of four minutes that a tiny repertoire gives, by trying all."""
    craft = tiny(("snow-slide", "bread-shoulders"))
    brief = Brief(
        title="Tiny",
        minutes=Fraction(4),
        intention=Intention.SETTLE,
        level=1,
        refrains=1,
        bpm=Fraction(40),
        positions=(Position.PRONE,),
        stretch=False,
        main_regions=("shoulders",),
    )
    attempts = Attempts(brief, craft)
    stock = stock_of(
        attempts.material, attempts.frame, peak.summit(attempts.frame, 3), attempts.rows[0]
    )
    stock = thinned(stock)
    routines = (routine_from(stock, row) for row in rows(stock))
    lawful = tuple(
        r for r in routines if not any(f.severity is Severity.MUST for f in check(r, craft, brief))
    )
    return brief, lawful


@pytest.mark.parametrize("technique", ["snow-slide", "bread-shoulders", "slow-river"])
def test_no_lawful_routine_of_all_has_what_a_reason_rules_out(technique: str) -> None:
    """The trial of everything is judged by the checker, which shares nothing with the reasons."""
    brief, lawful = lawful_routines()
    craft = tiny(("snow-slide", "bread-shoulders"))
    assert len(lawful) > 20
    ruled_out = 0
    taught = craft.technique(technique).pressure
    for at in range(0, 240, 12):
        for pressure in (None, *range(taught[0], taught[1] + 1)):
            keep = Keep(technique=technique, at_seconds=Fraction(at), pressure=pressure)
            asked = replace(brief, keep=(keep,))
            if not reasons_of(asked, craft):
                continue
            ruled_out += 1
            for routine in lawful:
                with_keep = look(replace(routine, brief=asked), craft, asked)
                assert any(FINDERS["keep"](with_keep)), (keep, reasons_of(asked, craft))
    assert ruled_out >= 3


def test_wishes_that_a_reason_does_not_name_cannot_remove_it() -> None:
    """The search for sets to loosen rests on this: a set needs one wish of every reason."""
    tried = 0
    for brief in refused(range(500, 560)):
        reasons = reasons_of(brief, CRAFT)
        named = frozenset[str]().union(*(reason.wishes for reason in reasons))
        for wish in wishes_of(brief, CRAFT):
            if wish.name in named:
                continue
            for step in wish.steps:
                tried += 1
                changed = step.change(brief)
                assert is_ruled_out(changed, CRAFT), (brief, step.says, sentences(brief))
    assert tried > 100


def test_loosening_all_wishes_that_a_reason_names_removes_it() -> None:
    tried = 0
    for brief in refused(range(620, 670)):
        wishes = wishes_of(brief, CRAFT)
        for reason in reasons_of(brief, CRAFT):
            if not reason.wishes:
                continue
            changed, tried = brief, tried + 1
            for wish in wishes:
                if wish.name in reason.wishes:
                    changed = wish.steps[-1].change(changed)
            assert reason.says not in sentences(changed)
    assert tried > 30


# ---- what is offered works -------------------------------------------------------------------


def loosened(brief: Brief, entry: Loosening) -> Brief:
    """Return the brief with an offer put in, key by key, as from a file."""
    data = brief_to_dict(brief)
    for change in entry.changes:
        data.pop(change.wish, None)
        if change.to is not None:
            data[change.wish] = change.to
    return brief_from_dict(data)


CASES = {
    "two keeps, each ruled out for itself": replace(
        LAMP,
        level=1,
        stretch=False,
        spare=(Contact.THUMB,),
        keep=(Keep(technique="palm-garden"), Keep(technique="slow-plough")),
    ),
    "too many returns": replace(LAMP, minutes=Fraction(4), refrains=9),
    "a place avoided and asked for": replace(
        LAMP, main_regions=("calves",), avoid_regions=("calves",)
    ),
    "lying on what is to be worked": replace(
        LAMP, main_regions=("face",), positions=(Position.PRONE,), refrains=30
    ),
    "nothing left to touch with": replace(LAMP, spare=tuple(Contact)),
    "all wishes of the hands at once": replace(
        LAMP,
        open_minutes=Fraction(9),
        keep=(Keep(technique="palm-garden"),),
        spare=(Contact.THUMB,),
    ),
    "times that cannot be": replace(
        LAMP,
        keep=(
            Keep(technique="plum-press", at_seconds=Fraction(30)),
            Keep(technique="popcorn", at_seconds=Fraction(590)),
            Keep(technique="snow-slide", at_seconds=Fraction(300)),
        ),
    ),
    "held for too long": replace(LAMP, keep=(Keep(technique="long-scarf", minutes=Fraction(5)),)),
    "held for no time": replace(
        LAMP, keep=(Keep(technique="long-scarf", minutes=Fraction(1, 10)),)
    ),
    "too deep for its time": replace(
        LAMP,
        minutes=Fraction(15),
        keep=(
            Keep(technique="plum-press", at_seconds=Fraction(420), side=Side.RIGHT, pressure=4),
            Keep(technique="snow-slide", at_seconds=Fraction(600), minutes=Fraction(1)),
        ),
    ),
}


def trial() -> Trial:
    return Trial(
        craft=CRAFT, plans=lambda brief, failures: planned_among_few(brief, CRAFT, failures)
    )


@cache
def offered(name: str) -> tuple[Loosening, ...]:
    return loosenings(CASES[name], trial())


@pytest.mark.parametrize("name", list(CASES))
def test_every_offer_gives_a_lawful_routine_and_is_as_small_as_can_be(name: str) -> None:
    brief = CASES[name]
    assert offered(name)
    for entry in offered(name):
        changed = loosened(brief, entry)
        assert changed.cautions == brief.cautions
        routine = plan(changed, CRAFT, effort=QUICK).routine
        assert routine is not None, entry
        assert not [f for f in check(routine, CRAFT, changed) if f.severity is Severity.MUST]
        assert entry.costs
        assert all(says.endswith(".") for says in (*entry.sentences, *entry.costs))
        if len(entry.changes) > 1:
            for change in entry.changes:
                alone = Loosening(changes=(change,), sentences=("",))
                assert planned_quickly(loosened(brief, alone), CRAFT) is None


def test_two_wishes_are_loosened_where_none_alone_helps() -> None:
    assert {len(x.sentences) for x in offered("two keeps, each ruled out for itself")} == {2}
    assert {len(x.sentences) for x in offered("lying on what is to be worked")} == {2}


def test_times_that_cannot_be_are_left_open_before_anything_is_done_without() -> None:
    (entry,) = offered("times that cannot be")
    assert entry.says == "Keep Plum Press and Popcorn, but leave their times open."
    kept = loosened(CASES["times that cannot be"], entry).keep
    assert [(k.technique, k.at_seconds) for k in kept] == [
        ("plum-press", None),
        ("popcorn", None),
        ("snow-slide", Fraction(300)),
    ]
    assert entry.costs[0].startswith("When it was tried, Plum Press came at ")
    # Where no reason is known, too; and whatever else would do is offered beside it.
    assert [entry.says for entry in offered("too deep for its time")] == [
        "Keep Plum Press, but leave its time open.",
        "Keep Plum Press, but leave its pressure open.",
    ]


def test_of_a_length_that_cannot_be_the_nearest_that_can_is_offered() -> None:
    for name, says in (
        ("held for too long", "Keep Long Scarf, but for 2:00 instead of 5:00."),
        ("held for no time", "Keep Long Scarf, but for 32 seconds instead of 6 seconds."),
    ):
        assert offered(name)[0].says == says
        assert offered(name)[0].costs[0] == "All your other wishes stand."
        assert "leave its length open" not in " ".join(entry.says for entry in offered(name))


def test_avoided_places_are_offered_with_a_word_on_injury_and_pain() -> None:
    says = " ".join(x.says for x in offered("a place avoided and asked for"))
    assert "Do not avoid the calves, if it is a matter of taste" in says
    assert "where there is an injury or pain, leave it as it is" in says


def test_cautions_stand_and_the_wish_beside_them_is_offered() -> None:
    brief = replace(LAMP, cautions=("heart",), positions=(Position.PRONE,))
    outcome = plan(brief, CRAFT)
    assert outcome.routine is None
    assert outcome.loosen
    assert {c.wish for x in outcome.loosen for c in x.changes} == {"positions"}


def test_nothing_is_planned_or_offered_before_a_clinician_is_asked() -> None:
    outcome = plan(replace(LAMP, cautions=("clot",), refrains=40), CRAFT)
    assert outcome.routine is None
    assert "clinician" in outcome.reasons[0]
    assert outcome.loosen == ()


def test_the_same_brief_gets_the_same_answer() -> None:
    brief = CASES["two keeps, each ruled out for itself"]
    assert loosenings(brief, trial()) == offered("two keeps, each ruled out for itself")


def test_searches_are_counted() -> None:
    """However much is asked for, no more than so many searches are made, though all fail."""
    asked = []

    def fails(brief: Brief, failures: int) -> Routine | None:
        asked.append(brief)
        return None

    brief = replace(LAMP, refrains=40, open_minutes=Fraction(9))
    assert loosenings(brief, Trial(craft=CRAFT, plans=fails)) == ()
    assert 0 < len(asked) <= 39  # a failure counts 2: 12 + 8 + 5 + 4, and 10 to thin out all


def test_costs_are_told_of_the_routine_that_was_found() -> None:
    brief = CASES["too many returns"]
    entry = next(x for x in offered("too many returns") if x.changes[0].wish == "refrains")
    routine = planned_quickly(loosened(brief, entry), CRAFT)
    assert routine is not None
    ends = [0.0] + [
        routine.start_seconds(row[-1]) + routine.seconds_of(row[-1]) for row in routine.refrains
    ]
    nexts = [routine.start_seconds(row[0]) for row in routine.refrains]
    longest = max(b - a for a, b in zip(ends, [*nexts, routine.clock.total_seconds], strict=True))
    assert f"the longest time without it is {round(longest)} seconds" in " ".join(entry.costs)


# ---- every kind is answered ------------------------------------------------------------------

#: Of these, the ones that take longest; `benchmarks/no_routine.py` has them all.
SLOW = ("keeps where home must be", "open and keeps")


@cache
def answered(kind: str) -> tuple[Brief, Outcome]:
    """Return a brief of eight minutes that asks for too much in one way, and its answer."""
    number = list(KINDS).index(kind)
    brief = one_of_kind(kind, number, CRAFT, minutes=Fraction(8))
    return brief, plan(brief, CRAFT)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in SLOW])
def test_every_kind_of_too_much_is_explained_and_can_be_mended(kind: str) -> None:
    """The offer is put in as its reader would and judged by the checker, which shares nothing with
    the planner; a few kinds turn out to be possible, and their routine is judged instead."""
    brief, outcome = answered(kind)
    routine = outcome.routine
    if routine is None:
        assert outcome.reasons
        assert all(says.endswith(".") for says in outcome.reasons)
        if clinician_reasons(brief, CRAFT):
            assert outcome.loosen == ()
            return
        assert outcome.loosen
        brief = loosened(brief, outcome.loosen[0])
        routine = plan(brief, CRAFT, effort=QUICK).routine
    assert routine is not None
    assert not [f for f in check(routine, CRAFT, brief) if f.severity is Severity.MUST]


def test_the_kinds_are_truly_many() -> None:
    """At least 20 of them are impossible as they stand: arithmetic alone proves it."""
    count = 0
    for number, kind in enumerate(KINDS):
        brief = one_of_kind(kind, number, CRAFT, minutes=Fraction(8))
        count += bool(clinician_reasons(brief, CRAFT) or reasons_of(brief, CRAFT))
    assert count >= 20


# ---- routines that serve twice -----------------------------------------------------------------


def test_a_routine_that_serves_a_milder_wish_is_lawful_for_it() -> None:
    """Judged by the checker for the milder brief, for which no search was made."""
    bold = replace(LAMP, level=4, minutes=Fraction(6), refrains=None)
    routine = planned_quickly(bold, CRAFT)
    assert routine is not None
    used = {CRAFT.technique(p.technique).contact for p in routine.passages if p.technique}
    lies = {p.position for p in routine.passages}
    served = 0
    for level in range(1, 5):
        for spare in ((), *((contact,) for contact in Contact)):
            for positions in ((), *((position,) for position in Position)):
                brief = replace(bold, level=level, spare=spare, positions=positions)
                if not serves(routine, brief, CRAFT):
                    continue
                served += 1
                assert not used & set(spare)
                assert lies <= set(positions or Position)
                findings = check(replace(routine, brief=brief), CRAFT, brief)
                assert not [f for f in findings if f.severity is Severity.MUST], brief
    assert served > 3
    assert not serves(routine, replace(bold, spare=tuple(used)), CRAFT)


# ---- how it is told ----------------------------------------------------------------------------

OUTCOME = Outcome(
    routine=None,
    reasons=("This cannot be.",),
    loosen=(
        Loosening(
            changes=(Change(wish="spare", to=None), Change(wish="level", to=3)),
            sentences=("Use the thumb.", "Plan for a couple of level 3."),
            costs=("Thumb: 1:20 of work in all.",),
        ),
    ),
)


def test_a_refusal_as_data_holds_every_change_with_its_key() -> None:
    assert refusal_to_dict(OUTCOME) == {
        "routine": None,
        "reasons": ["This cannot be."],
        "loosen": [
            {
                "changes": [{"wish": "spare", "to": None}, {"wish": "level", "to": 3}],
                "says": "Use the thumb. And: Plan for a couple of level 3.",
                "costs": ["Thumb: 1:20 of work in all."],
            }
        ],
    }


def test_a_refusal_is_printed_with_what_each_change_costs(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert say_why_not(OUTCOME, as_json=False) == 1
    printed = capsys.readouterr().out
    assert "No smaller step was found to be enough. With both changes" in printed
    assert "Use the thumb. And: Plan for a couple of level 3." in printed
    assert "Thumb: 1:20 of work in all." in printed


# ---- how much is loosened, and among how little it is tried --------------------------------------


def test_no_more_is_taken_away_than_was_found_to_be_needed() -> None:
    """Of 14 free minutes in 15, half can stay; all were once taken away but one."""
    brief = replace(LAMP, minutes=Fraction(15), open_minutes=Fraction(14))
    offers = loosenings(brief, trial())
    left = [x.changes[0].to for x in offers if x.changes[0].wish == "open_minutes"]
    assert len(left) == 1
    assert 7 <= float(str(left[0])) < 14


def test_a_handful_holds_what_is_insisted_on_and_can_be_planned() -> None:
    brief = replace(LAMP, keep=(Keep(technique="milk-path"),), positions=(Position.PRONE,))
    few = handful(brief, CRAFT)
    ids = {t.id for t in few.techniques}
    assert "milk-path" in ids
    assert {t.id for t in CRAFT.techniques if t.helps_turn} <= ids
    assert len(ids) < len(CRAFT.techniques) / 3
    assert few.regions == CRAFT.regions
    routine = planned_among_few(brief, CRAFT, 2)
    assert routine is not None
    assert not [f for f in check(routine, CRAFT, brief) if f.severity is Severity.MUST]


def test_in_pregnancy_only_the_positions_that_are_left_are_offered() -> None:
    """Side or sitting: side-lying is a fact of teaching material, sitting common practice."""
    brief = replace(LAMP, cautions=("pregnancy",), positions=(Position.PRONE,))
    outcome = plan(brief, CRAFT)
    assert "that leaves sitting or lying on their side" in outcome.reasons[0]
    assert [x.changes for x in outcome.loosen] == [
        (Change(wish="positions", to=["seated", "side"]),)
    ]
    steps = {w.name: w.steps for w in wishes_of(brief, CRAFT)}["positions"]
    assert [s.change(brief).positions for s in steps] == [(Position.SEATED, Position.SIDE)]


def test_a_name_that_is_nearly_right_is_answered_with_the_nearest_alone() -> None:
    with pytest.raises(BadInput) as told:
        plan(replace(LAMP, keep=(Keep(technique="Snow Slyde"),)), CRAFT)
    assert str(told.value).endswith('"Snow Slyde" is not known; did you mean "snow-slide"?')
    with pytest.raises(BadInput, match="`rondel techniques` lists all"):
        plan(replace(LAMP, keep=(Keep(technique="qqqq"),)), CRAFT)
