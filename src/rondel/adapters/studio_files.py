"""The studio: a plain folder the teacher owns, with her repertoire and routines."""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.adapters.craft_files import DATA, builtin_craft, load_craft, read_toml
from rondel.adapters.voice import VOICE
from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_from_dict
from rondel.model.codec.fields import Fields
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.settings import UNCHANGED, Settings
from rondel.model.words import Language
from rondel.rules.changing import settings_from_dict

#: No brief or routine is longer than this; a larger file was chosen by mistake.
MOST_BYTES = 32 * 1024 * 1024

#: What studio.toml may name, of which there is only one so far.
ONLY_ONE = {"voice": VOICE}

STUDIO_TOML = """\
# Your studio. Everything in this folder is yours and stays on this machine.
name = "My studio"
language = "en"    # of the cues; "de" for German, spoken in your own voice
# bpm = 60    # the tempo of every routine whose brief names none

# What you mind more or less than the rule book does; `rondel rules` tells what may be changed.
# [rules.vary]
# weight = 3         # counts half as much again as it would by itself, which is 2
# [rules.focus]
# min_share = 0.6    # of the work goes to the main regions
"""


def studio_of(path: Path) -> Path | None:
    """Return the studio folder that `path` lies in, or None."""
    for folder in (path.resolve(), *path.resolve().parents):
        if (folder / "studio.toml").is_file():
            return folder
    return None


