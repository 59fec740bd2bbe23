"""Every pattern of a sentence that the layers below tell in English, gathered from where it stands.

Patterns are the literals of the sources: texts, and texts with gaps, which are numbered in order.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib.resources import files
from itertools import count
from pathlib import Path

from rondel.adapters.craft_files import builtin_craft
from rondel.model.words import Contact, Family
from rondel.planner.naming import on, place, thing
from rondel.rules.book import RULES

ROOT = Path(str(files("rondel")))
#: Where sentences are told that the desk shows.
PLACES = (
    *("planner/*.py", "checker/view.py", "checker/check.py", "checker/findings/*.py"),
    *("hands/saying.py", "drawing/heard_words.py", "drawing/seen_words.py", "drawing/shot_list.py"),
    *("music/laying_says.py", "music/track_grid.py", "music/soundness.py"),
    *("app/change_plan.py", "app/fit_takes.py", "app/grow_plan.py", "app/list_shots.py"),
    *("app/play_track.py", "app/set_track.py", "app/sound_report.py", "app/speak_cues.py"),
    *(
        "app/make_levels.py",
        "app/suggest_instead.py",
        "app/take_routine.py",
        "app/take_stems.py",
        "app/make_session.py",
    ),
    *("fitting/passages.py", "fitting/asked.py", "model/names.py", "model/safety.py"),
    *("drawing/page_words.py", "rules/*.py", "app/edit_words.py", "app/sketch_plan.py"),
    *("listening/corrections.py", "listening/hearing.py", "model/corrections.py"),
    *(
        "model/take_corrections.py",
        "app/hear_track.py",
        "app/grow_plan.py",
        "adapters/track_files.py",
    ),
    *("adapters/take_files.py", "adapters/track_decoding.py", "adapters/take_reading.py"),
    *("desk/making.py", "wiring_takes.py", "adapters/take_names.py"),
)
#: Single words of sentences; all others in the sources are names of fields and the like.
WORDS = (
    *("after", "before", "are", "is", "alternates", "calmer", "livelier", "deeper", "lighter"),
    *("firmer", "quieter", "earlier", "later", "early", "late", "longer", "shorter", "less"),
    *(
        "more",
        "left",
        "right",
        "both",
        "centre",
        "too short",
        "too long",
        "{1} (left)",
        "{1} (right)",
        "{1} And: {2}",
        "none",
        "never",
        "once",
        "twice",
        "loud",
        "soft",
    ),
    *("silent", "glaring", "circling", "fists", "leave", "leaves", "take", "takes", "place"),
    *(
        "places",
        "return",
        "returns",
        "fits",
        "fit",
        "settling",
        "waking",
        "sitting",
        "slow",
        "quick",
    ),
    *("second", "third", "fourth", "middling", "strong", "passage", "pressure", "energy"),
    *("minutes", "level", "closeness", "and", "or", "no", "one", "two", "three", "four", "five"),
    *("six", "seven", "eight", "nine", "ten", "eleven", "twelve", "all", "anywhere"),
    *("refrain", "side", "length", "start", "technique", "seconds", "even firmer", "even lighter"),
    *("even livelier", "even quieter", "a lively hold", "a lively embrace", "a lively glide"),
    *("to settle", "to wake", "to sleep", "for closeness", "a hold", "an embrace", "a glide"),
    *(
        "any soft close",
        "at the end",
        "at the start",
        "at {1}",
        "lively",
        "knuckles",
        "forearms",
        "palms",
        "thumbs",
        "common practice, no source",
        "Planned.",
        "here",
        "techniques",
        "sides",
        "pressures",
        "time",
        "it",
        "positions",
        "bars",
        "begins",
        "ends",
    ),
)
#: Literals that are no sentences: keys of what is looked up, names of files, types.
_NO_SENTENCE = re.compile(
    r"[\w:/;,]+\{1\}|\{1\}\.\w+"
    r"|(keep|spare|avoid_regions|main_regions|warmed|main|curve) (\{1\}.*)?"
    r"|p\{1\}|stems/.*|.*\.(svg|flac|mp4|wav)|tuple\[.*|.* \| None|.*\(\?.*"
    r"|other side|none so deep|Ganz für euch|\{\d\}(: [a-z_.]+)?|\{1\} ?s|[-\W\d_]*|a \{1\}\{2\}"
    r"|\s*(the|beside|between|behind|under|and|or|with|even|lively|\{1\} would) "
)


def told_messages() -> tuple[str, ...]:
    """Return all patterns, each once, in the order of where they stand."""
    return tuple(dict.fromkeys((*_in_sources(), *WORDS, *_kinds(), *_regions(), *_rules())))


def _in_sources() -> Iterator[str]:
    for place_of in PLACES:
        for path in sorted(ROOT.glob(place_of)):
            for text in literals(path.read_text("utf-8")):
                if (" " in text or "{" in text) and not _NO_SENTENCE.fullmatch(text):
                    yield text


def _kinds() -> Iterator[str]:
    yield from (family.value for family in Family)
    yield from (contact.value for contact in Contact)


def _regions() -> Iterator[str]:
    """Yield regions as they stand within sentences: alone, as a thing, and as a place of work; and
    what is to be minded with a caution."""
    craft = builtin_craft()
    yield from (caution.says for caution in craft.cautions)
    for region in craft.regions:
        yield from (region.name, place(region), thing(region), on(region))


def _rules() -> Iterator[str]:
    """Yield what rules are called; a name of one word is told from no literal."""
    yield from (rule.name for rule in RULES)


def literals(source: str) -> Iterator[str]:
    """Yield the texts of a Python source in order, docstrings left out, gaps as {1}, {2}, …

    >>> list(literals("says = f'{name} at {at}' if at else 'at once'"))
    ['{1} at {2}', 'at once']
    """
    tree = ast.parse(source)
    inner = set(_docstrings(tree)) | set(_within_texts(tree))
    found = [
        (node.lineno, node.col_offset, text)
        for node in ast.walk(tree)
        if isinstance(node, ast.expr) and id(node) not in inner
        if (text := _text(node)) is not None
    ]
    yield from (text for _, _, text in sorted(found))


def _text(node: ast.expr) -> str | None:
    values = node.values if isinstance(node, ast.JoinedStr) else [node]
    pieces = [v.value if isinstance(v, ast.Constant) else "{}" for v in values]
    if not all(isinstance(piece, str) for piece in pieces) or not isinstance(
        node, ast.JoinedStr | ast.Constant
    ):
        return None
    numbers = count(1)
    return re.sub(
        r"\{(?:[a-z_]+(?::[^{}]*)?)?\}", lambda _: f"{{{next(numbers)}}}", "".join(map(str, pieces))
    )


def _docstrings(tree: ast.AST) -> Iterator[int]:
    for node in ast.walk(tree):
        for part in getattr(node, "body", []) if isinstance(node, ast.stmt | ast.Module) else []:
            if isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant):
                yield id(part.value)


def _within_texts(tree: ast.AST) -> Iterator[int]:
    """Yield the pieces of texts with gaps, which are told with them, and how gaps are formatted."""
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield from (id(value) for value in node.values if isinstance(value, ast.Constant))
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            yield from (id(part) for part in ast.walk(node.format_spec))
