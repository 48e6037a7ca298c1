"""HTML by construction: whatever is put into an element is escaped, unless it was made here itself."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

from timerd.sheet.safe import safe


class Markup(str):
    """HTML that is finished. Only this module makes it from text; `drawing` takes in a picture that was made safely."""

    __slots__ = ()


Inside = str | Iterable[str] | None
"""What an element holds: text, markup, several of both, or nothing."""

_VOID = {"meta", "link", "input", "img", "br"}


def tag(name: str, /, *inside: Inside, **attributes: str | float | None) -> Markup:
    """An element. Text in it and in its attributes is shown as it is written, never obeyed.

    `class_` is the attribute class; another underscore is a hyphen; an attribute that is None is left out.

    >>> tag("p", "1 < 2 & ", tag("b", "so"), class_="plain", aria_label='"')
    '<p class="plain" aria-label="&quot;">1 &lt; 2 &amp; <b>so</b></p>'
    """
    told = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{html.escape(safe(_word(value)))}"'
        for key, value in attributes.items() if value is not None
    )  # fmt: skip
    if name in _VOID:
        return Markup(f"<{name}{told}>")
    return Markup(f"<{name}{told}>{joined(*inside)}</{name}>")


def joined(*parts: Inside) -> Markup:
    """Texts and markup one behind the other, the texts escaped."""
    return Markup("".join(_part(part) for part in parts))


def foreign(text: str) -> Markup:
    """A text that somebody wrote: set apart, so that one that runs from right to left turns nothing else round.

    >>> foreign("low <tide>")
    '<bdi>low &lt;tide&gt;</bdi>'
    """
    return tag("bdi", text)


def naming(text: str, name: str) -> Markup:
    """A text of ours in which a name stands that somebody gave.

    >>> naming("dodge boat 1/3 stop", "boat")
    'dodge <bdi>boat</bdi> 1/3 stop'
    """
    before, found, after = text.partition(name)
    return joined(before, foreign(found), after) if found else joined(text)


def lines(text: str) -> Markup:
    """A text of several lines that somebody wrote."""
    parts: list[str] = []
    for line in text.splitlines() or [""]:
        parts += [foreign(line), tag("br")]
    return joined(parts[:-1])


def table(heads: Sequence[str], bodies: Iterable[Markup], words: int, class_: str) -> Markup:
    """A table with a line of heads; those after the first `words` stand over numbers."""
    cells = (tag("th", head, scope="col", class_="number" if i >= words else None) for i, head in enumerate(heads))
    return tag("table", tag("thead", tag("tr", *cells)), *bodies, class_=class_)


def drawing(svg: str) -> Markup:
    """A whole SVG in which every text has been escaped by who drew it."""
    return Markup(svg)


def _part(part: Inside) -> str:
    if part is None:
        return ""
    if isinstance(part, Markup):
        return part
    if isinstance(part, str):
        return html.escape(safe(part))
    return "".join(_part(one) for one in part)


def _word(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:.10g}"
