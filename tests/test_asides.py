"""The processes beside the desk: what is under way is given when asked again; an end is quiet."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from rondel.desk.asides import Aside
from rondel.model.errors import OutsideFailure


@pytest.fixture
def aside() -> Iterator[Aside]:
    found = Aside()
    yield found
    found.close()


def test_what_takes_long_is_given_when_it_is_asked_for_again(aside: Aside) -> None:
    aside.do(abs, -1)  # awake
    assert aside.within(0.01, "a", time.sleep, 0.3) is None
    began = time.perf_counter()
    assert aside.within(0.01, "b", abs, -5) is None  # the process is at work on the other
    assert time.perf_counter() - began < 0.2
    assert aside.do(abs, -3) == 3
    assert aside.within(1.0, "a", abs, -7) is None  # the sleep's own answer, not another's
    assert aside.within(5.0, "c", abs, -9) == 9


def test_a_closed_one_begins_nothing_and_says_so(aside: Aside) -> None:
    aside.close()
    with pytest.raises(OutsideFailure, match="closed"):
        aside.do(abs, -1)
