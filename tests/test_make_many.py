"""`rondel make` with several sources: a session each, and one that fails stops no other."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from rondel.adapters.alone import alone
from rondel.adapters.craft_files import DATA
from rondel.app.make_video import processes_for
from rondel.cli.main import main
from rondel.cli.make import default_out, outs_of
from rondel.model.errors import BadInput
from rondel.wiring_takes import watch_from_file
from rondel.wiring_tracks import hear_from_file
from short_sessions import routine_file


def brief(path: Path, minutes: float = 3) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    text = (DATA / "demo" / "brief.toml").read_text("utf-8")
    lines = [
        f"minutes = {minutes}" if line.startswith("minutes") else line for line in text.split("\n")
    ]
    path.write_text("\n".join(lines).replace("open_minutes = 0.5", "open_minutes = 0.0"), "utf-8")
    return path


def test_every_source_has_a_session_of_its_own(tmp_path: Path) -> None:
    one, two = brief(tmp_path / "a" / "brief.toml"), brief(tmp_path / "b" / "brief.toml")
    also = brief(tmp_path / "b" / "dusk.toml")
    beside = [
        tmp_path / "a" / "session",
        tmp_path / "b" / "session",
        tmp_path / "b" / "session-dusk",
    ]
    assert list(outs_of([one, two, also], None).values()) == beside
    # Whichever comes first, and whether they are made together or not.
    assert list(outs_of([also, two, one], None).values()) == beside[::-1]
    assert [default_out(source) for source in (one, two, also)] == beside
    out = tmp_path / "all"
    assert list(outs_of([one, two, also], out).values()) == [out / "a", out / "b", out / "dusk"]
    again = tmp_path / "c" / "a"
    shutil.copytree(tmp_path / "a", again)
    with pytest.raises(BadInput, match="where that of"):
        outs_of([one, again / "brief.toml"], out)
    with pytest.raises(BadInput, match="where that of"):
        outs_of([one, brief(tmp_path / "a" / "routine.toml")], None)
    with pytest.raises(BadInput, match="no such file"):
        outs_of([one, tmp_path / "none.toml"], None)


def test_one_that_cannot_be_made_is_told_and_the_others_are_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = brief(tmp_path / "good" / "brief.toml")
    odd = tmp_path / "odd" / "brief.toml"
    odd.parent.mkdir()
    odd.write_text('title = "Odd"\nminutes = "many"\n', "utf-8")
    last = brief(tmp_path / "last" / "brief.toml", 3.5)
    words = ["make", str(good), str(odd), str(last), "--only", "page"]
    assert main(words) == 2
    told = capsys.readouterr()
    assert "1 of 3 sessions could not be made" in told.err.split("3 of 3")[1]  # at the end
    assert "minutes" in told.err
    assert "2 of 3" in told.err
    assert "Traceback" not in told.err
    assert (good.parent / "session" / "page.pdf").exists()
    assert (last.parent / "session" / "page.pdf").exists()
    assert not (odd.parent / "session").exists()
    assert main([*words, "--json", "--at-once", "1"]) == 2
    rows = json.loads(capsys.readouterr().out)
    assert [Path(row["source"]).parent.name for row in rows] == ["good", "odd", "last"]
    assert "minutes" in rows[1]["error"]
    assert all(part["fresh"] for row in (rows[0], rows[2]) for part in row["parts"])


def test_one_that_no_routine_can_meet_is_told_and_the_other_is_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = brief(tmp_path / "good" / "brief.toml")
    much = brief(tmp_path / "much" / "brief.toml", 6)
    much.write_text(much.read_text("utf-8").replace("refrains = 4", "refrains = 6"), "utf-8")
    assert main(["make", str(much), str(good), "--only", "page"]) == 1
    told = capsys.readouterr()
    assert "There is no routine for this brief yet" in told.out
    assert "there is no routine" in told.err.split("could not be made")[1]
    assert (good.parent / "session" / "page.pdf").exists()
    assert not (much.parent / "session").exists()


def digests(folder: Path) -> dict[str, str]:
    """The SHA-256 of every file in a session but made.json, which holds seconds."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "made.json"
    }


def recorded(folder: Path) -> object:
    """What made.json says that a session was made from and holds."""
    made = json.loads((folder / "made.json").read_text("utf-8"))
    stages = {name: (stage["inputs"], stage["files"]) for name, stage in made.pop("stages").items()}
    return made, stages


def two_briefs(folder: Path) -> list[Path]:
    sources = [brief(folder / name / "brief.toml") for name in "ab"]
    sources[1].write_text(sources[1].read_text("utf-8").replace("Lamplight", "Rain"), "utf-8")
    return sources


def two_routines(folder: Path) -> list[Path]:
    titles = ("Harbour", "Rain")
    return [routine_file(folder / title / "routine.json", title) for title in titles]


