"""The page about briefs tells every key, and no other."""

from __future__ import annotations

import re
from pathlib import Path

from rondel.model.codec.schema import brief_schema

PAGE = Path(__file__).parents[1] / "docs" / "brief.md"


def test_the_page_about_briefs_tells_every_key_and_no_other() -> None:
    text = PAGE.read_text("utf-8")
    told = set(re.findall(r"^\| `(\w+)` \|", text, re.M))
    properties = brief_schema()["properties"]
    assert isinstance(properties, dict)
    # `keep` is told below the table, key by key.
    assert told == set(properties) - {"keep"}
    assert set(re.findall(r"^(\w+) = ", text, re.M)) == set(
        properties["keep"]["items"]["properties"]
    )
