"""A step, an area, a length of light as text: the same for screen, speech, plan and report."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING, assert_never

from timerd.printing.stops import format_stops, parse_stops, spoken_stops

if TYPE_CHECKING:  # what has words alone to say of a bench need not wait for the plan's models
    from timerd.sheet.plan.value import Cue, Step

_COUNT = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SPOKEN_TO_TENTHS_S = 10.0
_NEAR_A_PART = 0.005


def step_words(step: Step) -> str:
    """A step for screen, plan and report, without its seconds: `burn haze, green, 1 1/4 stops`."""
    match step.kind:
        case "wait":
            return "start prompt"
        case "filter" | "density":
            put = dict(step.puts)[step.kind]
            return f"{step.kind} out" if put is None else f"{step.kind} {put} in"
        case "aperture":
            return f"lens to f/{dict(step.puts)['lens']}"
        case "box":
            return "into the box"
        case "negative":
            return "into the box, another negative"
        case "carry":
            return f"carry to the {step.station}"
        case "safelight":
            return f"safelight alone, {seconds_words(step.seconds or 0.0)}"
        case "develop":
            return f"develop, {step.says}"
        case "flash" | "base" | "burn":
            return _light_words(step)
        case _:
            assert_never(step.kind)


def _light_words(step: Step) -> str:
    words = f"{step.kind} {area_words(step.area, step.mm)}"
    if step.light != step.kind:
        words += f", {step.light}"
    if step.stops is not None:
        words += f", {counted_stops(step.stops, step.stops_written)}"
    return words


def step_speech(step: Step) -> str:
    """A step as it is spoken when ready: `burn, haze, one and a quarter stops, sixteen seconds, L cut`."""
    match step.kind:
        case "wait" | "filter" | "aperture" | "density" | "box" | "negative":
            words = [*step.asks]
        case "safelight":
            words = ["safelight alone"]
        case "carry" | "develop":
            words = [step_words(step)]
        case "flash" | "base" | "burn":
            words = [step.kind, area_words(step.area, step.mm)]
        case _:
            assert_never(step.kind)
    if step.stops is not None:
        written = step.stops_written
        words.append(spoken_stops(parse_stops(written) if written else _near_fraction(step.stops)))
    if step.seconds is not None:
        words.append(spoken_seconds(step.seconds))
    elif step.gives_light:
        words.append("as long as the foot is down")
    words += [text for text in (step.card, step.note) if text is not None]
    for cue in step.dodges:
        words.append(cue_speech(cue))
        words += [text for text in (cue.card, cue.note) if text is not None]
    return ", ".join(words)


def cue_words(cue: Cue) -> str:
    """A dodge, or what an area is left with of a burn: `dodge breakwater 1/3 stop`, `cover breakwater throughout`."""
    return _cue(cue, "" if cue.stops is None else counted_stops(cue.stops, cue.stops_written))


def cue_speech(cue: Cue) -> str:
    """A dodge as it is spoken: `dodge breakwater a third of a stop`."""
    return _cue(cue, "" if cue.stops_written is None else spoken_stops(parse_stops(cue.stops_written)))


def _cue(cue: Cue, stops: str) -> str:
    area = area_words(cue.area, cue.mm)
    if cue.stops is None:
        return f"cover {area} throughout"
    if not cue.leave:
        return f"dodge {area} {stops}"
    return f"leave {area} {stops} of the burn" if cue.stops else f"keep {area} out of the burn"


def area_words(area: str | None, mm: float | None = None) -> str:
    """An area, with the width of a strip along the edge: `left 20 mm`."""
    return f"{area or 'all'}" if mm is None else f"{area} {round(mm, 1):g} mm"


def counted_stops(stops: float, written: str | None = None) -> str:
    """Stops as they were written or, where worked out, as the nearest part of a stop or in decimals.

    >>> counted_stops(1.25, "1 1/4"), counted_stops(1 / 3), counted_stops(1.0), counted_stops(0.263)
    ('1 1/4 stops', '1/3 stop', '1 stop', '0.26 stop')
    """
    text = written or format_stops(_near_fraction(stops))
    return f"{text} stop{'s' if abs(stops) > 1 + _NEAR_A_PART else ''}"


def signed_stops(stops: float) -> str:
    """A difference in stops: `+1 1/4`, `-1/3`, `0`."""
    text = format_stops(_near_fraction(stops))
    return text if text.startswith("-") or text == "0" else f"+{text}"


def part_words(reach: float) -> str:
    """How much of an area is meant, where it is not all of it.

    >>> part_words(1.0), part_words(0.999), part_words(0.45), part_words(0.001)
    ('', '', ', on 45 % of it', ', on 1 % of it')
    """
    return "" if reach >= 0.995 else f", on {max(1, round(reach * 100))} % of it"


def _near_fraction(stops: float) -> Fraction:
    part = Fraction(round(stops * 12), 12)
    return part if abs(stops - part) < _NEAR_A_PART else Fraction(round(stops * 100), 100)


def to_a_tenth(seconds: float) -> str:
    """Seconds to the nearest tenth: the one rounding of all that is shown, so that one amount is one number.

    >>> to_a_tenth(0.85), to_a_tenth(0.95), to_a_tenth(72.31)
    ('0.8', '1.0', '72.3')
    """
    return f"{round(seconds * 10) / 10:.1f}"


def seconds_words(seconds: float) -> str:
    """Seconds to a tenth, with minutes from one minute on.

    >>> seconds_words(8.04), seconds_words(72.3), seconds_words(59.97)
    ('8.0 s', '1 min 12.3 s', '1 min 0.0 s')
    """
    minutes, tenths = divmod(round(seconds * 10), 600)
    return f"{minutes} min {tenths / 10:.1f} s" if minutes else f"{tenths / 10:.1f} s"


def spoken_seconds(seconds: float) -> str:
    """Seconds in words: to a tenth below ten, whole above.

    >>> spoken_seconds(1.0), spoken_seconds(8.5), spoken_seconds(15.6), spoken_seconds(75.0)
    ('one second', 'eight point five seconds', 'sixteen seconds', 'one minute fifteen seconds')
    """
    return "".join(_spoken(seconds))


def _spoken(seconds: float) -> tuple[str, str]:
    """Seconds in words, and the unit that their last number has."""
    tenths = round(seconds * 10)
    if tenths < _SPOKEN_TO_TENTHS_S * 10:
        whole, part = divmod(tenths, 10)
        text = _COUNT[whole] + (f" point {_COUNT[part]}" if part else "")
        return text, f" second{'' if tenths == 10 else 's'}"
    minutes, whole = divmod(math.floor(seconds + 0.5), 60)
    words = [f"{spoken_number(minutes)} minute{'' if minutes == 1 else 's'}"] if minutes else []
    if minutes and not whole:
        return words[0], ""
    return " ".join([*words, spoken_number(whole)]), f" second{'' if whole == 1 else 's'}"


def spoken_number(count: int) -> str:
    """A whole number from 0 in words; from a hundred on in figures.

    >>> spoken_number(0), spoken_number(15), spoken_number(80), spoken_number(42), spoken_number(120)
    ('zero', 'fifteen', 'eighty', 'forty two', '120')
    """
    if count < 20:
        return _COUNT[count]
    tens, one = divmod(count, 10)
    if tens >= len(_TENS):
        return str(count)
    return _TENS[tens] + (f" {_COUNT[one]}" if one else "")


def dose_span(lo: float, hi: float) -> str:
    """A dose that is known, or only known to lie between two, with how far that reaches in stops.

    >>> dose_span(11.04, 11.04), dose_span(0.0, 0.5), dose_span(8.0, 16.0)
    ('11.0 s', '0.0 to 0.5 s', '8.0 to 16.0 s (plus or minus 1/2 stop)')
    """
    if math.isclose(lo, hi, rel_tol=1e-9, abs_tol=1e-9):
        return seconds_words(hi)
    reach = f" (plus or minus {counted_stops(math.log2(hi / lo) / 2)})" if lo > 0 else ""
    return f"{to_a_tenth(lo)} to {to_a_tenth(hi)} s{reach}"


def spoken_span(lo: float, hi: float) -> str:
    """The same as it is spoken.

    >>> spoken_span(11.04, 11.04), spoken_span(0.0, 0.5)
    ('eleven seconds', 'zero to zero point five seconds')
    >>> spoken_span(8.0, 16.0)
    'eight to sixteen seconds, plus or minus half a stop'
    """
    if math.isclose(lo, hi, rel_tol=1e-9, abs_tol=1e-9):
        return spoken_seconds(hi)
    least, _ = _spoken(lo)
    reach = f", plus or minus {spoken_stops(_near_fraction(math.log2(hi / lo) / 2))}" if lo > 0 else ""
    return f"{least} to {spoken_seconds(hi)}{reach}"
