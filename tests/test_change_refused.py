"""Second thoughts that cannot be: sentences say why, and offer what can."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from change_samples import (
    CRAFT,
    brief_of_seed,
    changed,
    lamplight,
    named,
    planned,
    refused,
    work,
)
from rondel.adapters.studio_files import demo_brief
from rondel.app.change_plan import _nearest, change_plan, take_offer
from rondel.model.errors import BadInput
from rondel.model.routine import Passage, Routine
from rondel.model.words import Contact, Role, Side
from rondel.planner.edit_limits import bars_allowed
from rondel.planner.edits import (
    Begin,
    Edit,
    Free,
    Insist,
    LeaveOpen,
    Lengthen,
    Move,
    Press,
    Shorten,
    Swap,
)
from rondel.planner.frame import frame_of
from rondel.planner.groups import groups_of
from rondel.planner.milder import Milder, milder_edits, with_less_asked
from rondel.planner.nearness import home_in
from rondel.planner.requests import Picked, Request, pick
from rondel.planner.work_edits import request_for


def test_what_cannot_be_is_said_in_sentences() -> None:
    routine = lamplight()
    lateral, both = work(routine, lateral=True), work(routine, lateral=False)
    home, last = routine.refrains[0], routine.line[-1]
    says = {
        'There is no passage "p99"': Press(passage="p99", pressure=2),
        'Did you mean "sleepy-cat"?': Swap(passage=both.id, technique="sleepi-cat"),
        "so no side comes first": Begin(passage=both.id),
        "is not insisted on here": Free(passage=both.id),
        "the routine lasts 15:00": Move(passage=both.id, to_seconds=Fraction(15 * 60)),
        "already": Begin(passage=lateral.id, side=Side.LEFT),
        "such a passage lasts from 32 seconds to 120 seconds": Shorten(
            passage=lateral.id, seconds=Fraction(60)
        ),
        "Until 1:30 only glides, holds and embraces come": Swap(
            passage="p01", technique="sleepy-cat"
        ),
        "must end with hands at rest": LeaveOpen(passage=last.id),
        "The routine begins with": Move(passage="p01", to_seconds=Fraction(300)),
        "is what keeps coming home": LeaveOpen(passage=home[0].id),
        "A hold or an embrace belongs in the refrain": Swap(
            passage=home[-1].id, technique="plum-press"
        ),
    }
    for part, edit in says.items():
        assert part in refused(edit)


def test_pressure_beyond_what_is_taught_or_safe_names_what_may_be_chosen() -> None:
    bellows = next(p for p in lamplight().line if p.technique == "bellows")
    low, high = CRAFT.technique("bellows").pressure
    assert f"Bellows is taught at pressure {low} to {high}" in refused(
        Press(passage=bellows.id, pressure=5)
    )


def test_a_technique_that_the_brief_spares_is_refused_by_name() -> None:
    both = work(lamplight(), lateral=False)
    assert demo_brief().spare == (Contact.THUMB,)
    thumb = next(
        t
        for t in CRAFT.techniques
        if t.contact is Contact.THUMB and t.level <= demo_brief().level and not t.helps_turn
    )
    says = refused(Swap(passage=both.id, technique=thumb.id))
    assert thumb.plain in says
    assert "thumb" in says
    hold = lamplight().refrains[0][0]
    assert "thumb" in refused(Swap(passage=hold.id, technique=thumb.id))


def test_the_rule_in_the_way_is_named() -> None:
    # Pressure rises by one at a time, and leaving the refrain counts its firmest passage: where
    # firm work at 3 follows a refrain whose strokes at 2 become strokes at 1, the rule is broken.
    # That work is insisted on, so that it cannot give way; of forty random routines this was the
    # only one in which nothing else could either.
    routine = planned(brief_of_seed(28))
    home = routine.refrains[0]
    assert home[0].pressure == 2
    assert {p.pressure for p in home[1:]} <= {0, 1}
    firm = [b for a, b in pairwise(routine.line) if a.role is Role.REFRAIN and b.pressure == 3]
    assert firm
    for passage in firm:
        kept = change_plan(routine, Insist(passage=passage.id), CRAFT).outcome.routine
        assert kept is not None
        routine = kept
    reasons = refused(Press(passage=home[0].id, pressure=1), routine)
    assert "By itself, this would break a rule" in reasons
    assert "rise by one at a time" in reasons


def test_what_is_offered_instead_was_found_to_work() -> None:
    both = work(lamplight(), lateral=False)
    edit = Lengthen(passage=both.id, seconds=Fraction(300))  # no passage lasts so long
    answer = change_plan(lamplight(), edit, CRAFT)
    assert answer.outcome.routine is None
    assert answer.offers
    picked = pick(lamplight(), CRAFT, both.id)
    assert isinstance(picked, Picked)
    milder = {m.says: m for m in milder_edits(picked, edit)}
    for offer in answer.offers:
        taken, less = take_offer(lamplight(), edit, CRAFT, offer.key)
        new, _ = changed(milder[offer.says].edit)
        assert taken.outcome.routine == new
        assert less == milder[offer.says].edit
        assert named(new, both.technique, both).bars > both.bars
    for other in ("99-", "0-", answer.offers[0].key + "0", ""):
        with pytest.raises(BadInput, match="not offered"):
            take_offer(lamplight(), edit, CRAFT, other)
    # The hands were changed between: what stood there then is no longer taken for what was meant.
    swap = Swap(passage=both.id, technique="no-such-thing")
    assert change_plan(lamplight(), swap, CRAFT).offers == ()


@pytest.mark.parametrize("kind", [Lengthen, Shorten])
def test_of_another_length_the_most_that_works_is_offered(kind: type[Lengthen | Shorten]) -> None:
    both = work(lamplight(), lateral=False)
    edit = kind(passage=both.id, seconds=Fraction(600))
    (offer,) = change_plan(lamplight(), edit, CRAFT).offers
    most, *_ = _milder_of(lamplight(), edit)
    assert offer.says == most.says
    new, _ = changed(most.edit)
    low, high = bars_allowed(frame_of(demo_brief()), both.role)
    bars = named(new, both.technique, both).bars
    assert bars == (high if kind is Lengthen else low)


def test_where_the_most_does_not_work_something_near_it_is_offered() -> None:
    both, routine = work(lamplight(), lateral=False), lamplight()
    for passage in routine.line:
        if passage.start_bar > both.start_bar:  # so what follows cannot give way
            kept = change_plan(routine, Insist(passage=passage.id), CRAFT).outcome.routine
            routine = routine if kept is None else kept
    edit = Lengthen(passage=both.id, seconds=Fraction(600))
    offer = change_plan(routine, edit, CRAFT).offers[0]
    every = {m.says: m.edit for m in _milder_of(routine, edit)}
    most, *_, least = every
    assert offer.says not in (most, least)
    assert change_plan(routine, every[most], CRAFT).outcome.routine is None
    new, _ = changed(every[offer.says], routine)
    assert named(new, both.technique, both).bars > both.bars + 1


def _milder_of(routine: Routine, edit: Edit) -> list[Milder]:
    picked = pick(routine, CRAFT, edit.passage)
    assert isinstance(picked, Picked)
    return list(milder_edits(picked, edit))


def test_what_is_insisted_on_near_by_is_offered_to_be_freed_and_stays_in_the_routine() -> None:
    """Two passages that neither may give way: freed, one of them may."""
    routine, found = lamplight(), 0
    for passage in routine.line:
        kept = change_plan(routine, Insist(passage=passage.id), CRAFT).outcome.routine
        routine = routine if kept is None else kept
    for passage in routine.line:
        edit = Lengthen(passage=passage.id)
        for offer in change_plan(routine, edit, CRAFT).offers:
            if "insisted on" in offer.says:
                found += 1
                answer, same = take_offer(routine, edit, CRAFT, offer.key)
                freed = answer.outcome.routine
                assert same == edit
                assert freed is not None
                assert freed.brief is not None
                assert routine.brief is not None
                assert len(freed.brief.keep) == len(routine.brief.keep) - 1
                named_so = offer.says.split(" if ")[1]
                gone = next(
                    k
                    for k in routine.brief.keep
                    if named_so.startswith(CRAFT.technique(k.technique).plain)
                )
                assert gone.technique in {p.technique for p in freed.line}
                assert answer.moved[0] == f"{CRAFT.technique(gone.technique).plain} is free again."
    assert found


def test_what_is_freed_for_an_edit_is_marked_no_more() -> None:
    """Also where it stays as it was, and only lengths give way: marked, it would give none."""
    routine, found = lamplight(), 0
    last = routine.line[-1]
    for passage in routine.line[-4:-1]:
        kept, _ = changed(Insist(passage=passage.id)) if passage.role is Role.WORK else (None, None)
        if kept is None:
            continue
        for edit in (Lengthen(passage=last.id, seconds=Fraction(30)), Shorten(passage=last.id)):
            for offer in change_plan(kept, edit, CRAFT).offers:
                if "insisted on" in offer.says:
                    freed = take_offer(kept, edit, CRAFT, offer.key)[0].outcome.routine
                    assert freed is not None
                    assert _marked(freed) == [last.technique]
                    insists = [p.technique for p in freed.line if "insist" in " ".join(p.why)]
                    assert set(insists) <= {last.technique}
                    found += 1
    assert found


def _marked(routine: Routine) -> list[str]:
    """What is marked as insisted on, once for each place."""
    marked = [[p.technique for p in g.passages if p.kept] for g in groups_of(routine, CRAFT)]
    return sorted(ids[0] or "" for ids in marked if ids)


def test_the_refrain_changes_by_what_was_told_or_by_less_only_where_that_is_offered() -> None:
    routine = lamplight()
    base = routine.refrains[0][0]
    all_of_it = Fraction(round(routine.seconds_of(base)))
    for kind, word in ((Shorten, "shorter"), (Lengthen, "longer")):
        edit = kind(passage=base.id, seconds=all_of_it)
        answer = change_plan(routine, edit, CRAFT)
        assert f"cannot be that much {word}" in " ".join(answer.outcome.reasons)
        offer = answer.offers[0]
        taken, less = take_offer(routine, edit, CRAFT, offer.key)
        new = taken.outcome.routine
        assert new is not None
        assert isinstance(less, Shorten | Lengthen)
        assert less.seconds is not None
        by = abs(new.seconds_of(new.refrains[0][0]) - routine.seconds_of(base))
        assert by == pytest.approx(float(less.seconds), abs=0.01)
        assert f"by {by:.0f} seconds" in offer.says


def test_a_wish_that_is_loosened_is_never_the_one_that_the_edit_speaks_of() -> None:
    both, lateral = work(lamplight(), lateral=False), work(lamplight(), lateral=True)
    routine = lamplight()
    for passage in (both, lateral):
        kept = change_plan(routine, Insist(passage=passage.id), CRAFT).outcome.routine
        assert kept is not None
        routine = kept
    assert routine.brief is not None
    picked = pick(routine, CRAFT, both.id)
    assert isinstance(picked, Picked)
    looser = list(with_less_asked(picked, Press(passage=both.id, pressure=1), CRAFT))
    briefs = [m.routine.brief for m in looser if m.routine.brief is not None]
    assert len(briefs) == len(looser)
    assert any(lateral.technique not in {k.technique for k in b.keep} for b in briefs)
    for brief in briefs:
        assert both.technique in {k.technique for k in brief.keep}
        assert brief != routine.brief
        assert brief.cautions == routine.brief.cautions


def test_the_refrain_is_the_last_to_go() -> None:
    old = lamplight()
    both = work(old, lateral=False)
    new, _ = changed(Lengthen(passage=both.id))
    assert home_in(new) == home_in(old)
    # A plan with another refrain loses against one with this refrain, however little it changes.
    other = replace(old, passages=tuple(_rehomed(p) for p in old.passages))
    picked = pick(old, CRAFT, both.id)
    assert isinstance(picked, Picked)
    request = request_for(picked, Lengthen(passage=both.id))
    assert isinstance(request, Request)
    assert _nearest([other, new], request) is new


def _rehomed(passage: Passage) -> Passage:
    return replace(passage, technique="winter-coat") if passage.role is Role.REFRAIN else passage


def test_a_rest_points_to_the_work_that_it_answers() -> None:
    rest = next(p for p in lamplight().line if p.role is Role.REST)
    place = lamplight().line.index(rest)
    work = lamplight().line[place - 1]
    assert work.technique is not None
    assert f"change {CRAFT.technique(work.technique).plain} instead" in refused(
        Shorten(passage=rest.id, seconds=Fraction(4))
    )


def test_a_routine_without_its_brief_is_left_alone() -> None:
    bare = replace(lamplight(), brief=None)
    assert "came without its brief" in refused(Insist(passage="p02"), bare)


def test_where_something_lighter_takes_the_place_of_the_peak_another_peak_is_found() -> None:
    """The peak's pressure is the routine's, not that of what is asked for in its place."""
    routine = planned(demo_brief())
    peak = next(p for p in routine.line if p.role is Role.PEAK)
    lighter = [
        t.id
        for t in CRAFT.techniques
        if t.pressure[1] < peak.pressure
        and t.level <= 2
        and peak.position in t.position
        and not t.helps_turn
        and not t.refrain
    ]
    done = 0
    for technique in lighter:
        answer = change_plan(routine, Swap(passage=peak.id, technique=technique), CRAFT)
        new = answer.outcome.routine
        if new is None:
            continue
        done += 1
        assert max(p.pressure for p in new.line if p.role is Role.PEAK) == peak.pressure, technique
        if done == 6:
            return
    assert done
