"""Takes are fitted to a routine: every passage that a take shows, and what to film for the rest."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief
from rondel.adapters.take_place import films_of
from rondel.app.fit_takes import (
    Fitted,
    fit_takes,
    fitted_sentences,
    near_beat_says,
    unused_sentences,
)
from rondel.app.progress import Silent
from rondel.cli.main import main
from rondel.drawing.shot_list import shots_to_film
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.codec.routine import routine_to_dict
from rondel.model.errors import BadInput
from rondel.model.routine import Passage, Routine
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.time import as_minutes
from rondel.model.track import Span
from rondel.model.words import Side
from rondel.planner.plan import plan
from take_files_made import write_take
from take_motion import Kind, make_motion
from take_scenes import TakeScene, Trouble, frames

CRAFT = builtin_craft()
TAKE_SECONDS = 16.0


@cache
def lamplight() -> Routine:
    routine = plan(demo_brief(), CRAFT).routine
    assert routine is not None
    return routine


def work() -> Passage:
    """Return the passage with the most strokes."""
    line = [p for p in lamplight().line if not p.is_open]
    return max(line, key=lambda p: len(lamplight().landings(p)))


def take_of(
    passage: Passage,
    *,
    times: float = 1.0,
    jitter: float = 0.15,
    seed: int = 1,
    kind: MotionKind = MotionKind.GLIDE,
    side: Side | None = None,
    slips: tuple[Span, ...] = (),
) -> NamedTake:
    """Return a take of the technique of `passage`, `times` as slow as the routine has it."""
    clock = lamplight().clock
    beats = [float(clock.seconds_at(b)) for b in lamplight().landings(passage)]
    step = (beats[1] - beats[0]) * times
    dice = np.random.default_rng(seed)
    off = np.clip(jitter * dice.standard_normal(60), -2 * jitter, 2 * jitter)
    landings = tuple((1.0 + np.cumsum(step * (1 + off))).tolist())
    stretch = SeenStretch(
        span=Span(start=0.0, end=landings[-1] + 1),
        kind=kind,
        landings=landings,
        period=step,
        confidence=1.0,
        slips=slips,
        technique=passage.technique,
    )
    seen = Seen(
        seconds=landings[-1] + 1, fps=25.0, width=640, height=360, stretches=(stretch,), side=side
    )
    return NamedTake(name=f"take-{seed}.mp4", seen=seen)


def test_a_passage_is_filled_from_its_start_to_its_end_and_lands_on_its_beats() -> None:
    routine, passage = lamplight(), work()
    found = fit_passage(routine, passage, [take_of(passage)])
    assert found.why_not == ""
    assert found.shots[0].map.at[0] <= routine.start_seconds(passage) + 1e-6
    assert found.shots[-1].map.at[-1] >= routine.end_seconds(passage) - 1e-6
    for one, two in zip(found.shots, found.shots[1:], strict=False):
        assert one.map.at[-1] == pytest.approx(two.map.at[0])
    assert len(found.off) >= len(routine.landings(passage))
    assert np.percentile(np.abs(found.off), 95) <= 0.02
    slowest, fastest = found.speeds or (0.0, 0.0)
    assert slowest >= 0.6 - 1e-6
    assert fastest <= 1.4 + 1e-6


def test_hands_that_are_seen_to_land_at_both_ends_fit_strokes_that_go_there_and_back() -> None:
    passage = work()
    found = fit_passage(lamplight(), passage, [take_of(passage, times=0.5, jitter=0.05)])
    assert found.shots
    assert np.max(np.abs(found.off)) <= 0.02
    shown = [t for shot in found.shots for t in shot.landings]
    assert len(shown) >= 2 * len(lamplight().landings(passage)) - 2


def test_a_stroke_with_a_slip_is_never_shown() -> None:
    passage = work()
    plain = take_of(passage)
    landings = plain.seen.stretches[0].landings
    slip = Span(start=landings[6] + 0.2, end=landings[6] + 0.4)
    found = fit_passage(lamplight(), passage, [take_of(passage, slips=(slip,))])
    for shot in found.shots:
        assert not (shot.landings[0] < slip.end and slip.start < shot.landings[-1])


def test_another_side_is_not_shown_for_one() -> None:
    one_sided = next(p for p in lamplight().line if p.side is Side.LEFT)
    other = take_of(one_sided, side=Side.RIGHT)
    found = fit_passage(lamplight(), one_sided, [other])
    assert found.shots == ()
    assert "no take is named" in found.why_not
    assert fit_passage(lamplight(), one_sided, [take_of(one_sided, side=Side.LEFT)]).why_not != (
        found.why_not
    )


def test_a_take_of_one_side_in_a_passage_of_both_is_told() -> None:
    both = next(
        p for p in lamplight().line if p.side is Side.BOTH and len(lamplight().landings(p)) > 4
    )
    note = "film of one side stands for both"
    assert note in fit_passage(lamplight(), both, [take_of(both, side=Side.LEFT)]).notes
    plain = fit_passage(lamplight(), both, [take_of(both)])
    assert plain.shots
    assert note not in plain.notes


def test_strokes_filmed_too_quick_are_told_as_whole_ones() -> None:
    # Seen at both ends of their way, so half as long; what to film is told there and back.
    passage = work()
    beat = lamplight().seconds_of(passage) / (passage.bars * lamplight().beats_per_bar)
    wanted = f"{float(passage.beats_per_stroke) * beat:.1f}"
    quick = fit_passage(lamplight(), passage, [take_of(passage, times=0.2, jitter=0.0)])
    assert quick.why_not.endswith(f"where the routine has {wanted}")
    assert f"{0.4 * float(wanted):.1f} seconds each" in quick.why_not


def test_circles_and_presses_filmed_too_quick_are_told_as_long_as_they_last() -> None:
    passage = work()
    for kind in (MotionKind.CIRCLE, MotionKind.PRESS):
        take = take_of(passage, times=0.2, jitter=0.0, kind=kind)
        why = fit_passage(lamplight(), passage, [take]).why_not
        assert f"too quick: {take.seen.stretches[0].period:.1f} seconds each" in why


def test_what_no_take_shows_is_told_with_what_to_film() -> None:
    passage = work()
    takes = [take_of(passage), take_of(passage, seed=2)]
    fitted = fit_takes(lamplight(), takes, progress=Silent())
    says = fitted_sentences(fitted, lamplight(), CRAFT)
    assert any("strokes land" in line for line in says)
    assert any("no take is named as this technique. Film " in line for line in says)
    assert fitted.off_ms is not None
    slow = fit_passage(lamplight(), passage, [take_of(passage, times=3.2, jitter=0.0)])
    assert "filmed too slow" in slow.why_not
    assert Fitted(passages=(slow,)).off_ms is None


def test_as_much_is_to_be_filmed_as_the_list_of_shots_says() -> None:
    """The list asks for film before and after what is shown; a passage alone asks for no less."""
    longest: dict[str, int] = {}
    for shot in shots_to_film(lamplight(), CRAFT, lambda *_: ""):
        pace = f"a stroke every {shot.stroke_seconds:.1f} seconds" if shot.stroke_seconds else ""
        words = f"{shot.name}: {pace or 'held still'}"
        longest[words] = max(longest.get(words, 0), shot.seconds)
    told = {}
    for line in fitted_sentences(fit_takes(lamplight(), [], progress=Silent()), lamplight(), CRAFT):
        found = re.search(r"[:\d ,and]*\d (\D[^:]*): .*\. Film (\d+:\d\d) of it, (.*)\.", line)
        assert found is not None, line
        told[f"{found[1]}: {found[3]}"] = found[2]
    assert told == {words: as_minutes(seconds) for words, seconds in longest.items()}


def test_how_near_the_beat_is_told_in_plain_words() -> None:
    assert near_beat_says(0.2, 0.3) == "on the beat"
    assert near_beat_says(0.2, 12.3) == "on the beat, 12 ms from it at worst"
    assert near_beat_says(7.0, 22.1) == "7 ms from the beat, 22 ms at worst"


def test_a_hold_is_to_be_filmed_held_still_and_not_with_strokes() -> None:
    says = fitted_sentences(fit_takes(lamplight(), [], progress=Silent()), lamplight(), CRAFT)
    held = [
        as_minutes(lamplight().start_seconds(p))
        for p in lamplight().line
        if p.technique and CRAFT.technique(p.technique).family.is_held
    ]
    assert held
    assert len(says) < len([p for p in lamplight().line if not p.is_open])  # alike ones together
    for line in says:
        first = line.split()[0].rstrip(",")
        assert (first in held) == line.endswith(" of it, held still.")
        assert (first in held) != ("a stroke every" in line)


def test_why_a_take_is_not_used_is_told() -> None:
    passage = work()
    slow = take_of(passage, times=3.2, jitter=0.0)
    stranger = replace(
        take_of(passage, seed=2), technique="moon-walk", seen=replace(slow.seen, stretches=())
    )
    fitted = fit_takes(lamplight(), [slow, stranger], progress=Silent())
    says = unused_sentences(fitted, [slow, stranger], lamplight(), CRAFT)
    assert any("is drawn, though a take is named for it: its strokes were" in s for s in says)
    assert says[-1] == "The take take-2.mp4 is not shown: this routine has no moon-walk."
    assert not any("no take is named" in line for line in says)  # `rondel shots` lists those
    assert len(says) == 1 + sum(p.technique == passage.technique for p in lamplight().line)
    used = take_of(passage)
    assert not [
        line
        for line in unused_sentences(
            fit_takes(lamplight(), [used], progress=Silent()), [used], lamplight(), CRAFT
        )
        if "is drawn" in line or "is not shown" in line
    ]


def test_a_drawn_take_is_watched_named_and_fitted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    routine, passage = lamplight(), work()
    beats = [float(routine.clock.seconds_at(b)) for b in routine.landings(passage)]
    step = beats[1] - beats[0]
    # Hands that go there and back land twice in a stroke of the routine.
    kind, seed = next(
        (kind, seed)
        for seed in range(300)
        for kind in (Kind.ALTERNATE, Kind.GLIDE)
        if abs(np.log(2 * _usual(kind, seed) / step)) < 0.1
    )
    motion = make_motion(seed, TAKE_SECONDS, (kind,), jitter=0.1)
    scene = TakeScene(motion=motion, trouble=Trouble())
    take = write_take(tmp_path / "take.mp4", frames(scene))
    assert passage.technique is not None
    assert main(["watch", str(take), "--technique", passage.technique, "--json"]) == 0
    path = tmp_path / "routine.json"
    path.write_text(json.dumps(routine_to_dict(routine)), "utf-8")
    capsys.readouterr()
    assert main(["fit", str(path), str(take), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    shots = [shot for row in told["passages"] for shot in row["shots"]]
    assert shots
    assert told["median_ms"] <= 12
    # Against the truth of the drawing: when the true landing is shown, and the beat it is for.
    truth = np.array(motion.landings)
    off = []
    for shot in shots:
        for beat, landing in zip(shot["beats"], shot["landings"], strict=True):
            true = float(truth[np.argmin(np.abs(truth - landing))])
            off.append(abs(float(np.interp(true, shot["shows"], shot["at"])) - beat))
    assert np.median(off) <= 0.012
    assert np.percentile(off, 95) <= 0.040
    # One that cannot be read, and one that nobody has named, stop no other.
    broken, unnamed = tmp_path / "broken.mp4", tmp_path / "not named.mp4"
    broken.write_bytes(b"no film" * 100)
    write_take(unnamed, islice(frames(scene), 100))
    assert main(["fit", str(path), str(broken), str(take), str(unnamed)]) == 0
    told_now = " ".join(capsys.readouterr().out.split())
    assert "Film " in told_now
    assert "The take broken.mp4 is left out: this cannot be understood as film" in told_now
    assert f"rondel watch '{unnamed}' --technique ID" in told_now


def _usual(kind: Kind, seed: int) -> float:
    motion = make_motion(seed, TAKE_SECONDS, (kind,), jitter=0.1)
    return float(np.median(np.diff(motion.landings)))


def test_a_folder_gives_its_films_and_a_film_named_twice_is_one(tmp_path: Path) -> None:
    for name in ("b.MP4", "a.mov", ".hidden.mp4", "notes.txt"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "empty").mkdir()
    one = tmp_path / "a.mov"
    assert films_of([one, tmp_path]) == [one, tmp_path / "b.MP4"]
    assert films_of([tmp_path, tmp_path / "empty" / ".." / "a.mov"]) == [one, tmp_path / "b.MP4"]
    with pytest.raises(BadInput, match="no film in this folder"):
        films_of([tmp_path / "empty"])
