"""What frames say and show, before a pixel is made."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cue_routines import lot_routine
from rondel.app.make_video import LONGEST_CHUNK_FRAMES, chunk_bounds
from rondel.drawing import ink
from rondel.drawing.frames.cutting import cut_reel
from rondel.drawing.frames.layout import (
    COLUMN,
    FADE_FRAMES,
    FIGURE,
    HEIGHT,
    LANDING_CENTRE,
    LANDING_FRAMES,
    MAP,
)
from rondel.drawing.frames.reel import Moment, Reel
from rondel.drawing.frames.script import Script, nearest_frame
from rondel.drawing.frames.stills import DROP_THICKNESS, card_column, passage_column
from rondel.drawing.frames.words import (
    card_heads,
    countdown_says,
    next_says,
    opening_cards,
    passage_names,
    reading_seconds,
    role_says,
)
from rondel.drawing.lettering import Face, width_of
from rondel.drawing.page_words import length_in_words
from rondel.model.brief import Brief
from rondel.model.names import OPEN_NAME
from rondel.model.routine import Routine
from rondel.model.safety import CONSENT, NOT_NOW, NOT_THERE
from rondel.model.words import Intention, NamesShown, Position, Role, Side
from video_samples import landing_seconds, small_routine

ROUTINE, CRAFT = small_routine()
SCRIPT = Script(ROUTINE, CRAFT)

_TEXT = re.compile(
    r'<text x="([\d.]+)" y="([\d.]+)" [^>]*?font-size="([\d.]+)"([^>]*?)>([^<]*)</text>'
)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [v / 255 for v in bytes.fromhex(colour[1:])]
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lines_of(svg: str) -> list[tuple[float, float, float, str, str]]:
    """Return (x, y, size, attributes, words) of every text element."""
    return [
        (float(x), float(y), float(size), rest, words)
        for x, y, size, rest, words in _TEXT.findall(svg)
    ]


def with_names(routine: Routine, names: NamesShown) -> Routine:
    brief = Brief(
        title="Sample", minutes=Fraction(3), intention=Intention.SETTLE, level=2, names=names
    )
    return replace(routine, brief=brief)


def every_column() -> list[str]:
    """Return the columns of all techniques of the repertoire under all names."""
    columns = []
    for names in NamesShown:
        routine = with_names(ROUTINE, names)
        for technique in CRAFT.techniques:
            for side in (Side.LEFT, Side.RIGHT) if technique.lateral else (Side.BOTH, Side.CENTRE):
                first = replace(
                    ROUTINE.passages[0],
                    technique=technique.id,
                    side=side,
                    pressure=technique.pressure[1],
                    stretch=True,
                )
                changed = replace(routine, passages=(first, *ROUTINE.passages[1:]))
                columns.append(passage_column(changed, 0, CRAFT))
    return columns


def test_all_words_keep_to_their_column_and_above_the_captions() -> None:
    for svg in every_column():
        for x, y, size, rest, words in lines_of(svg):
            face = Face.SEMIBOLD if "600" in rest else Face.REGULAR
            face = Face.ITALIC if "italic" in rest else face
            assert COLUMN.x <= x
            assert x + width_of(words.replace("&amp;", "&"), face, size) <= COLUMN.x + COLUMN.width
            assert COLUMN.y < y < MAP.y


def test_lines_of_words_do_not_touch() -> None:
    for svg in every_column():
        rows = sorted({y for _, y, _, _, words in lines_of(svg) if words})
        assert min(below - above for above, below in pairwise(rows)) >= 34


def test_names_are_at_least_44_pixels_and_all_other_words_28() -> None:
    for svg in every_column():
        sizes = [size for _, _, size, _, words in lines_of(svg) if words]
        assert min(sizes) >= 28
        assert max(sizes) >= 44


def test_the_cards_of_the_opening_fit_for_any_caution() -> None:
    for caution in CRAFT.cautions:
        brief = Brief(
            title="Sample",
            minutes=Fraction(3),
            intention=Intention.SETTLE,
            level=1,
            cautions=(caution.id,),
        )
        for card in opening_cards(replace(ROUTINE, brief=brief), CRAFT):
            svg = card_column("Before you begin", "please read", card, "meanwhile: Slow River")
            ys = sorted(y for _, y, _, _, words in lines_of(svg) if words)
            assert ys[-1] - ys[-2] >= 36, caution.id
            assert ys[-1] <= COLUMN.y + COLUMN.height


def test_consent_and_cautions_are_said_at_the_start_in_the_common_words() -> None:
    said = [sentence for card in opening_cards(ROUTINE, CRAFT) for sentence in card]
    assert said[0] == CONSENT[0]
    assert set(NOT_NOW) <= set(said)
    assert NOT_THERE[0] in said


def test_cards_stand_long_enough_to_be_read() -> None:
    # 160 to 180 words a minute (BBC subtitle guidelines): 30 words need at least ten seconds.
    assert reading_seconds((" ".join(["word"] * 30),)) == pytest.approx(10.0)
    starts: dict[int | None, int] = {}
    for shot in SCRIPT.shots:
        starts.setdefault(shot.card, shot.first_frame)
    ends = [*list(starts.values())[1:]]
    for number, card in enumerate(opening_cards(ROUTINE, CRAFT)):
        assert ends[number] - starts[number] >= 25 * reading_seconds(card)
    assert starts[0] == 0


def test_colours_of_words_have_a_contrast_of_at_least_four_and_a_half() -> None:
    # WCAG 2.2, 1.4.3; #767676 on white is the well-known 4.54.
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    for colour in (ink.INK, ink.NOTES, ink.PEAK):
        assert contrast(colour, ink.PAPER) >= 4.5
    # Rings and the light are graphics: 3 to 1 (1.4.11), also on the tint of the refrain.
    for colour in (ink.NOTES, ink.INK, ink.PEAK, ink.BLUE):
        assert contrast(colour, ink.TINT) >= 3.0


def test_the_figure_leaves_the_place_of_captions_free() -> None:
    # Players put two lines of captions into the lowest sixth of the picture.
    assert FIGURE.y + FIGURE.height <= HEIGHT * 5 / 6
    assert COLUMN.y + COLUMN.height <= HEIGHT * 5 / 6


def test_pressure_is_drawn_thicker_step_by_step() -> None:
    assert list(DROP_THICKNESS) == sorted(set(DROP_THICKNESS))
    assert len(DROP_THICKNESS) == 6


@pytest.mark.parametrize(
    ("seconds", "says"),
    [(12.0, "in 0:12"), (11.2, "in 0:12"), (61.0, "in 1:01"), (0.04, "in 0:01"), (0.0, "in 0:00")],
)
def test_the_countdown_names_seconds_begun(seconds: float, says: str) -> None:
    assert countdown_says(seconds) == says


def test_what_comes_next_is_said_in_words() -> None:
    names = [passage_names(ROUTINE, p, CRAFT)[0] for p in ROUTINE.line]
    assert next_says(ROUTINE, 0, CRAFT) == f"next: {names[1]}"
    assert next_says(ROUTINE, 1, CRAFT) == "next: the same, their right"
    assert next_says(ROUTINE, 3, CRAFT) == f"next: {OPEN_NAME}"
    assert next_says(ROUTINE, len(names) - 1, CRAFT) == "then stay, and rest"


def test_a_change_of_position_is_announced() -> None:
    turned = replace(ROUTINE.passages[4], position=Position.SUPINE)
    routine = replace(ROUTINE, passages=(*ROUTINE.passages[:4], turned, *ROUTINE.passages[5:]))
    assert next_says(routine, 3, CRAFT).endswith(", face up")


def test_the_stretch_passage_may_be_skipped() -> None:
    assert "skip" in role_says(replace(ROUTINE.passages[1], stretch=True))


def test_the_first_frame_of_a_passage_is_whole_and_the_fade_lies_before_it() -> None:
    for passage in ROUTINE.line[1:]:
        start = nearest_frame(ROUTINE.start_seconds(passage))
        reel = cut_reel(SCRIPT, start - FADE_FRAMES - 1, start + 1)
        assert [m.mix > 0 for m in reel.moments] == [False] + [True] * FADE_FRAMES + [False]
        old, whole = reel.moments[0].still, reel.moments[-1].still
        halves = (
            [m.mix for m in reel.moments if m.still == old],
            [m.mix for m in reel.moments if m.fading_in == whole and m.mix > 0],
        )
        assert all(half == sorted(half) and len(half) >= 5 for half in halves)


def test_words_are_never_drawn_over_other_words() -> None:
    """In a fade one of the two stills has no words, unless both have the same."""
    reel = cut_reel(SCRIPT, 0, SCRIPT.frames)
    said = [
        {w for inlay in still.laid_over for *_, w in lines_of(inlay.svg) if w}
        for still in reel.stills
    ]
    minutes = re.compile(r"\d+:\d\d")
    words = [{w for w in of_still if not minutes.fullmatch(w)} for of_still in said]
    assert any(m.mix > 0 for m in reel.moments)
    for moment in reel.moments:
        if moment.mix > 0:
            one, other = words[moment.still], words[moment.fading_in]
            assert not one or not other or one == other


def test_every_landing_has_its_full_mark_in_the_nearest_frame() -> None:
    marked = set()
    reel = cut_reel(SCRIPT, 0, SCRIPT.frames)
    for number, moment in enumerate(reel.moments):
        for placed in moment.placed:
            if (placed.x, placed.y) == LANDING_CENTRE and placed.opacity == 1.0:
                marked.add(number)
    assert marked == {nearest_frame(s) for s in landing_seconds(ROUTINE)}


def test_the_mark_is_gone_after_its_frames() -> None:
    # The arrival lands at 1 s and next at 5 s.
    reel = cut_reel(SCRIPT, 25, 60)
    shown = [any((p.x, p.y) == LANDING_CENTRE for p in m.placed) for m in reel.moments]
    assert shown == [True] * LANDING_FRAMES + [False] * (35 - LANDING_FRAMES)


def hands_of(reel: Reel, moment: Moment) -> list[tuple[float, float]]:
    """Return the places of the largest pieces, which are hands."""
    return [
        (p.x, p.y) for p in moment.placed if reel.pieces[p.piece].height > 100 and p.opacity == 1.0
    ]


def test_a_gliding_hand_turns_round_at_its_landing() -> None:
    """The arrival's glide lands on its turn: the way there, reversed, leads away from it."""
    glide = CRAFT.technique(ROUTINE.passages[0].technique or "")
    assert glide.landing == "turn"
    reel = cut_reel(SCRIPT, 0, 60)
    at = 25  # its first landing, at 1 s
    heights = [hands_of(reel, m)[0] for m in reel.moments]
    farthest = max(range(60), key=lambda n: _apart(heights[0], heights[n]))
    assert abs(farthest - at) <= 1


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return math.dist(one, other)


