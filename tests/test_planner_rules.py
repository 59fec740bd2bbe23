"""Every rule's constraint on literal numbers: holds, at the edge, broken."""

from __future__ import annotations

import importlib
from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.model.brief import Brief, Keep
from rondel.model.words import Contact, Family, Intention, Position, Side
from rondel.planner.constraints import (
    avoid,
    cautions,
    close,
    contact_kept,
    curve,
    filler,
    focus,
    keep,
    length,
    level,
    limits,
    load,
    opening,
    peak,
    positions,
    range,
    reach,
    refrain_same,
    refrain_spacing,
    repeat,
    rest,
    rhythm,
    rise,
    sides,
    small_areas,
    spare,
    speed,
    strokes,
    warm,
)
from rondel.planner.constraints import open as open_bars
from rondel.planner.curves import shape_of
from rondel.planner.frame import frame_of, usual_refrains
from rondel.rules.book import RULES


def brief(**wishes: object) -> Brief:
    wished: dict[str, object] = {
        "title": "Case",
        "minutes": Fraction(15),
        "intention": Intention.SETTLE,
        "level": 2,
    }
    return Brief(**(wished | wishes))  # type: ignore[arg-type]


FRAME = frame_of(brief())  # 60 beats a minute: bars of 4 s, 225 of them
CRAFT = builtin_craft()


@pytest.mark.parametrize("rule", [r.id for r in RULES])
def test_every_rule_has_a_constraint(rule: str) -> None:
    assert importlib.import_module(f"rondel.planner.constraints.{rule}").__doc__


@pytest.mark.parametrize(
    ("minutes", "bpm", "bars", "exact"),
    [
        ("15", None, 225, Fraction(60)),
        ("3.1", None, 46, Fraction(184 * 10, 31)),  # 46.5 bars: 46 or 47 is a nudge of 1.1 %
        ("15", 53, 199, Fraction(53)),
    ],
)
def test_length_fills_the_minutes(
    minutes: str, bpm: int | None, bars: int, exact: Fraction
) -> None:
    wished = brief(minutes=Fraction(minutes), bpm=None if bpm is None else Fraction(bpm))
    found_bars, found_bpm = length.bars_and_bpm(wished)
    if minutes == "3.1":
        assert found_bars in (46, 47)
        assert abs(float(found_bpm) / 60 - 1) <= 0.015
        # The tempo is written to a millionth of a beat.
        assert abs(found_bars * 4 * 60 / found_bpm - 186) < Fraction(1, 10_000)
    else:
        assert (found_bars, found_bpm) == (bars, exact)


def test_strokes_are_whole_beats_or_half_a_beat_and_fill_the_passage() -> None:
    popcorn = CRAFT.technique("popcorn")  # 0.4 to 1.2 s: half a beat or one at 60
    assert strokes.choices(popcorn, FRAME, 8) == (Fraction(1, 2), Fraction(1))
    wings = CRAFT.technique("wide-wings")  # 10.5 to 24 s; 8 bars are 32 beats: 16 alone divides
    assert strokes.choices(wings, FRAME, 8) == (Fraction(16),)
    hold = CRAFT.technique("resting-bridge")  # one stroke as long as itself
    assert strokes.choices(hold, FRAME, 9) == (Fraction(36),)
    assert strokes.choices(hold, FRAME, 1) == ()  # 4 s, and it is taught from 6 s


def test_the_first_landing_of_a_turning_stroke_is_half_way() -> None:
    assert strokes.first_landing(CRAFT.technique("wide-wings"), Fraction(16)) == 8
    assert strokes.first_landing(CRAFT.technique("popcorn"), Fraction(1, 2)) == 0


def test_range_is_cut_at_the_cap() -> None:
    lean = CRAFT.technique("anchor-lean")
    assert range.pressures(lean, 3) == (2, 3)
    assert range.positions(lean, (Position.SIDE,)) == ()


def test_opening_is_ninety_seconds_of_light_glides_and_holds() -> None:
    assert opening.first_free_bar(FRAME) == 23  # bar 22 begins at 88 s
    assert opening.first_free_bar(frame_of(brief(minutes=Fraction(3)))) == 12  # 45 s, s = 1/2
    assert opening.allows(Family.GLIDING, 2)
    assert not opening.allows(Family.GLIDING, 3)
    assert not opening.allows(Family.PRESSING, 1)


