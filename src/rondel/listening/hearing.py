"""All that is heard in a track, from its features: beats, then form; and what was put right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rondel.listening.beats import BeatsHeard, hear_beats
from rondel.listening.corrections import (
    with_bars_at,
    with_beats_per_bar,
    with_moved,
    with_presence,
    with_strongest,
    with_tempo,
)
from rondel.listening.features import Features
from rondel.listening.motif import find_returns, motif_candidates
from rondel.listening.network import BeatNetwork
from rondel.listening.rises import hear_rises
from rondel.listening.sections import hear_sections
from rondel.listening.swells import swell_evidence
from rondel.listening.taps import with_taps
from rondel.model.codec.moments import moment_says
from rondel.model.corrections import Corrections
from rondel.model.errors import BadInput
from rondel.model.stretches import less
from rondel.model.track import Heard, OtherTempo, Section, Span

#: Two tempi nearer than this share are the same.
SAME_TEMPO = 0.03
#: In a longer track nobody looks for a guess, and finding one grows with the square of the length.
GUESSED_SECONDS = 1800.0
#: What returns lasts this share of the track at most.
MOST_MOTIF = 1 / 3
#: Seconds are told to a tenth of a millisecond: finer than anything that is heard.
PLACES = 4


def first_heard(features: Features, network: BeatNetwork) -> Heard:
    """Return what is heard in a track when nobody has put anything right."""
    heard = _with(hear_beats(features, network), features)
    heard = replace(heard, others=_unlike(heard.others, heard))
    return _rounded(_with_form(heard, features))


def corrected(
    first: Heard, features: Features, network: BeatNetwork, corrections: Corrections
) -> Heard:
    """Return what was `first` heard with `corrections`; the form is heard anew where bars changed.

    Raises BadInput where a correction cannot be. Without any, `first` comes back as it is.
    """
    if corrections.is_empty:
        return first
    heard = _with_beats(first, features, network, corrections)
    heard = with_presence(heard, corrections)
    if (heard.downbeats, heard.beatless) != (first.downbeats, first.beatless):
        heard = _with_form(heard, features)
    heard = with_strongest(with_moved(heard, corrections.moved), corrections.strongest)
    if corrections.motif is not None:
        heard = replace(heard, returns=_returns(heard, features, corrections.motif))
    return _rounded(replace(heard, others=_others(first, heard)))


def _with(beats: BeatsHeard, features: Features) -> Heard:
    """Return what was heard of the beats, as what was heard of a track."""
    return Heard(
        seconds=features.seconds,
        bpm=beats.bpm,
        is_constant=beats.is_constant,
        beats_per_bar=beats.beats_per_bar,
        beats=beats.beats,
        downbeats=beats.downbeats,
        beatless=beats.beatless,
        unsure=beats.unsure,
        others=beats.others,
        confidence=beats.confidence,
    )


def _with_beats(
    heard: Heard, features: Features, network: BeatNetwork, corrections: Corrections
) -> Heard:
    taps, bpm = corrections.taps, corrections.bpm
    if taps:
        heard = with_taps(
            heard, taps, lambda: _with(hear_beats(features, network, taps=taps), features)
        )
        # Where she taps along, there is a beat.
        tapped = Span(start=taps[0], end=taps[-1])
        heard = replace(heard, unsure=less(heard.unsure, (tapped,)))
    if bpm is not None:
        heard = with_tempo(
            heard, bpm, lambda: _with(hear_beats(features, network, bpm=bpm), features)
        )
    if corrections.beats_per_bar is not None:
        heard = with_beats_per_bar(heard, corrections.beats_per_bar)
    return with_bars_at(heard, corrections.bars_at)


def _returns(heard: Heard, features: Features, motif: Span) -> tuple[Span, ...]:
    if motif.end > features.seconds:
        end = moment_says(round(features.seconds, 1))
        says = f"it would end after the track, which ends at {end}; show one place that is whole"
        raise BadInput(says, at="the motif")
    if motif.seconds > features.seconds * MOST_MOTIF:
        says = "it would last more than a third of the track; show one place where it sounds"
        raise BadInput(says, at="the motif")
    if len(heard.beats) < 2:
        raise BadInput("without beats its returns cannot be found; tap along first", at="the motif")
    return find_returns(features, heard.beats, motif, heard.beats_per_bar)


def _with_form(heard: Heard, features: Features) -> Heard:
    """Return `heard` with its sections and rises, and guesses at its motif."""
    evidence = swell_evidence(features)
    sections = hear_sections(features, heard.downbeats, heard.beatless, evidence)
    guesses = (
        motif_candidates(features, heard.beats, heard.downbeats, heard.beats_per_bar)
        if len(heard.downbeats) > 1 and features.seconds <= GUESSED_SECONDS
        else ()
    )
    rises = hear_rises(features, sections, evidence)
    return replace(heard, sections=sections, rises=rises, motif_guesses=guesses)


def _others(first: Heard, heard: Heard) -> tuple[OtherTempo, ...]:
    """Return the other tempi that are left: what was first heard is one where it was put right."""
    was = OtherTempo(
        bpm=first.bpm,
        beats_per_bar=first.beats_per_bar,
        confidence=first.confidence,
        says="as first heard",
    )
    return _unlike((was, *first.others), heard)


def _unlike(others: Iterable[OtherTempo], heard: Heard) -> tuple[OtherTempo, ...]:
    """Return those of `others` that count otherwise than `heard` does."""
    return tuple(
        other
        for other in others
        if other.beats_per_bar != heard.beats_per_bar
        or abs(other.bpm - heard.bpm) > SAME_TEMPO * heard.bpm
    )


def _rounded(heard: Heard) -> Heard:
    """Return `heard` with every second told to PLACES decimals."""
    return replace(
        heard,
        bpm=round(heard.bpm, PLACES),
        beats=_each(heard.beats),
        downbeats=_each(heard.downbeats),
        beatless=_spans(heard.beatless),
        unsure=_spans(heard.unsure),
        returns=_spans(heard.returns),
        rises=_spans(heard.rises),
        motif_guesses=_spans(heard.motif_guesses),
        sections=tuple(
            Section(
                span=_span(section.span),
                energy=round(section.energy, PLACES),
                has_beat=section.has_beat,
            )
            for section in heard.sections
        ),
        confidence=round(heard.confidence, PLACES),
    )


def _each(seconds: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(round(float(second), PLACES) for second in seconds)


def _span(span: Span) -> Span:
    return Span(start=round(float(span.start), PLACES), end=round(float(span.end), PLACES))


def _spans(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    return tuple(_span(span) for span in spans if span.seconds > 10**-PLACES)
