"""The chapters of a session: one for every return of the refrain and every technique in a row."""

from __future__ import annotations

from dataclasses import dataclass, replace

from rondel.model.names import HOME_IN, OPEN_IN, names_language, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A titled span of the session. `passages` are the ids of what happens in it."""

    start_seconds: float
    end_seconds: float
    title: str
    passages: tuple[str, ...]


def chapter_spans(routine: Routine, craft: Craft) -> tuple[Chapter, ...]:
    """Return chapters that cover the whole routine without a gap, none over another.

    A return of the refrain is one chapter; a technique on one side and then the other is one.
    """
    found: list[Chapter] = []
    before: Passage | None = None
    for passage in routine.line:
        # A brought track may begin before the first beat: the first chapter holds that too.
        start = routine.start_seconds(passage) if found else 0.0
        end = routine.end_seconds(passage)
        if found and before is not None and _goes_on(before, passage):
            last = found[-1]
            found[-1] = replace(last, end_seconds=end, passages=(*last.passages, passage.id))
        else:
            title = chapter_title(routine, passage, craft)
            found.append(
                Chapter(start_seconds=start, end_seconds=end, title=title, passages=(passage.id,))
            )
        before = passage
    return tuple(found)


def _goes_on(before: Passage, passage: Passage) -> bool:
    if Role.REFRAIN in (before.role, passage.role):
        return before.role is passage.role
    return before.technique is not None and before.technique == passage.technique


def chapter_title(routine: Routine, passage: Passage, craft: Craft) -> str:
    """Return the title of the chapter that begins with `passage`, all in one language."""
    language = names_language(routine)
    if passage.technique is None:
        return OPEN_IN[language]
    name = passage_name(passage, craft, names_shown(routine))
    return f"{HOME_IN[language]}: {name}" if passage.role is Role.REFRAIN else name
