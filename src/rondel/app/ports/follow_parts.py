"""What the app asks of whatever keeps the template of the follow-along page."""

from __future__ import annotations

from typing import Protocol

from rondel.documents.follow import FollowTemplate


class FollowParts(Protocol):
    """Gives the parts of the follow-along page that are the same for every routine."""

    def __call__(self) -> FollowTemplate: ...
