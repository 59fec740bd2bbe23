"""Write the follow-along page."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rondel.app.ports.follow_parts import FollowParts
from rondel.app.ports.text_files import WriteText
from rondel.app.ports.voice import Speech
from rondel.documents.follow import Pages, follow_page
from rondel.drawing.page import draw_page, draw_slip
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

FOLLOW = "follow/index.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowReport:
    """How large the page became."""

    bytes: int


def make_follow(
    routine: Routine,
    craft: Craft,
    speech: Speech,
    out: Path,
    parts: FollowParts,
    write_text: WriteText,
) -> FollowReport:
    """Write follow/index.html into the session folder `out`."""
    pages = Pages(wide=draw_page(routine, craft), slip=draw_slip(routine, craft))
    text = follow_page(routine, craft, pages, speech, parts())
    write_text(out / FOLLOW, text)
    return FollowReport(bytes=len(text.encode("utf-8")))
