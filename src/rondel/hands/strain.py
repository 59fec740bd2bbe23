"""The Revised Strain Index and its sum over several tasks, as published.

Garg, Moore & Kapellusch, "The Revised Strain Index", Ergonomics 60 (2017), 912–922, and, for
several tasks of one hand (COSI), the same authors, Ergonomics 60 (2017), 1033–1041. Both are
occupational indices. Rondel uses them to compare one choice with another, and for nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

FULL_DAY_HOURS = 8.0  # where the multiplier of hours is 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Efforts of one kind: `effort` as a share (0 to 1) of the strongest that one can do,
    `per_minute` how many, `seconds` how long each lasts, degrees of the bent wrist."""

    effort: float
    per_minute: float
    seconds: float
    flexion: float = 0.0
    extension: float = 0.0

    def __post_init__(self) -> None:
        checks = (
            (0 <= self.effort <= 1, "an effort is a share from 0 to 1"),
            (self.per_minute > 0, "efforts a minute must be above 0"),
            (self.seconds > 0, "the seconds of an effort must be above 0"),
            (min(self.flexion, self.extension) == 0, "a wrist is bent one way only, by degrees"),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)


def intensity(effort: float) -> float:
    """Return the multiplier of an effort, a share from 0 to 1 of the strongest."""
    if effort <= 0.4:
        return 30 * effort**3 - 15.6 * effort**2 + 13 * effort + 0.4
    return 36 * effort**3 - 33.3 * effort**2 + 24.77 * effort - 1.86


def frequency(per_minute: float) -> float:
    """Return the multiplier of efforts a minute."""
    if per_minute <= 90:
        return 0.10 + 0.25 * per_minute
    return float(0.00334 * per_minute**1.96)


def duration(seconds: float) -> float:
    """Return the multiplier of the seconds that one effort lasts."""
    if seconds <= 60:
        return 0.45 + 0.31 * seconds
    return 19.17 * math.log(seconds) - 59.44


def posture(flexion: float = 0.0, extension: float = 0.0) -> float:
    """Return the multiplier of a wrist bent by degrees: towards the palm, or towards the back."""
    if flexion > 0:
        return 1.2 * math.exp(0.009 * flexion) - 0.2
    return 1.0 if extension <= 30 else 1 + 0.00028 * (extension - 30) ** 2


def day(hours: float) -> float:
    """Return the multiplier of the hours a day that the task is done."""
    return 0.20 if hours <= 0.05 else 0.042 * hours + 0.090 * math.log(hours) + 0.477


def index(task: Task, hours: float = FULL_DAY_HOURS) -> float:
    """Return the Revised Strain Index of one task: the product of its five multipliers."""
    return frequency(task.per_minute) * _without_frequency(task, hours)


def _without_frequency(task: Task, hours: float) -> float:
    return (
        intensity(task.effort)
        * duration(task.seconds)
        * posture(task.flexion, task.extension)
        * day(hours)
    )


def composite(tasks: Iterable[Task], hours: float = FULL_DAY_HOURS) -> float:
    """Return the COSI of tasks that one hand does by turns; 0 where there are none.

    The heaviest counts in full; each next one adds what its efforts cost on top of those that were
    counted before. Efforts a minute are those over the time of all tasks together.
    """
    total = done = 0.0
    for task in sorted(tasks, key=lambda t: (-index(t, hours), t.per_minute)):
        before = frequency(done) if done else 0.0
        done += task.per_minute
        total += _without_frequency(task, hours) * (frequency(done) - before)
    return total
