"""What a routine asks of the giver's hands, held against published worked values.

RSI: Garg, Moore & Kapellusch 2017, Ergonomics 60:912–922; COSI: same authors, 60:1033–1041.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import write_routine
from rondel.cli.main import main
from rondel.drawing.figures.motion import hand_poses
from rondel.hands import saying, strain
from rondel.hands.load import hand_load
from rondel.hands.neighbours import neighbour_load
from rondel.hands.strain import Task, composite, index
from rondel.hands.work import EFFORT, Hand, hands_at_work, task_of
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Contact, Position, Role, Side

CRAFT = builtin_craft()


# --- the published formulas ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("found", "published"),
    [
        (strain.intensity(0.1), 1.574),
        (strain.intensity(0.4), 5.024),
        (strain.intensity(0.4 + 1e-9), 5.024),  # the other branch meets it
        (strain.intensity(1.0), 25.61),
        (strain.frequency(90), 22.60),
        (strain.duration(60), 19.05),
        (strain.day(8), 1.000),
        (strain.day(0.5), 0.436),
        (strain.posture(), 1.0),
    ],
)
def test_the_multipliers_have_the_published_values(found: float, published: float) -> None:
    assert found == pytest.approx(published, abs=0.0006)


def test_the_published_worked_example_of_one_task() -> None:
    task = Task(effort=0.2, per_minute=10, seconds=1.5, flexion=20)
    assert index(task, hours=8) == pytest.approx(7.697, abs=0.0006)


def test_the_published_worked_example_of_three_tasks() -> None:
    tasks = [
        Task(effort=0.7, per_minute=2, seconds=2),
        Task(effort=0.4, per_minute=3, seconds=1.5),
        Task(effort=0.2, per_minute=5, seconds=3),
    ]
    assert [index(t) for t in tasks] == pytest.approx([7.391, 3.908, 4.874], abs=0.003)
    assert composite(tasks) == pytest.approx(15.352, abs=0.003)


@pytest.mark.parametrize(
    ("multiplier", "joint"),
    [(strain.frequency, 90.0), (strain.duration, 60.0), (strain.intensity, 0.4)],
)
def test_the_branches_of_a_multiplier_meet(multiplier: object, joint: float) -> None:
    # The published tables round the second branch, so they meet to about one percent.
    below, above = multiplier(joint), multiplier(joint * (1 + 1e-9))  # type: ignore[operator]
    assert above == pytest.approx(below, rel=0.01)


@given(
    st.lists(
        st.builds(
            Task,
            effort=st.floats(0, 1),
            per_minute=st.floats(0.1, 15),
            seconds=st.floats(0.2, 60),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_several_tasks_weigh_at_least_as_much_as_the_heaviest(tasks: list[Task]) -> None:
    together = composite(tasks)
    assert together >= max(index(t) for t in tasks) - 1e-9
    assert together <= sum(index(t) for t in tasks) + 1e-9  # EM is straight up to 90 a minute
    assert composite(reversed(tasks)) == pytest.approx(together)


@pytest.mark.parametrize("wrong", [{"effort": 1.2}, {"per_minute": 0.0}, {"seconds": -1.0}])
def test_what_cannot_be_an_effort_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"must be|is a share"):
        Task(**{"effort": 0.2, "per_minute": 1.0, "seconds": 1.0, **wrong})


# --- from a routine ------------------------------------------------------------------------------


def passage(id: str, technique: str | None, start: int, side: Side, pressure: int) -> Passage:
    return Passage(
        id=id,
        technique=technique,
        role=Role.WORK if technique else Role.OPEN,
        side=side,
        position=Position.PRONE,
        start_bar=start,
        bars=12,
        pressure=pressure,
        beats_per_stroke=Fraction(2),
        first_landing_beat=Fraction(0),
    )


def routine(*rows: tuple[str | None, Side, int]) -> Routine:
    """Return twelve bars of four seconds, two seconds a stroke, for each row."""
    passages = tuple(
        passage(f"p{i:02d}", technique, 12 * i, side, pressure)
        for i, (technique, side, pressure) in enumerate(rows)
    )
    return Routine(
        title="Two Hands",
        seed=1,
        beats_per_bar=4,
        tempo=(Tempo(bar=0, bpm=Fraction(60)),),
        bars=12 * len(rows),
        passages=passages,
    )


def test_the_hands_at_work_are_those_that_the_figure_shows() -> None:
    for technique in CRAFT.techniques:
        sides = (Side.LEFT, Side.RIGHT) if technique.lateral else (Side.BOTH, Side.CENTRE)
        for position in technique.position:
            for side in sides:
                shown = hand_poses(technique, side, position, 0.1, 0.5)
                ours = hands_at_work(technique, side, position)
                assert len(ours) == len(shown), (technique.id, side)
                if side.is_one_sided and len(shown) == 1:
                    drawn = Hand.LEFT if shown[0].mirrored else Hand.RIGHT
                    assert ours == (drawn,), (technique.id, side, position)


def test_the_efforts_of_a_passage_worked_out_by_hand() -> None:
    # Warm Match: heels of both hands in rounds at 3, a stroke every 2 s: 30 a minute, 2 s each.
    # IM(.3) = .81 - 1.404 + 3.9 + .4 = 3.706; EM(30) = 7.6; DM(2) = 1.07; 8 h: HM = 1.0005.
    load = hand_load(routine(("warm-match", Side.BOTH, 3)), CRAFT)
    minutes = 12 * 4 / 60
    expected = 3.706 * 7.6 * 1.07 * strain.day(8) * minutes
    assert [p.contact for p in load.parts] == [Contact.HEEL, Contact.HEEL]
    assert [p.load for p in load.parts] == pytest.approx([expected] * 2)
    assert load.share(hand=Hand.LEFT) == pytest.approx(0.5)


def test_hand_after_hand_each_works_for_half_of_the_stroke() -> None:
    alternating = CRAFT.technique("sleepy-cat")
    task = task_of(alternating, Side.BOTH, 2, 2.0)
    assert (task.seconds, task.per_minute) == (1.0, 30.0)


def test_one_sided_work_falls_on_one_hand_and_its_pair_on_the_other() -> None:
    left = hand_load(routine(("slow-plough", Side.LEFT, 3)), CRAFT)
    assert {p.hand for p in left.parts} == {Hand.LEFT}
    both = hand_load(routine(("slow-plough", Side.LEFT, 3), ("slow-plough", Side.RIGHT, 3)), CRAFT)
    assert both.share(hand=Hand.LEFT) == pytest.approx(0.5)


def test_twice_as_long_in_the_same_way_is_twice_the_load() -> None:
    once = hand_load(routine(("warm-match", Side.BOTH, 3)), CRAFT)
    twice = hand_load(routine(("warm-match", Side.BOTH, 3), ("warm-match", Side.BOTH, 3)), CRAFT)
    assert twice.total == pytest.approx(2 * once.total)


def test_firmer_work_loads_more_and_shares_sum_to_one() -> None:
    totals = [hand_load(routine(("warm-match", Side.BOTH, p)), CRAFT).total for p in range(6)]
    assert totals == sorted(totals)
    assert list(EFFORT.values()) == sorted(EFFORT.values())
    mixed = hand_load(routine(("warm-match", Side.BOTH, 3), ("slow-river", Side.BOTH, 2)), CRAFT)
    assert sum(share for _, share in mixed.shares()) == pytest.approx(1)


def test_open_bars_and_unknown_techniques_are_said_to_be_missing() -> None:
    load = hand_load(routine((None, Side.BOTH, 2), ("nobody-knows", Side.BOTH, 2)), CRAFT)
    assert load.parts == ()
    assert load.unknown_minutes == pytest.approx(1.6)
    assert saying.in_words(load)[0].startswith("No hands")
    half = hand_load(routine((None, Side.BOTH, 2), ("warm-match", Side.BOTH, 3)), CRAFT)
    assert "48 seconds" in saying.in_words(half)[-1]


# --- neighbours ----------------------------------------------------------------------------------


def test_neighbours_load_each_other_from_nothing_to_fully() -> None:
    techniques = CRAFT.techniques
    for one in techniques:
        for two in techniques:
            load = neighbour_load(one, two)
            assert 0 <= load <= 1
            assert load == neighbour_load(two, one)
    heel, forearm = CRAFT.technique("warm-match"), CRAFT.technique("slow-plough")
    assert neighbour_load(heel, forearm) == 0
    light, firm = CRAFT.technique("wide-wings"), CRAFT.technique("bread-shoulders")
    kneads = CRAFT.technique("big-dough")
    assert neighbour_load(firm, light) < neighbour_load(firm, kneads)
    assert neighbour_load(firm, kneads) > 0.5
    assert 0 < neighbour_load(firm, heel) < neighbour_load(firm, firm)  # palm and its heel


# --- what is printed -----------------------------------------------------------------------------


def test_only_shares_and_comparisons_are_told_with_the_caution(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = routine(("warm-match", Side.BOTH, 3), ("snail-trail", Side.LEFT, 3))
    two = routine(("warm-match", Side.BOTH, 3), ("slow-river", Side.BOTH, 1))
    for name, which in (("one.json", one), ("two.json", two)):
        write_routine(tmp_path / name, which)
    assert main(["hands", str(tmp_path / "one.json")]) == 0
    alone = capsys.readouterr().out
    assert main(["hands", str(tmp_path / "one.json"), str(tmp_path / "two.json")]) == 0
    beside = capsys.readouterr().out
    for printed in (alone, beside):
        flat = " ".join(printed.split())
        assert all(sentence in flat for sentence in saying.ABOUT)
        lowered = flat.lower()
        assert not any(word in lowered for word in ("danger", "risk", "limit", "healthy", "index"))
    share = hand_load(one, CRAFT).share(contact=Contact.THUMB)
    told = f"Thumbs carry {round(100 * share)} percent of what your hands do here; with the other"
    assert told in " ".join(beside.split())
    assert "routine 0 percent" in " ".join(beside.split())


def test_json_gives_shares_and_no_sums(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_routine(tmp_path / "one.json", routine(("warm-match", Side.BOTH, 3)))
    assert main(["hands", str(tmp_path / "one.json"), "--json"]) == 0
    (told,) = json.loads(capsys.readouterr().out)
    assert told["contacts"] == {"heel": 1.0}
    assert {row["share"] for row in told["hands"]} == {0.5}
    assert "load" not in told["hands"][0]
