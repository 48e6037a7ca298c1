"""A bench: all the hardware, its lines, lights and pedals (profiles/benches/*.yaml)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from timerd.printing.light import Response
from timerd.sheet.profile.fields import Colour, Folder, Milliseconds, Name, Part, Seconds, Text
from timerd.sheet.profile.sound import SoundSettings

Pin = Annotated[int, Field(ge=0, le=53)]
"""A line's BCM number, as the board's own documentation counts them."""


ScreenSize = Annotated[list[Annotated[int, Field(ge=480, le=3840)]], Field(min_length=2, max_length=2)]
"""Width and height in pixels. What is drawn is laid out for 800x480 and more."""


class Station(Part):
    """A place on the bench; `turn` says how the sheet lies there before the printer."""

    turn: Literal[0, 90, 180, 270] = 0


class Sense(Part):
    """What sees whether a lamp gives light: an input that light closes to ground (`pull: up`), or to the supply."""

    pin: Pin
    pull: Literal["up", "down"] = "up"


class Lamp(Part):
    """What a relay switches. Of `kind: shutter` the line at `pin` opens a shutter, and the lamp stays on behind it:
    by the line at `stay_pin`, for `warm_up_s` before it is used, or by hand where there is none. Lamps that one sense
    input sees have the same one."""

    pin: Pin
    active: Literal["high", "low"] = "high"
    station: Name
    lag_s: Annotated[float, Field(ge=0, le=10)] | None = None
    rise_ms: Milliseconds = 0
    fall_ms: Milliseconds = 0
    relay_on_ms: Milliseconds = 0
    relay_off_ms: Milliseconds = 0
    longest_s: Annotated[float, Field(gt=0, le=1800)] = 300
    kind: Literal["switched", "shutter"] = "switched"
    stay_pin: Pin | None = None
    warm_up_s: Annotated[float, Field(ge=0, le=3600)] = 0
    sense: Sense | None = None

    @property
    def response(self) -> Response:
        """How this lamp answers being switched, for the dose of a burst."""
        return Response(
            rise_s=self.rise_ms / 1000, fall_s=self.fall_ms / 1000, lag_s=self.lag_s or 0.0,
            relay_on_s=self.relay_on_ms / 1000, relay_off_s=self.relay_off_ms / 1000,
        )  # fmt: skip


class Light(Part):
    """A lamp with its colour and filter."""

    lamp: Name
    colour: Colour
    filter: Literal["by hand", "none"] = "none"
    paper_safe: bool = False


class Safelight(Part):
    """The safelight, on its relay's normally-closed contact: lit at rest and without power."""

    pin: Pin | None = None
    active: Literal["high", "low"] = "high"
    dark_from: Literal["lead-in", "light", "never"] = "lead-in"
    on_when_paused: bool = True
    switchable: bool = True


class Pedal(Part):
    """One contact under a foot: a pin with its pull, or a key (`keys.KEYS`) of a USB foot switch, found by its name."""

    station: Name | None = None
    pin: Pin | None = None
    pull: Literal["up", "down"] = "up"
    usb: Text | None = None
    key: Text | None = None


class Pedals(Part):
    """Each pedal has one contact or more; one without a station serves every station. A bench may do without `end`."""

    go: Annotated[list[Pedal], Field(min_length=1, max_length=8)]
    end: Annotated[list[Pedal], Field(max_length=8)] = Field(default_factory=list)
    third: Annotated[list[Pedal], Field(max_length=8)] = Field(default_factory=list)

    def named(self) -> tuple[tuple[str, list[Pedal]], ...]:
        """Each pedal's name with its contacts."""
        return ("go", self.go), ("end", self.end), ("third", self.third)


class Line(Part):
    """A line that only goes out: the heartbeat, the cue line."""

    pin: Pin


class Screen(Part):
    """The red screen. Without `size` it fills the display; with it, it is a window of so many pixels.

    `off_while_exposing` darkens it while a light burns; `flash_edge` flashes its edge on every beat, for those who
    do not hear it.
    """

    brightness: Annotated[float, Field(ge=0.05, le=1)] = 0.6
    off_while_exposing: bool = False
    flash_edge: bool = False
    size: ScreenSize | None = None


class Bench(Part):
    """A bench's file, whole. `third` is what a third pedal does; `backup_to` is where copies of the book go."""

    bench: Name
    stations: Annotated[dict[Name, Station], Field(min_length=1, max_length=8)]
    lamps: Annotated[dict[Name, Lamp], Field(min_length=1, max_length=16)]
    lights: Annotated[dict[Name, Light], Field(min_length=1, max_length=32)]
    viewing: Name | None = None
    view_s: Seconds = 600
    safelight: Safelight = Safelight(switchable=False)
    pedals: Pedals
    third: Literal["say", "tray", "view"] | None = None
    heartbeat: Line | None = None
    cue_line: Line | None = None
    sound: SoundSettings = SoundSettings()
    screen: Screen = Screen()
    backup_to: Folder | None = None

    def lamp_of(self, light: str) -> Lamp:
        """The lamp that gives a light of the bench."""
        return self.lamps[self.lights[light].lamp]

    def paper_safe_at(self, station: str | None) -> str | None:
        """The light to place cards by at this station, if there is one."""
        lights = self.lights.items()
        here = (name for name, one in lights if one.paper_safe and self.lamps[one.lamp].station == station)
        return next(here, None)
