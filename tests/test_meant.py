"""Corrections are of what a teacher is told now, and of places that are there."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from heard_tracks import steady
from rondel.adapters.heard_files import corrections_path
from rondel.cli.main import main
from rondel.listening.corrections import with_bars_at, with_moved, with_presence
from rondel.listening.meant import moves_meant
from rondel.model.codec.corrections import moved_of
from rondel.model.corrections import Corrections
from rondel.model.errors import BadInput
from rondel.model.track import Span
from track_sounds import ticks, write_plain

GOOD, BAD_INPUT = 0, 2
EVERY, FIRST = 0.8, 0.25  # 75 beats a minute; the first tick, which `ticks` puts there


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("ticks") / "evening.flac"
    return write_plain(path, ticks(seconds=30.0, rate=22_050, every=EVERY), 22_050)


@pytest.fixture
def track(made: Path, tmp_path: Path) -> Path:
    (tmp_path / "studio.toml").write_text('name = "Mine"\n', "utf-8")
    path = tmp_path / "evening.flac"
    path.write_bytes(made.read_bytes())
    return path


class Teacher:
    """Types `rondel listen` and reads the answer."""

    def __init__(self, track: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self.track, self._capsys = track, capsys

    def asks(self, *words: str) -> dict[str, float]:
        """Return what is printed as JSON."""
        assert main(["listen", str(self.track), *words, "--json"]) == GOOD
        found = json.loads(self._capsys.readouterr().out)
        assert isinstance(found, dict)
        return found

    def is_refused(self, *words: str) -> str:
        """Return the sentence."""
        assert main(["listen", str(self.track), *words]) == BAD_INPUT
        return " ".join(self._capsys.readouterr().err.split())


@pytest.fixture
def teacher(track: Path, capsys: pytest.CaptureFixture[str]) -> Teacher:
    return Teacher(track, capsys)


# ---- the tempo ----------------------------------------------------------------------------------

TIMES = {"--half-as-fast": 0.5, "--twice-as-fast": 2.0}


@pytest.mark.parametrize(
    "words",
    [
        ("--half-as-fast", "--twice-as-fast"),
        ("--twice-as-fast", "--half-as-fast"),
        ("--twice-as-fast", "--twice-as-fast", "--half-as-fast", "--half-as-fast"),
    ],
)
def test_half_and_twice_as_fast_are_of_what_is_told_now(
    teacher: Teacher, words: tuple[str, ...]
) -> None:
    """There and back is as it was first heard, to the bit, and nothing is left put right."""
    first = teacher.asks()
    bpm = first["bpm"]
    assert bpm == pytest.approx(75, rel=0.001)
    for word in words:
        bpm *= TIMES[word]
        assert teacher.asks(word)["bpm"] == pytest.approx(bpm, rel=1e-5)
    assert teacher.asks() == first
    assert not corrections_path(teacher.track).exists()


def test_half_as_fast_after_taps_takes_every_second_of_them(teacher: Teacher) -> None:
    taps = [FIRST + (4 + k) * EVERY * 1.07 for k in range(12)]  # beats that nobody hears
    tapped = teacher.asks("--taps", " ".join(f"{t:.3f}" for t in taps))["bpm"]
    assert tapped == pytest.approx(75 / 1.07, rel=0.005)
    assert teacher.asks("--half-as-fast")["bpm"] == pytest.approx(tapped / 2, rel=0.005)
    assert teacher.asks("--twice-as-fast")["bpm"] == pytest.approx(tapped, rel=0.005)


def test_a_tempo_that_nobody_counts_is_refused(teacher: Teacher) -> None:
    teacher.asks("--half-as-fast")
    says = teacher.is_refused("--half-as-fast")  # 75, 37.5, and then 18.75
    assert "counted at 37.5 beats a minute, and 18.75 is not from 20 to 300" in says
    assert teacher.asks()["bpm"] == pytest.approx(37.5, rel=0.001)


# ---- sections -----------------------------------------------------------------------------------

STARTS = (20.0, 40.0, 66.0)


@pytest.mark.parametrize("words", ["0:30=0:31", "0:24=0:25", "0:01=0:05", "1:20=0:40", "0:30=0:40"])
def test_no_section_is_moved_from_where_none_begins(words: str) -> None:
    move = moved_of(words)
    nearest = min(STARTS, key=lambda start: abs(start - move.of))
    says = f"no section begins about {words.split('=')[0]}; the nearest begins at "
    with pytest.raises(BadInput) as refused:
        moves_meant([move], [], STARTS)
    near = {20.0: "0:20", 40.0: "0:40", 66.0: "1:06"}[nearest]
    assert f"{says}{near} " in str(refused.value)


def test_the_first_section_begins_with_the_track() -> None:
    with pytest.raises(BadInput, match="is where the track begins"):
        moves_meant([moved_of("0:00=0:05")], [], STARTS)


def test_a_moved_section_is_named_by_where_it_was_or_where_it_is() -> None:
    once = moves_meant([moved_of("0:20=0:26")], [], STARTS)
    assert once == (moved_of("0:20=0:26"),)
    now = (26.0, 40.0, 66.0)
    assert moves_meant([moved_of("0:20=0:26")], once, now) == once  # said twice
    assert moves_meant([moved_of("0:26=0:30")], once, now) == (moved_of("0:20=0:30"),)
    assert moves_meant([moved_of("0:21=0:30")], once, now) == (moved_of("0:20=0:30"),)
    both = moves_meant([moved_of("0:40=0:41")], once, now)
    assert both == (moved_of("0:20=0:26"), moved_of("0:40=0:41"))


def test_a_line_written_by_hand_moves_no_section_from_nowhere() -> None:
    """That a section begins there already is no excuse where another begins on the way."""
    heard = steady(80, sections=((0.0, 0.1), (20.0, 0.5), (40.0, 0.8), (66.0, 0.3)))
    for words in ("0:30=0:31", "0:10=0:40", "1:19=0:40"):
        with pytest.raises(BadInput, match=r"no section begins about"):
            with_moved(heard, (moved_of(words),))
    moved = (moved_of("0:20=0:23"),)
    put = with_moved(heard, moved)
    assert with_moved(put, moved) == put


# ---- bars and beats where none are counted ------------------------------------------------------

#: Beats from 0:20 to 0:40 of a minute.
SOME = replace(
    steady(60), beats=tuple(map(float, range(20, 41))), downbeats=(20.0, 24.0, 28.0, 32.0, 36.0)
)
NONE_HEARD = replace(steady(60), beats=(), downbeats=())


@pytest.mark.parametrize("second", [3.0, 15.5, 44.5, 59.0])
def test_no_bar_begins_where_no_beats_are_counted(second: float) -> None:
    with pytest.raises(BadInput, match="beats are counted from 0:20 to 0:40 only"):
        with_bars_at(SOME, (second,))
    with pytest.raises(BadInput, match="tap along first"):
        with_bars_at(NONE_HEARD, (second,))
    assert with_bars_at(SOME, (22.0,)).downbeats[0] == 22.0


def test_no_beat_can_be_said_to_be_heard_where_none_are_counted() -> None:
    for start, end in ((2.0, 9.0), (50.0, 58.0)):
        said = Corrections(with_beat=(Span(start=start, end=end),))
        with pytest.raises(BadInput, match="beats are counted from 0:20 to 0:40 only"):
            with_presence(SOME, said)
        with pytest.raises(BadInput, match="no beats were found"):
            with_presence(NONE_HEARD, said)
        silent = Corrections(without_beat=(Span(start=start, end=end),))
        assert with_presence(SOME, silent).beatless  # that none is heard can be said anywhere
