"""What a teacher puts right in a take wins, is kept, read back, and taken back without a trace."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rondel.adapters.craft_files import builtin_craft
from rondel.app.progress import Silent
from rondel.app.watch_take import AskedOfTake, WatchTools, watch_take
from rondel.cli.main import build_parser
from rondel.cli.watch import _corrections, corrections_say
from rondel.drawing.seen_picture import draw_seen
from rondel.drawing.seen_words import KIND_SAYS, seen_sentences
from rondel.model.codec.take import seen_from_dict, seen_to_dict
from rondel.model.codec.take_corrections import take_corrections_from_dict, take_corrections_text
from rondel.model.errors import BadInput
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.take_corrections import FORGETTABLE, NONE, Named, TakeCorrections
from rondel.model.track import Span
from rondel.model.words import Side
from rondel.watching.put_right import put_right


def stretch(start: float, end: float, kind: MotionKind, step: float) -> SeenStretch:
    count = int((end - start) / step)
    landings = tuple(round(start + step * (n + 1), 4) for n in range(count))
    return SeenStretch(
        span=Span(start=start, end=end),
        kind=kind,
        landings=landings,
        period=step,
        confidence=1.0,
        slips=(Span(start=start + 1.0, end=start + 1.4),),
    )


def seen() -> Seen:
    circle = stretch(40.0, 60.0, MotionKind.CIRCLE, 2.0)
    eighths = tuple(42.0 + 0.25 * n for n in range(8 * 9 + 1))
    return Seen(
        seconds=60.0,
        fps=25.0,
        width=640,
        height=360,
        stretches=(
            stretch(0.0, 20.0, MotionKind.GLIDE, 4.0),
            stretch(20.0, 40.0, MotionKind.ALTERNATE, 1.0),
            replace(circle, eighths=eighths),
        ),
    )


def test_a_landing_moves_all_strokes_of_its_kind_and_no_other() -> None:
    new = put_right(seen(), TakeCorrections(landing=8.15))
    assert new.stretches[0].landings == pytest.approx((4.15, 8.15, 12.15, 16.15, 20.15))
    assert new.stretches[1:] == seen().stretches[1:]


def test_strokes_that_would_land_before_the_take_begins_are_left_out() -> None:
    early = replace(
        seen(), stretches=(replace(seen().stretches[0], landings=(0.1, 0.3, 4.0, 8.0)),)
    )
    new = put_right(early, TakeCorrections(landing=3.5))
    assert new.stretches[0].landings == pytest.approx((3.5, 7.5))


def test_where_a_circle_lands_is_told_by_one_moment() -> None:
    new = put_right(seen(), TakeCorrections(landing=46.5))
    landings = new.stretches[2].landings
    assert landings[:3] == pytest.approx((42.5, 44.5, 46.5))
    assert new.stretches[:2] == seen().stretches[:2]


def test_taps_near_strokes_mean_them_and_others_stand_as_tapped() -> None:
    new = put_right(seen(), TakeCorrections(taps=(23.1, 24.05, 25.5, 25.98)))
    landings = new.stretches[1].landings
    assert 23.0 in landings
    assert 24.0 in landings
    assert 25.5 in landings
    assert 26.0 in landings
    assert 25.0 not in landings
    assert 22.0 in landings
    assert 27.0 in landings


def test_motions_are_parted_and_named() -> None:
    corrections = TakeCorrections(
        splits=(28.5,),
        technique="slow-mill",
        named=(Named(at=30.0, technique="rope-hands"),),
        side=Side.LEFT,
        angle="from above",
    )
    new = put_right(seen(), corrections)
    assert [one.span.start for one in new.stretches] == [0.0, 20.0, 28.5, 40.0]
    assert [one.technique for one in new.stretches] == [
        "slow-mill",
        "slow-mill",
        "rope-hands",
        "slow-mill",
    ]
    assert new.strokes == seen().strokes
    assert (new.side, new.angle) == (Side.LEFT, "from above")


def test_slips_are_marked_and_taken_away() -> None:
    mark = Span(start=30.0, end=30.5)
    new = put_right(seen(), TakeCorrections(slips=(mark,), no_slips=(Span(start=0.5, end=2.0),)))
    assert new.stretches[0].slips == ()
    assert mark in new.stretches[1].slips


def test_hands_out_of_the_picture_are_marked_and_taken_away_and_are_no_rest() -> None:
    pause, gone = Span(start=12.0, end=14.0), Span(start=11.9, end=14.2)
    rests = (replace(seen().stretches[0], pauses=(pause,)), *seen().stretches[1:])
    first = replace(seen(), stretches=rests, away=(gone,))
    assert (first.pauses, first.away) == ((), (gone,))
    here = put_right(first, TakeCorrections(no_away=(Span(start=13.0, end=13.5),)))
    assert (here.pauses, here.away) == ((pause,), ())
    mark = Span(start=50.0, end=52.0)
    there = put_right(first, TakeCorrections(away=(mark,)))
    assert there.away == (gone, mark)
    told = " ".join(seen_sentences(there))
    assert "Hands are out of the picture from 0:12 to 0:14 and 0:50 to 0:52." in told
    assert "Hands rest" not in told
    assert seen_from_dict(seen_to_dict(there)) == there


def test_no_place_is_in_the_picture_and_out_of_it() -> None:
    span = Span(start=1.0, end=2.0)
    with pytest.raises(ValueError, match="hands cannot be in the picture and out of it"):
        TakeCorrections(away=(span,), no_away=(span,))
    later = TakeCorrections(away=(span,)).then(TakeCorrections(no_away=(span,)))
    assert (later.away, later.no_away) == ((), (span,))
    assert later.forgetting("away") == NONE


def test_what_is_not_in_the_take_is_refused() -> None:
    with pytest.raises(BadInput, match="the take ends at 1:00"):
        put_right(seen(), TakeCorrections(landing=61.0))


moments = st.floats(0, 59).map(lambda t: round(t, 3))
spans = st.tuples(moments, st.floats(0.2, 0.9)).map(
    lambda pair: Span(start=pair[0], end=round(pair[0] + pair[1], 3))
)
some = st.builds(
    TakeCorrections,
    landing=st.none() | moments,
    taps=st.lists(moments, max_size=6, unique=True).map(lambda row: tuple(sorted(row))),
    splits=st.lists(moments, max_size=3, unique=True).map(lambda row: tuple(sorted(row))),
    slips=st.lists(spans, max_size=2).map(tuple),
    away=st.lists(spans, max_size=2).map(tuple),
    technique=st.none() | st.just("slow-mill"),
    side=st.none() | st.sampled_from(Side),
    angle=st.none() | st.text(st.characters(codec="utf-8"), min_size=1, max_size=12),
    named=st.lists(st.builds(Named, at=moments, technique=st.just("purr")), max_size=2).map(tuple),
)


@given(some)
def test_corrections_are_the_same_after_a_file(corrections: TakeCorrections) -> None:
    data = tomllib.loads(take_corrections_text(corrections))
    again = take_corrections_from_dict(data)
    assert replace(again, angle=None) == replace(corrections, angle=None)
    assert (again.angle or "").strip() == (corrections.angle or "").strip()


@given(some, some)
def test_saying_a_thing_twice_is_saying_it_once(one: TakeCorrections, two: TakeCorrections) -> None:
    both = one.then(two)
    assert both.then(two) == both
    for kind, names in FORGETTABLE.items():
        left = both.forgetting(kind)
        assert all(getattr(left, name) == getattr(NONE, name) for name in names)
    put_right(seen(), both)


class _Beside:
    """A take's files, in memory."""

    def __init__(self) -> None:
        self.first: Seen | None = seen()
        self.right = NONE
        self.written: Seen | None = None

    def kept(self, take: Path, made_from: str) -> Seen | None:
        return self.first

    def keep(self, take: Path, first: Seen, seen: Seen, made_from: str) -> None:
        self.first, self.written = first, seen

    def corrections(self, take: Path) -> TakeCorrections:
        return self.right

    def correct(self, take: Path, corrections: TakeCorrections) -> None:
        self.right = corrections


