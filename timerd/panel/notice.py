"""What must be seen now, whatever is on the screen. Pure."""

from __future__ import annotations

from timerd.sheet.status import Status
from timerd.sheet.telling import ink_words, mind_words, refusal_words, unplugged_words, warming_words, worn_words

REFUSED_S = 5.0
"""For how long the reason of a refused press is shown, or that a contact is worn."""
OVERDUE_S = 0.5
"""A light not told dark so long after its end is something to look at: the keeper's lease has run out too."""
_BOTH = {"fault": "the fault is cleared", "idle": "the sheet is given up"}


def notice(status: Status, now: float) -> str:
    """The most urgent of what a status has to say beside its state, at this monotonic time; empty where nothing is."""
    said, refused, burst = status.said, status.refused, status.burst
    if burst is not None and burst.deadline is not None and now > burst.deadline + OVERDUE_S:
        return f"no word that {burst.light} is dark: look at the lamp"
    if said is not None and said.what == "both held" and 0 <= now - said.at < 1.0:
        return f"both down for a second more: {_BOTH.get(status.state, 'the sheet is abandoned')}"
    if refused is not None and 0 <= now - refused.at < REFUSED_S:
        return f"nothing done: {refusal_words(refused.why)}"
    if status.worn is not None and said is not None and said.what == "worn" and 0 <= now - said.at < REFUSED_S:
        return worn_words(status.worn)
    if status.ink is not None:
        return f"no light: {ink_words(status.ink)}"
    if status.unplugged:
        return "; ".join(unplugged_words(status.unplugged))
    if burst is None and (warming := warming_words(status.warming, now)):
        return warming
    minds = status.mind if status.state == "idle" else ()
    return f"mind: {'; '.join(map(mind_words, minds))}" if minds else ""
