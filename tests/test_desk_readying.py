"""What is worked out ahead for a press that is likely: in which order, how often, and that nothing
sounds otherwise for it."""

from __future__ import annotations

import threading
import time

import numpy as np
import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief
from rondel.adapters.voice import BundledVoice
from rondel.app.hear_quickly import QuickHearing, RememberedVoice
from rondel.app.make_plan import make_plan
from rondel.desk import readying
from rondel.desk.readying import Readying
from rondel.model.errors import OutsideFailure
from rondel.music.instruments.tone import RATE


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readying, "MOMENT", 0.0)


def settled(steps: list[object], count: int) -> list[object]:
    """Return the steps once there are `count`, and as many a little later."""
    end = time.monotonic() + 10
    while len(steps) < count and time.monotonic() < end:
        time.sleep(0.005)
    time.sleep(0.05)
    return steps


def test_the_chosen_one_comes_next_and_nothing_is_done_twice() -> None:
    ready, done, goes = Readying(), list[object](), threading.Semaphore(0)

    def work(step: object) -> None:
        goes.acquire()
        done.append(step)

    ready.begin("lamp", [1, 2, 3, 4], work, keeps=False)
    goes.release(2)
    settled(done, 2)
    ready.begin("lamp", [4, 1, 2, 3], work, keeps=True)
    goes.release(9)
    found = settled(done, 4)
    assert found[:2] == [1, 2]
    assert sorted(found) == [1, 2, 3, 4]  # type: ignore[type-var]
    ready.begin("lamp", [4, 1, 2, 3], work, keeps=True)
    assert len(settled(done, 5)) == 4


def test_another_routine_or_one_who_forgot_begins_anew() -> None:
    ready, done = Readying(), list[object]()
    ready.begin("lamp", [1, 2], done.append, keeps=False)
    settled(done, 2)
    ready.begin("wharf", [1, 2], done.append, keeps=True)
    settled(done, 4)
    ready.begin("wharf", [1, 2], done.append, keeps=False)
    assert settled(done, 6) == [1, 2, 1, 2, 1, 2]


def test_after_a_step_that_fails_none_is_done_and_later_ones_can_be() -> None:
    ready, done = Readying(), list[object]()

    def fails(step: object) -> None:
        done.append(step)
        raise OutsideFailure("the work was ended by the system")

    ready.begin("lamp", [1, 2], fails, keeps=False)
    assert settled(done, 1) == [1]
    ready.begin("lamp", [1, 2], done.append, keeps=True)
    assert settled(done, 3) == [1, 1, 2]


def test_what_was_got_ready_sounds_as_it_would_have() -> None:
    craft = builtin_craft()
    routine = make_plan(demo_brief(), craft).routine
    assert routine is not None
    start = round(routine.start_seconds(routine.line[7]) * RATE)
    one, other = (QuickHearing(routine, craft, RememberedVoice(BundledVoice())) for _ in range(2))
    for words in (True, False):
        one.get_ready(start, 2 * RATE, words=words)
    assert np.array_equal(one.block(start, 2 * RATE), other.block(start, 2 * RATE))
    one.get_ready(round(routine.clock.total_seconds * RATE) + RATE, RATE, words=True)
