"""What can be heard in samples, found without the program that made them: pulses, their pitch, clicks, likeness."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]


class HeardPulse(NamedTuple):
    """A stretch of one pitch: from when to when in seconds, and its fundamental."""

    start: float
    stop: float
    hertz: float


def loud_stretches(wave: Samples, rate: int, over: float = 0.02, gap_s: float = 0.012) -> list[tuple[int, int]]:
    """Where the wave is over a share of full scale; silences of less than `gap_s` do not part it."""
    loud = np.flatnonzero(np.abs(wave) > over)
    if not len(loud):
        return []
    cuts = np.flatnonzero(np.diff(loud) > gap_s * rate)
    firsts = [int(loud[0]), *(int(loud[i + 1]) for i in cuts)]
    lasts = [*(int(loud[i]) for i in cuts), int(loud[-1])]
    return list(zip(firsts, lasts, strict=True))


def pulses(wave: Samples, rate: int) -> list[HeardPulse]:
    """Each stretch of sound, parted where its pitch changes too (looked for every 10 ms)."""
    found = []
    for first, last in loud_stretches(wave, rate):
        ten = rate // 100
        marks = list(range(first, last - 2 * ten, ten)) or [first]
        pitches = [pitch(wave[m : m + 3 * ten], rate, 1 << 14) for m in marks]
        starts = [first]
        for k, (before, after) in enumerate(pairwise(pitches)):
            changed = abs(np.log2(after / before)) > 1 / 12
            if changed and marks[k + 1] - starts[-1] > 4 * ten:
                starts.append(marks[k + 1] + ten)
        for start, stop in zip(starts, [*starts[1:], last], strict=True):
            found.append(HeardPulse(start / rate, stop / rate, pitch(wave[start:stop], rate)))
    return found


def pitch(wave: Samples, rate: int, size: int = 1 << 18) -> float:
    """The fundamental, by an FFT of so many points: the four harmonics, each with less weight, that hold most."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    first, last = int(250 * size / rate), int(1100 * size / rate)
    at = np.arange(first, last)
    comb = sum(spectrum[at * k] / k for k in (1, 2, 3, 4))
    return float((first + int(np.argmax(comb))) * rate / size)


def outside(wave: Samples, rate: int, low: float, high: float) -> float:
    """The share of a wave's power that lies outside a band, in hertz."""
    power = np.abs(np.fft.rfft(wave)) ** 2
    hertz = np.fft.rfftfreq(len(wave), 1 / rate)
    return float(power[(hertz < low) | (hertz > high)].sum() / power.sum())


def likeness(one: Samples, other: Samples) -> float:
    """The peak of the cross-correlation of two waves, each of power 1: 1 for the same wave, however shifted."""
    size = 1 << (len(one) + len(other)).bit_length()
    product = np.fft.rfft(one, size) * np.conj(np.fft.rfft(other, size))
    return float(np.abs(np.fft.irfft(product, size)).max() / np.sqrt((one**2).sum() * (other**2).sum()))


def told_apart(one: list[HeardPulse], other: list[HeardPulse]) -> str | None:
    """By what two sounds are told apart: how many pulses, a pitch by three semitones or more, a rhythm by 50 ms or
    more (and half as much again). None when by nothing."""
    if len(one) != len(other):
        return "count"
    for a, b in zip(one, other, strict=True):
        if abs(np.log2(a.hertz / b.hertz)) >= 3 / 12:
            return "pitch"
        short, long = sorted((a.stop - a.start, b.stop - b.start))
        if abs(a.start - b.start) >= 0.05 or (long - short >= 0.05 and long >= 1.5 * short):
            return "rhythm"
    return None
