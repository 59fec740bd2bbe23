"""What a language gives, so that cues can be worded in it: the same banks, in words of its own.

A language is a module with these names (`rondel.cues.phrases` is English, `phrases_de` German).
Each bank has as many lines in every language, with the same braces, so that no cue wears out
sooner in one than in another. What the braces stand for: see `rondel.cues.phrases`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from rondel.model.words import Language

Bank = tuple[str, ...]
Banks = Mapping[str, Bank]
Words = Mapping[str, str]
Levels = Mapping[int, str]


class Phrases(Protocol):
    """The words of one language. Modules are taken for it, so nothing here is written `Final`."""

    LANGUAGE: Language
    SECONDS_A_CHARACTER: float
    OWN_WAY: str
    SIDES: Words
    HANDS: Words
    WELCOME: Bank
    WARM_HANDS: Bank
    LYING: Banks
    BEGIN: Bank
    NO_BEAT_YET: Bank
    CLOSE: Bank
    LAST: Bank
    FAREWELL: Bank
    FAREWELL_WAKE: Banks
    FAREWELL_SLEEP: Bank
    SLIP: Bank
    NEXT_SHORT: Bank
    NEXT: Bank
    NEXT_WHERE: Bank
    DEEP_WHERE: Bank
    AGAIN: Bank
    OTHER_SIDE: Bank
    STAY: Bank
    ON_TOP: Bank
    HOME_FIRST: Bank
    HOME: Bank
    REFRAIN_NEXT: Bank
    REFRAIN_HOLD: Bank
    FIRMER: Bank
    WEIGHTIER: Bank
    FIRMER_TO: Levels
    LIGHTER: Bank
    EASIER: Bank
    EASIER_TO: Levels
    STILL: Bank
    FIRMLY: Levels
    DEEP: Bank
    REST: Bank
    STRETCH: Bank
    STRETCH_WHERE: Bank
    STRETCH_OTHER: Bank
    OPEN: Bank
    TURN: Bank
    TURNED: Words
    LAID_DOWN: Words
    BEAT_COMES: Bank
    BREATHE: Bank
    BREATHE_HOLD: Bank
    OWN_BODY: Bank
    ATTEND: Bank
    ASK: Bank
    PRAISE: Bank
    ON_THE_BEAT: Bank
    WHERE: Words
