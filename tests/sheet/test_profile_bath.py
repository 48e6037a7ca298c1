"""What is wrong with a bath line, whole lists compared; and what a sound one comes to."""

from __future__ import annotations

import pytest
from golden import Golden
from sheet.telling import told

from timerd.sheet.profile.reading import read

P = """\
bath: mine
base: fibre
carry_s: 20
develop: together
cues: softly
baths:
  - {name: developer, kind: developer, seconds: 120, drain_s: 10, agitate: {every_s: 30, for_s: 10}, factor: 6}
  - {name: stop, kind: stop bath, seconds: 10, drain_s: 10, drain: outside}
  - {name: fixer-1, kind: fixer, seconds: 60, capacity: {fibre: 50}, followed_by: fixer-2, cycles: 5, litres: 1.5}
  - {name: fixer-2, kind: fixer, seconds: 60, keeps_h: 168}
"""


def changed(lines: dict[int, str]) -> str:
    """The line above with some of its lines, counted from 1, written otherwise."""
    return "".join(lines.get(n, line) + "\n" for n, line in enumerate(P.splitlines(), start=1))


def test_a_sound_line() -> None:
    assert told(P) == []
    line = read(P.encode(), "p.yaml", "bath").value
    assert (line.bath, line.base, line.carry_s, line.develop, line.cues) == ("mine", "fibre", 20, "together", "softly")
    developer, stop, one, two = line.baths
    assert developer.agitate is not None and (developer.agitate.every_s, developer.agitate.for_s) == (30, 10)
    assert (developer.drain, stop.drain, developer.factor, two.keeps_h) == ("inside", "outside", 6, 168)
    assert one.capacity is not None and one.capacity.per_litre == {"fibre": 50.0}
    assert line.white_from == (2, 30, 30)
    assert (one.followed_by, one.cycles, one.litres, one.words) == ("fixer-2", 5, 1.5, "fixer 1")


def test_the_drain_is_counted_inside_or_comes_after() -> None:
    developer, stop, *_ = read(P.encode(), "p.yaml", "bath").value.baths
    assert developer.move_after(20) == 120 and stop.move_after(20) == 20
    warm = read(changed({7: P.splitlines()[6].replace("factor: 6", "per_degree: 0.08")}).encode(), "p.yaml", "bath")
    assert warm.value.baths[0].move_after(24) == pytest.approx(120 * 0.726149)  # exp(-0.32)


BAD = {
    "no developer": changed({7: ""}),
    "developer later": changed({10: "  - {name: fixer-2, kind: developer, seconds: 60}"}),
    "developers alone": (
        "bath: b\nbaths:\n  - {name: a, kind: developer, seconds: 9}\n  - {name: b, kind: developer, seconds: 9}\n"
    ),
    "one bath": "bath: b\nbaths:\n  - {name: a, kind: developer, seconds: 9}\n",
    "twice": changed({8: "  - {name: developer, kind: stop bath, seconds: 10}"}),
    "all drain": changed({8: "  - {name: stop, kind: stop bath, seconds: 10, drain_s: 10}"}),
    "no pause": changed({8: "  - {name: stop, kind: stop bath, seconds: 10, agitate: {every_s: 5, for_s: 5}}"}),
    "factor": changed({8: "  - {name: stop, kind: stop bath, seconds: 10, factor: 6}"}),
    "capacity": changed({8: "  - {name: stop, kind: stop bath, seconds: 10, capacity: {}}"}),
    "capacity misspelt": changed({8: "  - {name: stop, kind: stop bath, seconds: 10, capacity: {fiber: 20}}"}),
    "white light in the stop bath": changed({5: "white_light: {bath: stop, after_s: 30}"}),
    "white light in a bath that is not there": changed({5: "white_light: {bath: fixer-3}"}),
    "white light of nothing": changed({5: "white_light: {}"}),
    "white light misspelt": changed({5: "white_light: {bath: fixer-1, after: 30}"}),
    "white light at once": changed({5: "white_light: {bath: fixer-1, after_s: 0}"}),
    "white light without a fixer": (
        "bath: b\nwhite_light: {after_s: 30}\n"
        "baths:\n  - {name: a, kind: developer, seconds: 9}\n  - {name: b, kind: wash, seconds: 9}\n"
    ),
    "followed by what is not there": changed(
        {9: "  - {name: fixer-1, kind: fixer, seconds: 60, followed_by: fixer-3}"}
    ),
    "cycles alone": changed({10: "  - {name: fixer-2, kind: fixer, seconds: 60, cycles: 5}"}),
    "words and numbers": changed(
        {4: "develop: later", 5: "cues: loudly", 8: "  - {name: Stop, kind: stop, seconds: 2 min}"}
    ),
}


@pytest.mark.parametrize("text", BAD.values(), ids=BAD)
def test_what_is_wrong_is_told_at_its_line(golden: Golden, text: str) -> None:
    golden(told(text))