def test_close_is_sixty_seconds_at_two_or_less() -> None:
    assert close.last_free_bar(FRAME) == 210  # 225 − 15
    assert not close.allows(3)
    assert close.may_end(Family.EMBRACE, 1)
    assert not close.may_end(Family.KNEADING, 1)


def test_refrain_is_light_and_has_a_hold_or_an_embrace() -> None:
    assert refrain_same.allows(2)
    assert not refrain_same.allows(3)
    assert refrain_same.is_home((CRAFT.technique("winter-coat"),))
    assert not refrain_same.is_home((CRAFT.technique("wide-wings"),))


def test_refrain_spacing_of_four_returns_in_a_quarter_of_an_hour() -> None:
    # g = 180 s: at least min(45, 60) s, which are 12 bars; at most 324 s, which are 81 bars.
    assert refrain_spacing.gaps(FRAME) == (12, 81)
    spacing = refrain_spacing.spacing(FRAME, length=12, least_tail=8)
    assert spacing.may_start(60, 1, 48)
    assert not spacing.may_start(59, 1, 48)
    assert not spacing.may_start(48 + 82, 1, 48)
    assert spacing.latest_start(3, 100) == 181  # the lesser of 181 and 225 − 8 − 12


def test_spacing_of_short_forms_takes_a_third_of_g() -> None:
    # 3 minutes, 5 returns: g = 30 s; a third is 10 s, less than 22.5 s: 3 bars of 4 s.
    assert refrain_spacing.gaps(frame_of(brief(minutes=Fraction(3), refrains=5)))[0] == 3


def test_lateral_work_is_a_pair() -> None:
    assert sides.sides(CRAFT.technique("plum-press"), CRAFT) == (Side.LEFT, Side.RIGHT)
    assert sides.sides(CRAFT.technique("anchor-lean"), CRAFT) == (Side.BOTH,)
    assert sides.sides(CRAFT.technique("bellows"), CRAFT) == (Side.CENTRE,)


def test_warming_needs_sixty_seconds_at_one_to_three() -> None:
    assert warm.need_bars(FRAME) == 15
    assert [warm.warms(p) for p in (0, 1, 3, 4)] == [False, True, True, False]


def test_pressure_rises_by_one_and_a_still_hold_counts_one() -> None:
    assert rise.counted(0) == 1
    assert rise.counted(None) == 2
    assert rise.may_follow(3, 4)
    assert not rise.may_follow(2, 4)
    assert rise.may_follow(1, 2)


def test_rest_lasts_half_as_long_as_the_deep_run() -> None:
    assert rest.least_bars(12) == 6
    assert rest.least_bars(13) == 7
    assert not rest.allows(3)


def test_the_peak_lies_between_55_and_85_percent_and_lasts_four_minutes_at_most() -> None:
    summit = peak.summit(FRAME, 4)
    assert summit.most_bars == 60
    assert summit.is_placed(104, 40)  # middle 124 of 225: 55.1 %
    assert not summit.is_placed(103, 40)  # 54.7 %
    assert summit.is_placed(171, 40)  # 84.9 %
    assert not summit.is_placed(172, 40)  # 85.3 %
    assert peak.summit(frame_of(brief(minutes=Fraction(60))), 4).most_bars == 150  # a sixth
    assert (summit.outside, peak.summit(FRAME, 3).outside) == (3, 3)


def test_level_allows_one_stretch_of_two_levels_in_the_last_third() -> None:
    slope = CRAFT.technique("glacier-slope")  # level 4
    assert not level.allows(slope, brief())
    assert level.may_stretch(slope, brief())
    assert not level.may_stretch(slope, brief(level=1))
    assert not level.may_stretch(slope, brief(stretch=False))
    assert level.first_stretch_bar(FRAME) == 150


def test_spare_and_avoid_take_techniques_away() -> None:
    assert not spare.allows(CRAFT.technique("palm-garden"), brief(spare=(Contact.THUMB,)))
    wished = brief(avoid_regions=("lower_back",))
    assert not avoid.allows(CRAFT.technique("wide-wings"), wished, CRAFT)  # passes over it
    assert avoid.allows(CRAFT.technique("anchor-lean"), wished, CRAFT)


def test_limits_are_the_least_of_region_level_and_cautions() -> None:
    lean = CRAFT.technique("anchor-lean")
    assert limits.cap(lean, brief(), CRAFT) == 4
    assert limits.cap(lean, brief(level=1), CRAFT) == 3
    assert limits.cap(lean, brief(level=5, trained=True), CRAFT) == 5
    assert limits.cap(lean, brief(cautions=("numbness",)), CRAFT) == 2


