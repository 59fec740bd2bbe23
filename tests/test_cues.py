"""Cues say what comes, in time, in words that do not wear out."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.cues import phrases
from rondel.cues.choice import sentences
from rondel.cues.pace import SECONDS_BETWEEN, estimate_seconds
from rondel.cues.scene import scenes
from rondel.cues.wording import word_cues
from rondel.model.routine import Cue, Passage, Routine
from rondel.model.words import Intention, NamesShown, Position, Role

#: In so short an arrival there is room for consent alone: what comes is then told as it begins.
SHORT_ARRIVAL = 11.0
LENGTHS = (3.0, 5.0, 15.0, 30.0, 60.0)
CASES = [
    (seed, minutes, intention, bpm)
    for seed, (minutes, intention, bpm) in enumerate(
        (m, i, b) for m in LENGTHS for i, b in zip(Intention, (60, 72, 52, 66), strict=True)
    )
]


@cache
def spoken(seed: int, minutes: float, intention: Intention, bpm: int) -> tuple[Routine, list[Cue]]:
    routine = lot_routine(seed, minutes, intention, bpm)
    return routine, list(word_cues(routine, builtin_craft()))


def span(routine: Routine, cue: Cue) -> tuple[float, float]:
    start = routine.clock.seconds_at(cue.at_beat)
    return start, start + estimate_seconds(cue.say)


def cues_in(routine: Routine, cues: list[Cue], passage: Passage) -> list[Cue]:
    start, end = routine.start_beat(passage), routine.end_beat(passage)
    return [c for c in cues if start <= c.at_beat < end]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_every_cue_is_over_before_the_passage_it_began_in_ends(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    for cue in cues:
        _, end = span(routine, cue)
        passage = routine.passage_at(float(cue.at_beat))
        assert end <= routine.end_seconds(passage), cue.say


@pytest.mark.parametrize("case", CASES, ids=str)
def test_cues_stand_a_second_apart_and_in_order(case: tuple[int, float, Intention, int]) -> None:
    routine, cues = spoken(*case)
    for one, after in pairwise(cues):
        assert span(routine, after)[0] >= span(routine, one)[1] + SECONDS_BETWEEN - 1e-6
    assert len({c.id for c in cues}) == len(cues)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_every_change_outside_the_refrain_is_announced_before_it_comes(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    craft = builtin_craft()
    for scene in scenes(routine, craft):
        if scene.leaving is None or scene.is_within_refrain:
            continue
        announced = cues_in(routine, cues, scene.leaving)
        if scene.leaving is routine.line[0] and routine.seconds_of(scene.leaving) < SHORT_ARRIVAL:
            announced += cues_in(routine, cues, scene.entering)[:1]
            assert scene.technique is not None
            assert scene.technique.plain in " ".join(c.say for c in announced)
            continue
        assert announced, f"nothing announces {scene.entering.id}"
        says = announced[-1].say
        if scene.technique is None:
            assert "yours" in says or "belongs to you" in says
        elif not scene.entering.side.is_one_sided:
            assert scene.technique.plain in says
        else:
            assert scene.entering.side.value in says, says


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_same_sentence_never_comes_twice_running(
    case: tuple[int, float, Intention, int],
) -> None:
    _, cues = spoken(*case)
    for one, after in pairwise(cues):
        assert not set(sentences(one.say)) & set(sentences(after.say)), one.say


@pytest.mark.parametrize("case", [c for c in CASES if c[1] <= 30], ids=str)
def test_up_to_half_an_hour_no_sentence_is_said_twice(
    case: tuple[int, float, Intention, int],
) -> None:
    _, cues = spoken(*case)
    said = Counter(s for c in cues for s in sentences(c.say))
    assert [s for s, times in said.items() if times > 1] == []


@pytest.mark.parametrize("case", CASES, ids=str)
def test_words_are_whole_sentences_in_plain_english(
    case: tuple[int, float, Intention, int],
) -> None:
    _, cues = spoken(*case)
    for cue in cues:
        assert re.fullmatch(r"[A-Z][^{}<>]*[.!?]", cue.say), cue.say
        assert "  " not in cue.say
        assert " ," not in cue.say
        for sentence in sentences(cue.say):
            assert sentence[0].isupper(), cue.say


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_first_words_ask_for_consent_and_name_a_stop_word(
    case: tuple[int, float, Intention, int],
) -> None:
    _, cues = spoken(*case)
    first = cues[0].say.lower()
    assert "ask" in first or "question" in first
    assert "stop" in first
    assert "word" in first


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_last_rest_is_silent_after_the_final_words(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    assert routine.brief is not None
    scale = min(1.0, float(routine.brief.minutes) / 6)  # by the brief: docs/decisions/0001
    assert routine.passage_at(float(cues[-1].at_beat)) is routine.line[-1]
    assert routine.clock.total_seconds - span(routine, cues[-1])[1] >= 6 * scale


@pytest.mark.parametrize("case", CASES, ids=str)
def test_before_deep_work_the_giver_is_told_to_go_slowly_and_to_ask(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    for scene in scenes(routine, builtin_craft()):
        if not scene.entering.is_deep or scene.leaving is None:
            continue
        near = cues_in(routine, cues, scene.leaving)[-1:]
        near += cues_in(routine, cues, scene.entering)[:1]
        words = " ".join(c.say for c in near)
        assert any(line in words for line in phrases.DEEP), words


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_stretch_passage_may_be_skipped(case: tuple[int, float, Intention, int]) -> None:
    routine, cues = spoken(*case)
    first = next(i for i, p in enumerate(routine.line) if p.stretch)
    says = cues_in(routine, cues, routine.line[first - 1])[-1].say.lower()
    assert "skip" in says or "leave it out" in says


@pytest.mark.parametrize("case", CASES, ids=str)
def test_nobody_talks_while_the_couple_leads(case: tuple[int, float, Intention, int]) -> None:
    routine, cues = spoken(*case)
    for passage in routine.line:
        if passage.role is Role.OPEN:
            assert len(cues_in(routine, cues, passage)) <= 1  # only what comes after it


def test_sleep_is_spoken_to_less_than_the_same_routine_to_wake() -> None:
    # Common practice, no source.
    sleepy = lot_routine(8, 30.0, Intention.SLEEP)
    assert sleepy.brief is not None
    awake = replace(sleepy, brief=replace(sleepy.brief, intention=Intention.WAKE))
    craft = builtin_craft()
    assert len(word_cues(sleepy, craft)) < len(word_cues(awake, craft))


def test_most_of_the_time_nobody_talks() -> None:
    for case in CASES:
        routine, cues = spoken(*case)
        talk = sum(estimate_seconds(c.say) for c in cues)
        limit = 0.25 if case[1] >= 15 else 0.4
        assert talk < limit * routine.clock.total_seconds, case


def test_equal_routines_are_worded_alike_and_another_seed_words_otherwise() -> None:
    craft = builtin_craft()
    routine = lot_routine(3)
    assert word_cues(routine, craft) == word_cues(lot_routine(3), craft)
    other = word_cues(replace(routine, seed=99), craft)
    assert [c.say for c in other] != [c.say for c in word_cues(routine, craft)]


def test_the_brief_chooses_which_names_are_spoken() -> None:
    craft = builtin_craft()
    anatomical = lot_routine(3, names=NamesShown.ANATOMICAL)
    words = " ".join(c.say for c in word_cues(anatomical, craft))
    used = [craft.technique(p.technique) for p in anatomical.line if p.technique]
    assert all(t.plain not in words for t in used if t.plain.lower() not in t.say.lower())
    assert sum(t.anatomical.split(",")[0] in words for t in used) > len(used) / 2


def test_turning_over_is_asked_for_before_the_new_position() -> None:
    craft = builtin_craft()
    routine = lot_routine(5)
    home = next(i for i, p in enumerate(routine.line) if p.role is Role.REFRAIN and i > 6)
    turned = tuple(
        replace(p, position=Position.SUPINE) if i >= home else p
        for i, p in enumerate(routine.passages)
    )
    routine = replace(routine, passages=turned)
    cues = list(word_cues(routine, craft))
    before = cues_in(routine, cues, routine.line[home - 1])
    assert any("onto their back" in c.say for c in before)
    assert sum("onto their back" in c.say for c in cues) == 1


def test_somebody_who_sits_is_helped_to_lie_down_not_to_turn() -> None:
    craft = builtin_craft()
    routine = lot_routine(5)
    home = next(i for i, p in enumerate(routine.line) if p.role is Role.REFRAIN and i > 6)
    seated = tuple(
        replace(p, position=Position.SEATED) if i < home else p
        for i, p in enumerate(routine.passages)
    )
    words = " ".join(c.say for c in word_cues(replace(routine, passages=seated), craft))
    assert "lie down on their front" in words
    assert "turn onto" not in words


def test_no_two_lines_of_a_bank_are_the_same() -> None:
    banks = {k: v for k, v in vars(phrases).items() if isinstance(v, tuple)}
    assert len(banks) > 20
    for name, bank in banks.items():
        assert len(set(bank)) == len(bank), name


def test_words_for_any_passage_name_no_part_of_the_body() -> None:
    anywhere = (*phrases.ATTEND, *phrases.BREATHE, *phrases.BREATHE_HOLD, *phrases.ON_THE_BEAT)
    parts = re.compile(r"\b(?:this|the|their) (?:back|neck|leg|arm|foot|feet|thigh|head|belly)\b")
    assert not [line for line in anywhere if parts.search(line)]


def told_as(intention: Intention, position: Position, seed: int = 5) -> tuple[Routine, list[Cue]]:
    """Return a routine done in one position, and its cues."""
    routine = lot_routine(seed, 15.0, intention)
    passages = tuple(replace(p, position=position) for p in routine.passages)
    routine = replace(routine, passages=passages)
    return routine, list(word_cues(routine, builtin_craft()))


@pytest.mark.parametrize("case", CASES, ids=str)
def test_before_deep_work_begins_the_place_is_named(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    for scene in scenes(routine, builtin_craft()):
        if not scene.goes_deep or scene.leaving is None or scene.technique is None:
            continue
        where = phrases.WHERE[scene.technique.region]
        near = cues_in(routine, cues, scene.leaving)[-1:]
        near += cues_in(routine, cues, scene.entering)[:1]
        assert where in " ".join(c.say for c in near).lower(), scene.entering


def test_every_region_where_one_may_go_deep_has_words_for_its_place() -> None:
    deep = {t.region for t in builtin_craft().techniques if t.pressure[1] >= 4}
    assert deep <= set(phrases.WHERE)


@pytest.mark.parametrize("case", [c for c in CASES if c[1] >= 5], ids=str)
def test_the_way_back_after_a_slip_is_told_once_and_early(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    home = routine.refrains[0][0].technique
    assert home is not None
    name = builtin_craft().technique(home).plain
    ways = {line.format(name=name) for line in phrases.SLIP}
    told = [c for c in cues if ways & {c.say}]
    assert len(told) == 1
    early = routine.refrains[min(2, len(routine.refrains)) - 1]
    assert routine.passage_at(float(told[0].at_beat)).role is Role.REFRAIN
    assert told[0].at_beat < routine.end_beat(early[-1])


@pytest.mark.parametrize(
    ("position", "says"),
    [
        (Position.PRONE, "lie face down"),
        (Position.SUPINE, "lie face up"),
        (Position.SIDE, "lie on their side"),
        (Position.SEATED, " sit"),
    ],
)
def test_the_welcome_says_how_the_receiver_lies(position: Position, says: str) -> None:
    routine, cues = told_as(Intention.SETTLE, position)
    first = cues_in(routine, cues, routine.line[0])
    assert any(says in c.say for c in first)


def test_who_wakes_sits_up_before_standing_and_who_sits_stands_up_slowly() -> None:
    for seed in range(6):
        _, lies = told_as(Intention.WAKE, Position.PRONE, seed)
        _, sits = told_as(Intention.WAKE, Position.SEATED, seed)
        assert re.search(r"\bsit up\b.*\bstand\b", lies[-1].say)
        assert re.search(r"\bstand\b", sits[-1].say)
        assert "sit up" not in sits[-1].say
        assert re.search(r"slowly|without hurry|later", lies[-1].say)


@pytest.mark.parametrize("case", [c for c in CASES if c[2] is Intention.SLEEP], ids=str)
def test_towards_sleep_the_last_words_come_early_and_nobody_is_asked_to_rise(
    case: tuple[int, float, Intention, int],
) -> None:
    routine, cues = spoken(*case)
    last = routine.line[-1]
    assert cues[-1].say in phrases.FAREWELL_SLEEP
    ends = span(routine, cues[-1])[1]
    assert routine.end_seconds(last) - ends >= 0.3 * routine.seconds_of(last)
    assert not re.search(r"\b(?:rise|stand|sit up)\b", " ".join(c.say for c in cues[-2:]))


def test_others_are_told_to_rise_slowly() -> None:
    for line in phrases.FAREWELL:
        assert re.search(r"rise slowly|no hurry to rise", line.lower()), line


def test_no_line_on_pressure_says_the_same_word_twice() -> None:
    """Once "a little firmer now: firm enough to meet the muscle" was said."""
    plain = {"a", "as", "the", "you", "your", "it", "in", "with", "is", "of", "to"}
    pairs = [(line, "firmer", to) for line in phrases.FIRMER for to in phrases.FIRMER_TO.items()]
    pairs += [
        (line, "firmer", (n, to))
        for line in phrases.WEIGHTIER
        for n, to in phrases.FIRMER_TO.items()
        if n >= 3
    ]
    pairs += [(line, "easier", to) for line in phrases.EASIER for to in phrases.EASIER_TO.items()]
    for line, key, (_, to) in pairs:
        words = re.findall(r"\w+", line.format(**{key: to}).lower())
        stems = [w.removesuffix("er") for w in words if w not in plain]
        twice = [w for w, n in Counter(stems).items() if n > 1 and w != "weight"]
        assert not twice, line.format(**{key: to})