class _NoTakes:
    def watched(self, path: Path, progress: object) -> object:
        raise AssertionError("watched again")

    def digest(self, path: Path) -> str:
        return "one"


def test_what_is_put_right_needs_no_second_look_and_goes_without_a_trace(tmp_path: Path) -> None:
    take = tmp_path / "take.mp4"
    take.write_bytes(b"film")
    beside = _Beside()
    tools = WatchTools(takes=_NoTakes(), beside=beside, way="1")  # type: ignore[arg-type]
    asked = AskedOfTake(more=TakeCorrections(landing=8.2))
    found = watch_take(take, tools, progress=Silent(), asked=asked)
    assert found.seen.stretches[0].landings[1] == pytest.approx(8.2)
    assert beside.written == found.seen
    again = watch_take(take, tools, progress=Silent(), asked=asked)
    assert again == found
    back = watch_take(take, tools, progress=Silent(), asked=AskedOfTake(forget=("landings",)))
    assert back.seen == seen()
    assert beside.right == NONE


def test_every_correction_can_be_typed_and_is_told() -> None:
    words = [
        "watch", "a.mp4", "--landing-at", "0:12.4", "--taps", "1 2 3", "--other-motion-at", "35",
        "--slip", "0:41-0:42", "--no-slip", "0:50-0:51", "--technique", "purr",
        "--away", "0:20-0:22", "--not-away", "0:25-0:27",
        "--technique-at", "0:35=slow-mill", "--side", "left", "--angle", "above",
    ]  # fmt: skip
    corrections = _corrections(build_parser().parse_args(words), builtin_craft())
    assert corrections.landing == 12.4
    assert len(corrections_say(corrections, {"purr": "Purr"})) == 11