def test_cautions_forbid_regions_families_and_positions() -> None:
    veins = brief(cautions=("varicose_veins",))
    assert not cautions.allows(CRAFT.technique("birch-bark"), veins, CRAFT)
    expecting = brief(cautions=("pregnancy",))
    assert not cautions.allows_position(Position.PRONE, expecting, CRAFT)
    assert cautions.allows_position(Position.SIDE, expecting, CRAFT)


def test_hands_reach_neighbours_and_an_embrace_frees_them() -> None:
    assert reach.frees(CRAFT.technique("winter-coat"), 1)
    assert reach.frees(CRAFT.technique("resting-bridge"), 0)
    assert not reach.frees(CRAFT.technique("resting-bridge"), 1)
    assert reach.frees(None, 0)


@pytest.mark.parametrize(("minutes", "changes"), [(15, 1), (20, 1), (34, 1), (35, 2), (50, 3)])
def test_changes_of_position(minutes: int, changes: int) -> None:
    assert positions.most_changes(Fraction(minutes)) == changes
    assert positions.least_bars(FRAME) == 3


def test_a_keep_starts_within_one_bar() -> None:
    wanted = Keep(technique="slow-plough", at_seconds=Fraction(570), minutes=Fraction(1))
    assert keep.start_window(wanted, FRAME) == (142, 143)  # bar 142.5
    assert keep.bars_window(wanted, FRAME) == (14, 16)


def test_open_minutes_are_cut_into_even_pieces() -> None:
    frame = frame_of(brief(open_minutes=Fraction(3)))
    assert open_bars.total_bars(frame) == 45
    assert open_bars.chunks(frame, 1) == (45,)
    assert open_bars.chunks(frame, 2) == (20, 25)
    assert open_bars.chunks(frame, 9) == ()  # 5 bars are 20 s, under 30 s


def test_no_contact_works_deep_longer_than_two_minutes() -> None:
    assert load.most_bars(FRAME) == 30


def test_mind_rules_cost_nothing_where_they_hold() -> None:
    assert repeat.is_too_often(3)
    assert not repeat.is_too_often(2)
    assert focus.cost((50, 50), 200, 200, share=0.5, weight=8) == 0
    # For the sum, and for the regions; one that is left out is half of the regions' part.
    assert focus.cost((0, 0), 200, 200, share=0.5, weight=8) == pytest.approx(8 * 2)
    assert focus.cost((100, 0), 200, 200, share=0.5, weight=8) == pytest.approx(8 / 2)
    assert contact_kept.cost(CRAFT, "shoulders", "neck") == 0
    assert contact_kept.cost(CRAFT, "shoulders", "feet") == 1
    assert filler.first_bar(FRAME) == 169
    assert not filler.is_short_and_light(FRAME, 8, 3)
    assert rhythm.gives(CRAFT.technique("popcorn"))
    assert not rhythm.is_asked(Intention.SLEEP)
    assert small_areas.is_wide(CRAFT.technique("wide-wings"))
    assert not small_areas.is_small(CRAFT.technique("resting-bridge"))


def test_calming_glides_between_one_and_ten_centimetres_a_second_cost_nothing() -> None:
    # Löken et al. 2009, Nat Neurosci 12:547-548: 1 to 10 cm/s. 84 cm in 16 s are 5.25 cm/s.
    wings = CRAFT.technique("wide-wings")
    assert speed.strain(wings, 2, 16.0, Intention.SETTLE) == 0
    assert speed.strain(wings, 2, 8.0, Intention.SETTLE) > 0  # 10.5 cm/s, more on a large back
    assert speed.strain(wings, 2, 8.0, Intention.WAKE) == 0


def test_curve_costs_nothing_on_the_curve_and_grows_with_the_square() -> None:
    shape = shape_of(Intention.SETTLE, 100)
    middle = [
        curve.cost(shape, 60, 70, pressure=p, energy=0.2, closeness=0.5, bar_minutes=0.1)
        for p in (2, 3, 4)
    ]
    assert middle[1] < middle[0]
    assert middle[1] < middle[2]


@pytest.mark.parametrize(("minutes", "returns"), [(3, 1), (5, 2), (15, 4), (60, 11)])
def test_the_usual_number_of_returns(minutes: int, returns: int) -> None:
    assert usual_refrains(Fraction(minutes)) == returns
