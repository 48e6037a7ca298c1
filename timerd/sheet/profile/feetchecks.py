"""What is wrong within a feet file: keys that exclude each other, times that run backwards."""

from __future__ import annotations

from timerd.sheet.profile.faults import Place, quoted
from timerd.sheet.profile.feetfile import Feet, Foot
from timerd.sheet.profile.given import Found, WrittenLines

_OF_A_PEDAL = ("station", "down", "bounce", "found_down")
_OF_A_FAULT = ("light", "until")
_LAMPS = ("line stuck", "lamp dead", "relay welded")
_ENDS = (*_LAMPS, "daemon stopped")
_UNPLUGGED = "pedal unplugged"
_NEEDS_N = ("step", "owe")
_MAY_HAVE_N = (*_NEEDS_N, "take up")


def feet_faults(feet: Feet, given: WrittenLines) -> Found:
    """All that is wrong with the entries of a feet file."""
    latest: tuple[float, int] | None = None
    for i, foot in enumerate(feet.feet or ()):
        here: Place = ("feet", i)
        if foot is None:
            continue
        yield from _time(foot, here, given)
        yield from _deed(foot, here, given)
        if foot.at is not None:
            if latest is not None and foot.at < latest[0]:
                line = given.line_of(("feet", latest[1], "at"))
                yield ((*here, "at"), f"is {foot.at:g} s, before the {latest[0]:g} s on line {line}: time runs on")
            else:
                latest = (foot.at, i)


def _time(foot: Foot, here: Place, given: WrittenLines) -> Found:
    told = given.written(here, "at", "when")
    if len(told) == 2:
        yield here, "has 'at' and 'when': one of them says when"
    elif given.lacks(here, "at", "when"):
        yield here, "needs 'at' (seconds from the start) or 'when' (a state)"
    elif told == ["at"] and given.written(here, "after"):
        yield (*here, "after"), "goes with 'when', not with 'at'"


def _deed(foot: Foot, here: Place, given: WrittenLines) -> Found:
    """An entry is one of three things, and has no keys of the others."""
    told = given.written(here, "pedal", "fault", "do")
    if foot.fault == _UNPLUGGED:
        yield from _unplugged(foot, here, given)
        return
    if len(told) > 1:
        yield here, f"has {quoted(told, 'and')}: make an entry of each"
    elif given.lacks(here, "pedal", "fault", "do"):
        yield here, "needs 'pedal', 'fault' or 'do'"
    for what, keys in (("pedal", _OF_A_PEDAL), ("fault", _OF_A_FAULT), ("do", ("n",))):
        if len(told) == 1 and told != [what]:
            for key in given.written(here, *keys):
                yield (*here, key), f"goes with '{what}', not with '{told[0]}'"
    if told == ["fault"]:
        yield from _fault(foot, here, given)
    elif told == ["do"] and foot.do is not None:
        if foot.do in _NEEDS_N and given.lacks(here, "n"):
            yield here, f"'{foot.do}' needs 'n': which step?"
        elif foot.do not in _MAY_HAVE_N and given.written(here, "n"):
            yield (*here, "n"), f"does not go with do: {foot.do}"
    if foot.found_down and foot.at != 0 and told == ["pedal"]:
        yield (*here, "found_down"), "is for a pedal that is down at the start: write at: 0"


def _fault(foot: Foot, here: Place, given: WrittenLines) -> Found:
    if foot.fault is None:
        return
    for key, faults in (("light", _LAMPS), ("until", _ENDS)):
        if foot.fault not in faults:
            if given.written(here, key):
                yield (*here, key), f"does not go with fault: {foot.fault}"
        elif given.lacks(here, key):
            yield here, f"'{foot.fault}' needs '{key}'"
    if foot.fault in _ENDS:
        yield from _until(foot, here)


def _unplugged(foot: Foot, here: Place, given: WrittenLines) -> Found:
    """The fault that is a pedal's; without `until` it stays unplugged."""
    if given.lacks(here, "pedal"):
        yield here, f"'{_UNPLUGGED}' needs 'pedal'"
    for key in given.written(here, "light", "do", "n", *_OF_A_PEDAL[1:]):
        yield (*here, key), f"does not go with fault: {_UNPLUGGED}"
    yield from _until(foot, here)


def _until(foot: Foot, here: Place) -> Found:
    if foot.until is not None and foot.at is not None and foot.until < foot.at:
        yield (*here, "until"), f"must not be before at: {foot.at:g}, is {foot.until:g}"
