"""What to film: every technique of a routine on every side, long enough, at the routine's pace."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pypdfium2
import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief, routine_text
from rondel.cli.main import main
from rondel.drawing import figure
from rondel.drawing.shot_list import ShotToFilm, shot_sentences, shots_to_film
from rondel.model.routine import Routine
from rondel.planner.plan import plan

CRAFT = builtin_craft()


@cache
def lamplight() -> Routine:
    routine = plan(demo_brief(), CRAFT).routine
    assert routine is not None
    return routine


@cache
def shots() -> tuple[ShotToFilm, ...]:
    return shots_to_film(lamplight(), CRAFT, figure.still)


def test_everything_that_is_shown_is_to_be_filmed_once_a_side() -> None:
    shown = {(p.technique, p.side, p.beats_per_stroke) for p in lamplight().line if p.technique}
    assert len(shots()) >= len(shown)
    assert {shot.technique for shot in shots()} == {row[0] for row in shown}
    starts = sorted(start for shot in shots() for start in shot.starts)
    assert starts == sorted(
        lamplight().start_seconds(p) for p in lamplight().line if p.technique is not None
    )


def test_each_is_filmed_longer_than_it_is_shown_and_at_the_pace_of_its_strokes() -> None:
    routine = lamplight()
    for shot in shots():
        rows = [
            p
            for p in routine.line
            if p.technique == shot.technique and routine.start_seconds(p) in shot.starts
        ]
        assert shot.seconds >= max(routine.seconds_of(p) for p in rows) + 10
        if shot.stroke_seconds is None:
            continue
        beats = routine.landings(rows[0])
        if len(beats) > 1:
            a, b = (routine.clock.seconds_at(beat) for beat in beats[:2])
            assert shot.stroke_seconds == pytest.approx(b - a)


def test_each_is_told_in_a_sentence() -> None:
    says = shot_sentences(shots())
    assert len(says) == len(shots()) + 1
    for shot, line in zip(shots(), says, strict=False):
        assert line.startswith(shot.name)
        assert line.endswith(".")


def test_the_list_prints_with_every_name_and_length(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = tmp_path / "routine.json", tmp_path / "shots.pdf"
    path.write_text(routine_text(lamplight()), "utf-8")
    assert main(["shots", str(path), "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [row["technique"] for row in told] == [shot.technique for shot in shots()]
    pages = pypdfium2.PdfDocument(out)
    text = " ".join(page.get_textpage().get_text_range() for page in pages)
    for shot in shots():
        assert shot.name in text
    assert "Ask before you film anybody" in text
    assert main(["shots", str(path), "--out", str(tmp_path / "shots.txt")]) == 2
    assert "the page to print is a .pdf" in capsys.readouterr().err
