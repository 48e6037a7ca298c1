"""At the lines and the foot switch themselves: in the emulated kernel, where there is a real device for each."""

from __future__ import annotations

import os
from xml.etree import ElementTree

from attacks import Ground, attack


@attack("15.6", "a key event written by a member of the foot switch's group, on the kernel's own input device")
def group_key(ground: Ground) -> str:
    return _inside(ground, "member_of_its_group", "who writes a key is no foot")


@attack("15.9", "keepers killed and stopped with a light on, on lines that fall and on lines that stay")
def killed_keepers(ground: Ground) -> str:
    return _inside(ground, "the_book_holds_what_the_line_gave", "dark, and the book holds what the line gave (15.10)")


def _inside(ground: Ground, name: str, came: str) -> str:
    """The tests of that name in kernel/inside/: how many passed there, or why there is no such kernel here."""
    from kernel.machine import TESTS, NoMachine, run

    try:
        ran = run([*TESTS, "-k", name], ground.folder)
    except NoMachine as missing:
        assert os.environ.get("TIMERD_REQUIRE_TOOLS") != "1", str(missing)
        return f"skipped: {missing}"
    assert ran.status == 0, ran.said
    count = len(list(ElementTree.parse(ground.folder / "tests.xml").iter("testcase")))
    assert count, ran.said
    return f"EMULATED kernel, {count} of its tests: {came}"
