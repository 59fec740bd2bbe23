"""Measurements of a routine against numbers worked out by hand."""

from __future__ import annotations

import json

import pytest

from cases.reading import brief_for, routine_from_rows, small_craft
from rondel.checker.bodies import ANSUR_II, body_factors
from rondel.checker.measures import Measures, measure, measures_to_dict

# At 60 beats a minute a bar of four beats lasts 4 seconds: 90 bars are 360 s.
# Opening until 90 s (bar 22.5), close from 300 s (bar 75).
ROWS = [
    "wide-wings arrive both 10 1 stroke=8",  # bars 0-10
    "winter-coat refrain both 10 0",  # 10-20
    "snow-slide work both 10 2 stroke=8",  # 20-30
    "milk-path work left 10 2 stroke=10",  # 30-40
    "milk-path work right 10 2 stroke=10",  # 40-50
    "winter-coat refrain both 10 0",  # 50-60
    "slow-plough peak left 5 3 stroke=10",  # 60-65
    "slow-plough peak right 5 3 stroke=10",  # 65-70
    "- open both 10 2",  # 70-80
    "wide-wings close both 10 1 stroke=8",  # 80-90
]


@pytest.fixture
def measured() -> Measures:
    return measure(routine_from_rows(ROWS), small_craft(), brief_for({}))


def test_seconds_by_region_contact_family_and_pressure(measured: Measures) -> None:
    assert measured.total_seconds == 360
    # back: 10 + 10 + 10 + 10 bars; beside the spine: 20 + 10; shoulders: 10
    assert measured.by_region == (("back", 160.0), ("beside_spine", 120.0), ("shoulders", 40.0))
    # palm: wide wings, 20 bars; forearm: winter coat 20, plough 10; flat fingers: 10 + 20
    assert dict(measured.by_contact) == {"palm": 80, "forearm": 120, "flat_fingers": 120}
    assert dict(measured.by_family) == {"gliding": 240, "embrace": 80}
    assert measured.by_pressure == ((0, 80.0), (1, 80.0), (2, 120.0), (3, 40.0))
    assert measured.open_seconds == 40


def test_left_and_right_are_in_balance(measured: Measures) -> None:
    assert (measured.left_seconds, measured.right_seconds) == (60.0, 60.0)


def test_the_refrain_is_counted_and_its_gaps_measured(measured: Measures) -> None:
    assert measured.refrains == 2
    # before bar 10; from 20 to 50; from 60 to 90
    assert measured.refrain_gaps == (40.0, 120.0, 120.0)


def test_the_main_regions_are_those_with_most_work_unless_the_brief_names_them() -> None:
    chosen = measure(routine_from_rows(ROWS), small_craft(), brief_for({}))
    assert chosen.main_regions == ("beside_spine", "shoulders")
    assert chosen.main_share == 1.0
    asked = measure(
        routine_from_rows(ROWS), small_craft(), brief_for({"main_regions": ["shoulders"]})
    )
    # Outside refrain, opening and close: shoulders bars 22.5-30, spine 30-50 and 60-70.
    assert asked.main_share == pytest.approx(7.5 / 37.5)


def test_without_a_brief_and_without_work_there_is_no_share() -> None:
    measured = measure(routine_from_rows(["- open both 10 2"]), small_craft())
    assert (measured.main_share, measured.main_regions, measured.refrain_gaps) == (None, (), ())


def test_an_upper_layer_is_not_counted_a_second_time() -> None:
    rows = ["slow-plough peak left 10 3 layer=under", "popcorn peak both 10 2 layer=over at=0"]
    assert measure(routine_from_rows(rows), small_craft()).by_region == (("beside_spine", 40.0),)


def test_body_sizes_are_the_5th_and_95th_percentile_of_ansur_ii() -> None:
    """ANSUR II 2012 (Gordon et al. 2014): waist back length, male 477.6 (27.7), female 425.4
    (26.4) mm. 425.4 - 1.645 · 26.4 = 381.97; 477.6 + 1.645 · 27.7 = 523.17; mean 451.5."""
    small, large = body_factors("back")
    assert small == pytest.approx(381.97 / 451.5, abs=1e-5)
    assert large == pytest.approx(523.17 / 451.5, abs=1e-5)
    # Foot: 246.3 - 1.645 · 12.4 = 225.90; 271.2 + 1.645 · 13.1 = 292.75; mean 258.75.
    assert body_factors("feet") == pytest.approx((225.90 / 258.75, 292.75 / 258.75), abs=1e-4)
    assert ANSUR_II["biacromial breadth"] == (415.7, 19.2, 365.4, 18.3)


def test_a_small_body_is_smaller_and_a_large_one_larger_everywhere() -> None:
    for region in ("scalp", "shoulders", "between_blades", "hands", "feet", "calves", "belly"):
        small, large = body_factors(region)
        assert 0.7 < small < 1 < large < 1.3


def test_glides_at_two_or_less_are_measured_for_both_bodies(measured: Measures) -> None:
    speeds = {g.passage: g for g in measured.glides}
    # Embrace and plough (pressure 3) are no light glides.
    assert sorted(speeds) == ["p01", "p03", "p04", "p05", "p10"]
    wings = speeds["p01"]
    # 40 cm in 8 s are 5 cm/s; times 0.84600 and 1.15873
    assert wings.mean_body == pytest.approx(5.0)
    assert wings.small_body == pytest.approx(4.2300, abs=1e-3)
    assert wings.large_body == pytest.approx(5.7937, abs=1e-3)
    assert speeds["p04"].mean_body == pytest.approx(3.0)  # 30 cm in 10 s


def test_a_back_of_42_54_cm_at_eight_beats_moves_at_5_32_cm_a_second() -> None:
    """The female mean waist back length, ANSUR II, in eight beats at 60: 42.54 / 8 = 5.32."""
    craft = small_craft()
    wings = craft.technique("wide-wings")
    assert float(wings.path_cm) == 40
    measured = measure(routine_from_rows(["wide-wings work both 8 2 stroke=8"]), craft)
    assert measured.glides[0].mean_body * 42.54 / 40 == pytest.approx(5.32, abs=0.005)


def test_measures_can_be_stored(measured: Measures) -> None:
    data = json.loads(json.dumps(measures_to_dict(measured)))
    assert data["by_region"]["back"] == 160.0
    assert data["by_pressure"]["0"] == 80.0
    assert data["glides"][0]["technique"] == "wide-wings"
    assert data["main_regions"] == ["beside_spine", "shoulders"]
