"""A routine edited by hand: made where it can be, refused in a sentence where it cannot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.app.make_plan import make_plan
from rondel.app.take_routine import take_routine
from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.routine import Cue, Music, Passage, Routine
from rondel.model.words import Intention, Layer, NamesShown

CRAFT = builtin_craft()


@pytest.fixture(scope="module")
def planned() -> Routine:
    brief = Brief(title="Short", minutes=Fraction(3), intention=Intention.SETTLE, level=1)
    routine = make_plan(brief, CRAFT).routine
    assert routine is not None
    return routine


def edited(routine: Routine, at: int, **changes: object) -> Routine:
    """Return `routine` with one passage changed."""
    passages = list(routine.passages)
    passages[at] = replace(passages[at], **changes)  # type: ignore[arg-type]
    return replace(routine, passages=tuple(passages))


def all_over(routine: Routine) -> Routine:
    over: tuple[Passage, ...] = tuple(replace(p, layer=Layer.OVER) for p in routine.passages)
    return replace(routine, passages=over)


def unknown_caution(routine: Routine) -> Routine:
    assert routine.brief is not None
    return replace(routine, brief=replace(routine.brief, cautions=("moonburn",)))


def late_cue(routine: Routine) -> Routine:
    cue = Cue(id="c99", at_beat=Fraction(routine.clock.beats), say="Too late.")
    return replace(routine, cues=(*routine.cues, cue))


def to_a_track(routine: Routine, path: str | None = None) -> Routine:
    seconds = tuple(float(b) for b in range(routine.clock.beats + 1))
    return replace(routine, music=Music(kind="track", path=path, beat_seconds=seconds))


UNMAKEABLE: list[tuple[Callable[[Routine], Routine], str]] = [
    (lambda r: edited(r, 1, technique="moon-walk"), 'passage p02: the technique "moon-walk"'),
    (lambda r: replace(r, passages=(r.passages[0], *r.passages[2:])), "stand empty"),
    (lambda r: edited(r, 1, start_bar=0), "begins .* before"),
    (lambda r: replace(r, bars=r.bars + 2), "2 bars at the end stand empty"),
    (lambda r: replace(r, bars=r.bars - 1), "after the routine's last bar"),
    (all_over, "upper layer"),
    (late_cue, "cue c99: this cue stands after the end"),
    (unknown_caution, 'brief: cautions: "moonburn" is not known'),
    (to_a_track, "music: a brought track needs its `path`"),
]


@pytest.mark.parametrize(("spoil", "says"), UNMAKEABLE)
def test_what_no_session_can_be_made_of_is_refused_in_a_sentence(
    planned: Routine, spoil: Callable[[Routine], Routine], says: str
) -> None:
    with pytest.raises(BadInput, match=says) as refused:
        take_routine(spoil(planned), CRAFT, at="routine.json")
    assert str(refused.value).startswith("routine.json: ")


def test_a_planned_routine_is_taken_as_it_is(planned: Routine) -> None:
    assert take_routine(planned, CRAFT, at="routine.json") == (Outcome(routine=planned), ())


def test_cues_are_worded_where_the_routine_has_none(planned: Routine) -> None:
    taken = take_routine(replace(planned, cues=()), CRAFT, at="routine.json")[0].routine
    assert taken == planned


def test_with_a_condition_that_needs_a_clinician_first_nothing_is_made(planned: Routine) -> None:
    never = next(c for c in CRAFT.cautions if c.forbids.everything)
    assert planned.brief is not None
    brief = replace(planned.brief, cautions=(never.id,))
    outcome, notes = take_routine(replace(planned, brief=brief), CRAFT, at="routine.json")
    assert outcome.routine is None
    assert "clinician" in " ".join(outcome.reasons)
    assert notes == ()


def test_broken_rules_are_told_and_those_that_keep_people_safe_come_first(
    planned: Routine,
) -> None:
    # The contact of the first passage is spared by the brief, and the end comes too firmly.
    assert planned.brief is not None
    contact = CRAFT.technique(planned.passages[0].technique or "").contact
    routine = replace(planned, brief=replace(planned.brief, spare=(contact,)))
    outcome, notes = take_routine(routine, CRAFT, at="routine.json")
    assert outcome.routine == routine
    assert "breaks the rule book" in notes[0]
    assert "spare" in notes[1]
    assert len(notes) <= 4


def test_nothing_is_made_with_pressure_beyond_what_is_safe(planned: Routine) -> None:
    firm = edited(planned, len(planned.passages) - 1, pressure=5)
    outcome, notes = take_routine(firm, CRAFT, at="routine.json")
    assert outcome.routine is None
    assert "for a lay hand" in outcome.reasons[0]
    assert notes == ()


def test_cues_that_speak_of_what_is_no_longer_done_are_told(planned: Routine) -> None:
    fresh = take_routine(planned, CRAFT, at="routine.json")[1]
    assert not [note for note in fresh if "speak of techniques" in note]
    # Another technique everywhere, under the same cues.
    other = next(t for t in CRAFT.techniques if t.id not in {p.technique for p in planned.passages})
    swapped = tuple(replace(p, technique=other.id) for p in planned.passages)
    routine = replace(planned, passages=swapped)
    notes = take_routine(routine, CRAFT, at="routine.json")[1]
    assert any("speak of techniques" in note and "worded anew" in note for note in notes)


def test_names_in_cues_are_those_that_the_voice_says() -> None:
    brief = Brief(
        title="Short",
        minutes=Fraction(3),
        intention=Intention.SETTLE,
        level=1,
        names=NamesShown.ANATOMICAL,
    )
    routine = make_plan(brief, CRAFT).routine
    assert routine is not None
    assert take_routine(routine, CRAFT, at="routine.json")[1] == ()
    used = {p.technique for p in routine.passages}
    other = next(t for t in CRAFT.techniques if t.id not in used)
    swapped = tuple(
        replace(p, technique=other.id) if p is not routine.passages[0] else p
        for p in routine.passages
    )
    notes = take_routine(replace(routine, passages=swapped), CRAFT, at="routine.json")[1]
    assert any("speak of techniques" in note for note in notes)


def test_a_name_within_a_longer_word_is_no_name(planned: Routine) -> None:
    unused = {t.plain for t in CRAFT.techniques} - {
        CRAFT.technique(p.technique).plain for p in planned.passages if p.technique
    }
    name = sorted(unused)[0]
    beat = planned.cues[-1].at_beat
    for say, is_stale in ((f"Like {name}s, perhaps.", False), (f"Now {name}.", True)):
        cues = (*planned.cues[:-1], Cue(id="c99", at_beat=beat, say=say))
        notes = take_routine(replace(planned, cues=cues), CRAFT, at="routine.json")[1]
        assert any("c99" in note for note in notes) is is_stale