@pytest.mark.parametrize(
    ("made_of", "parts", "least"),
    [(two_briefs, "words,page,follow", 8), (two_routines, "audio,words", 11)],
    ids=["briefs", "routines"],
)
def test_side_by_side_gives_the_same_bytes_as_one_by_one(
    made_of: Callable[[Path], list[Path]],
    parts: str,
    least: int,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    sources = made_of(tmp_path)
    only = ["--only", parts]
    for n, source in enumerate(sources):
        # In a process of its own, as a teacher does: numpy was loaded here in another way, perhaps.
        words = ["make", str(source), "--out", str(tmp_path / f"one-{n}"), *only]
        subprocess.run([sys.executable, "-m", "rondel.cli.main", *words], check=True)
    assert main(["make", *map(str, sources), "--at-once", "2", *only]) == 0
    assert "2 sessions, 2 at once" in capsys.readouterr().err
    for n, source in enumerate(sources):
        alone, many = tmp_path / f"one-{n}", source.parent / "session"
        assert len(digests(alone)) >= least
        assert digests(many) == digests(alone)
        assert recorded(many) == recorded(alone)


def test_a_video_is_made_by_as_many_processes_as_cores_are_free() -> None:
    assert [processes_for(cores) for cores in (1, 2, 3, 64)] == [0, 2, 3, 4]  # 0: by itself


def under(folder: Path) -> list[int]:
    """The processes that work in `folder`: Linux tells where each one stands."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if (place / "cwd").readlink() == folder:
                found.append(int(place.name))
        except OSError:
            continue
    return found


def test_stopped_all_at_once_and_taken_up_again(tmp_path: Path) -> None:
    if not Path("/proc/self/cwd").exists():
        pytest.skip("this system does not tell of its processes in /proc")
    for name in "ab":
        routine_file(tmp_path / name / "routine.json")
    sources = [f"{name}/routine.json" for name in "ab"]
    words = [sys.executable, "-m", "rondel.cli.main", "make", *sources]
    words += ["--only", "video", "--quick", "--at-once", "2"]
    making = subprocess.Popen(
        words, cwd=tmp_path, stdout=-1, stderr=-1, text=True, start_new_session=True
    )
    end = time.monotonic() + 240
    # In the middle of two videos, where they are held until told to stop: on a busy machine they
    # may be ready before this is.
    while len(list(tmp_path.glob("*/.session-pieces/quick-*.mp4"))) < 3:
        assert making.poll() is None, making.communicate()
        assert time.monotonic() < end
        time.sleep(0.005)
    os.killpg(making.pid, signal.SIGSTOP)
    assert len(under(tmp_path)) >= 3
    os.killpg(making.pid, signal.SIGINT)  # as Ctrl-C in a terminal
    os.killpg(making.pid, signal.SIGCONT)
    _, said = making.communicate(timeout=60)
    assert making.returncode == 130
    assert "run the same command to go on" in said
    assert "Traceback" not in said
    assert not under(tmp_path)
    assert not list(tmp_path.rglob("*.lock"))
    pieces = {
        path: path.stat().st_mtime_ns for path in tmp_path.glob("*/.session-pieces/quick-*.mp4")
    }
    assert len(pieces) >= 3
    again = subprocess.run([*words, "--json"], cwd=tmp_path, capture_output=True, text=True)
    assert again.returncode == 0, again.stderr
    rows = json.loads(again.stdout)
    assert all((tmp_path / name / "session" / "session.mp4").exists() for name in "ab")
    assert all(path.stat().st_mtime_ns == moment for path, moment in pieces.items())
    assert [row["parts"][0]["fresh"] for row in rows[:2]] == [True, True]
    reused = sum(row["parts"][-1]["measured"]["chunks_reused"] for row in rows)
    assert reused >= len(pieces)
    assert not list(tmp_path.rglob(".part-*"))


def test_a_session_that_is_being_made_is_waited_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = brief(tmp_path / "a" / "brief.toml")
    codes: list[int] = []
    thread = threading.Thread(
        target=lambda: codes.append(main(["make", str(source), "--only", "page"]))
    )
    with alone(tmp_path / "a" / ".session.lock"):
        thread.start()
        thread.join(timeout=8)
        assert thread.is_alive()
        assert not (tmp_path / "a" / "session").exists()
    thread.join(timeout=60)
    assert codes == [0]
    assert "Waiting for another make" in capsys.readouterr().err


def test_takes_and_tracks_that_sessions_share_are_read_by_one_at_a_time(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text('name = "Mine"\n', "utf-8")
    track, take = tmp_path / "music" / "tone.flac", tmp_path / "takes" / "hands.mp4"
    for path in (track, take):
        path.parent.mkdir()
        path.write_bytes(b"neither sound nor film")
    for path, lock, read in (
        (track, track.parent / ".tone.flac.lock", hear_from_file),
        (take, take.parent / ".watching" / "hands.mp4.lock", watch_from_file),
    ):
        told = Stages()
        with ThreadPoolExecutor(1) as pool:
            with alone(lock):
                reading = pool.submit(read, path, progress=told)
                end = time.monotonic() + 20
                while not told.names and time.monotonic() < end:
                    time.sleep(0.01)
                assert told.names == [f"waiting for {path.name}, which is being {told.verb}"]
                assert not reading.done()
            with pytest.raises(BadInput):
                reading.result(timeout=60)
        assert [one.name for one in path.parent.iterdir()] == [path.name]


class Stages:
    """Progress that keeps the names of stages."""

    def __init__(self) -> None:
        self.names: list[str] = []

    @property
    def verb(self) -> str:
        return "heard" if "tone" in self.names[0] else "watched"

    def begin(self, stage: str, total: float) -> None:
        self.names.append(stage)

    def advance(self, done: float) -> None: ...

    def end(self) -> None: ...


@pytest.mark.parametrize("number", ["0", "65"])
def test_an_odd_number_at_once_is_refused(
    number: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = brief(tmp_path / "brief.toml")
    assert main(["make", str(source), "--at-once", number]) == 2
    assert "1 to 64" in capsys.readouterr().err
