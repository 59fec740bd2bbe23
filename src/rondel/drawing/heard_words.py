"""What was heard in a track, in plain sentences: for the terminal, and for screen readers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rondel.drawing.page_words import number_in_words
from rondel.model.stretches import less
from rondel.model.time import as_minutes
from rondel.model.track import Heard, Section, Span

#: A section of this energy or more is strong, below the other soft.
STRONG, SOFT = 2 / 3, 1 / 3
#: From here on, and from there on, one may rely on the beats; below, better listen first.
SURE, FAIRLY_SURE = 0.75, 0.5
#: Beats in a row that tell the tempo at one place.
A_WHILE = 8


def tempo_says(heard: Heard) -> str:
    """Return the tempo in words: "72 beats a minute, steady, in bars of four"."""
    if len(heard.beats) < 2 or heard.bpm <= 0:
        return "no beat was heard"
    bars = f"in bars of {number_in_words(heard.beats_per_bar)}"
    if heard.is_constant:
        return f"{heard.bpm:.4g} beats a minute, steady, {bars}"
    slowest, fastest = tempo_range(heard)
    if round(slowest) == round(fastest):
        return f"about {heard.bpm:.3g} beats a minute, {bars}"
    return f"about {heard.bpm:.3g} beats a minute, from {slowest:.0f} to {fastest:.0f}, {bars}"


def tempo_range(heard: Heard) -> tuple[float, float]:
    """Return the slowest and the fastest tempo over a while, in beats a minute."""
    beats = heard.beats
    reach = min(A_WHILE, len(beats) - 1)
    tempi = [60 * reach / (beats[k + reach] - beats[k]) for k in range(len(beats) - reach)]
    return min(tempi), max(tempi)


def strength_says(section: Section) -> str:
    """Return how strong a section is, in a word."""
    if section.energy >= STRONG:
        return "strong"
    return "soft" if section.energy < SOFT else "middling"


def strongest(sections: Sequence[Section]) -> Section | None:
    """Return the section with the most energy, the earliest of equals; None where all are alike."""
    energies = [section.energy for section in sections]
    if len(energies) < 2 or max(energies) == min(energies):
        return None
    return sections[energies.index(max(energies))]


def heard_sentences(heard: Heard) -> tuple[str, ...]:
    """Return all that was heard, a sentence each: tempo, beat, sections, rises, motif, loudness."""
    found = [
        f"It lasts {as_minutes(heard.seconds)}: {tempo_says(heard)}.",
        _sureness_says(heard),
        _presence_says(heard),
        _unsure_says(heard),
        _sections_say(heard),
        _rises_say(heard),
        _returns_say(heard),
        _loudness_says(heard),
    ]
    return tuple(sentence for sentence in found if sentence)


def _sureness_says(heard: Heard) -> str:
    if not heard.beats or not _sounding(heard):
        return ""  # where none is heard, nobody asks how surely
    if heard.confidence >= SURE:
        return "Rondel is sure of the beats."
    if heard.confidence >= FAIRLY_SURE:
        return "Rondel is fairly sure of the beats."
    return "Rondel is not sure of the beats; listen before you rely on them."


def _sounding(heard: Heard) -> tuple[Span, ...]:
    """Return where a beat is heard and sure."""
    whole = (Span(start=0.0, end=heard.seconds),)
    return tuple(less(whole, (*heard.beatless, *heard.unsure)))


def _presence_says(heard: Heard) -> str:
    if not heard.beats:
        return "A routine can still be set to it, without a beat to follow."
    whole = (Span(start=0.0, end=heard.seconds),)
    if not less(whole, heard.beatless):
        return "No beat can be heard; where one would fall is guessed."
    sounding = _sounding(heard)
    if not sounding:
        return "Nowhere is it sure that there is a beat; where one would fall is guessed."
    if sounding == whole:
        return "A beat can be heard all through."
    return f"A beat can be heard {_listed(map(_stretch, sounding))}."


def _unsure_says(heard: Heard) -> str:
    if not heard.unsure:
        return ""
    return f"Whether there is a beat is not sure {_listed(map(_stretch, heard.unsure))}."


def _sections_say(heard: Heard) -> str:
    if len(heard.sections) < 2:
        return ""
    peak = strongest(heard.sections)
    parts = []
    for section in heard.sections:
        word = "the strongest" if section is peak else strength_says(section)
        quiet = "" if section.has_beat else ", without a beat"
        parts.append(f"{as_minutes(section.span.start)} {word}{quiet}")
    return f"Sections begin at: {'; '.join(parts)}."


def _rises_say(heard: Heard) -> str:
    if not heard.rises:
        return ""
    return f"It swells into {_listed(as_minutes(rise.end) for rise in heard.rises)}."


def _returns_say(heard: Heard) -> str:
    if not heard.returns:
        return ""
    return f"The motif is heard at {_listed(as_minutes(span.start) for span in heard.returns)}."


def _loudness_says(heard: Heard) -> str:
    if heard.loudness is None:
        return "It is silent."
    peak = "" if heard.true_peak is None else f", its true peak {heard.true_peak:.1f} dBTP"
    return f"Its loudness is {heard.loudness:.1f} LUFS{peak}."


def _stretch(span: Span) -> str:
    return f"from {as_minutes(span.start)} to {as_minutes(span.end)}"


def _listed(items: Iterable[str]) -> str:
    """Return a spoken list: "a", "a and b", "a, b and c"."""
    parts = list(items)
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
