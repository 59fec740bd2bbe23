"""The built-in repertoire, against body sizes, the speed of touch, and its own promises."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction

import pytest

from ansur import SCALES_WITH, WIDEST
from rondel.adapters.craft_files import builtin_craft
from rondel.model.repertoire import Technique
from rondel.model.words import DEEP, Contact, Family, Landing, Position, Trace

CRAFT = builtin_craft()
ALL = CRAFT.techniques
each = pytest.mark.parametrize("technique", ALL, ids=lambda t: t.id)
each_position = pytest.mark.parametrize("position", list(Position), ids=str)

SOFT = 2  # the firmest pressure of opening, close, refrain and rest

#: Löken et al. 2009, Nature Neuroscience 12:547-548: gentle strokes please most, in cm a second.
PLEASANT_CM_PER_SECOND = (1.0, 10.0)

#: Seconds one stroke may take, by family; common practice, no source. The quick end stays within
#: the intervals that people keep time with, 0.1 to 1.8 s and their multiples (Repp 2006).
STROKE_SECONDS = {
    Family.KNEADING: (1.0, 6.0),
    Family.FRICTION: (1.0, 6.0),
    Family.PERCUSSION: (0.4, 1.2),
    Family.VIBRATION: (1.0, 8.0),
    Family.PRESSING: (2.4, 20.0),
    Family.GLIDING: (2.4, 24.0),
}

#: Beats that one stroke may take, as the rule `strokes` allows and the planner uses.
BEATS = (Fraction(1, 2), 1, 2, 4, 8, 12, 16)


def _in(position: Position, level: int = 5) -> list[Technique]:
    return [t for t in ALL if position in t.position and t.level <= level]


def _without(techniques: list[Technique], avoided: str, spare: Contact | None) -> list[Technique]:
    return [
        t
        for t in techniques
        if avoided not in (t.region, *CRAFT.region(t.region).covers) and t.contact != spare
    ]


# ---- names and words --------------------------------------------------------------------------


def test_ids_and_names_are_met_once() -> None:
    for names in (
        [t.id for t in ALL],
        [t.plain.lower() for t in ALL],
        [t.anatomical.lower() for t in ALL],
        [t.how for t in ALL],
        [t.say for t in ALL],
    ):
        assert [n for n, count in Counter(names).items() if count > 1] == []


@each
def test_a_plain_name_is_short_and_its_id_follows_from_it(technique: Technique) -> None:
    assert 1 <= len(technique.plain.split()) <= 3
    assert len(technique.plain) <= 18
    assert technique.id == technique.plain.lower().replace(" ", "-")


@each
def test_an_anatomical_name_fits_its_place_on_page_and_card(technique: Technique) -> None:
    assert 4 <= len(technique.anatomical) <= 44
    assert technique.anatomical[0].isupper()


@each
def test_a_spoken_cue_is_one_breath_long(technique: Technique) -> None:
    assert 2 <= len(technique.say.split()) <= 9
    assert technique.say[0].isupper()
    assert technique.say.endswith(".")


def _syllables(word: str) -> int:
    """Count groups of vowels, without a silent e at the end: an estimate, good to about one."""
    word = re.sub(r"(?<=[^aeiouyl])e$|(?<=[^aeiouytd])ed$", "", word.lower())
    return max(1, len(re.findall(r"[aeiouy]+", word)))


def _grade(text: str) -> float:
    """Return the reading grade of Kincaid et al. 1975 (formula from memory)."""
    sentences = len(re.findall(r"[.!?]", text))
    words = re.findall(r"[A-Za-z']+", text)
    syllables = sum(_syllables(w) for w in words)
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


@each
def test_how_is_one_or_two_sentences_that_anyone_can_read(technique: Technique) -> None:
    sentences = [s for s in re.split(r"(?<=[.!?])\s+", technique.how) if s]
    assert 1 <= len(sentences) <= 2
    assert all(len(s.split()) <= 22 for s in sentences)
    assert _grade(technique.how) <= 8  # an eighth-year reader


# ---- the stroke on the body -------------------------------------------------------------------


@each
def test_no_stroke_is_longer_than_there_and_back_along_its_region(technique: Technique) -> None:
    """Path and region grow alike with the body, so the mean body stands for the 95th percentile."""
    region = CRAFT.region(technique.region)
    scale = Fraction(SCALES_WITH.get(region.id, WIDEST).largest)
    assert technique.path_cm * scale <= 2 * region.length_cm * scale
    if technique.trace is Trace.ALTERNATE:  # one hand's stroke, one way
        assert technique.path_cm <= region.length_cm


@pytest.mark.parametrize(
    "technique",
    [t for t in ALL if t.family is Family.GLIDING and t.pressure[0] <= SOFT],
    ids=lambda t: t.id,
)
def test_a_calming_glide_keeps_the_pleasant_speed_on_small_and_large_bodies(
    technique: Technique,
) -> None:
    # Löken 2009 on ANSUR II: from a woman at the 5th to a man at the 95th percentile.
    slowest, fastest = PLEASANT_CM_PER_SECOND
    body = SCALES_WITH.get(technique.region, WIDEST)
    quick, slow = map(float, technique.cycle_seconds)
    assert float(technique.path_cm) * body.largest / quick <= fastest
    assert float(technique.path_cm) * body.smallest / slow >= slowest


@each
def test_a_stroke_fits_whole_beats_at_every_calm_tempo(technique: Technique) -> None:
    if technique.family.is_held:
        assert list(technique.cycle_seconds) == [6, 120]
        return
    quick, slow = technique.cycle_seconds
    for bpm in range(48, 81):
        fits = [b for b in BEATS if quick <= Fraction(60 * b, bpm) <= slow]
        assert fits, bpm


@each
def test_a_stroke_takes_the_time_of_its_family(technique: Technique) -> None:
    if not technique.family.is_held:
        low, high = STROKE_SECONDS[technique.family]
        quick, slow = map(float, technique.cycle_seconds)
        assert low <= quick < slow <= high


@each
def test_the_landing_suits_the_stroke(technique: Technique) -> None:
    # A press lands where it is deepest, a glide where it turns, a struck hand at contact.
    expected = {
        Family.PRESSING: Landing.DEEPEST,
        Family.KNEADING: Landing.DEEPEST,
        Family.GLIDING: Landing.TURN,
        Family.FRICTION: Landing.TURN,
        Family.PERCUSSION: Landing.CONTACT,
        Family.HOLDING: Landing.CONTACT,
        Family.EMBRACE: Landing.CONTACT,
    }
    assert technique.landing is expected.get(technique.family, technique.landing)


@each
def test_work_in_place_has_no_path_and_a_moving_hand_has_one(technique: Technique) -> None:
    still = technique.family in (
        Family.HOLDING,
        Family.EMBRACE,
        Family.PRESSING,
        Family.PERCUSSION,
    )
    if technique.family is not Family.VIBRATION:
        assert (technique.path_cm == 0) is still


# ---- safety -----------------------------------------------------------------------------------


@each
def test_every_technique_can_be_done_within_the_limits_of_its_region(technique: Technique) -> None:
    region = CRAFT.region(technique.region)
    assert technique.pressure[0] <= region.limit
    assert technique.pressure[1] <= region.trained_limit
    assert technique.family not in region.forbidden_families
    if technique.lateral:
        assert region.lateral


def test_percussion_stays_on_shoulders_blades_hips_limbs_and_head() -> None:
    # Werner 2020: none over the kidneys; nothing direct on the spine.
    drummed = {t.region for t in ALL if t.family is Family.PERCUSSION}
    assert drummed <= {"shoulders", "blades", "hips", "thighs", "upper_arms", "scalp"}
    assert all(
        t.pressure[1] <= 1 for t in ALL if t.family is Family.PERCUSSION and t.region == "scalp"
    )


def test_pressure_with_body_weight_is_left_to_trained_hands() -> None:
    assert all(t.level == 5 for t in ALL if t.pressure[1] == 5)
    assert all(t.level >= 2 for t in ALL if t.pressure[1] >= DEEP)


def test_work_with_body_weight_says_that_it_is_for_trained_hands() -> None:
    deepest = [t for t in ALL if t.pressure[1] == 5]
    assert deepest
    assert all("trained" in t.how for t in deepest)


def test_deep_work_beside_the_spine_says_where_it_ends() -> None:
    # Werner 2020: the floating ribs never directly, the kidney area at 2 at most.
    deep = [t for t in ALL if t.region == "beside_spine" and t.pressure[1] >= DEEP]
    assert deep
    assert [t.id for t in deep if not re.search(r"\b(ribs|waist)\b", t.how)] == []


def test_nothing_taught_on_the_lower_back_or_whole_back_is_firm() -> None:
    # Werner 2020: the kidney area takes 2 at most.
    assert all(t.pressure[1] <= 2 for t in ALL if t.region in ("lower_back", "back"))


def test_deep_strokes_use_broad_contacts_never_thumbs_or_fingertips() -> None:
    broad = {Contact.PALM, Contact.HEEL, Contact.FIST, Contact.FOREARM, Contact.KNUCKLES}
    assert {t.contact for t in ALL if t.pressure[1] >= DEEP} <= broad


# ---- breadth ----------------------------------------------------------------------------------


def test_the_repertoire_is_broad() -> None:
    assert len(ALL) >= 56
    assert len({t.region for t in ALL}) >= 15
    assert {t.region for t in ALL} == {r.id for r in CRAFT.regions}
    assert {t.family for t in ALL} == set(Family)
    assert {t.contact for t in ALL} == set(Contact)
    assert {t.level for t in ALL} == {1, 2, 3, 4, 5}
    assert {t.trace for t in ALL} == set(Trace)


def test_thumbs_are_never_needed() -> None:
    for t in ALL:
        if t.contact is Contact.THUMB:
            others = [
                o
                for o in ALL
                if o.region == t.region
                and o.family is t.family
                and o.contact is not Contact.THUMB
                and set(t.position) <= set(o.position)
            ]
            assert others, t.id


@each
def test_a_refrain_stroke_is_for_everyone(technique: Technique) -> None:
    if technique.refrain:
        assert technique.level == 1
        assert technique.pressure[1] <= SOFT
        assert not technique.lateral
        assert technique.family in (Family.GLIDING, Family.HOLDING, Family.EMBRACE)
    if technique.family is Family.EMBRACE:
        assert technique.refrain


@pytest.mark.parametrize("spare", [None, *Contact], ids=str)
@each_position
def test_a_refrain_is_left_whatever_is_avoided_or_spared(
    position: Position, spare: Contact | None
) -> None:
    for avoided in (r.id for r in CRAFT.regions):
        home = [t for t in _without(_in(position, 1), avoided, spare) if t.refrain]
        glides = {t.region for t in home if t.family is Family.GLIDING}
        assert len(glides) >= 2, avoided
        assert len([t for t in home if t.family.is_held]) >= 2, avoided


@pytest.mark.parametrize("spare", [None, *Contact], ids=str)
def test_one_refrain_serves_all_four_positions(spare: Contact | None) -> None:
    everywhere = [t for t in ALL if t.refrain and set(t.position) == set(Position)]
    for avoided in (r.id for r in CRAFT.regions):
        left = _without(everywhere, avoided, spare)
        assert [t for t in left if t.family is Family.GLIDING], avoided
        assert [t for t in left if t.family.is_held], avoided


@pytest.mark.parametrize("spare", [None, *Contact], ids=str)
def test_the_receiver_can_be_helped_to_turn_whatever_is_avoided(spare: Contact | None) -> None:
    turns = [t for t in ALL if t.helps_turn]
    for t in turns:
        assert (t.family, t.pressure, t.level) == (Family.HOLDING, (0, 0), 1)
        assert set(t.position) == set(Position)
        assert not t.lateral
        assert not t.refrain
    for avoided in (r.id for r in CRAFT.regions):
        assert _without(turns, avoided, spare), avoided


@pytest.mark.parametrize("spare", [None, Contact.THUMB], ids=str)
@pytest.mark.parametrize("level", [1, 2])
@each_position
def test_a_quarter_of_an_hour_can_be_filled_in_one_position(
    position: Position, level: int, spare: Contact | None
) -> None:
    for avoided in (r.id for r in CRAFT.regions):
        left = _without(_in(position, level), avoided, spare)
        gentle = [
            t
            for t in left
            if (t.family is Family.GLIDING or t.family.is_held)
            and t.pressure[0] <= SOFT
            and not t.lateral
            and not t.helps_turn
        ]
        work = [t for t in left if not t.refrain and not t.family.is_held]
        firm = [t for t in work if t.pressure[1] >= 3]
        assert len({t.region for t in gentle}) >= 4, avoided
        assert len({t.region for t in work}) >= 5, avoided
        assert len({t.region for t in firm if not t.lateral}) >= 2, avoided
        assert len({t.family for t in work}) >= 5, avoided
        assert len({t.contact for t in work}) >= 4, avoided


@each_position
def test_a_beginner_has_a_peak_of_firm_work_in_several_regions(position: Position) -> None:
    firm = {t.region for t in _in(position, 1) if t.pressure[1] >= 3}
    assert len(firm) >= 4


def _rests_of(deep: Technique, position: Position, level: int) -> list[Technique]:
    return [
        t
        for t in _in(position, level)
        if t.region == deep.region
        and t.lateral == deep.lateral
        and t.pressure[0] <= SOFT
        and (t.family is Family.GLIDING or t.family.is_held)
    ]


@each
def test_deep_work_finds_rest_and_warmth_on_the_same_region_and_side(technique: Technique) -> None:
    if technique.pressure[1] < DEEP:
        return
    for position in technique.position:
        rests = _rests_of(technique, position, technique.level)
        warmers = [
            t
            for t in _in(position, technique.level)
            if t.region == technique.region
            and t.lateral == technique.lateral
            and t.pressure[0] <= 3
            and t.pressure[1] >= 1
            and t.id != technique.id
        ]
        assert any(t.level == 1 for t in rests), position
        assert len(warmers) >= 2, position
        assert any(t.pressure[0] <= 3 <= t.pressure[1] for t in warmers), position


@each_position
def test_couples_of_level_two_may_lean_in_somewhere_in_every_position(position: Position) -> None:
    deep = [t for t in _in(position, 2) if t.pressure[1] >= DEEP]
    assert len({t.region for t in deep}) >= 2
    assert len(deep) >= 3


@pytest.mark.parametrize("level", [1, 2, 3, 4])
@each_position
def test_there_is_something_to_stretch_for(position: Position, level: int) -> None:
    above = [
        t
        for t in _in(position)
        if level < t.level <= level + 2 and t.pressure[0] <= CRAFT.region(t.region).limit
    ]
    assert above
    if level <= 2:
        assert len({t.region for t in above if t.level >= 3 or level == 1}) >= 3


@pytest.mark.parametrize("spare", [None, Contact.THUMB, Contact.PALM], ids=str)
@each_position
def test_hands_can_go_one_after_the_other_in_every_position(
    position: Position, spare: Contact | None
) -> None:
    for avoided in (r.id for r in CRAFT.regions):
        by_turns = [t for t in _without(_in(position, 1), avoided, spare) if t.is_alternating]
        assert len({t.region for t in by_turns}) >= 2, avoided


@each_position
def test_light_fillers_wait_in_small_places(position: Position) -> None:
    light = {
        t.region
        for t in _in(position, 1)
        if t.pressure[0] <= SOFT and t.region in {"scalp", "face", "hands", "feet", "forearms"}
    }
    assert len(light) >= 3


def test_energy_falls_with_stillness_and_rises_with_drumming() -> None:
    held = [t.energy for t in ALL if t.family.is_held]
    drummed = [t.energy for t in ALL if t.family is Family.PERCUSSION]
    assert max(held) < 0 < min(drummed)
