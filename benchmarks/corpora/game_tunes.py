"""Tunes of Debian's openttd-openmsx (GPL-2, fetched, never committed) as tunes in beats."""

from __future__ import annotations

from pathlib import Path

import mido
import numpy as np

from corpora.tunes import DRUMS, Tune


def game_tune(path: Path) -> Tune:
    """Return the tune of a MIDI file; its beat is the quarter, its own tempo is forgotten."""
    file = mido.MidiFile(path)
    rows: list[tuple[float, ...]] = []
    programs: dict[int, int] = {}
    volumes = dict.fromkeys(range(16), 100)
    sounding: dict[tuple[int, int], tuple[float, float]] = {}
    numerator, denominator, now = 4, 4, 0.0
    is_first = True
    for message in mido.merge_tracks(file.tracks):
        now += message.time / file.ticks_per_beat
        if message.type == "time_signature" and is_first:
            numerator, denominator, is_first = message.numerator, message.denominator, False
        elif message.type == "program_change":
            programs.setdefault(message.channel, message.program)
        elif message.type == "control_change" and message.control == 7:
            volumes[message.channel] = message.value
        elif message.type in ("note_on", "note_off"):
            key = (message.channel, message.note)
            if key in sounding:
                start, force = sounding.pop(key)
                rows.append((start, max(now - start, 0.02), message.note, message.channel, force))
            if message.type == "note_on" and message.velocity:
                sounding[key] = (now, message.velocity * (volumes[message.channel] / 100) ** 0.5)
    channels = sorted({int(row[3]) for row in rows})
    notes = np.array(sorted(rows), dtype=float)
    notes[:, 3] = [channels.index(int(channel)) for channel in notes[:, 3]]
    beats_per_bar = max(1, round(numerator * 4 / denominator))
    return Tune(
        name=path.stem,
        notes=notes,
        beats_per_bar=beats_per_bar,
        first_bar=0,
        metre=f"{numerator}/{denominator}",
        programs=tuple(programs.get(channel, 0) for channel in channels),
        drums=tuple(channel == DRUMS for channel in channels),
    )
