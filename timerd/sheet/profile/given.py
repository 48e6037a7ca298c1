"""What a file says beside its value: what is written in it at all, even where it could not be used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from timerd.sheet.profile.faults import Place

Found = Iterator[tuple[Place, str]]
"""What a check finds: a place, and what is wrong there."""


@dataclass
class WrittenLines:
    """The lines of what is written.

    `odd` are the mappings with a key that nobody knows, which may have been meant for one that seems to be
    missing; `bad` are the places whose own value could not be used.
    """

    lines: Mapping[Place, int]
    odd: set[Place] = field(default_factory=set)
    bad: set[Place] = field(default_factory=set)

    def written(self, place: Place, *keys: str) -> list[str]:
        """Those of the keys that are written in the mapping at a place, usable or not."""
        return [key for key in keys if (*place, key) in self.lines]

    def lacks(self, place: Place, *keys: str) -> bool:
        """Whether none of the keys is there, and none can have been meant."""
        return place not in self.odd and not self.written(place, *keys)

    def usable(self, place: Place) -> bool:
        """Whether nothing is wrong with the value at a place itself, nor with its own keys."""
        return place not in self.odd and place not in self.bad

    def complete(self, table: str) -> bool:
        """Whether all names of a table at the top of the file are known: it is sound, or not there at all."""
        return self.usable((table,)) and (bool(self.written((), table)) or () not in self.odd)

    def line_of(self, place: Place) -> int:
        """The line of a place, or of the nearest one around it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)
