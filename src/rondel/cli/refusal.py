"""How a brief that no routine can meet is answered: why, and what could be loosened."""

from __future__ import annotations

from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.model.codec.outcome import refusal_to_dict
from rondel.model.finding import Loosening, Outcome

_TOGETHER = {2: "both changes", 3: "all three changes", 4: "all four changes"}


def say_why_not(outcome: Outcome, *, as_json: bool) -> int:
    """Print why there is no routine and what to loosen, and return the exit code."""
    if as_json:
        print_json(refusal_to_dict(outcome))
        return 1
    print("There is no routine for this brief yet.\n")
    print_list(outcome.reasons)
    if outcome.loosen:
        print()
        print_wrapped(_lead(outcome.loosen))
        for entry in outcome.loosen:
            print()
            print_list([entry.says])
            print_wrapped(" ".join(entry.costs), indent="      ")
    return 1


def _lead(loosen: tuple[Loosening, ...]) -> str:
    """Return what stands above the changes that were tried."""
    size = len(loosen[0].sentences)
    if size == 1 and len(loosen) == 1:
        return "This change to the brief gives a routine; it was tried:"
    if size == 1:
        return "Any one of these changes to the brief gives a routine; each was tried:"
    together = _TOGETHER.get(size, f"all {size} changes")
    if len(loosen) == 1:
        return f"No smaller step was found to be enough. With {together}, it gives a routine:"
    return (
        "No single change was found to be enough. Any one of these sets gives a routine, with "
        f"{together} made; each was tried:"
    )
