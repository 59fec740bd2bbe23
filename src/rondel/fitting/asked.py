"""What a teacher may ask of how takes are used, looked at before anything is fitted."""

from __future__ import annotations

from rondel.fitting.choosing import Limits
from rondel.model.errors import BadInput

#: How slow and how fast a teacher may allow film to be played, and how long a shot must last.
SPEEDS, LONGEST_SHORTEST = (0.1, 4.0), 60


def limits_asked(
    speeds: tuple[float, float],
    shortest_shot: float,
    *,
    mirrors: bool,
    shows_slips: bool,
    names: tuple[str, str],
) -> Limits:
    """Return the limits; BadInput, at one of `names` (of speeds, of the shot), for what cannot be.

    `speeds`: slowest and fastest, in shares of the speed when filmed. `shortest_shot`: seconds.
    """
    slowest, fastest = speeds
    if not (SPEEDS[0] <= slowest <= 1.0 <= fastest <= SPEEDS[1] and slowest < fastest):
        says = (
            "the slowest speed lies between 0.1 and 1, the fastest between 1 and 4, as in 0.6-1.4; "
            "they cannot be the same"
        )
        raise BadInput(says, at=names[0])
    if not 0 <= shortest_shot <= LONGEST_SHORTEST:
        raise BadInput("a shot may be asked to last 0 to 60 seconds", at=names[1])
    return Limits(
        slowest=slowest,
        fastest=fastest,
        shortest_shot=shortest_shot,
        mirrors=mirrors,
        shows_slips=shows_slips,
    )
