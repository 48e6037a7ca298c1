"""When it went dark after a keeper that did not live to say so: by its note, its signs of life, and what was found."""

from __future__ import annotations

import pytest

from timerd.bench.ending import UNSEEN_S, LinesFound, completed
from timerd.bench.note import Noted, Signs

AT, FOUND, DARK = 50.0, 60.0, 60.5
NOBODY = Signs(0.0, 0.0, 0.0)


def noted(lit: float | None, dark: float | None = None, why: str | None = None) -> Noted:
    return Noted("book", "boot", 7, AT, lit, dark, why)


def seen(
    high: bool | None, ended: float | None = None, simulated: bool = False, interlock: bool = False
) -> LinesFound:  # fmt: skip
    return LinesFound(FOUND, high, DARK, ended, simulated, interlock)


CASES: dict[str, tuple[Noted, Signs | None, LinesFound, tuple[float | None, float, float | None]]] = {
    "a line that stayed burned until it was driven low": (
        noted(AT), Signs(53.0, 0.0, AT), seen(True), (AT, DARK, FOUND)),
    "but an interlock may have put its lamp out since the keeper last was": (
        noted(AT), Signs(53.0, 0.0, AT), seen(True, interlock=True), (AT, DARK, 53.0)),
    "a line that fell did so when the keeper was seen to end": (
        noted(AT), Signs(53.0, 0.0, AT), seen(False, ended=53.02), (AT, 53.02, 53.0)),
    "to a millisecond that is exact": (
        noted(AT), Signs(53.0, 0.0, AT), seen(False, ended=53.0004), (AT, 53.0004, None)),
    "or, where nobody saw it end, soon after its last sign of life": (
        noted(AT), Signs(53.0, 0.0, AT), seen(False), (AT, 53.0 + UNSEEN_S, 53.0)),
    "not later than it was found": (
        noted(AT), Signs(60.2, 0.0, AT), seen(False), (AT, DARK, 60.2)),
    "a line that it wrote low and that is low is exact": (
        noted(AT), Signs(53.0, 53.1, AT), seen(False, ended=54.0), (AT, 53.1, None)),
    "an earlier burst's end says nothing": (
        noted(AT), Signs(53.0, 49.0, AT), seen(False, ended=53.2), (AT, 53.2, 53.0)),
    "what cannot be seen lies between its last sign of life and the last off": (
        noted(AT), Signs(53.0, 0.0, AT), seen(None, ended=53.2), (AT, DARK, 53.0)),
    "from when it wrote the line low, if it did": (
        noted(AT), Signs(53.0, 53.1, AT), seen(None), (AT, DARK, 53.1)),
    "a keeper that gave no sign lived until it lit at least": (
        noted(AT), NOBODY, seen(False, ended=50.3), (AT, 50.3, AT)),
    "died in the lead-in": (
        noted(None), Signs(49.9, 40.0, 30.0), seen(False, ended=49.9), (None, DARK, None)),
    "died at the very edge, the line was not to be seen any more": (
        noted(None), Signs(49.99, 40.0, 50.001), seen(False, ended=50.004), (50.001, 50.004, 50.001)),
    "died at the very edge, and the line stayed": (
        noted(None), Signs(49.99, 40.0, 50.001), seen(True), (50.001, DARK, FOUND)),
    "died at the very edge, on a line that cannot be seen": (
        noted(None), Signs(49.99, 40.0, 50.001), seen(None), (50.001, DARK, 50.001)),
    "a simulated line would have stayed": (
        noted(None), Signs(49.99, 40.0, 50.001), seen(False, simulated=True), (None, DARK, None)),
    "a line that is high though it was not lit was lit when it was due": (
        noted(None), NOBODY, seen(True), (AT, DARK, FOUND)),
    "a note of another size has no signs: it may have been lit": (
        noted(None), None, seen(False, ended=50.3), (AT, 50.3, AT)),
    "what would not go low went at last": (
        noted(AT, 52.0, "line not low"), Signs(53.0, 51.0, AT), seen(True), (AT, DARK, FOUND)),
}  # fmt: skip


@pytest.mark.parametrize("what", CASES)
def test_when_it_went_dark(what: str) -> None:
    before, signs, found, (lit, dark, dark_lo) = CASES[what]
    assert completed(before, signs, found) == noted(lit, dark, "last off")._replace(dark_lo=dark_lo)


@pytest.mark.parametrize("high", [True, False, None])
@pytest.mark.parametrize(
    "over", [noted(AT, 52.0, "deadline"), noted(None, 49.0, "pedal"), noted(AT, 52.0, "line not low")]
)
def test_an_end_that_was_noted_is_the_end(over: Noted, high: bool | None) -> None:
    """Whatever a line does once nobody drives it: only one that would not go low is known to have burned on."""
    if not (high and over.why == "line not low"):
        assert completed(over, Signs(53.0, 52.0, AT), seen(high)) is over
