"""The wordings of a change, the fullest first; and the welcome, the middle lines, the farewell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import product

from rondel.cues.choice import Choice, Wording, render
from rondel.cues.language import Bank, Phrases
from rondel.cues.scene import Scene, said_side, spoken_name
from rondel.model.repertoire import Technique
from rondel.model.words import Intention, NamesShown, Position, Role

#: So many wordings of a lead, and of an addition, are tried against the room there is.
LEADS_TRIED = 6
ADDITIONS_TRIED = 3
FELT_AS_WEIGHT = 3  # pressure from which words may speak of weight


def words_of(scene: Scene, shown: NamesShown, phrases: Phrases) -> dict[str, str]:
    """Return what the braces of the phrases stand for in `scene`."""
    technique, entering = scene.technique, scene.entering
    was_sitting = scene.leaving is not None and scene.leaving.position is Position.SEATED
    turns = phrases.LAID_DOWN if was_sitting else phrases.TURNED
    return {
        "name": spoken_name(technique, shown) if technique else phrases.OWN_WAY,
        "side": said_side(scene, phrases.SIDES),
        "hand": phrases.HANDS[entering.side.value],
        "where": phrases.WHERE.get(technique.region, "") if technique else "",
        "firmly": phrases.FIRMLY[entering.pressure],
        "firmer": phrases.FIRMER_TO.get(entering.pressure, ""),
        "easier": phrases.EASIER_TO.get(entering.pressure, ""),
        "turned": turns[entering.position.value],
    }


def announcements(
    scene: Scene, choice: Choice, shown: NamesShown, *, turn_is_said: bool = False
) -> Iterator[Wording]:
    """Give the wordings that announce `scene`, from all there is to tell to the bare change."""
    words = words_of(scene, shown, choice.phrases)
    leads = _leads(scene, choice, words, turn_is_said=turn_is_said)
    additions = [
        (tells, tuple(choice.ranked(bank, words))[:ADDITIONS_TRIED])
        for tells, bank in _additions(scene, shown, choice)
    ]
    for count in range(len(additions), -1, -1):
        kept = additions[:count]
        for lead in leads:
            for tail in product(*(options for _, options in kept)):
                yield _joined((*lead, *tail), frozenset(tells for tells, _ in kept))


def _joined(parts: Iterable[tuple[str, str]], tells: frozenset[str]) -> Wording:
    parts = tuple(parts)
    return Wording(
        text=" ".join(text for _, text in parts),
        templates=tuple(template for template, _ in parts),
        tells=tells,
    )


def _leads(
    scene: Scene, choice: Choice, words: dict[str, str], *, turn_is_said: bool
) -> list[tuple[tuple[str, str], ...]]:
    """Return ways to begin: each a row of (template, words), one sentence or two."""
    ranked = list(choice.ranked(_lead_bank(scene, words, choice), words))
    shortest = min(ranked, key=lambda pair: len(pair[1]))
    tried = ranked[:LEADS_TRIED]
    if shortest not in tried:
        tried.append(shortest)
    helps = scene.technique is not None and scene.technique.helps_turn
    if scene.turns_over and not turn_is_said and not helps:
        turns = list(choice.ranked(choice.phrases.TURN, words))[:ADDITIONS_TRIED]
        return [*product(turns, tried), *((turn,) for turn in turns)]
    return [(lead,) for lead in tried]


def _lead_bank(scene: Scene, words: dict[str, str], choice: Choice) -> Bank:
    """Return the bank that says what kind of change this is; the most telling kind wins."""
    entering, technique = scene.entering, scene.technique
    says_where = scene.is_new_region and bool(words["where"])
    where = choice.phrases.NEXT_WHERE + choice.phrases.NEXT_SHORT if says_where else ()
    again = () if scene.is_new else choice.phrases.AGAIN
    is_held = technique is not None and technique.family.is_held
    was_closing = scene.leaving is not None and scene.leaving.role is Role.CLOSE
    names_place = bool(words["where"]) and scene.goes_deep
    kinds: tuple[tuple[bool, Bank], ...] = (
        (technique is None, choice.phrases.OPEN),
        (technique is not None and technique.helps_turn and scene.turns_over, choice.phrases.TURN),
        (entering.stretch and scene.is_other_side, choice.phrases.STRETCH_OTHER),
        (entering.stretch and names_place, choice.phrases.STRETCH_WHERE),
        (entering.stretch, choice.phrases.STRETCH),
        (scene.is_home and scene.returns == 1, choice.phrases.HOME_FIRST),
        (scene.is_home, choice.phrases.HOME),
        (scene.is_within_refrain and is_held, choice.phrases.REFRAIN_HOLD),
        (scene.is_within_refrain, choice.phrases.REFRAIN_NEXT),
        (scene.is_last and was_closing, choice.phrases.LAST),
        (scene.is_last, choice.phrases.LAST + choice.phrases.CLOSE),
        (entering.role is Role.CLOSE, choice.phrases.CLOSE),
        (names_place, choice.phrases.DEEP_WHERE),
        (scene.is_same_again, choice.phrases.STAY),
        (entering.role is Role.REST, choice.phrases.REST),
        (scene.is_other_side, choice.phrases.OTHER_SIDE),
        (bool(again), again + where),
    )
    return next((bank for holds, bank in kinds if holds), where or choice.phrases.NEXT)


def _additions(scene: Scene, shown: NamesShown, choice: Choice) -> Iterator[tuple[str, Bank]]:
    """Give what is told beside the change, the most needed first."""
    technique, entering = scene.technique, scene.entering
    if technique is None or technique.helps_turn:
        return
    if entering.is_deep and not entering.stretch:
        yield "deep", choice.phrases.DEEP
    knows = scene.is_other_side or scene.returns > 1
    step = scene.firmness_step
    if not knows and step and not scene.is_still:
        yield "firmly", _firmness_bank(step, entering.pressure, choice)
    elif not knows and scene.is_still and scene.is_new:
        yield "firmly", choice.phrases.STILL
    if scene.on_top is not None:
        name = spoken_name(scene.on_top, shown)
        yield "on_top", tuple(line.format(name=name) for line in choice.phrases.ON_TOP)
    if scene.is_new and not knows:
        yield "say", (plain_template(technique.say),)


def _firmness_bank(step: int, pressure: int, choice: Choice) -> Bank:
    if step < 0:
        return choice.phrases.EASIER if pressure >= FELT_AS_WEIGHT else choice.phrases.LIGHTER
    return choice.phrases.FIRMER + (choice.phrases.WEIGHTIER if pressure >= FELT_AS_WEIGHT else ())


def plain_template(text: str) -> str:
    """Return the teacher's own words as a template that fills in nothing."""
    return text.strip().replace("{", "{{").replace("}", "}}")


