"""The list of what to film for a routine, as a page to print."""

from __future__ import annotations

from rondel.app.ports.typesetting import Printable, PrintJob
from rondel.drawing.page_measure import A4, Paper
from rondel.drawing.shot_list import ShotToFilm
from rondel.model.time import as_minutes

#: Common practice among those who film hands, no source.
ADVICE = (
    "Let the camera stand still, and keep both hands and where they land in the picture. Light "
    "from the side shows pressure; oil that shines hides it. Film each thing in one piece. A slip "
    "is no reason to stop: go on, and it can be left out.",
    "Ask before you film anybody, agree on what the film is for, and cover what need not be seen.",
)


def shots_job(title: str, shots: tuple[ShotToFilm, ...], paper: Paper = A4) -> PrintJob:
    """Return the print job of the list: one row a shot."""
    names = [f"figure-{n}.svg" for n in range(1, len(shots) + 1)]
    rows: list[Printable] = [
        {
            "name": shot.name if not shot.anatomical else f"{shot.name} ({shot.anatomical})",
            "where": shot.where,
            "how": shot.how,
            "length": as_minutes(shot.seconds),
            "pace": shot.pace,
            "a_minute": shot.a_minute,
            "starts": f"shown at {', '.join(as_minutes(start) for start in shot.starts)}",
            "picture": name,
            "told": f"{shot.name}, {shot.where}",
        }
        for shot, name in zip(shots, names, strict=True)
    ]
    whole = as_minutes(sum(shot.seconds for shot in shots))
    return PrintJob(
        template="shots",
        words={
            "title": f"{title}: what to film",
            "language": "en",
            "width": paper.width,
            "height": paper.height,
            "says": f"{len(shots)} shots, {whole} for each place where a camera stands",
            "shots": rows,
            "advice": list(ADVICE),
        },
        pictures={name: shot.picture for shot, name in zip(shots, names, strict=True)},
    )
