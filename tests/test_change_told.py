"""Second thoughts told: what moved in few sentences, and the command."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from change_samples import (
    CRAFT,
    broken,
    changed,
    lamplight,
    planned,
    work,
)
from rondel.adapters.studio_files import write_routine
from rondel.cli.main import main
from rondel.model.brief import Brief, Keep
from rondel.model.codec.routine import routine_from_dict
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import Intention, Role, Side
from rondel.planner.edits import Free, LeaveOpen, Lengthen, Move
from rondel.planner.groups import groups_of
from rondel.planner.moved import Asked, what_moved


def test_nothing_moved_between_a_routine_and_itself() -> None:
    assert what_moved(lamplight(), lamplight(), CRAFT) == ("Nothing moved.",)


def hand_made(*rows: tuple[str, Side, int, int, Role]) -> Routine:
    """Passages of (technique, side, pressure, bars, role), of four seconds a bar."""
    found: list[Passage] = []
    at = 0
    like = lamplight().line[0]
    for number, (technique, side, pressure, bars, role) in enumerate(rows, start=1):
        found.append(
            replace(
                like,
                id=f"p{number:02d}",
                technique=technique,
                side=side,
                pressure=pressure,
                bars=bars,
                role=role,
                start_bar=at,
            )
        )
        at += bars
    return replace(lamplight(), passages=tuple(found), bars=at, cues=())


HOME = ("long-scarf", Side.BOTH, 1, 8, Role.REFRAIN)
PLUM = ("plum-press", Side.LEFT, 2, 12, Role.WORK), ("plum-press", Side.RIGHT, 2, 12, Role.WORK)
CAT = ("sleepy-cat", Side.BOTH, 3, 12, Role.WORK)
END = ("ribbon-fall", Side.BOTH, 1, 12, Role.CLOSE)


def test_pairs_count_as_one_and_neighbours_that_moved_alike_are_told_together() -> None:
    old = hand_made(HOME, *PLUM, HOME, CAT, END)
    longer = [(t, s, p, 14, r) for t, s, p, _, r in PLUM]
    new = hand_made(HOME, *longer, HOME, (*CAT[:3], 8, Role.WORK), END)
    # Plum Press takes two bars more on each side, eight seconds; Sleepy Cat gives four bars.
    assert what_moved(old, new, CRAFT) == (
        "The refrain and then Sleepy Cat start 16 seconds later.",
        "Plum Press lasts 56 seconds on each side instead of 48.",
        "Sleepy Cat lasts 32 seconds instead of 48.",
    )


def test_what_is_gone_and_new_is_named_with_its_time() -> None:
    old = hand_made(HOME, *PLUM, HOME, CAT, END)
    bellows = ("bellows", Side.CENTRE, 2, 12, Role.WORK)
    new = hand_made(HOME, *PLUM, HOME, bellows, END)
    assert what_moved(old, new, CRAFT) == (
        "Sleepy Cat at 2:40 is gone.",
        "Bellows at 2:40 is new.",
    )


def test_sides_and_pressure_are_told() -> None:
    old = hand_made(HOME, *PLUM, HOME, CAT, END)
    new = hand_made(HOME, *PLUM[::-1], HOME, (*CAT[:2], 2, 12, Role.WORK), END)
    assert what_moved(old, new, CRAFT) == (
        "Plum Press begins on their right.",
        "Sleepy Cat is done at pressure 2 instead of 3.",
    )


def test_a_return_of_the_refrain_that_moved_far_is_told() -> None:
    rest = (*PLUM, CAT, ("bellows", Side.CENTRE, 2, 12, Role.WORK))
    old = hand_made(HOME, *PLUM, HOME, *rest[2:], END)
    assert what_moved(old, hand_made(HOME, *rest, HOME, END), CRAFT) == (
        "Sleepy Cat and then Bellows start 32 seconds earlier.",
        "The refrain starts 96 seconds later, at 3:44.",
    )


def test_a_rest_that_stays_as_work_is_neither_new_nor_gone() -> None:
    deep = ("plum-press", Side.BOTH, 4, 12, Role.WORK)
    rest = ("snow-slide", Side.BOTH, 2, 6, Role.REST)
    old = hand_made(HOME, deep, rest, HOME, CAT, END)
    alone = (*rest[:4], Role.WORK)
    new = hand_made(HOME, (*deep[:2], 3, *deep[3:]), alone, HOME, CAT, END)
    assert what_moved(old, new, CRAFT) == (
        "Snow Slide at 1:20 is no longer a rest.",
        "Plum Press no longer needs its rest.",
        "Plum Press is done at pressure 3 instead of 4.",
    )
    assert what_moved(new, old, CRAFT) == (
        "Snow Slide at 1:20 is now a rest.",
        "The rest after Plum Press lasts 24 seconds.",
        "Plum Press is done at pressure 4 instead of 3.",
    )


def test_another_rest_is_told_and_the_hands_of_the_peak_once() -> None:
    deep = ("plum-press", Side.BOTH, 4, 12, Role.PEAK)
    rest, other = ("snow-slide", Side.BOTH, 2, 6), ("bread-shoulders", Side.BOTH, 2, 6)
    old = hand_made(HOME, deep, (*rest, Role.REST), HOME, CAT, END)
    new = hand_made(HOME, deep, (*other, Role.REST), HOME, CAT, END)
    assert what_moved(old, new, CRAFT) == ("The rest after Plum Press is now Bread Shoulders.",)
    cats = [(*CAT[:4], Role.PEAK), ("heel-steps", Side.BOTH, 3, 12, Role.WORK)]
    twice = hand_made(HOME, cats[0], cats[1], cats[0], HOME, END)
    assert "The peak is now Sleepy Cat." in what_moved(old, twice, CRAFT)


def test_what_takes_a_place_a_little_off_is_told_with_its_time() -> None:
    old = hand_made(HOME, *PLUM, HOME, CAT, END)
    bellows = ("bellows", Side.CENTRE, 2, 13, Role.WORK)
    longer = hand_made(HOME, *PLUM, (*HOME[:3], 7, Role.REFRAIN), bellows, END)
    asked = Asked(old_bar=40, new_bar=39, aspects=frozenset())
    assert "Bellows starts at 2:36, 4 seconds earlier than what stood there." in what_moved(
        old, longer, CRAFT, asked
    )


def test_another_refrain_is_told_once() -> None:
    old = hand_made(HOME, *PLUM, HOME, CAT, END)
    scarf = ("winter-coat", Side.BOTH, 1, 8, Role.REFRAIN)
    new = hand_made(scarf, *PLUM, scarf, CAT, END)
    assert what_moved(old, new, CRAFT) == (
        "Each return of the refrain is now Winter Coat for 32 seconds.",
    )


def test_many_small_changes_are_told_in_a_sentence_each() -> None:
    ids = ("plum-press", "sleepy-cat", "bellows", "kitten-scruff", "cloud-line")
    work_ = [(id, Side.BOTH, 2, 12, Role.WORK) for id in ids]
    # Every other one takes a bar of four seconds from the one before it.
    bars = (11, 13, 11, 13, 12)
    other = [(*row[:3], n, row[4]) for row, n in zip(work_, bars, strict=True)]
    moved = what_moved(hand_made(HOME, *work_, END), hand_made(HOME, *other, END), CRAFT)
    assert moved == (
        "Sleepy Cat starts 4 seconds earlier, at 1:16.",
        "Kitten Scruff starts 4 seconds earlier, at 2:52.",
        "Plum Press, Sleepy Cat, Bellows and Kitten Scruff last up to 4 seconds longer or less "
        "long.",
    )


def test_deep_work_and_its_rest_are_one_group() -> None:
    deep = (
        ("plum-press", Side.LEFT, 4, 8, Role.PEAK),
        ("snow-slide", Side.LEFT, 2, 4, Role.REST),
        ("plum-press", Side.RIGHT, 4, 8, Role.PEAK),
        ("snow-slide", Side.RIGHT, 2, 4, Role.REST),
    )
    groups = groups_of(hand_made(HOME, *deep, HOME, END), CRAFT)
    assert [len(g.passages) for g in groups] == [1, 4, 1, 1]
    assert groups[1].is_pair
    assert (groups[1].work_bars, groups[1].rest_bars) == (8, 4)


def test_bars_filled_again_are_told_as_new_and_the_refrain_stands_where_it_stood() -> None:
    was = work(lamplight(), lateral=False)
    opened, _ = changed(LeaveOpen(passage=was.id))
    free = next(p for p in opened.line if p.is_open)
    filled, answer = changed(Free(passage=free.id), opened)
    starts = [[p.start_bar for p in r.line if p.role is Role.REFRAIN] for r in (opened, filled)]
    assert starts[0] == starts[1]
    there = [g for g in groups_of(filled, CRAFT) if g.start_bar == free.start_bar]
    name = CRAFT.technique(there[0].first.technique or "").plain
    at = as_minutes(filled.start_seconds(there[0].first))
    assert answer.moved == (f"{name} at {at} is new.",)


def test_a_time_asked_for_that_gives_way_to_another_length_is_told() -> None:
    asked = Keep(technique="snow-slide", at_seconds=Fraction(600), minutes=Fraction(1))
    deep = Keep(technique="plum-press", at_seconds=Fraction(420), side=Side.RIGHT, pressure=4)
    brief = Brief(title="Kept", minutes=Fraction(12), intention=Intention.SETTLE, level=2)
    routine = planned(replace(brief, keep=(deep, asked)))
    was = next(p for p in routine.line if p.technique == "snow-slide" and p.kept)
    new, answer = changed(Lengthen(passage=was.id, seconds=Fraction(32)), routine)
    now = next(p for p in new.line if p.technique == "snow-slide" and p.kept)
    start = as_minutes(new.start_seconds(now))
    assert start != as_minutes(routine.start_seconds(was))  # else nothing gave way
    assert answer.moved[0] == (
        f"You had asked for Snow Slide at 10:00. That gave way: it is insisted on at {start} "
        "from now on."
    )
    # What was asked for is not told, and what was never asked for does not give way.
    _, told_so = changed(Move(passage=was.id, to_seconds=Fraction(560)), routine)
    assert "gave way" not in " ".join(told_so.moved)
    plain = work(lamplight(), lateral=False)
    _, told_so = changed(Lengthen(passage=plain.id), lamplight())
    assert "gave way" not in " ".join(told_so.moved)


# --- the command


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "routine.json"
    write_routine(path, lamplight())
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = main(["change", *(str(w) for w in words)])
    return code, *capsys.readouterr()


def test_the_command_writes_where_it_is_told_and_says_what_moved(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    was, before = work(lamplight(), lateral=True), file.read_bytes()
    out = file.with_name("other.json")
    code, printed, _ = told(capsys, file, "side", was.id, "--out", out)
    assert code == 0
    assert "Nothing else moved." in printed
    assert file.read_bytes() == before
    assert broken(routine_from_dict(json.loads(out.read_text("utf-8")))) == []


def test_a_passage_may_be_named_by_a_time_within_it(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    was = work(lamplight(), lateral=True)
    middle = round(lamplight().start_seconds(was)) + 20
    word = f"{middle // 60}:{middle % 60:02d}"
    _, by_time, _ = told(capsys, file, "side", word, "--json")
    _, by_id, _ = told(capsys, file, "side", was.id, "--json")
    assert json.loads(by_time) == json.loads(by_id)
    assert json.loads(by_id)["changed_bars"] == 0


def test_a_technique_may_be_named_as_it_is_called(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    was = work(lamplight(), lateral=False)
    technique = CRAFT.technique("snow-slide")
    words = ("snow-slide", "Snow Slide", "snow  slide", technique.anatomical)
    answers = [told(capsys, file, "swap", was.id, word, "--json") for word in words]
    assert {code for code, _, _ in answers} == {0}
    assert len({printed for _, printed, _ in answers}) == 1
    code, printed, _ = told(capsys, file, "swap", was.id, "Snow Slyde")
    assert code == 1
    assert 'Did you mean "snow-slide"?' in " ".join(printed.split())


def test_a_change_that_cannot_be_writes_nothing(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = file.with_name("other.json")
    code, printed, _ = told(capsys, file, "pressure", "p99", "3", "--out", out, "--json")
    assert code == 1
    assert json.loads(printed)["routine"] is None
    assert "p99" in json.loads(printed)["reasons"][0]
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("move", "p05"), "when to start"),
        (("move", "p05", "soon"), "as in 9:30"),
        (("lengthen", "p05", "3x"), "a number of seconds"),
        (("pressure", "p05", "7"), "one of 0, 1, 2, 3, 4, 5"),
        (("side", "p05", "up"), "one of left, right"),
        (("keep", "p05", "it"), "nothing is to follow"),
        (("open", "99:00"), "the routine ends at 15:00"),
    ],
)
def test_words_that_cannot_be_used_are_named(
    file: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str
) -> None:
    code, _, complained = told(capsys, file, *words)
    assert code == 2
    assert says in complained


def test_returns_are_told_in_their_order() -> None:
    """The first return now stands nearer to where the second did; it is the first all the same."""
    bellows = ("bellows", Side.CENTRE, 2, 12, Role.WORK)
    snow = ("snow-slide", Side.BOTH, 2, 12, Role.WORK)
    old = hand_made(HOME, *PLUM, CAT, bellows, HOME, snow, END)
    new = hand_made(*PLUM, CAT, bellows, HOME, snow, HOME, END)
    starts = [[as_minutes(r.start_seconds(row[0])) for row in r.refrains] for r in (old, new)]
    assert starts == [["0:00", "3:44"], ["3:12", "4:32"]]
    said = what_moved(old, new, CRAFT)
    assert "The refrain starts 3:12 minutes later, at 3:12." in said
    assert "The refrain starts 48 seconds later, at 4:32." in said
