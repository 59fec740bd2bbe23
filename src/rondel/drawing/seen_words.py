"""What was seen in a take, in plain sentences: for the terminal, and for screen readers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rondel.model.take import Fault, MotionKind, Seen, SeenStretch
from rondel.model.time import as_minutes
from rondel.model.track import Span

KIND_SAYS = {
    MotionKind.GLIDE: "gliding to and fro",
    MotionKind.CIRCLE: "circling",
    MotionKind.ALTERNATE: "hand after hand",
    MotionKind.PRESS: "pressing in and out",
}
FAULT_SAYS = {
    Fault.DARK: "too dark to see much",
    Fault.GLARING: "glaring",
    Fault.BLURRED: "out of focus",
    Fault.SHAKEN: "shaken by the camera",
}
#: From here on one may rely on the strokes; below, better look first.
SURE, FAIRLY_SURE = 0.75, 0.4
MOST_TOLD = 6  # places of a kind that are told one by one
SHORT_SECONDS = 1.5  # a slip up to so long is told by its beginning alone
FIRST_SECONDS = 0.5  # in which a film may begin black, or with a torn picture: no other camera


def seen_sentences(seen: Seen, names: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Return all that was seen, a sentence each; `names`: of techniques, by their ids."""
    size = f"{seen.width} by {seen.height} pixels, {seen.fps:.4g} pictures a second"
    found = [f"It lasts {as_minutes(seen.seconds)}: {size}."]
    if not seen.stretches:
        found.append("No strokes were seen in it: nothing in it moves again and again.")
    found += [_stretch_says(one, names or {}) for one in seen.stretches]
    found += _told("Hands slip at", seen.slips, whole_from=SHORT_SECONDS)
    found += _told("Hands rest from", (p for p in seen.pauses if not _is_moment(p)))
    found += _told("Hands are out of the picture from", seen.away)
    found += _cuts(seen.cuts)
    for fault in Fault:
        spans = tuple(f.span for f in seen.faults if f.fault is fault)
        found += _told(f"It is {FAULT_SAYS[fault]} from", spans)
    return tuple(found)


def motion_says(one: SeenStretch, names: Mapping[str, str]) -> str:
    """Return how hands move in a stretch, with the name that was given to it."""
    says = KIND_SAYS[one.kind]
    if one.technique is None:
        return says
    return f"{says} ({names.get(one.technique, one.technique)})"


def _stretch_says(one: SeenStretch, names: Mapping[str, str]) -> str:
    count = len(one.landings)
    strokes = "one stroke" if count == 1 else f"{count} strokes"
    where = f"From {as_minutes(one.span.start)} to {as_minutes(one.span.end)}"
    says = f"{where}: {motion_says(one, names)}, {strokes}, one every {one.period:.1f} seconds"
    if count == 1:
        says = f"{where}: {motion_says(one, names)}, one stroke"
    if one.confidence >= SURE:
        return f"{says}."
    doubt = "not quite sure" if one.confidence >= FAIRLY_SURE else "a guess"
    return f"{says}; {doubt}."


def _is_moment(span: Span) -> bool:
    """True where a span reads as no time at all."""
    return as_minutes(span.start) == as_minutes(span.end)


def _told(says: str, spans: Iterable[Span], *, whole_from: float = 0.0) -> list[str]:
    """Return one sentence that names the first few of `spans`; nothing where there are none.

    Those shorter than `whole_from` seconds are told by their beginning alone.
    """
    held = list(spans)
    if not held:
        return []
    told = [
        as_minutes(s.start)
        if s.end - s.start < whole_from
        else f"{as_minutes(s.start)} to {as_minutes(s.end)}"
        for s in held
    ]
    told = list(dict.fromkeys(told))  # two stretches may rest at one time
    return [f"{says} {_first_few(told)}."]


def _cuts(cuts: tuple[float, ...]) -> list[str]:
    # What is black for a moment is left and come back to in one second.
    told = list(dict.fromkeys(as_minutes(cut) for cut in cuts if cut > FIRST_SECONDS))
    return [f"The camera is switched at {_first_few(told)}."] if told else []


def _first_few(told: list[str]) -> str:
    more = len(told) - MOST_TOLD
    return _listed([*told[:MOST_TOLD], *([f"{more} more"] if more > 0 else [])])


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