def left_unsaid(
    scene: Scene, told: frozenset[str], choice: Choice, shown: NamesShown
) -> Iterator[Wording]:
    """Give wordings, the fullest first, of what the announcement had no room for."""
    words = words_of(scene, shown, choice.phrases)
    missing = [
        (tells, tuple(choice.ranked(bank, words))[:ADDITIONS_TRIED])
        for tells, bank in _additions(scene, shown, choice)
        if tells not in told
    ]
    for first in range(len(missing)):
        kept = missing[first:]
        for parts in product(*(options for _, options in kept)):
            yield _joined(parts, frozenset(tells for tells, _ in kept))


def one_of(bank: Bank, choice: Choice, words: dict[str, str] | None = None) -> Iterator[Wording]:
    """Give each line of `bank` as a wording of its own, least used first."""
    for template, text in choice.ranked(bank, words or {}):
        yield Wording(text=text, templates=(template,))


def beginnings(scene: Scene, choice: Choice, shown: NamesShown) -> Iterator[Wording]:
    """Give wordings for the very first technique, with how to do it where there is room."""
    if scene.technique is None:
        yield from one_of(choice.phrases.OPEN, choice)
        return
    words = words_of(scene, shown, choice.phrases)
    say = plain_template(scene.technique.say)
    leads = tuple(choice.ranked(choice.phrases.BEGIN, words))
    for lead in leads:
        yield _joined((lead, (say, render(say, words))), frozenset({"say"}))
    for lead in leads:
        yield _joined((lead,), frozenset())


def lying(position: Position, choice: Choice) -> Iterator[Wording]:
    """Give sentences on how the receiver lies or sits at the beginning, the fullest first."""
    yield from sorted(
        one_of(choice.phrases.LYING[position.value], choice), key=lambda w: -len(w.text)
    )


def farewells(intention: Intention, ends: Position, choice: Choice) -> Iterator[Wording]:
    """Give the ending sentences for a receiver who ends in the position `ends`."""
    if intention is Intention.SLEEP:
        yield from one_of(choice.phrases.FAREWELL_SLEEP, choice)
    elif intention is Intention.WAKE:
        sits = ends is Position.SEATED
        yield from one_of(choice.phrases.FAREWELL_WAKE["seated" if sits else "lying"], choice)
    else:
        yield from one_of(choice.phrases.FAREWELL, choice)


def middle_banks(scene: Scene, technique: Technique, choice: Choice) -> tuple[Bank, ...]:
    """Return the banks that suit the middle of a passage, the most fitting first."""
    if technique.family.is_held:
        return (choice.phrases.BREATHE_HOLD, choice.phrases.BREATHE)
    if scene.entering.is_deep:
        return (choice.phrases.ASK, choice.phrases.OWN_BODY)
    if technique.is_rhythmic:
        return (choice.phrases.ON_THE_BEAT, choice.phrases.OWN_BODY)
    return (choice.phrases.BREATHE, choice.phrases.ATTEND, choice.phrases.OWN_BODY)
