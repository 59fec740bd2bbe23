"""One request in a handler's hands, and the answers a handler may give."""

from __future__ import annotations

import json
import re
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from functools import cache
from gettext import NullTranslations
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from rondel.adapters.routine_shelf import Kept
from rondel.desk.desk import Desk
from rondel.desk.told import plainly_in, told_in
from rondel.desk.words import LANGUAGES, language_for, translations
from rondel.drawing.page_words import sentence_under_title
from rondel.model.errors import BadInput
from rondel.model.names import language_of
from rondel.model.time import as_minutes

_WAY = re.compile(r"/studio-of-hers/(?:[^/:\n]+/)*")
LANGUAGE_COOKIE = "rondel-language"


@cache
def environment(language: str) -> Environment:
    """Return the templates in `language`. What is put into them is escaped."""
    found = Environment(
        loader=PackageLoader("rondel.desk"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    found.install_gettext_translations(translations(language), newstyle=True)  # type: ignore[attr-defined]
    found.filters["clock"] = as_minutes
    found.filters["told"] = _told
    found.filters["told_plainly"] = _told_plainly
    found.globals["languages"] = LANGUAGES
    return found


@pass_context
def _told(page: Context, text: str) -> Markup:
    """Return what is told in English in the language of the page."""
    return told_in(page["language"], text, page["hand_names"])


@pass_context
def _told_plainly(page: Context, text: str) -> str:
    return plainly_in(page["language"], text, page["hand_names"])


def warm_leaves() -> None:
    """Read the templates of the first leaves, before anybody waits for them."""
    for name in ("start.html", "page.html"):
        environment(next(iter(LANGUAGES))).get_template(name)


@dataclass(frozen=True, kw_only=True)
class Ask:
    """A request: the desk it is put to, its words, and the reader's language."""

    desk: Desk
    request: Request
    form: FormData

    @property
    def language(self) -> str:
        request = self.request
        return language_for(
            request.cookies.get(LANGUAGE_COOKIE), request.headers.get("accept-language", "")
        )

    @property
    def catalogue(self) -> NullTranslations:
        return translations(self.language)

    def say(self, text: str, **named: object) -> str:
        """Return `text` in the reader's language, with what is named put in."""
        told = self.catalogue.gettext(text)
        return told.format(**named) if named else told

    def short(self, words: str) -> str:
        """Return `words` with files called by their own names, without the way to them."""
        return _WAY.sub("", words.replace(f"{self.desk.studio}/", "/studio-of-hers/"))

    def path(self, name: str) -> str:
        return str(self.request.path_params[name])

    def word(self, name: str, default: str = "") -> str:
        """Return a word of the form, else of the address."""
        found = self.form.get(name, self.request.query_params.get(name, default))
        return found if isinstance(found, str) else default

    def words(self, name: str) -> tuple[str, ...]:
        """Return all words given for `name`."""
        rows = self.form.getlist(name) or self.request.query_params.getlist(name)
        return tuple(w for w in rows if isinstance(w, str))

    @property
    def here(self) -> str:
        """The address of this page, or of one near it that can be asked for again."""
        path = self.request.url.path
        if self.request.method in ("GET", "HEAD"):
            return path
        slug = self.request.path_params.get("slug")
        return f"/r/{slug}/" if slug else "/"

    @property
    def _hand_names(self) -> tuple[str, ...]:
        """What techniques are called: names, that are the same in every language."""
        try:
            craft = self.desk.craft()
        except BadInput:
            return ()
        return tuple(name for t in craft.techniques for name in (t.plain, t.anatomical))

    def page(self, template: str, status: int = 200, **values: object) -> Response:
        """Return a page of the book."""
        text = (
            environment(self.language)
            .get_template(template)
            .render(
                language=self.language,
                hand_names=self._hand_names,
                craft_trouble=self.desk.craft_trouble,
                short=self.short,
                **{"here": self.here, **values},
            )
        )
        return HTMLResponse(text, status)

    def leaf(
        self, template: str, now: str, kept: Kept, status: int = 200, **values: object
    ) -> Response:
        """Return a leaf of one routine; `now` is the leaf's name in the address."""
        return self.page(
            template,
            status,
            kept=kept,
            slug=kept.slug,
            routine=kept.routine,
            under=sentence_under_title(kept.routine, self.desk.craft()),
            now=now,
            tongue=str(language_of(kept.routine)),
            **values,
        )


def to(address: str) -> Response:
    """Send the browser to another page of the desk, after something was done."""
    return RedirectResponse(address, 303)


def data(values: Mapping[str, object], status: int = 200) -> Response:
    return JSONResponse(values, status)


def as_data(values: object) -> Markup:
    """Return JSON that may stand in a script element of type application/json."""
    text = json.dumps(values, ensure_ascii=False, separators=(",", ":"))
    return Markup(text.replace("<", "\\u003c").replace("\u2028", "\\u2028"))


Handler = Callable[[Ask], Response]


def answering(handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that reads the form and runs `handler` in a thread of its own."""

    async def endpoint(request: Request) -> Response:
        is_form = request.method == "POST"
        form = await request.form() if is_form else FormData()
        ask = Ask(desk=request.app.state.desk, request=request, form=form)
        return await run_in_threadpool(handler, ask)

    endpoint.__name__ = handler.__name__
    return endpoint


def whole(word: str, *, at: str, low: int, high: int) -> int:
    """Return a whole number in words; BadInput for anything else."""
    # No long ones: Python refuses to read thousands of digits.
    if len(word) > 18 or not word.isdecimal() or not low <= int(word) <= high:
        raise BadInput(f"must be a whole number from {low} to {high}", at=at)
    return int(word)


def number(value: Any) -> str:
    """Return a number without a needless fraction."""
    return f"{float(value):g}"
