"""The proof in the report: the pair of pictures, and what was done to each area's tone and contrast."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

from timerd.desk.report.markup import Markup, foreign, joined, table, tag
from timerd.desk.report.subject import Subject

if TYPE_CHECKING:  # reports are made where numpy is not installed too, without a proof
    from timerd.desk.proof.making import Proof
    from timerd.desk.proof.table import AreaTones

WIDTH = 480
"""How many pixels of each print across a report has: enough for its pages."""
_NOTHING = 0.005


def proof_section(subject: Subject) -> Markup | None:
    """The pair and its table, or why there is none; None where nobody tried to make one."""
    proof = subject.proof
    if proof is None and subject.no_proof is None:
        return None
    if proof is None:
        return tag("section", tag("h2", "The proof"), tag("p", f"None: {subject.no_proof}."), id="proof")
    worked = "the worked print" if subject.history is None else "what the sheet was given"
    picture = tag(
        "img", src=f"data:image/png;base64,{base64.b64encode(proof.png()).decode()}",
        alt=f"computed: the straight print at the left, {worked} at the right, and a scale of densities",
    )  # fmt: skip
    said = (part for text in proof.said for part in (foreign(text), "; "))
    return tag(
        "section",
        tag("h2", "The proof"),
        tag("figure", picture, class_="proof"),
        tag("p", "Computed, not photographed. Negative: ", foreign(proof.pair.negative.name), ".", class_="small"),
        _table(proof),
        tag(
            "p", "Mean density and, below it, mean local contrast (density per decade of image light); what dodges, "
            "burns and flash did to both, in this order. Assumed: ", *list(said)[:-1], ".", class_="small",
        ),
        id="proof",
    )  # fmt: skip


def _table(proof: Proof) -> Markup:
    names = ("straight", "dodges", "burns", "flash", "worked")
    rows = [tag("tr", tag("td", foreign(area.area)), *(_cell(area, name) for name in names)) for area in proof.table]
    return table(["area", *names], [tag("tbody", *rows)], words=1, class_="proofs")


def _cell(area: AreaTones, name: str) -> Markup:
    tone: tuple[float, float] | None = getattr(area, name)
    if tone is None:
        return tag("td", "-", class_="number")
    if name in ("straight", "worked"):
        words = [f"{value:.2f}" for value in tone]
    elif max(abs(value) for value in tone) < _NOTHING:
        return tag("td", class_="number")
    else:
        words = [f"{value if abs(value) >= _NOTHING else 0.0:+.2f}" for value in tone]
    return tag("td", joined(words[0], tag("div", words[1], class_="small")), class_="number")
