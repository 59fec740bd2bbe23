"""The body and the cautions, against the sites of care and the body survey they come from."""

from __future__ import annotations

import pytest

from ansur import LENGTH_CM
from rondel.adapters.craft_files import builtin_craft
from rondel.model.repertoire import Caution, Region, Technique
from rondel.model.words import Contact, Family, Position

CRAFT = builtin_craft()
REGIONS = CRAFT.regions
CAUTIONS = CRAFT.cautions

#: Walton, Medical Conditions and Massage Therapy, secondary: 5 is deep, with body weight.
BODY_WEIGHT = 5

#: Werner 2020 and other teaching material: the lay limit of each site.
SITE_LIMITS = {"lower_back": 2, "back": 2, "belly": 1}

#: Werner 2020: do not massage at all.
NO_MASSAGE = {
    "fever",
    "clot",
    "contagious",
    "blood_thinners",
    "severe_osteoporosis",
    "fracture",
    "recent_heart_attack_or_stroke",
    "recent_surgery",
}

#: Werner 2020: not there, or ask a clinician first.
WITH_CARE = {
    "varicose_veins",
    "bruises_wounds",
    "unexplained_lump",
    "pregnancy",
    "cancer",
    "heart",
    "skin_fragile",
    "back_pain_unexplained",
}

#: Whom a caution may send the reader to.
WHO_KNOWS = ("clinician", "midwife", "care team", "pharmacist", "surgeon")


def test_the_body_has_every_region_of_the_words_list() -> None:
    named = (
        "scalp neck shoulders between_blades blades beside_spine lower_back sacrum hips "
        "upper_arms forearms hands thighs calves feet back"
    )
    assert set(named.split()) <= {r.id for r in REGIONS}


def test_neighbours_exist_and_are_neighbours_both_ways() -> None:
    for region in REGIONS:
        assert region.id not in region.neighbours
        assert len(set(region.neighbours)) == len(region.neighbours)
        for other in region.neighbours:
            assert region.id in CRAFT.region(other).neighbours, (region.id, other)


def test_hands_can_walk_from_any_region_to_any_other() -> None:
    reached, frontier = {"scalp"}, ["scalp"]
    while frontier:
        new = set(CRAFT.region(frontier.pop()).neighbours) - reached
        reached |= new
        frontier += sorted(new)
    assert reached == {r.id for r in REGIONS}


def test_the_whole_back_covers_what_its_strokes_pass_over() -> None:
    covered = {"between_blades", "blades", "beside_spine", "lower_back", "shoulders"}
    assert set(CRAFT.region("back").covers) == covered
    assert covered <= set(CRAFT.region("back").neighbours)
    assert [r.id for r in REGIONS if r.covers] == ["back"]


@pytest.mark.parametrize("region", REGIONS, ids=lambda r: r.id)
def test_a_lay_hand_never_works_with_body_weight(region: Region) -> None:
    assert 1 <= region.limit < BODY_WEIGHT
    assert region.limit <= region.trained_limit <= min(5, region.limit + 1)


def test_a_lay_hand_leans_in_only_where_thick_muscle_or_sole_allows() -> None:
    # Common practice, no source: 3 nearly everywhere, 4 in few places.
    leaning = {r.id for r in REGIONS if r.limit >= 4}
    assert leaning == {"shoulders", "beside_spine", "hips", "feet"}


@pytest.mark.parametrize(("site", "limit"), SITE_LIMITS.items())
def test_sites_of_care_keep_the_limit_that_is_taught(site: str, limit: int) -> None:
    assert CRAFT.region(site).limit <= limit


@pytest.mark.parametrize(
    "region", ["lower_back", "back", "beside_spine", "between_blades", "neck", "face", "belly"]
)
def test_nothing_is_drummed_on_kidneys_spine_neck_or_belly(region: str) -> None:
    # Werner 2020: no percussion over the kidneys, nothing direct on the spine.
    assert Family.PERCUSSION in CRAFT.region(region).forbidden_families


@pytest.mark.parametrize(
    ("region", "word"),
    [
        ("neck", "front of the neck"),
        ("neck", "side above the collarbone"),
        ("neck", "pulse"),
        ("neck", "twist"),
        ("scalp", "rim of the skull"),
        ("face", "eyes"),
        ("face", "jaw"),
        ("chest", "tip of the breastbone"),
        ("shoulders", "collarbone"),
        ("upper_arms", "Armpits"),
        ("forearms", "elbow crease"),
        ("between_blades", "spine"),
        ("beside_spine", "kidneys"),
        ("beside_spine", "floating ribs"),
        ("lower_back", "kidneys"),
        ("back", "kidneys"),
        ("thighs", "groin"),
        ("thighs", "back of the knee"),
        ("calves", "back of the knee"),
    ],
)
def test_every_site_of_werner_stands_beside_its_region(region: str, word: str) -> None:
    assert word in " ".join(CRAFT.region(region).care)