def test_a_technique_may_be_named_as_it_is_called() -> None:
    craft, parser = builtin_craft(), build_parser()
    technique = next(t for t in craft.techniques if " " in t.plain)
    for word in (technique.id, technique.plain, technique.plain.upper()):
        words = ["watch", "a.mp4", "--technique", word, "--technique-at", f"0:35={word}"]
        found = _corrections(parser.parse_args(words), craft)
        assert found.technique == technique.id
        assert [n.technique for n in found.named] == [technique.id]
    with pytest.raises(BadInput, match='no technique has the id "moon walk"'):
        _corrections(parser.parse_args(["watch", "a.mp4", "--technique", "moon walk"]), craft)


def test_a_part_that_was_named_is_told_and_drawn_by_its_name() -> None:
    craft = builtin_craft()
    technique = craft.techniques[3]
    first = replace(seen().stretches[0], technique=technique.id)
    named = replace(seen(), stretches=(first, *seen().stretches[1:]))
    names = {technique.id: technique.plain}
    says = f"({technique.plain})"
    assert says in seen_sentences(named, names)[1]
    assert f"({technique.id})" in seen_sentences(named)[1]
    assert draw_seen(named, "a take", (), names).count(says) == 2  # its label and its description
    assert says not in draw_seen(seen(), "a take", (), names)


def test_a_name_has_no_more_room_than_there_is_before_the_next_motion() -> None:
    craft = builtin_craft()
    technique = max(craft.techniques, key=lambda t: len(t.plain))
    first = replace(seen().stretches[0], technique=technique.id)
    names = {technique.id: technique.plain}
    labels = []
    for end in (9.0, 4.0, 0.4):
        one = replace(first, span=Span(start=0.0, end=end), landings=(0.2,), slips=(), pauses=())
        two = replace(one, span=Span(start=end, end=12.0), landings=(end + 0.5,), technique=None)
        svg = draw_seen(replace(seen(), stretches=(one, two)), "a take", (), names)
        labels.append(re.findall(r'font-size="8"[^>]*>([^<]*)<', svg))
    kind = KIND_SAYS[first.kind]
    assert labels == [[f"{kind} ({technique.plain})", kind], [technique.plain, kind], [kind]]


def test_a_rest_that_reads_as_no_time_is_not_told() -> None:
    one = replace(seen().stretches[0], pauses=(Span(start=5.1, end=5.3),))
    assert not any("rest" in s for s in seen_sentences(replace(seen(), stretches=(one,))))


def test_a_single_stroke_has_no_other_to_be_told_from() -> None:
    one = replace(seen().stretches[0], landings=(3.0,), period=0.0)
    says = seen_sentences(replace(seen(), stretches=(one,)))[1]
    assert "one stroke" in says
    assert "every" not in says


def test_a_long_slip_is_told_to_its_end() -> None:
    slips = (Span(start=3.0, end=3.5), Span(start=5.0, end=8.0))
    first = replace(seen().stretches[0], slips=slips)
    told = seen_sentences(replace(seen(), stretches=(first,)))
    assert "Hands slip at 0:03 and 0:05 to 0:08." in told


def test_a_torn_beginning_is_no_other_camera_and_one_rest_is_told_once() -> None:
    one, two = seen().stretches[:2]
    rests = (Span(start=9.0, end=10.9),), (Span(start=9.2, end=10.9),)
    both = tuple(replace(s, pauses=r) for s, r in zip((one, two), rests, strict=True))
    told = seen_sentences(replace(seen(), stretches=both, cuts=(0.03, 12.0)))
    assert "The camera is switched at 0:12." in told
    assert "Hands rest from 0:09 to 0:11." in told
    assert not any("switched" in s for s in seen_sentences(replace(seen(), cuts=(0.03,))))


def test_cuts_in_one_second_are_told_once_and_no_cut_is_left_untold() -> None:
    # A moment of black is cut to and from within a second.
    told = seen_sentences(replace(seen(), cuts=(5.0, 5.4, 9.0)))
    assert "The camera is switched at 0:05 and 0:09." in told
    many = seen_sentences(replace(seen(), cuts=tuple(2.0 * n for n in range(1, 10))))
    assert any(s.endswith("0:10, 0:12 and 3 more.") for s in many if "switched" in s)
