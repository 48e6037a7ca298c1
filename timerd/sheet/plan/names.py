"""What steps are called: kind, area and light, `burn/haze/green`; `haze` alone where only one step fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from timerd.sheet.plan.value import Step
from timerd.sheet.profile.faults import did_you_mean, near, shown


class Names:
    """Gives each step a name of its own: a second of the same kind, area and light is `/2`."""

    def __init__(self) -> None:
        self._taken: dict[str, int] = {}

    def of(self, stem: str) -> str:
        """The name for the next step of this stem."""
        count = self._taken[stem] = self._taken.get(stem, 0) + 1
        return stem if count == 1 else f"{stem}/{count}"


def resolve(steps: Iterable[Step], text: str) -> Step:
    """The step meant by its name or by words of it that fit one step only: `haze`, `haze/green`, `burn/haze`.

    Raises LookupError with the steps that fit, or with near misses.
    """
    steps = list(steps)
    return steps[position([step.name for step in steps], text)]


def position(names: Sequence[str], text: str, what: str = "step") -> int:
    """Where the name meant stands among `names`; words of it may be left out, their order holds.

    >>> names = ["base/soft/green", "burn/haze/green", "burn/rocks/green"]
    >>> position(names, "haze"), position(names, "haze/green"), position(names, "burn/rocks")
    (1, 1, 2)
    >>> position(names, "burn")
    Traceback (most recent call last):
    LookupError: 'burn' fits 2 steps: burn/haze/green, burn/rocks/green
    """
    wanted = text.strip()
    if wanted in names:
        return names.index(wanted)
    fits = [i for i, name in enumerate(names) if _fits(wanted, name)]
    if len(fits) == 1:
        return fits[0]
    if fits:
        there = ", ".join(names[i] for i in fits)
        raise LookupError(f"{shown(wanted)} fits {len(fits)} {what}s: {there}")
    words = names if "/" in wanted else dict.fromkeys(word for name in names for word in name.split("/"))
    hint = did_you_mean(wanted, words if near(wanted, words) else names)
    raise LookupError(f"there is no {what} {shown(wanted)}{hint}")


def _fits(wanted: str, name: str) -> bool:
    words = iter(name.split("/"))
    return all(word in words for word in wanted.split("/"))
