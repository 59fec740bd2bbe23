"""Words for what a half-made plan has met: marks of obligations, and where the peak row stands."""

from __future__ import annotations

RHYTHM, FILLER, STRETCH = 1, 2, 4

BEFORE, WITHIN, AFTER = 0, 1, 2  # of the peak row
