"""Writing SVG: fixed decimals, escaped words, words that keep their width."""

from __future__ import annotations

import re
from xml.sax.saxutils import escape

from rondel.drawing.lettering import FAMILY, Face, width_of
from rondel.model.words import Language


def num(value: float) -> str:
    """Return `value` with at most two decimals, never as a negative zero.

    >>> num(-0.001), num(2.5), num(10.0)
    ('0', '2.5', '10')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


#: What XML 1.0 (section 2.2) does not allow in a document.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def escaped(text: str, *, quoted: bool = False) -> str:
    """Return `text` fit for XML: signs escaped, what XML forbids left out."""
    return escape(_NOT_XML.sub("", text), {'"': "&quot;"} if quoted else {})


def attributes(**named: object) -> str:
    """Return ` name="value"` for each that is not None; underscores become hyphens."""
    parts = []
    for name, value in named.items():
        if value is None:
            continue
        text = num(value) if isinstance(value, float) else str(value)
        key = name.rstrip("_").replace("_", "-")
        parts.append(f' {key}="{escaped(text, quoted=True)}"')
    return "".join(parts)


def tongue(language: Language | None) -> str:
    """Return the attributes that say in which language words are, none for None: for drawings that
    stand alone as for those within a page (SVG 2, 5.10.2; HTML, "the lang and xml:lang")."""
    return "" if language is None else f' lang="{language}" xml:lang="{language}"'


def tag(name: str, **named: object) -> str:
    """Return an empty element."""
    return f"<{name}{attributes(**named)}/>"


def words(
    text: str,
    *,
    x: float,
    y: float,
    face: Face,
    size: float,
    fill: str,
    language: Language | None = None,
) -> str:
    """Return a text element that starts at `x` on the baseline `y` and keeps its width.

    No words give no element. `language` is told where it is not the drawing's.
    """
    text = _NOT_XML.sub("", text)
    if not text.strip():
        return ""
    named = attributes(
        x=float(x),
        y=float(y),
        font_size=float(size),
        font_style="italic" if face.is_italic else None,
        font_weight="600" if face.is_bold else None,
        fill=fill,
        textLength=float(width_of(text, face, size)),
        lengthAdjust="spacingAndGlyphs",
    )
    return f"<text{named}{tongue(language)}>{escaped(text)}</text>"


def document(
    body: str,
    *,
    width: float,
    height: float,
    title: str,
    desc: str,
    name: str,
    paper: str | None,
    language: Language = Language.ENGLISH,
) -> str:
    """Return a whole drawing of `width` × `height` points, with its words for screen readers.

    It is in `language`, but for what says otherwise; `desc` is English.
    """
    ground = (
        tag("rect", width=float(width), height=float(height), fill=paper) + "\n" if paper else ""
    )
    root = attributes(
        viewBox=f"0 0 {num(width)} {num(height)}",
        width=f"{num(width)}pt",
        height=f"{num(height)}pt",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family=FAMILY,
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{root}{tongue(language)}>\n'
        f'<title id="{name}-title">{escaped(title)}</title>\n'
        f'<desc id="{name}-desc"{tongue(english_in(language))}>{escaped(desc)}</desc>\n'
        f"{ground}{body}\n</svg>\n"
    )


def english_in(language: Language) -> Language | None:
    """Return what has to be said of English words in a drawing in `language`; None for nothing."""
    return None if language is Language.ENGLISH else Language.ENGLISH


def size_of(svg: str) -> tuple[float, float]:
    """Return the width and height that `document` gave a drawing, in points."""
    match = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    if match is None:
        raise ValueError("this is no drawing of ours")
    return float(match[1]), float(match[2])
