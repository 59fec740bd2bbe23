"""From a routine to its music."""

from __future__ import annotations

from dataclasses import replace

from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.spans import crossings, heard_beats
from rondel.music.arcs import write_riser, write_swell
from rondel.music.chance import Chance
from rondel.music.ground import write_bass, write_drone, write_pad, write_strings
from rondel.music.harmony import harmonise
from rondel.music.markers import passage_markers
from rondel.music.modes import CHARACTERS, choose_key
from rondel.music.motif import write_motif
from rondel.music.phrases import phrases_of
from rondel.music.piano import write_piano
from rondel.music.rhythm import write_drum, write_pulse
from rondel.music.score import LayerName, Note, Score, ScoreLayer
from rondel.music.setting import Setting
from rondel.music.timbres import choose_timbres

WRITERS = {
    LayerName.DRONE: write_drone,
    LayerName.PAD: write_pad,
    LayerName.BASS: write_bass,
    LayerName.STRINGS: write_strings,
    LayerName.PIANO: write_piano,
    LayerName.MOTIF: write_motif,
    LayerName.PULSE: write_pulse,
    LayerName.DRUM: write_drum,
    LayerName.SWELL: write_swell,
    LayerName.RISER: write_riser,
}


def set_out(routine: Routine, craft: Craft) -> Setting:
    """Return what all layers of `routine` are written from: key, chords, choices, spans."""
    chance = Chance(routine.seed, str(routine.music_character))
    character = CHARACTERS[routine.music_character]
    key = choose_key(character, chance)
    phrases = phrases_of(routine)
    chords = harmonise(routine, phrases, key, character, chance)
    return Setting(
        routine=routine,
        craft=craft,
        key=key,
        character=character,
        chance=chance,
        chords=chords,
        by_bar=tuple(chord for chord in chords for _ in range(chord.bars)),
        phrases=phrases,
        heard=heard_beats(routine),
        crossings=crossings(routine),
    )


def _within(notes: tuple[Note, ...], beats: int) -> tuple[Note, ...]:
    """Return the notes, let go by the end of the routine."""
    return tuple(
        n if n.end <= beats else replace(n, beats=beats - n.start) for n in notes if n.start < beats
    )


def compose(routine: Routine, craft: Craft) -> Score:
    """Return the music of `routine`: the same routine and seed give the same notes.

    Before `heard_beats` begins and after it ends nothing gives a pulse.
    """
    setting = set_out(routine, craft)
    left_out = {str(layer) for layer in (routine.brief.without if routine.brief else ())}
    written = (
        (name, _within(write(setting), setting.beats))
        for name, write in WRITERS.items()
        if str(name) not in left_out
    )
    return Score(
        title=routine.title,
        key=setting.key.name,
        clock=routine.clock,
        layers=tuple(ScoreLayer(name=name, notes=notes) for name, notes in written if notes),
        markers=passage_markers(routine, craft),
        heard=setting.heard,
        timbres=choose_timbres(routine.music_character, setting.chance),
    )
