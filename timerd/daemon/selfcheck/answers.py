"""The answers of a machine, as values: all that the findings are made of. None where it could not be told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.status import Status


class ChipLine(NamedTuple):
    """A line of a chip as the kernel tells it, without anybody claiming it."""

    consumer: str
    used: bool
    output: bool


class Chip(NamedTuple):
    """A chip of lines: its device, its label, and its lines by their numbers; `trouble` where it may not be asked."""

    path: str
    label: str
    lines: Mapping[int, ChipLine]
    trouble: str | None = None


class Trial(NamedTuple):
    """What a child process was allowed: words why not, or None; and how late it was woken, in seconds. Nothing of that
    is known where it was `untried`: words why."""

    real_time: str | None
    memory: str | None
    late: tuple[float, ...]
    untried: str | None = None


class Disk(NamedTuple):
    """The disk under the book: seconds that each sync took, `trouble` where it could not be written, or why it was
    `untried`."""

    syncs: tuple[float, ...]
    trouble: str | None
    kind: str | None
    free_bytes: int | None
    untried: str | None = None


class CopiesFound(NamedTuple):
    """Where copies of the book go: whether the folder is there, whether this user may write there, whether it lies on
    the book's own disk, and the newest copy in it."""

    folder: str
    there: bool
    allowed: bool
    same_disk: bool
    newest: str | None


class Clock(NamedTuple):
    """The clocks: their source, what the two monotonic ones make of the same wait, the year, seconds ever suspended."""

    source: str | None
    rate: float | None
    year: int
    suspended_s: float


class Watchdog(NamedTuple):
    """The board's own watchdog."""

    identity: str
    state: str
    timeout_s: int | None


class WrittenAnew(NamedTuple):
    """What a hook of Debian's puts into the boot files that it writes anew: text of config.txt, words of the other."""

    config: str
    words: str


class SpeechFound(NamedTuple):
    """What espeak-ng says of itself; why the bench's voice is not spoken, or why that was `untried`."""

    version: str
    trouble: str | None = None
    untried: str | None = None


class PanelMeans(NamedTuple):
    """What there is to show with, as the panel's own library tells it; `trouble` where it tells nothing."""

    library: str | None
    drivers: tuple[str, ...]
    typeface: str | None
    trouble: str | None = None


class Output(NamedTuple):
    """A socket for a screen, or a card for sound: its name, whether a thing is on it, whether this user may use it."""

    name: str
    there: bool
    allowed: bool


@dataclass(frozen=True)
class Answers:
    """One machine, asked once, by one user.

    `packages` are gpiozero and lgpio, with the version installed; `daemon` is the status of the one that serves here,
    `daemon_trouble` why one that is there does not tell it; `release` has the kernel's parameters that keep a line as
    it was, `kernel` is its version; `config` is the board's config.txt as it lies there, `cmdline` the words that the
    kernel was started with, `written_anew` what a hook writes into both files, where there is one; `leds` are the
    board's own lamps that are lit, None where the kernel tells of none.
    """

    user: str
    root: bool
    board: str | None
    packages: Mapping[str, str | None]
    factory_named: str
    bench: Bench | None
    chips: tuple[Chip, ...]
    trial: Trial
    daemon: Status | None
    daemon_trouble: str | None
    release: Mapping[str, str]
    watchdog: Watchdog | None
    config: str | None
    cmdline: str
    written_anew: WrittenAnew | None
    kernel: str
    leds: tuple[str, ...] | None
    throttled: int | None
    clock: Clock
    disk: Disk
    copies: CopiesFound | None
    screens: tuple[Output, ...]
    desktop: bool
    cards: tuple[Output, ...]
    means: PanelMeans
    speech: SpeechFound | None
