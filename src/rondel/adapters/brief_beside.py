"""The brief.toml beside a routine: it goes along with the routine's own brief, and stays hers.

What she wrote into it by hand, comments and all, is left as it is, but for the wishes that change.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from rondel.adapters.atomic import write_text
from rondel.adapters.studio_files import read_brief
from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_to_dict
from rondel.model.errors import RondelError

BRIEF = "brief.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidBeside:
    """What brief.toml says otherwise than the routine's own brief.

    `wishes` are the keys that differ, `brief` what the file holds; `trouble` is a sentence where it
    cannot be read.
    """

    wishes: tuple[str, ...] = ()
    brief: Brief | None = None
    trouble: str = ""


def said_beside(folder: Path, brief: Brief | None) -> SaidBeside:
    """Return what the brief.toml in `folder` says otherwise than `brief`; nothing where it is not
    there."""
    if brief is None or not (folder / BRIEF).is_file():
        return SaidBeside()
    try:
        found = read_brief(folder / BRIEF)
    except RondelError as error:
        return SaidBeside(trouble=str(error))
    there, here = brief_to_dict(found), brief_to_dict(brief)
    wishes = tuple(k for k in {**there, **here} if there.get(k) != here.get(k))
    return SaidBeside(wishes=wishes, brief=found)


def brief_goes_along(folder: Path, was: Brief | None, now: Brief | None) -> None:
    """Write into the brief.toml in `folder` what differs between the briefs `was` and `now`.

    All else in it stays; a file that cannot be read is left alone. Where there is none, it is
    written whole. Raises OutsideFailure where it cannot be written.
    """
    if now is None or was == now:
        return
    path = folder / BRIEF
    try:
        text = path.read_text("utf-8") if path.is_file() else None
        new = brief_text(now) if text is None else _changed(text, was, now)
    except (OSError, UnicodeDecodeError, TOMLKitError):
        return
    if new != text:
        write_text(path, new)


def brief_text(brief: Brief) -> str:
    """Return `brief` as brief.toml holds it."""
    return tomlkit.dumps(brief_to_dict(brief))


def _changed(text: str, was: Brief | None, now: Brief) -> str:
    document = tomlkit.parse(text)
    before = {} if was is None else brief_to_dict(was)
    after = brief_to_dict(now)
    for wish in {**before, **after}:
        if before.get(wish) == after.get(wish):
            continue
        if wish not in after:
            document.pop(wish, None)
        elif document.get(wish) != after[wish]:
            document[wish] = after[wish]
    return tomlkit.dumps(document)