def test_hands_do_not_jump_between_frames_of_a_passage() -> None:
    reel = cut_reel(SCRIPT, 0, 400)
    places = [hands_of(reel, m) for m in reel.moments[: 400 - FADE_FRAMES]]
    for before, after in pairwise(places):
        assert len(before) == len(after)
        assert max(_apart(a, b) for a, b in zip(before, after, strict=True)) < 40


def test_the_same_frames_have_the_same_digest_and_others_another() -> None:
    assert (
        cut_reel(SCRIPT, 100, 150).digest() == cut_reel(Script(ROUTINE, CRAFT), 100, 150).digest()
    )
    assert cut_reel(SCRIPT, 100, 150).digest() != cut_reel(SCRIPT, 101, 151).digest()


@settings(max_examples=60, deadline=None)
@given(
    gaps=st.lists(st.integers(1, 2000), min_size=0, max_size=20),
    rest=st.integers(30, 2000),
)
def test_chunks_cover_every_frame_once_and_are_neither_too_long_nor_too_short(
    gaps: list[int], rest: int
) -> None:
    starts = [0]
    for gap in gaps:
        starts.append(starts[-1] + gap)
    frames = starts[-1] + rest
    bounds = chunk_bounds(starts, frames)
    assert bounds[0][0] == 0
    assert bounds[-1][1] == frames
    assert all(a[1] == b[0] for a, b in pairwise(bounds))
    assert all(25 <= past - first <= LONGEST_CHUNK_FRAMES for first, past in bounds)


def test_a_chapter_role_is_written_for_every_role() -> None:
    for role in Role:
        assert role_says(replace(ROUTINE.passages[1], role=role)) or role is Role.WORK


@pytest.mark.parametrize(
    ("bpm", "minutes", "page", "card"),
    [
        (60, 15, "twenty and a half minutes", "20.5 minutes to settle"),
        (61, 8, "sixteen minutes", "16 minutes to settle"),
        (61, 20, "about twenty-three minutes", "about 23 minutes to settle"),
        (61, 15, "about twenty minutes", "about 20 minutes to settle"),
    ],
)
def test_the_first_card_tells_as_long_as_the_page_does(
    bpm: int, minutes: float, page: str, card: str
) -> None:
    routine = lot_routine(4, minutes, bpm=bpm)
    assert length_in_words(routine.clock.total_seconds / 60) == page
    assert card_heads(routine, 0)[1] == card
