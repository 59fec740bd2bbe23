"""How long one contact may work deep without a pause."""

from rondel.planner.frame import Frame
from rondel.rules.load import MAX_SECONDS


def most_bars(frame: Frame) -> int:
    """Return the most bars of deep work in a row for one contact.

    Strict: the whole deep run is held to it, whichever contacts it uses, since the rest that
    must follow is bound to the run.
    """
    return frame.at_most(MAX_SECONDS)
