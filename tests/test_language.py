"""Cues in German: the same banks, nothing English in them, and a voice only where she gave one."""

from __future__ import annotations

import html
import json
import re
import string
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.adapters.studio_files import read_brief, start_studio
from rondel.app.make_follow import make_follow
from rondel.app.ports.voice import Speech
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.app.take_routine import take_routine
from rondel.cues import phrases, phrases_de
from rondel.cues.choice import sentences
from rondel.cues.language import Phrases
from rondel.cues.languages import PHRASES
from rondel.cues.pace import SECONDS_BETWEEN, estimate_seconds
from rondel.cues.wording import word_cues
from rondel.documents.chapters import chapter_spans
from rondel.documents.webvtt import captions
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.codec.craft import technique_to_dict, techniques_from_dict
from rondel.model.errors import BadInput
from rondel.model.routine import Cue, Routine
from rondel.model.words import PRESSURE_SAYS, Intention, Language, Role

NAMES = [name for name in Phrases.__annotations__ if name.isupper()]
BANKS = [name for name in NAMES if name not in ("LANGUAGE", "SECONDS_A_CHARACTER")]
CASES = [
    (seed, minutes, intention)
    for seed, (minutes, intention) in enumerate(
        (m, i) for m in (3.0, 5.0, 15.0, 30.0) for i in Intention
    )
]


def german(routine: Routine) -> Routine:
    assert routine.brief is not None
    return replace(routine, brief=replace(routine.brief, language=Language.GERMAN))


@cache
def told(seed: int, minutes: float, intention: Intention) -> tuple[Routine, tuple[Cue, ...]]:
    routine = german(lot_routine(seed, minutes, intention))
    cues = word_cues(routine, builtin_craft())
    return replace(routine, cues=cues), cues


def lines_of(words: object) -> Iterator[tuple[str, str]]:
    """Give every line of a bank, with the place where it stands."""
    if isinstance(words, str):
        yield "", words
    elif isinstance(words, Mapping):
        for key, value in words.items():
            for place, line in lines_of(value):
                yield f"{key} {place}", line
    else:
        assert isinstance(words, tuple)
        for n, line in enumerate(words):
            yield str(n), line


def braces(line: str) -> frozenset[str]:
    return frozenset(name for _, name, _, _ in string.Formatter().parse(line) if name)


def seconds(text: str) -> float:
    return estimate_seconds(text, phrases_de.SECONDS_A_CHARACTER)


@pytest.mark.parametrize("name", BANKS)
def test_every_bank_has_as_many_lines_in_german(name: str) -> None:
    here = dict(lines_of(getattr(phrases, name)))
    there = dict(lines_of(getattr(phrases_de, name)))
    assert list(here) == list(there)
    assert len(set(there.values())) == len(set(here.values())) or name in ("TURNED", "LAID_DOWN")


@pytest.mark.parametrize("name", BANKS)
def test_a_german_bank_fills_in_the_same_words(name: str) -> None:
    # Only the name may be left out or said, where what is done was said just before.
    here, there = (
        Counter(braces(line) for _, line in lines_of(getattr(m, name)))
        for m in (phrases, phrases_de)
    )
    assert here == there


def test_every_language_has_its_words_and_english_is_the_bundled_one() -> None:
    assert set(PHRASES) == set(Language)
    assert all(words.LANGUAGE is language for language, words in PHRASES.items())
    assert phrases_de.FIRMLY.keys() == PRESSURE_SAYS.keys()


def test_names_need_no_ending() -> None:
    """A name stands first or after a colon, a full stop or a comma, never after a preposition."""
    for bank in BANKS:
        for _, line in lines_of(getattr(phrases_de, bank)):
            for before in re.findall(r"(.*?)\{name\}", line):
                assert not before or before.rstrip()[-1] in ":.,", line


def test_every_built_in_technique_is_named_and_told_in_german() -> None:
    techniques = builtin_craft().techniques
    told_in = [t.in_language(Language.GERMAN) for t in techniques]
    for own, other in zip(techniques, told_in, strict=True):
        assert other.plain != own.plain or own.plain == "Sandbank", own.id
        assert other.say != own.say
        assert re.fullmatch(r"[A-ZÄÖÜ][^{}]*[.!?]", other.say), other.say
    assert len({t.plain for t in told_in}) == len(techniques)
    assert len({t.say for t in told_in}) == len(techniques)


def test_a_technique_of_her_own_is_told_as_she_wrote_it() -> None:
    own = replace(builtin_craft().techniques[0], told=())
    assert own.in_language(Language.GERMAN) is own
    data = technique_to_dict(own) | {"de": {"plain": "Eigener Griff"}}
    (half,) = techniques_from_dict({"technique": [data]}, at="mine.toml")
    in_german = half.in_language(Language.GERMAN)
    assert (in_german.plain, in_german.say) == ("Eigener Griff", own.say)
    assert technique_to_dict(half) == data
    with pytest.raises(BadInput, match="de: how"):
        techniques_from_dict({"technique": [data | {"de": {"how": "x"}}]}, at="mine.toml")


