"""Where a region is worked, or passed over, that the brief avoids.

Who avoids the whole back avoids each part of it: a region that covers others stands for them.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.rules.avoid import RULE


def findings(view: View) -> Iterator[Finding]:
    avoided = view.with_parts(view.brief.avoid_regions) if view.brief else ()
    for passage, technique in view.known():
        for region in view.touched(technique):
            if region in avoided:
                where = view.region_name(region)
                is_on = region == technique.region
                does = f"works on {where}" if is_on else f"passes over {where}"
                says = f"{view.place(passage)} {does}, which the brief avoids."
                yield view.finding(RULE, passage.start_bar, says)
