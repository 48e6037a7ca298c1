"""What does not match between a print on one paper and the same print on another."""

from __future__ import annotations

from collections.abc import Iterator

from timerd.printing.paper import SPEED_POINT, Curve
from timerd.sheet.profile.paperfile import Paper

TONE = 0.03  # density by which a tone may differ unnamed


def tones_apart(
    curves: tuple[Curve, Curve], before: tuple[float, float], after: tuple[float, float]
) -> Iterator[str]:  # fmt: skip
    """Tones between and beyond the two ends that are held: in words, where they differ. `before` and `after` are the
    exposures, green and blue, of an area of full light on the old and on the new paper."""
    old, new = curves
    times = old.multiple(old.dmin + SPEED_POINT, *before)
    got = new.density(times * after[0], times * after[1]) - new.dmin
    if abs(got - SPEED_POINT) > TONE:
        yield f"mid tone: {SPEED_POINT:.2f} over white on the old paper comes to {got:.2f} on the new"
    for word, was, now in (("blackest tone", old.dmax, new.dmax), ("white", old.dmin, new.dmin)):
        if abs(was - now) > TONE:
            yield f"{word}: density {was:.2f} on the old paper, {now:.2f} on the new"


def papers_apart(old: Paper, new: Paper) -> Iterator[str]:
    """What else differs, and what it asks for."""
    for word in ("surface", "base"):
        before, after = getattr(old, word), getattr(new, word)
        if before != after and None not in (before, after):
            yield f"{word}: {before} before, {after} now" + (": check the bath line" if word == "base" else "")
    if old.reciprocity != new.reciprocity:
        yield f"reciprocity: {old.reciprocity:g} before, {new.reciprocity:g} now: long exposures need a strip"
    for paper in (old, new):
        if paper.curve is not None and paper.curve.by == "patches":
            yield f"the curve of '{paper.paper}' was counted by eye: rough"
