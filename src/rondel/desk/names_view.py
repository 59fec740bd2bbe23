"""What the names of a technique show: plots, words for them, and what was entered."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from rondel.adapters.name_trials_files import read_trials
from rondel.desk.asking import Ask
from rondel.drawing.name_plot import draw_marks
from rondel.model.codec.name_trials import count_to_dict, duel_to_dict
from rondel.model.name_trials import (
    Comparison,
    Count,
    Duel,
    Mark,
    Measure,
    NameTrials,
    Standing,
    Verdict,
    preferred,
    standing,
)
from rondel.model.repertoire import Technique

#: The audience that stands for all of them.
ALL = "*"

#: What is counted, and how it is told; the catalogues know these tables.
HEADS = {Measure.LAUGHED: "Who laughed", Measure.REMEMBERED: "Who remembered it"}
DID = {
    Measure.LAUGHED: (
        "{name}: {hits} of {of} laughed; likely between {low} and {high} in a hundred would."
    ),
    Measure.REMEMBERED: (
        "{name}: {hits} of {of} remembered it; likely between {low} and {high} in a hundred would."
    ),
}
LIKED = (
    "{name}: preferred {hits} times of {of}; beside a middling name likely between {low} and "
    "{high} in a hundred would prefer it."
)
VERDICTS = {
    Verdict.CLEARLY: "{better} is clearly better than {other}.",
    Verdict.PERHAPS: "{better} is perhaps better than {other}; ask more people.",
    Verdict.ALIKE: "{better} and {other} do about the same.",
    Verdict.TOO_FEW: "{better} or {other}: too few to say.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """How the names stand in one thing that was counted."""

    head: str
    plot: Markup
    verdicts: tuple[str, ...]
    rows: tuple[str, ...]  # the plot in words


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Something that was entered, in words, and as JSON to take it back by."""

    says: str
    row: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """All that the right leaf says about the names of a technique."""

    digest: str
    audiences: tuple[tuple[str, str, bool], ...]  # value, words, chosen
    audience: str
    note: str
    tables: tuple[Table, ...]
    entries: tuple[Entry, ...]
    known: tuple[str, ...]  # every name that was met, the plain name first
    others: tuple[tuple[str, str], ...]  # names that could be the plain one, and the button's words
    heard: tuple[str, ...]  # audiences of all techniques, to pick from
    typed: Mapping[str, str]


def names_shown(ask: Ask, technique: Technique, typed: Mapping[str, str]) -> Names:
    """Return what was counted for `technique`; `typed` is what stands in the forms."""
    kept = read_trials(ask.desk.studio)
    all_of_it = kept.trials.of(technique.id)
    audiences = all_of_it.audiences
    chosen = ask.word("audience").strip()
    if chosen not in (*audiences, ALL):
        chosen = audiences[0] if audiences else ""
    shown = all_of_it if chosen == ALL else all_of_it.of(technique.id, chosen)
    known = tuple(dict.fromkeys((technique.plain, *all_of_it.names)))
    rows = [(a, a, a == chosen) for a in audiences]
    if len(audiences) > 1:
        rows.append((ALL, ask.say("everyone together"), chosen == ALL))
    entered: tuple[Count | Duel, ...] = (*shown.counts, *shown.duels)
    note = ""
    if chosen == ALL:
        note = ask.say("Audiences differ: what holds for all together may hold for none of them.")
    return Names(
        digest=kept.digest,
        audiences=tuple(rows),
        audience=chosen,
        note=note,
        tables=_tables(ask, shown, technique.plain),
        entries=tuple(_entry(ask, row) for row in entered),
        known=known,
        others=tuple((n, ask.say("Call it {name}", name=n)) for n in known[1:]),
        heard=kept.trials.audiences,
        typed=typed,
    )


def _tables(ask: Ask, shown: NameTrials, now: str) -> tuple[Table, ...]:
    found = []
    ends = ask.say("none"), ask.say("all")
    for measure, head in HEADS.items():
        one = standing(shown.counts, measure)
        if one.marks:
            words = [_mark_says(ask, DID[measure], m) for m in one.marks]
            found.append(_table(ask, one, ask.say(head), words, ends, f"plot-{measure}", now))
    tables = preferred(shown.duels) if shown.duels else ()
    for n, one in enumerate(tables, start=1):
        words = [_mark_says(ask, LIKED, m) for m in one.marks]
        head = ask.say("Who preferred it, beside a middling name")
        if len(tables) > 1:
            head = ask.say(
                "Who preferred it, beside a middling one of those that met ({n} of {all})",
                n=n,
                all=len(tables),
            )
        ends = ask.say("nobody"), ask.say("everybody")
        found.append(_table(ask, one, head, words, ends, f"plot-preferred-{n}", now))
    return tuple(found)


def _table(
    ask: Ask,
    one: Standing,
    head: str,
    words: Sequence[str],
    ends: tuple[str, str],
    name: str,
    now: str,
) -> Table:
    verdicts = tuple(_verdict_says(ask, c) for c in one.comparisons)
    plot = draw_marks(one.marks, title=head, desc=" ".join(words), ends=ends, name=name, now=now)
    return Table(head=head, plot=Markup(plot), verdicts=verdicts, rows=tuple(words))


def _mark_says(ask: Ask, words: str, mark: Mark) -> str:
    low, high = round(100 * mark.low), round(100 * mark.high)
    return ask.say(words, name=mark.name, hits=mark.hits, of=mark.of, low=low, high=high)


def _verdict_says(ask: Ask, comparison: Comparison) -> str:
    words = VERDICTS[comparison.verdict]
    return ask.say(words, better=comparison.better, other=comparison.other)


def _entry(ask: Ask, row: Count | Duel) -> Entry:
    if isinstance(row, Duel):
        says = ask.say(
            "{audience}: {one} before {other}, {preferred} of {of}",
            audience=row.audience, one=row.one, other=row.other, preferred=row.preferred, of=row.of,
        )  # fmt: skip
        return Entry(says=says, row=json.dumps(duel_to_dict(row), ensure_ascii=False))
    parts = [ask.say("{audience}: {name}, shown to {shown}",
                     audience=row.audience, name=row.name, shown=row.shown)]  # fmt: skip
    if row.laughed is not None:
        parts.append(ask.say("{count} laughed", count=row.laughed))
    if row.remembered is not None:
        parts.append(ask.say("{count} remembered it", count=row.remembered))
    return Entry(says=", ".join(parts), row=json.dumps(count_to_dict(row), ensure_ascii=False))
