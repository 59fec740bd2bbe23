"""The answer to a brief that no routine can meet, as JSON data."""

from __future__ import annotations

from rondel.model.finding import Loosening, Outcome


def refusal_to_dict(outcome: Outcome) -> dict[str, object]:
    """Return an outcome without a routine. Each entry of `loosen`, all of its `changes` put into
    the brief (`wish` a key, `to` its new value, null to leave it out), gives a routine."""
    return {
        "routine": None,
        "reasons": list(outcome.reasons),
        "loosen": [_loosening_to_dict(entry) for entry in outcome.loosen],
    }


def _loosening_to_dict(entry: Loosening) -> dict[str, object]:
    return {
        "changes": [{"wish": change.wish, "to": change.to} for change in entry.changes],
        "says": entry.says,
        "costs": list(entry.costs),
    }
