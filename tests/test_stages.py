"""Only stale parts are made; interrupted work goes on; a file appears whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from rondel.adapters.atomic import whole_file, write_text
from rondel.adapters.session_folder import DiskFolder
from rondel.app.progress import Progress, Silent
from rondel.app.stages import Stage, StageResult, run_stages, take_away_stale
from rondel.model.errors import BadInput, OutsideFailure


class Bench:
    """Two stages, of which the second uses what the first made; counts what is made."""

    def __init__(self, folder: Path) -> None:
        self.folder = DiskFolder(folder)
        self.made: list[str] = []
        self.words = "one"
        self.fails = False

    def _first(self, progress: Progress) -> Mapping[str, object]:
        self.made.append("first")
        write_text(self.folder.path / "first.txt", self.words)
        return {"length": len(self.words)}

    def _second(self, progress: Progress) -> Mapping[str, object]:
        if self.fails:
            raise KeyboardInterrupt
        self.made.append("second")
        write_text(self.folder.path / "parts" / "second.txt", self.words.upper())
        return {"files": ["parts/second.txt"]}

    def run(self, program: str = "1") -> tuple[StageResult, ...]:
        stages = (
            Stage(name="first", inputs=lambda: self.words, files=("first.txt",), make=self._first),
            Stage(
                name="second",
                inputs=lambda: self.folder.digest("first.txt"),
                files=(),
                make=self._second,
            ),
        )
        return run_stages(stages, self.folder, program=program, progress=Silent())


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "session")


def test_made_twice_is_made_once(bench: Bench) -> None:
    bench.run()
    again = bench.run()
    assert bench.made == ["first", "second"]
    assert [r.was_fresh for r in again] == [True, True]
    assert again[0].measured == {"length": 3}


def test_a_changed_input_makes_what_hangs_on_it_anew(bench: Bench) -> None:
    bench.run()
    bench.words = "two"
    bench.run()
    assert bench.made == ["first", "second"] * 2


def test_a_file_touched_by_hand_is_made_anew(bench: Bench) -> None:
    bench.run()
    write_text(bench.folder.path / "parts" / "second.txt", "spoiled")
    bench.run()
    assert bench.made == ["first", "second", "second"]


def test_what_an_earlier_make_left_and_this_one_does_not_make_is_taken_away(bench: Bench) -> None:
    bench.run()
    outside = bench.folder.path.parent / "hers.txt"
    write_text(outside, "hers")
    made = dict(bench.folder.read_made())
    stages = made["stages"]
    assert isinstance(stages, dict)
    old = bench.folder.path / "parts" / "old.txt"
    write_text(old, "of an earlier routine")
    stages["second"]["files"] |= {"parts/old.txt": "0", "../hers.txt": "0"}
    bench.folder.write_made(made)
    bench.run()
    assert not old.exists()
    assert (bench.folder.path / "parts" / "second.txt").exists()
    assert outside.read_text("utf-8") == "hers"


def test_sweeping_looks_nowhere_but_in_the_folders_of_a_session(tmp_path: Path) -> None:
    folder = DiskFolder(tmp_path)
    for name in (".part-a.mp4", "stems/.part-b.flac", "follow/.part-c.html", "hers/.part-d.txt"):
        write_text(tmp_path / name, "half")
    folder.sweep()
    left = [p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob(".part-*")]
    assert left == ["hers/.part-d.txt"]


def test_another_program_makes_everything_anew(bench: Bench) -> None:
    bench.run()
    bench.run(program="2")
    assert bench.made == ["first", "second"] * 2


def test_interrupted_work_goes_on_where_it_stopped(bench: Bench) -> None:
    bench.fails = True
    with pytest.raises(KeyboardInterrupt):
        bench.run()
    bench.fails = False
    bench.run()
    assert bench.made == ["first", "second"]


def test_a_spoiled_record_is_taken_for_none(bench: Bench) -> None:
    bench.run()
    (bench.folder.path / "made.json").write_text("[{", "utf-8")
    bench.run()
    assert bench.made == ["first", "second"] * 2


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path) -> None:
    target = tmp_path / "page.svg"
    write_text(target, "old")

    def write_half() -> None:
        with whole_file(target) as part:
            part.write_text("half", "utf-8")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write_half()
    assert target.read_text("utf-8") == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    write_text(blocked, "here already")
    with pytest.raises(OutsideFailure, match="cannot be written to"):
        write_text(blocked / "page.svg", "x")
    with pytest.raises(BadInput, match="this is a folder"):
        write_text(tmp_path, "x")
    with pytest.raises(BadInput, match="needs a folder"):
        DiskFolder(blocked)


def test_what_nobody_asks_for_now_goes_only_where_it_is_stale(bench: Bench) -> None:
    bench.run()

    def second(words: str) -> Stage:
        return Stage(name="second", inputs=lambda: words, files=(), make=lambda _: {})

    fresh = second(bench.folder.digest("first.txt") or "")
    made = bench.folder.path / "parts" / "second.txt"
    assert take_away_stale([fresh], bench.folder, program="1") == ()
    assert made.exists()
    strange = Stage(name="third", inputs=lambda: "", files=("third.txt",), make=lambda _: {})
    assert take_away_stale([strange, second("other")], bench.folder, program="1") == ()
    assert not made.exists()
    stages = bench.folder.read_made()["stages"]
    assert isinstance(stages, dict)
    assert set(stages) == {"first"}
