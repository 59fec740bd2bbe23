"""names.json: names tried on people, as counts and as preferences between two."""

from __future__ import annotations

from rondel.model.codec.fields import Fields
from rondel.model.name_trials import Count, Duel, NameTrials

VERSION = 1


def trials_from_dict(data: object, *, at: str) -> NameTrials:
    """Return what a names.json holds; BadInput naming file and key where it will not do."""
    f = Fields(data, at=at)
    f.whole("rondel_names", VERSION, low=1, high=VERSION)
    found = NameTrials(
        counts=tuple(_count(row) for row in f.tables("counts")),
        duels=tuple(_duel(row) for row in f.tables("duels")),
    )
    f.refuse_others()
    return found


def _count(f: Fields) -> Count:
    def maybe(key: str) -> int | None:
        return None if f.raw(key) is None else f.whole(key)

    count = f.build(
        lambda: Count(
            technique=f.text("technique"),
            audience=f.text("audience"),
            name=f.text("name"),
            shown=f.whole("shown"),
            laughed=maybe("laughed"),
            remembered=maybe("remembered"),
        )
    )
    f.refuse_others()
    return count


def _duel(f: Fields) -> Duel:
    duel = f.build(
        lambda: Duel(
            technique=f.text("technique"),
            audience=f.text("audience"),
            one=f.text("one"),
            other=f.text("other"),
            preferred=f.whole("preferred"),
            of=f.whole("of"),
        )
    )
    f.refuse_others()
    return duel


def count_from_dict(data: object, *, at: str) -> Count:
    """Return one showing; BadInput in a sentence where it cannot have been so."""
    return _count(Fields(data, at=at))


def duel_from_dict(data: object, *, at: str) -> Duel:
    """Return one comparison of two names; BadInput in a sentence where it cannot have been so."""
    return _duel(Fields(data, at=at))


def trials_to_dict(trials: NameTrials) -> dict[str, object]:
    """Return `trials` as names.json holds it; what was not counted is left out."""
    return {
        "rondel_names": VERSION,
        "counts": [count_to_dict(c) for c in trials.counts],
        "duels": [duel_to_dict(d) for d in trials.duels],
    }


def count_to_dict(c: Count) -> dict[str, object]:
    """Return one showing as names.json holds it."""
    row: dict[str, object] = {
        "technique": c.technique, "audience": c.audience, "name": c.name, "shown": c.shown,
        "laughed": c.laughed, "remembered": c.remembered,
    }  # fmt: skip
    return {k: v for k, v in row.items() if v is not None}


def duel_to_dict(d: Duel) -> dict[str, object]:
    """Return one comparison of two names as names.json holds it."""
    return {
        "technique": d.technique, "audience": d.audience, "one": d.one, "other": d.other,
        "preferred": d.preferred, "of": d.of,
    }  # fmt: skip
