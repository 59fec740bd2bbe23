"""The cut list is read by the format's own library, and its cuts are the frames of the video."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import opentimelineio as otio
import pytest

import page_samples as samples
from rondel.cli.main import main
from rondel.documents.cut_list import cut_list
from rondel.drawing.frames.script import frames_of, nearest_frame
from rondel.model.names import OPEN_NAME
from rondel.model.routine import Routine
from short_sessions import routine_file

ROUTINE, CRAFT = samples.lamplight(), samples.CRAFT


def read(routine: Routine) -> otio.schema.Timeline:
    text = cut_list(routine, CRAFT, rate=25, frames=frames_of(routine), frame_at=nearest_frame)
    timeline = otio.adapters.read_from_string(text, "otio_json")
    assert isinstance(timeline, otio.schema.Timeline)
    return timeline


def test_the_formats_own_library_reads_it_and_writes_the_same_again() -> None:
    timeline = read(ROUTINE)
    again = otio.adapters.read_from_string(timeline.to_json_string(), "otio_json")
    assert again.is_equivalent_to(timeline)
    assert timeline.name == ROUTINE.title
    assert [t.kind for t in timeline.tracks] == ["Video", "Audio"]


def test_every_passage_is_a_clip_of_its_own_frames_without_a_gap() -> None:
    timeline = read(ROUTINE)
    clips = list(timeline.tracks[0])
    assert [c.metadata["rondel"]["passage"] for c in clips] == [p.id for p in ROUTINE.line]
    past = 0
    for clip, passage in zip(clips, ROUTINE.line, strict=True):
        span = clip.source_range
        assert span.start_time.value == past == clip.range_in_parent().start_time.value
        past += span.duration.value
        assert span.start_time.to_seconds() == pytest.approx(
            ROUTINE.start_seconds(passage), abs=float(Fraction(1, 25))
        )
    assert past == frames_of(ROUTINE) == timeline.duration().value
    assert OPEN_NAME in {c.name for c in clips}


def test_it_names_the_video_that_was_made(tmp_path: Path) -> None:
    source = routine_file(tmp_path / "routine.json")
    for shapes, video in (
        ("tall", "session-tall.mp4"),
        ("square,wide", "session.mp4"),  # the wide one, wherever there is one
        ("wide", "session.mp4"),
    ):
        assert main(["make", str(source), "--only", "words", "--shape", shapes]) == 0
        text = (tmp_path / "session" / "cut.otio").read_text("utf-8")
        timeline = otio.adapters.read_from_string(text, "otio_json")
        media = {clip.media_reference.target_url for clip in timeline.find_clips()}
        assert media == {video, "session.flac"}


def test_media_stand_beside_it() -> None:
    timeline = read(ROUTINE)
    urls = {c.media_reference.target_url for c in timeline.find_clips()}
    assert urls == {"session.mp4", "session.flac"}