def craft_for(path: Path) -> Craft:
    """Return the craft that rules at `path`: the studio's own repertoire, else the built-in one.

    What the studio changes in the rule book holds with either.
    """
    studio = studio_of(path)
    if studio is None:
        return builtin_craft()
    settings = _read_studio(studio).settings
    if not (studio / "repertoire").is_dir():
        return replace(builtin_craft(), settings=settings)
    craft = load_craft(studio / "repertoire")
    if not craft.techniques:
        raise BadInput(
            "there is no technique in this folder; `rondel start` shows how one looks",
            at=str(studio / "repertoire"),
        )
    return replace(craft, settings=settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Defaults:
    """What studio.toml says: tempo and language for briefs without one, changes to the rules."""

    bpm: Fraction | None = None
    language: Language = Language.ENGLISH
    settings: Settings = UNCHANGED


def settings_of(studio: Path) -> Settings:
    """Return what the folder `studio` changes in the rule book."""
    return _read_studio(studio).settings


def _read_studio(studio: Path) -> Defaults:
    """Return the defaults in studio.toml; BadInput for a slip, or for what cannot be done yet."""
    at = "studio.toml"
    f = Fields(read_toml(studio / at), at=at)
    f.text("name", "")
    for key, only in ONLY_ONE.items():
        if f.text(key, only) != only:
            raise f.fail(key, f'"{f.text(key)}" is not there yet; allowed is {only}')
    bpm = None if f.raw("bpm") is None else f.number("bpm", low=30, high=200)
    language = f.choice("language", Language, Language.ENGLISH)
    changes = f.raw("rules")
    settings = UNCHANGED if changes is None else settings_from_dict(changes, at=f.where("rules"))
    f.refuse_others()
    return Defaults(bpm=bpm, language=language, settings=settings)


def start_studio(folder: Path) -> Path:
    """Make a new studio with the built-in repertoire and the demo routine; return its brief.

    Raises BadInput where the folder already holds something.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput("there is already something here; name a new, empty folder", at=str(folder))
    brief = folder / "routines" / "lamplight" / "brief.toml"
    write_text(folder / "studio.toml", STUDIO_TOML)
    for source in sorted((DATA / "repertoire").glob("*.toml")):
        write_text(folder / "repertoire" / source.name, source.read_text("utf-8"))
    write_text(brief, demo_brief_text())
    for name in ("music", "takes", "voice"):
        (brief.parent / name).mkdir(exist_ok=True)
    return brief


def demo_brief_text() -> str:
    """Return the built-in demo brief, as a teacher would have written it."""
    return (DATA / "demo" / "brief.toml").read_text("utf-8")


def demo_brief() -> Brief:
    """Return the built-in demo brief."""
    return brief_from_dict(tomllib.loads(demo_brief_text()), at="demo: brief.toml")


def read_brief(path: Path) -> Brief:
    """Return the brief in `path`, with the defaults of the studio that it lies in.

    BadInput in a sentence where it will not do.
    """
    _refuse_giants(path)
    if path.suffix.lower() == ".json" and path.is_file():
        raise BadInput(
            "this looks like a routine, and a brief is expected here; `rondel check` and "
            "`rondel make` take routines",
            at=str(path),
        )
    brief = brief_from_dict(read_toml(path), at=path.name)
    studio = studio_of(path)
    return brief if studio is None else _with_defaults(brief, _read_studio(studio))


def _with_defaults(brief: Brief, defaults: Defaults) -> Brief:
    """Return `brief` with what it leaves open as the studio has it. English goes unsaid."""
    if brief.bpm is None and brief.track is None:
        brief = replace(brief, bpm=defaults.bpm)
    if brief.language is None and defaults.language is not Language.ENGLISH:
        brief = replace(brief, language=defaults.language)
    return brief


def read_json(path: Path) -> object:
    """Return what a JSON file holds; BadInput in a sentence where it is not one."""
    _refuse_giants(path)
    if path.suffix.lower() == ".toml" and path.is_file():
        raise BadInput(
            "this looks like a brief, and a routine is expected; `rondel plan` makes one of it",
            at=str(path),
        )
    try:
        return json.loads(path.read_text("utf-8-sig"))
    except FileNotFoundError as error:
        says = "there is no such file; check the name and the folder"
        raise BadInput(says, at=str(path)) from error
    except IsADirectoryError as error:
        raise BadInput("this is a folder, and a file is expected", at=str(path)) from error
    except OSError as error:
        raise OutsideFailure(f"the file cannot be read ({error.strerror})", at=str(path)) from error
    except UnicodeDecodeError as error:
        raise BadInput("the file is not plain text", at=str(path)) from error
    except json.JSONDecodeError as error:
        where = f"the file cannot be understood at line {error.lineno}"
        says = f"{where}; it may be cut off: copy it again"
        raise BadInput(says, at=str(path)) from error
    except ValueError as error:  # a number of thousands of digits
        raise BadInput("a number in the file is far too long", at=str(path)) from error
    except RecursionError as error:
        raise BadInput("the file is nested too deeply", at=str(path)) from error


def _refuse_giants(path: Path) -> None:
    """A film given in place of a brief is told from one by its size, before it is read."""
    if path.is_file() and path.stat().st_size > MOST_BYTES:
        raise BadInput("this file is far too large to be a brief or a routine", at=str(path))


def read_routine(path: Path) -> Routine:
    """Return the routine in `path`; also the one inside the answer of `rondel plan --json`."""
    data = read_json(path)
    if isinstance(data, dict) and "rondel" not in data and isinstance(data.get("routine"), dict):
        data = data["routine"]
    return routine_from_dict(data, at=path.name)


def routine_text(routine: Routine) -> str:
    """Return `routine` as routine.json holds it."""
    return json.dumps(routine_to_dict(routine), ensure_ascii=False, indent=1) + "\n"


def require_free_for_routine(path: Path) -> None:
    """Raise BadInput where `path` holds anything but a routine: it would be lost, and it may be the
    brief itself."""
    if not path.is_file() or path.stat().st_size == 0:
        return
    try:
        data = read_json(path)
    except BadInput:
        data = None
    if not isinstance(data, dict) or "rondel" not in data:
        says = "there is a file of this name that is no routine, and would be lost; choose another"
        raise BadInput(f"{says} name, as in routine.json", at=str(path))


def write_routine(path: Path, routine: Routine) -> None:
    """Write `routine` to `path`, whole or not at all."""
    write_text(path, routine_text(routine))
