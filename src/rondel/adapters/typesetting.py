"""Documents to PDF, through typst and the bundled fonts."""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib.resources import as_file, files

import typst

from rondel.app.ports.typesetting import PrintJob
from rondel.model.errors import InternalError

DATA = files("rondel") / "data"

# The library's own types do not tell that it takes several files by name.
_compile: Callable[..., bytes] = typst.compile


class TypstTypesetter:
    """The port `Typesetter`. No system font, clock or network is looked at."""

    def typeset(self, job: PrintJob) -> bytes:
        """Return the PDF of `job`: text stays text, drawings stay drawings."""
        template = DATA / "typst" / f"{job.template}.typ"
        given = {
            "main.typ": template.read_bytes(),
            "words.json": json.dumps(job.words, ensure_ascii=False, sort_keys=True).encode("utf-8"),
            **{name: svg.encode("utf-8") for name, svg in job.pictures.items()},
        }
        with as_file(DATA / "fonts") as fonts:
            try:
                pdf = _compile(
                    given,
                    format="pdf",
                    font_paths=[str(fonts)],
                    ignore_system_fonts=True,
                    timestamp=0,
                )
            except (RuntimeError, ValueError) as error:
                raise InternalError(
                    f"the paper could not be set ({error}); please send us the routine",
                    at=f"{job.template}.pdf",
                ) from error
        return bytes(pdf)
