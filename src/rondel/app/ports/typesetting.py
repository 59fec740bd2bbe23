"""What the app asks of whatever sets words and drawings on paper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

#: What may stand in a print job: JSON's own kinds.
Printable = str | int | float | bool | None | Sequence["Printable"] | Mapping[str, "Printable"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintJob:
    """One document to set.

    `template` names one of the bundled templates ("page", "cards", "shots"); `words` is what it
    sets, with `title`, `language` and the paper's `width` and `height` in points among it;
    `pictures` are SVG drawings by the names that `words` uses.
    """

    template: str
    words: Mapping[str, Printable]
    pictures: Mapping[str, str]


class Typesetter(Protocol):
    """Sets documents as PDF; the same job gives the same bytes."""

    def typeset(self, job: PrintJob) -> bytes:
        """Return the PDF of `job`. Raises InternalError where template and words do not fit."""
        ...