# ------------------------------------------------------------------ what is said
def english_sentences() -> set[str]:
    """Return the sentences of English banks that nothing is filled in to."""
    lines = [line for bank in BANKS for _, line in lines_of(getattr(phrases, bank))]
    whole = {s for line in lines for s in sentences(line) if "{" not in s and s[-1] in ".?!"}
    return whole | {s for t in builtin_craft().techniques for s in sentences(t.say)}


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_german_session_says_nothing_in_english(case: tuple[int, float, Intention]) -> None:
    routine, cues = told(*case)
    speech = speak_cues(routine, None, NoVoice(), Silent())
    said = {s for c in cues for s in sentences(c.say)}
    assert not said & english_sentences()
    text = " ".join(line for line in captions(routine, speech).splitlines() if "-->" not in line)
    english = re.findall(r"\b(?:the|their|your|and|with|hands|next|home|now)\b", text.lower())
    assert not english
    names = {t.plain for t in builtin_craft().techniques} - {"Sandbank"}
    assert not [n for n in names if re.search(rf"\b{n}\b", text)]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_german_cues_cross_no_change_and_stand_apart(case: tuple[int, float, Intention]) -> None:
    routine, cues = told(*case)
    starts = [routine.clock.seconds_at(c.at_beat) for c in cues]
    ends = [start + seconds(c.say) for start, c in zip(starts, cues, strict=True)]
    for cue, end in zip(cues, ends, strict=True):
        assert end <= routine.end_seconds(routine.passage_at(float(cue.at_beat))), cue.say
    for end, (_, start) in zip(ends, pairwise(starts), strict=False):
        assert start >= end + SECONDS_BETWEEN - 1e-6


@pytest.mark.parametrize("case", CASES, ids=str)
def test_german_cues_are_whole_and_none_comes_twice(case: tuple[int, float, Intention]) -> None:
    _, cues = told(*case)
    said = Counter(s for c in cues for s in sentences(c.say))
    assert [s for s, times in said.items() if times > 1] == []
    for cue in cues:
        assert re.fullmatch(r"[A-ZÄÖÜ][^{}<>]*[.!?]", cue.say), cue.say
        assert "  " not in cue.say
        assert " ," not in cue.say
    assert re.search(r"frag", cues[0].say.lower())
    assert re.search(r"stoppwort|wort, das alles anhält", cues[0].say.lower())


@pytest.mark.parametrize("case", CASES, ids=str)
def test_most_of_the_time_nobody_talks_in_german(case: tuple[int, float, Intention]) -> None:
    routine, cues = told(*case)
    talk = sum(seconds(c.say) for c in cues)
    assert talk < (0.25 if case[1] >= 15 else 0.4) * routine.clock.total_seconds


@pytest.mark.parametrize("case", CASES, ids=str)
def test_before_deep_work_a_german_giver_asks(case: tuple[int, float, Intention]) -> None:
    routine, cues = told(*case)
    words = " ".join(c.say for c in cues)
    assert any(p.is_deep for p in routine.line) == any(line in words for line in phrases_de.DEEP)


def test_cues_that_speak_of_what_is_done_there_are_not_called_stale() -> None:
    routine, _ = told(3, 5.0, list(Intention)[3])
    _, notes = take_routine(routine, builtin_craft(), at="routine.json")
    assert not [n for n in notes if "not done there" in n]


# ------------------------------------------------------------------ the voice
class NoVoice:
    """A bundled voice that must not be asked."""

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        raise AssertionError(f"the English voice was asked to read: {text}")


class Own:
    """Recordings of some cues: a second of a tone for each."""

    def __init__(self, *ids: str) -> None:
        self.ids = ids

    def load(self, cue_id: str) -> tuple[NDArray[np.float32], int] | None:
        tone = 0.3 * np.sin(2 * np.pi * 220 * np.arange(24_000) / 24_000)
        return (tone.astype(np.float32), 24_000) if cue_id in self.ids else None

    def name_of(self, cue_id: str) -> str:
        return f"{cue_id}.wav" if cue_id in self.ids else ""

    def unused(self, cue_ids: object) -> tuple[str, ...]:
        return ()


