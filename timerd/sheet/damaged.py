"""The sheets whose records cannot be relied on: left out of everything but for one question, whether they are out."""

from __future__ import annotations

from timerd.sheet.facts import Fact, GivenUp, OutOfTheBaths, SafeInWhiteLight

IN_THE_LIGHT = (SafeInWhiteLight, GivenUp, OutOfTheBaths)
"""After one of these white light spoils nothing more."""


class Damaged:
    """`words` has what is wrong with each (0: with records of no sheet). Those in `out` may be out: nobody said that
    they are in the stop bath."""

    def __init__(self) -> None:
        self.words: dict[int, str] = {}
        self.out: set[int] = set()

    def add(self, sheet: int, words: str, may_be_out: bool) -> None:
        """One more, or one that is known already."""
        self.words.setdefault(sheet, words)
        if may_be_out and sheet:
            self.out.add(sheet)

    def take(self, sheet: int, fact: Fact) -> bool:
        """Whether a record of this sheet is of one of them: then nothing is made of it but that it is out no more."""
        if not sheet or sheet not in self.words:
            return False
        if isinstance(fact, IN_THE_LIGHT):
            self.out.discard(sheet)
        return True
