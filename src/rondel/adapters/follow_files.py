"""The template of the follow-along page and its fonts, from the package."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from importlib.resources import files

from rondel.documents.follow import FollowTemplate

FAMILY = "Source Serif Pro"
FACES = (("SourceSerifPro-Regular.ttf", "normal"), ("SourceSerifPro-It.ttf", "italic"))


@cache
def follow_template() -> FollowTemplate:
    """Return the template; the fonts travel inside the page, because it opens from disk."""
    data = files("rondel") / "data"
    folder = data / "follow"
    return FollowTemplate(
        page=(folder / "page.html").read_text("utf-8"),
        style=(folder / "page.css").read_text("utf-8"),
        script=(folder / "page.js").read_text("utf-8"),
        fonts="\n".join(_face((data / "fonts" / n).read_bytes(), style) for n, style in FACES),
    )


def _face(font: bytes, style: str) -> str:
    source = f"data:font/ttf;base64,{b64encode(font).decode('ascii')}"
    return (
        f"@font-face{{font-family:'{FAMILY}';font-style:{style};font-weight:400;"
        f"src:url({source}) format('truetype')}}"
    )
