"""Records that cannot be folded, since they say what no record says: which of them it is, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

from timerd.book.rows import Damage, Written
from timerd.sheet.progress import SheetProgress

if TYPE_CHECKING:
    from timerd.sheet.plan.value import Plan

UNFIT = (ArithmeticError, AttributeError, LookupError, StopIteration, TypeError, ValueError)
"""What comes of a fold over records that nobody wrote so."""
Made = TypeVar("Made")


class UnfitRecords(ValueError):
    """Records that do not fit together; `damage` has the first that does not fit those before it."""

    def __init__(self, damage: Damage) -> None:
        super().__init__(damage.words)
        self.damage = damage


def made_of(written: Sequence[Written], make: Callable[[Sequence[Written]], Made]) -> Made:
    """What is made of one sheet's records. Raises Unfit where they do not fit together."""
    try:
        return make(written)
    except UNFIT as error:
        found = error
    fit, unfit = 0, len(written)  # so many of them fit, so many do not
    while unfit - fit > 1:
        half = (fit + unfit) // 2
        try:
            make(written[:half])
        except UNFIT as error:
            unfit, found = half, error
        else:
            fit = half
    last = written[unfit - 1]
    raise UnfitRecords(Damage(last.record.sheet, last.number, does_not_fit(found)))


def does_not_fit(error: BaseException) -> str:
    """What is wrong with a record that a fold fell over, for a Damage.

    >>> does_not_fit(KeyError("given"))
    "is damaged: it does not fit those before it ('given' is missing)"
    """
    text = f"{error} is missing" if isinstance(error, KeyError) else str(error).partition("\n")[0]
    return f"is damaged: it does not fit those before it ({text})"


def fits(plan: Plan, sheet: SheetProgress) -> bool:
    """Whether a plan has the steps that a sheet was armed with, and the sheet stands at one of them, or past the last.

    A plan and an `armed` record are written as one; that they differ is the work of what damaged either.
    """
    armed = [(s.n, s.kind, s.planned, s.light) for s in sheet.steps.values()]
    return armed == list(plan.as_armed) and 1 <= sheet.at_hand <= len(armed) + 1