@pytest.mark.parametrize("recorded", [(), ("c02", "c05")])
def test_only_her_own_voice_speaks_german_and_the_rest_is_told(recorded: tuple[str, ...]) -> None:
    routine, cues = told(8, 15.0, Intention.SETTLE)
    speech = speak_cues(routine, Own(*recorded), NoVoice(), Silent())
    assert tuple(s.cue_id for s in speech.heard) == recorded
    assert [s.text for s in speech.spoken] == [c.say for c in cues]  # all can be read
    left = len(cues) - len(recorded)
    about = [n for n in speech.notes if "without a voice" in n]
    assert len(about) == 1
    assert about[0].startswith(f"{left} of {len(cues)} cues are without a voice")
    for one, after in pairwise(speech.spoken):
        assert one.end_seconds <= after.start_seconds
    for s in speech.spoken:
        assert s.is_heard or not s.samples.any()


def test_where_all_is_recorded_nothing_is_missing() -> None:
    routine, cues = told(8, 15.0, Intention.SETTLE)
    speech = speak_cues(routine, Own(*(c.id for c in cues)), NoVoice(), Silent())
    assert len(speech.heard) == len(cues)
    assert not [n for n in speech.notes if "without a voice" in n]


# ------------------------------------------------------------------ around the cues
@pytest.mark.parametrize("case", CASES[4:12], ids=str)
def test_german_chapters_are_german_throughout(case: tuple[int, float, Intention]) -> None:
    routine, _ = told(*case)
    craft = builtin_craft().in_language(Language.GERMAN)
    first = routine.passages[1]
    opened = replace(first, technique=None, role=Role.OPEN)
    routine = replace(routine, passages=(routine.passages[0], opened, *routine.passages[2:]))
    titles = [chapter.title for chapter in chapter_spans(routine, craft)]
    names = {t.plain for t in craft.techniques}
    homes = [title for title in titles if title.startswith("Daheim: ")]
    assert homes
    assert "Ganz für euch" in titles
    assert {t.removeprefix("Daheim: ") for t in titles} <= names | {"Ganz für euch"}


def page_in(language: Language) -> str:
    """Return the follow-along page of a routine with cues in `language`."""
    routine, cues = told(8, 15.0, Intention.SETTLE)
    assert routine.brief is not None
    routine = replace(routine, brief=replace(routine.brief, language=language), cues=cues)
    written: dict[str, str] = {}

    def keep(path: Path, text: str) -> None:
        written[path.name] = text

    craft = builtin_craft().in_language(language)
    make_follow(routine, craft, Speech(), Path("session"), follow_template, keep)
    return written["index.html"]


def test_the_page_says_which_of_its_words_are_german() -> None:
    """HTML, 3.2.6.2: `lang` says in which language an element's words are (BCP 47: en, de)."""
    page = page_in(Language.GERMAN)
    assert '<html lang="en">' in page  # headings, sides and how it is done are English
    assert '<p id="caption" class="caption" lang="de"></p>' in page
    names = re.findall(r'<span class="name"( lang="\w+")?>([^<]*)</span>', page)
    german = {t.plain for t in builtin_craft().in_language(Language.GERMAN).techniques}
    assert len(names) > 10
    assert {lang for lang, name in names if html.unescape(name) in german} == {' lang="de"'}
    assert {p["lang"] for p in _passages(page) if p["name"] in german} == {"de"}
    english = page_in(Language.ENGLISH)
    assert 'lang="de"' not in english
    assert {p["lang"] for p in _passages(english)} == {"en"}


def _passages(page: str) -> list[dict[str, str]]:
    block = re.search(r'<script type="application/json" id="routine">(.*?)</script>', page, re.S)
    assert block
    found: list[dict[str, str]] = json.loads(block[1])["passages"]
    return found


# ------------------------------------------------------------------ where it is asked for
def test_a_studio_or_a_brief_asks_for_german(tmp_path: Path) -> None:
    brief = start_studio(tmp_path / "studio")
    assert read_brief(brief).language is None
    settings = tmp_path / "studio" / "studio.toml"
    text = settings.read_text("utf-8")
    settings.write_text(text.replace('language = "en"', 'language = "de"'), "utf-8")
    assert read_brief(brief).language is Language.GERMAN
    brief.write_text('language = "en"\n' + brief.read_text("utf-8"), "utf-8")
    assert read_brief(brief).language is Language.ENGLISH
    settings.write_text(text.replace('language = "en"', 'language = "fr"'), "utf-8")
    with pytest.raises(BadInput, match='"fr" is not known; allowed are en, de'):
        read_brief(brief)


def test_a_brief_keeps_its_language_and_says_nothing_where_it_has_none() -> None:
    data = {"minutes": 15, "intention": "settle", "language": "de"}
    brief = brief_from_dict(data)
    assert brief.language is Language.GERMAN
    assert brief_from_dict(brief_to_dict(brief)) == brief
    assert "language" not in brief_to_dict(replace(brief, language=None))