@pytest.mark.parametrize("region", REGIONS, ids=lambda r: r.id)
def test_every_region_says_where_its_numbers_come_from(region: Region) -> None:
    assert "Walton" in region.source
    assert region.care
    assert all(c[0].isupper() and c.endswith(".") for c in region.care)
    assert region.length_cm > 0
    assert ("ANSUR II" in region.length_source) or ("no source" in region.length_source)


@pytest.mark.parametrize(("region", "length_cm"), LENGTH_CM.items())
def test_lengths_are_those_of_the_body_survey(region: str, length_cm: float) -> None:
    # Gordon et al. 2014; a millimetre for rounding.
    assert float(CRAFT.region(region).length_cm) == pytest.approx(length_cm, abs=0.1)
    assert "Gordon" in CRAFT.region(region).length_source


def test_conditions_that_forbid_massage_forbid_everything_and_no_others_do() -> None:
    assert {c.id for c in CAUTIONS if c.forbids.everything} == NO_MASSAGE


def test_conditions_that_ask_for_care_are_known() -> None:
    assert {c.id for c in CAUTIONS} >= WITH_CARE
    assert len({c.id for c in CAUTIONS}) == len(CAUTIONS)


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda c: c.id)
def test_every_caution_defers_to_someone_who_knows(caution: Caution) -> None:
    assert any(who in caution.says for who in WHO_KNOWS)
    assert caution.says[0].isupper()
    assert caution.says.endswith(".")
    assert len(caution.says.split()) <= 35
    assert caution.source


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda c: c.id)
def test_every_caution_names_only_regions_that_exist(caution: Caution) -> None:
    limited = [region for region, _ in caution.forbids.region_limits]
    for region in (*caution.forbids.regions, *limited):
        assert CRAFT.has_region(region), region
    for region, limit in caution.forbids.region_limits:
        assert limit < CRAFT.region(region).limit, "a limit that takes nothing away"


def test_pregnancy_means_side_lying_no_belly_and_no_deep_leg_work() -> None:
    # Teaching material (confirmed): side-lying, no belly, no deep leg work, ask the midwife.
    caution = CRAFT.caution("pregnancy")
    limits = dict(caution.forbids.region_limits)
    assert "midwife" in caution.says
    assert {Position.PRONE, Position.SUPINE} <= set(caution.forbids.positions)
    assert Position.SIDE not in caution.forbids.positions
    assert "belly" in caution.forbids.regions
    assert limits["thighs"] <= 2
    assert limits["calves"] <= 2
    assert caution.forbids.max_pressure <= 3


def test_varicose_veins_leave_the_legs_alone() -> None:
    assert {"calves", "thighs"} <= set(CRAFT.caution("varicose_veins").forbids.regions)


def _is_allowed(technique: Technique, caution: Caution, position: Position) -> bool:
    forbids = caution.forbids
    region = CRAFT.region(technique.region)
    cap = min(forbids.max_pressure, dict(forbids.region_limits).get(region.id, 5))
    gone = set(forbids.regions)
    return (
        position in technique.position
        and position not in forbids.positions
        and technique.family not in forbids.families
        and technique.contact not in forbids.contacts
        and not gone & {region.id, *region.covers}
        and technique.pressure[0] <= cap
    )


@pytest.mark.parametrize("spare", [None, Contact.THUMB], ids=str)
@pytest.mark.parametrize("level", [1, 2])
@pytest.mark.parametrize(
    "caution", [c for c in CAUTIONS if not c.forbids.everything], ids=lambda c: c.id
)
def test_with_every_milder_caution_a_gentle_routine_is_left(
    caution: Caution, level: int, spare: Contact | None
) -> None:
    for position in set(Position) - set(caution.forbids.positions):
        left = [
            t
            for t in CRAFT.techniques
            if t.level <= level and t.contact != spare and _is_allowed(t, caution, position)
        ]
        home = [t for t in left if t.refrain]
        work = [t for t in left if not t.refrain and not t.helps_turn and not t.family.is_held]
        assert len({t.region for t in home if t.family is Family.GLIDING}) >= 2, position
        assert any(t.family.is_held for t in home), position
        assert len(work) >= 6, (position, [t.id for t in work])
        assert len({t.region for t in work}) >= 4, position
