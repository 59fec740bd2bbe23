"""The desk started, killed and started again: nothing acknowledged is lost, nobody stays behind."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from desk_client import DeskClient, running_desk, studio_with_demo
from rondel.adapters.studio_files import read_routine
from short_sessions import shelved


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    return studio_with_demo(tmp_path)


def version(desk: DeskClient) -> str:
    found = re.search(r'data-version="(\w+)"', desk.ask("/r/lamplight/").text)
    assert found is not None
    return found[1]


def keep(desk: DeskClient, passage: str) -> int:
    form = {"version": version(desk), "p": passage, "what": "keep"}
    return desk.ask("/r/lamplight/change", form).status


def children(process: int) -> list[int]:
    """Return all processes below one, by what Linux tells of them."""
    listed = subprocess.run(
        ["ps", "-e", "-o", "pid=,ppid="], capture_output=True, text=True, check=True
    )
    parents = {int(a): int(b) for a, b in (row.split() for row in listed.stdout.splitlines())}
    found = [pid for pid, parent in parents.items() if parent == process]
    return found + [one for child in found for one in children(child)]


def test_a_kill_loses_nothing_that_was_acknowledged(studio: Path) -> None:
    with running_desk(studio) as desk:
        assert keep(desk, "p02") == 303
        after = version(desk)
        below = children(desk.process.pid)
        assert below  # the processes beside the server
        os.kill(desk.process.pid, signal.SIGKILL)
        desk.process.wait(10)
        end = time.monotonic() + 15
        while any(Path(f"/proc/{pid}").exists() for pid in below) and time.monotonic() < end:
            time.sleep(0.2)
        if sys.platform == "linux":
            assert [pid for pid in below if Path(f"/proc/{pid}").exists()] == []
    with running_desk(studio) as again:
        assert version(again) == after
        text = again.ask("/r/lamplight/?p=p02").text
        assert 'value="free"' in text
        form = {"version": after, "p": "p02"}
        assert again.ask("/r/lamplight/back", form).status == 303
        assert 'value="keep"' in again.ask("/r/lamplight/?p=p02").text


def test_making_that_was_killed_goes_on_where_it_stopped(studio: Path) -> None:
    session = shelved(studio, "Killed").folder / "session-quick"
    with running_desk(studio) as desk:
        assert desk.ask("/r/killed/session/make", {"how": "quick"}).status == 303
        end = time.monotonic() + 120
        while not (session / "page.pdf").is_file() and time.monotonic() < end:
            time.sleep(0.1)
        os.kill(desk.process.pid, signal.SIGKILL)
        desk.process.wait(10)
    assert read_routine(session / "routine.json")
    first = (session / "page.pdf").stat().st_mtime_ns
    with running_desk(studio) as again:
        assert again.ask("/r/killed/session/make", {"how": "quick"}).status == 303
        assert again.ask("/r/killed/session/stop", {}).status == 303
        text = again.ask("/r/killed/session").text
        assert "Stopped" in text or "Made" in text
    assert (session / "page.pdf").stat().st_mtime_ns == first  # not made again
    assert not list(session.glob(".part-*.json"))


def test_a_new_folder_becomes_a_studio_and_a_strange_one_is_refused(tmp_path: Path) -> None:
    with running_desk(tmp_path / "quite new") as desk:
        assert "Lamplight" in desk.ask("/").text
    strange = tmp_path / "letters"
    strange.mkdir()
    (strange / "letter.txt").write_text("Dear …")
    command = [sys.executable, "-m", "rondel.cli.main", "desk", str(strange), "--no-browser"]
    ended = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert ended.returncode == 2
    assert "no studio" in ended.stderr
    assert "Traceback" not in ended.stderr
    assert [p.name for p in strange.iterdir()] == ["letter.txt"]


def test_a_port_that_is_taken_is_said_in_a_sentence(studio: Path) -> None:
    with running_desk(studio) as desk:
        command = [sys.executable, "-m", "rondel.cli.main", "desk", str(studio), "--no-browser"]
        ended = subprocess.run(
            [*command, "--port", str(desk.port)],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )
    assert ended.returncode == 3
    assert "is taken" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_spoilt_routine_and_a_spoilt_studio_are_told_and_leave_the_rest(studio: Path) -> None:
    broken = studio / "routines" / "broken"
    broken.mkdir()
    (broken / "routine.json").write_text("{ this is no")
    with running_desk(studio) as desk:
        text = desk.ask("/").text
        assert "cannot be understood" in text
        assert "/r/lamplight/" in text
        assert desk.ask("/r/broken/").status == 422
        toml = studio / "repertoire" / "home.toml"
        before = toml.read_text("utf-8")
        toml.write_text(before + "\n[[technique]\n")
        answer = desk.ask("/r/lamplight/")
        assert answer.status == 200  # with the hands as they were
        assert "goes on with the hands as they were" in answer.text
        assert "home.toml" in answer.text
        toml.write_text(before)
        assert "goes on with the hands as they were" not in desk.ask("/r/lamplight/").text
