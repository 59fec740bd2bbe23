"""One at a time: what two processes must not do at once waits for its turn."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import pytest

from rondel.adapters.alone import alone


def test_never_two_at_once_and_nothing_is_left_behind(tmp_path: Path) -> None:
    lock = tmp_path / "deep" / "work.lock"
    now = most = rounds = 0
    wrong: list[BaseException] = []

    def work() -> None:
        nonlocal now, most, rounds
        try:
            for _ in range(30):
                with alone(lock):
                    now += 1
                    most = max(most, now)
                    time.sleep(0.0005)
                    rounds += 1
                    now -= 1
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    assert (most, rounds) == (1, 120)
    assert not lock.exists()


def test_who_waits_is_told_once(tmp_path: Path) -> None:
    lock = tmp_path / "work.lock"
    told: list[str] = []
    in_turn: list[str] = []

    def second() -> None:
        with alone(lock, lambda: told.append("waits")):
            in_turn.append("second")

    with alone(lock, lambda: told.append("never")):
        thread = threading.Thread(target=second)
        thread.start()
        end = time.monotonic() + 10
        while not told and time.monotonic() < end:
            time.sleep(0.01)
        in_turn.append("first")
    thread.join()
    assert told == ["waits"]
    assert in_turn == ["first", "second"]


def test_the_lock_of_one_that_died_is_free(tmp_path: Path) -> None:
    lock = tmp_path / "work.lock"
    child = os.fork()
    if child == 0:  # pragma: no cover - a process that dies while it holds the lock
        holding = alone(lock)
        holding.__enter__()
        os._exit(9)
    os.waitpid(child, 0)
    assert lock.exists()
    with alone(lock, lambda: pytest.fail("nobody holds it")):
        pass
    assert not lock.exists()


def test_where_no_lock_can_be_had_the_work_goes_on(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with alone(tmp_path / "file" / "work.lock"):
        done = True
    assert done
