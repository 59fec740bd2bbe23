"""What is worked out ahead for a press that is likely: in which order, how often, and that nothing
sounds otherwise for it."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from desk_client import studio_with_demo
from desk_window import KEY
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief
from rondel.adapters.voice import BundledVoice
from rondel.app.hear_quickly import QuickHearing, RememberedVoice
from rondel.app.make_plan import make_plan
from rondel.desk import readying
from rondel.desk.asides import Aside
from rondel.desk.desk import Desk
from rondel.desk.leaves.hear import get_hearing_ready
from rondel.desk.readying import Readying
from rondel.model.errors import OutsideFailure
from rondel.music.instruments.chimes import _rung
from rondel.music.instruments.struck import _glass
from rondel.music.instruments.sustained import loop
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

    ready.begin("lamp", [1, 2, 3, 4], work)
    goes.release(2)
    settled(done, 2)
    ready.begin("lamp", [4, 1, 2, 3], work)
    goes.release(9)
    found = settled(done, 4)
    assert found[:2] == [1, 2]
    assert sorted(found) == [1, 2, 3, 4]  # type: ignore[type-var]
    ready.begin("lamp", [4, 1, 2, 3], work)
    assert len(settled(done, 5)) == 4


def test_another_routine_begins_anew() -> None:
    ready, done = Readying(), list[object]()
    for count, key in enumerate(("lamp", "wharf", "lamp"), start=1):
        ready.begin(key, [1, 2], done.append)
        settled(done, 2 * count)
    assert done == [1, 2, 1, 2, 1, 2]


def test_a_step_of_an_earlier_routine_that_fails_takes_nothing_from_a_later_one() -> None:
    ready, done, goes = Readying(), list[object](), threading.Event()

    def fails(step: object) -> None:
        goes.wait(10)
        raise OutsideFailure("the work was ended by the system")

    ready.begin("lamp", [1, 2], fails)
    time.sleep(0.05)
    ready.begin("wharf", [3, 4], done.append)
    goes.set()
    assert settled(done, 2) == [3, 4]


def test_a_process_that_was_ended_has_another_life_and_one_that_stays_has_not() -> None:
    aside = Aside()
    try:
        lives = [aside.life]
        aside.do(int, "7")
        lives.append(aside.life)
        aside.do(int, "7")
        lives.append(aside.life)
        aside.rest(0.0)
        lives.append(aside.life)
        aside.do(int, "7")
        lives.append(aside.life)
    finally:
        aside.close()
    assert [life - lives[0] for life in lives] == [0, 0, 0, 1, 1]
    with pytest.raises(OutsideFailure, match="being closed"):
        aside.do(int, "7")


def test_after_a_step_that_fails_none_is_done_and_later_ones_can_be() -> None:
    ready, done = Readying(), list[object]()

    def fails(step: object) -> None:
        done.append(step)
        raise OutsideFailure("the work was ended by the system")

    ready.begin("lamp", [1, 2], fails)
    assert settled(done, 1) == [1]
    ready.begin("lamp", [1, 2], done.append)
    assert settled(done, 3) == [1, 1, 2]


def test_what_was_got_ready_sounds_as_it_would_have_and_is_not_made_again() -> None:
    craft, said = builtin_craft(), list[str]()
    routine = make_plan(demo_brief(), craft).routine
    assert routine is not None
    voice = BundledVoice()

    class Counted:
        def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
            said.append(text)
            return voice.speak(text)

    start = round(routine.start_seconds(routine.line[7]) * RATE)
    one = QuickHearing(routine, craft, RememberedVoice(Counted()))
    one.get_ready(start, 2 * RATE, words=True)
    assert said
    made = len(said)
    kept = (_rung, _glass, loop)
    for sounds in kept:
        sounds.cache_clear()  # other tests may have left theirs
    one.get_ready(start, 2 * RATE, words=False)
    ready = sum(sounds.cache_info().misses for sounds in kept)
    assert ready
    heard = one.block(start, 2 * RATE)
    assert len(said) == made
    assert sum(sounds.cache_info().misses for sounds in kept) == ready
    other = QuickHearing(routine, craft, RememberedVoice(voice))
    assert np.array_equal(heard, other.block(start, 2 * RATE))
    one.get_ready(round(routine.clock.total_seconds * RATE) + RATE, RATE, words=True)


def test_the_chosen_passage_is_got_ready_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = list[Any]()
    desk = Desk(studio=studio_with_demo(tmp_path), key=KEY)
    monkeypatch.setattr(desk.player, "do", lambda _, *args: asked.append(args))
    kept = desk.open("lamplight")
    line = kept.routine.line
    get_hearing_ready(desk, kept, line[5].id)
    settled(asked, 2 * len(line))
    starts = [round(kept.routine.start_seconds(p) * RATE) for p in (line[5], *line[:5])]
    assert [args[4] for args in asked[:12:2]] == starts
    assert [args[6] for args in asked[:4]] == [False, True, False, True]
