"""What a worker does for a routine's other ways: quite different plans, and plans for levels."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from rondel.app.progress import Progress


def plan_others(order: Mapping[str, object], progress: Progress) -> Mapping[str, object]:
    """Plan quite different routines from the brief of one; tell each with how it compares."""
    from rondel.adapters.routine_shelf import Shelf
    from rondel.adapters.studio_files import craft_for
    from rondel.app.make_plan import make_others, percent_further, percent_shared
    from rondel.model.codec.routine import routine_to_dict

    studio = Path(str(order["studio"]))
    routine = Shelf(studio).routine_at(str(order["slug"]), str(order["version"]))
    craft = craft_for(studio)
    assert routine.brief is not None
    count = int(str(order["count"]))
    found = make_others(routine.brief, craft, routine, count=count, progress=progress)
    ways = [
        {
            "routine": routine_to_dict(other),
            "shared": percent_shared(routine, other),
            "further": percent_further(routine, other, craft),
        }
        for other in found
    ]
    return {"ways": ways}


def plan_levels(order: Mapping[str, object], progress: Progress) -> Mapping[str, object]:
    """Plan the brief of a routine for several levels; keep each as a routine of its own, but for
    those that are there just so, and tell where it is, what differs, and why a level has none."""
    from rondel.adapters.routine_shelf import Shelf
    from rondel.adapters.studio_files import craft_for
    from rondel.app.make_levels import ALONE, make_levels, step_says, unmet_says

    studio, slug = Path(str(order["studio"])), str(order["slug"])
    shelf, craft = Shelf(studio), craft_for(studio)
    routine = shelf.routine_at(slug, str(order["version"]))
    levels = order["levels"]
    assert routine.brief is not None
    assert isinstance(levels, list)
    found = make_levels(routine.brief, craft, levels, progress=progress)
    rows: list[dict[str, object]] = []
    for member in found.members:
        planned = member.outcome.routine
        if planned is None:
            unmet = [unmet_says(member), *member.outcome.reasons]
            rows.append({"level": member.level, "slug": "", "says": unmet})
        else:
            there = shelf.just_so(slug, planned)
            where = there or shelf.add_beside(slug, planned, str(order["says"])).slug
            says = list(member.says)
            rows.append(
                {"level": member.level, "slug": where, "says": says, "was_there": bool(there)}
            )
    steps = [list(step_says(step, craft)) for step in found.steps]
    is_none = all(not row["slug"] for row in rows) and len(levels) > 1
    return {"levels": rows, "steps": steps, "alone": ALONE if is_none else ""}
