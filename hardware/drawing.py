"""The drawings, as SVG text by name: `lines`, `interlock`, `guard`, `mains`. All pins and values are wiring.yaml's."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise
from typing import Any

import schemdraw
import schemdraw.elements as elm

schemdraw.use("svg")

Told = Mapping[str, Any]


def drawings(told: Told) -> dict[str, str]:
    """All of them."""
    made: dict[str, Callable[[schemdraw.Drawing, Told], None]] = {
        "lines": _lines, "interlock": _interlock, "guard": _guard, "mains": _mains,
    }  # fmt: skip
    svgs = {}
    for name, draw in made.items():
        page = schemdraw.Drawing(show=False)
        page.config(fontsize=11, font="sans-serif", unit=2.0, bgcolor="white", margin=0.8, lw=1.4)
        draw(page, told)
        svgs[name] = page.get_imagedata("svg").decode() + "\n"
    return svgs


def _value(part: Mapping[str, Any]) -> str:
    return f"{part['value']} {part['unit'].replace('ohm', 'Ω').replace('u', 'µ')}"


def _wire(page: schemdraw.Drawing, *points: tuple[float, float]) -> None:
    for start, end in pairwise(points):
        page += elm.Line().at(start).to(end)


def _note(page: schemdraw.Drawing, at: tuple[float, float], text: str, halign: str = "left", size: float = 11) -> None:
    x, y = at
    # A label is set a little over its place, and the library keeps a gap beside it: put both back.
    x -= 0.1 if halign == "right" else 0
    page += elm.Label().at((x, y - 0.13)).right().label(text, loc="center", halign=halign, fontsize=size)


def _driver(page: schemdraw.Drawing, told: Told, x: float, y: float, coil: str) -> None:
    """One relay driver whose input is at (x, y)."""
    driver = told["driver"]
    page += elm.ResistorIEC().at((x, y)).right().length(2).label(_value(driver["series"]))
    page += elm.Dot().at((x + 2, y))
    page += elm.ResistorIEC().at((x + 2, y)).down().length(2).label(_value(driver["pull"]), loc="bottom")
    page += elm.Ground().at((x + 2, y - 2))
    fet = page.add(elm.NFet().at((x + 3.4, y)).anchor("gate").right().reverse())
    page += elm.Line().at((x + 2, y)).to(fet.gate)
    drain, source = fet.drain, fet.source
    _wire(page, tuple(source), (source[0], y - 2))
    page += elm.Ground().at((source[0], y - 2))
    top = y + 3.2
    _wire(page, tuple(drain), (drain[0], y + 1.0))
    page += elm.Dot().at((drain[0], y + 1.0))
    page += elm.ResistorIEC().at((drain[0], y + 1.0)).up().length(2.2).label(coil, loc="top")
    page += elm.Vdd().at((drain[0], top)).label("12 V")
    right = drain[0] + 1.4
    _wire(page, (drain[0], y + 1.0), (right, y + 1.0))
    page += elm.Zener().at((right, y + 1.0)).up().length(1.1).reverse().label(_value(driver["clamp"]), loc="bottom")
    page += elm.Diode().at((right, y + 2.1)).up().length(1.1)
    _wire(page, (right, top), (drain[0], top))


# -- the computer's lines ----------------------------------------------------------------------------------------------


def _lines(page: schemdraw.Drawing, told: Told) -> None:
    rows = sorted(
        [(line["header"], f"GPIO{line['gpio']}", line["wire"], name) for name, line in told["lines"].items()]
        + [(row["header"], "0 V", row["wire"], name) for name, row in told["grounds"].items()]
        + [(row["header"], "3.3 V", row["wire"], name) for name, row in told["supplies"].items()]
    )
    height = len(rows) * 0.7
    page += elm.Rect(corner1=(0, 0), corner2=(3.4, height + 0.4)).at((0, 0))
    _note(page, (1.7, height + 0.75), "the computer's header", "center")
    for i, (header, what, wire, name) in enumerate(rows):
        y = height - 0.25 - i * 0.7
        _note(page, (0.2, y), what)
        _note(page, (3.2, y), f"pin {header}", "right")
        page += elm.Line().at((3.4, y)).to((5.4, y))
        _note(page, (4.4, y + 0.2), str(wire), "center", 9)
        _note(page, (5.6, y), name)
    _note(page, (9.2, height + 0.75), "a relay driver: one each for K2 to K6 and the cue line")
    y = height - 4.0
    _note(page, (9.2, y), "line")
    _driver(page, told, 10.2, y, "coil of K2 ... K6")
    _note(page, (16.1, y + 0.1), "N channel, 60 V,", size=10)
    _note(page, (16.1, y - 0.4), "full on at 2.5 V", size=10)
    _note(page, (9.2, 2.2), "a pedal: one each for go, end and go-2;")
    _note(page, (9.2, 1.7), "a sense input likewise")
    y, pedal = -1.1, told["pedal"]
    _note(page, (9.2, y), "line")
    _wire(page, (10.2, y), (11.2, y))
    page += elm.Dot().at((11.2, y))
    page += elm.Capacitor().at((11.2, y)).down().length(1.6).label(_value(pedal["quiet"]), loc="bottom")
    page += elm.Ground().at((11.2, y - 1.6))
    page += elm.ResistorIEC().at((11.2, y)).right().length(2).label(_value(pedal["series"]))
    page += elm.Dot().at((13.2, y))
    page += elm.ResistorIEC().at((13.2, y)).up().length(1.7).label(_value(pedal["pull"]), loc="bottom")
    page += elm.Vdd().at((13.2, y + 1.7)).label("3.3 V")
    _wire(page, (13.2, y), (14.6, y))
    page += elm.Switch().at((14.6, y)).right().length(1.8).label("down: closed", loc="bottom")
    _wire(page, (16.4, y), (17.2, y), (17.2, y - 1.0))
    page += elm.Ground().at((17.2, y - 1.0))


# -- the interlock ----------------------------------------------------------------------------------------------------


def _interlock(page: schemdraw.Drawing, told: Told) -> None:
    part = {name: f"{name}\n{_value(values)}" for name, values in told["interlock"].items()}
    heart = told["lines"]["heartbeat"]
    y, low, high = 4.0, 0.0, 8.2
    _note(page, (-2.7, y + 0.75), f"heartbeat, wire {heart['wire']}")
    _note(page, (-2.7, y + 0.3), f"(GPIO{heart['gpio']}, pin {heart['header']})", size=10)
    _wire(page, (-2.7, y), (0, y))
    page += elm.Dot(open=True).at((-2.7, y))
    page += elm.Dot().at((-0.6, y))
    page += elm.ResistorIEC().at((-0.6, y)).down().toy(low).label(part["R8"], loc="bottom")
    page += elm.ResistorIEC().at((0, y)).right().length(2).label(part["R1"])
    page += elm.Capacitor().at((2, y)).right().length(1.6).label(part["C1"])
    page += elm.Capacitor().at((3.6, y)).right().length(1.6).label(part["C2"])
    page += elm.Dot().at((5.2, y))
    page += elm.Schottky().at((5.2, low)).up().toy(y).label("D1")
    page += elm.Schottky().at((5.2, y)).right().length(1.8).label("D2")
    page += elm.Dot().at((7.0, y))
    page += elm.Capacitor().at((7.0, y)).down().toy(low).label(part["C3"])
    _wire(page, (7.0, y), (10.4, y))
    for x, name in ((8.7, "R2"), (10.4, "R3")):
        page += elm.Dot().at((x, y))
        page += elm.ResistorIEC().at((x, y)).down().toy(low).label(part[name])
    _note(page, (7.0, y + 0.35), "reservoir", size=10)
    comparator = page.add(elm.Opamp(leads=False).at((13.0, y)).anchor("in1").right())
    _wire(page, (10.4, y), tuple(comparator.in1))
    in2, out = comparator.in2, comparator.out
    ref = (12.2, in2[1])
    _wire(page, ref, tuple(in2))
    page += elm.Dot().at(ref)
    page += elm.ResistorIEC().at(ref).down().toy(low).label(part["R5"], loc="bottom")
    _note(page, (13.9, in2[1] - 1.1), "comparator, open collector:", size=10)
    _note(page, (13.9, in2[1] - 1.55), "sinks while the reservoir", size=10)
    _note(page, (13.9, in2[1] - 2.0), "is above the threshold", size=10)
    # The threshold from 12 V crosses over the reservoir's wire without touching it.
    page += elm.ResistorIEC().at((12.2, high)).down().toy(y + 1.6).label(part["R4"], loc="bottom")
    page += elm.ResistorIEC().at((10.4, high)).down().toy(y + 1.6).label(part["R9"], loc="bottom")
    _wire(page, (10.4, y + 1.6), (12.2, y + 1.6), (12.2, y + 0.25))
    page += elm.Arc2(k=0.6).at((12.2, y + 0.25)).to((12.2, y - 0.25))
    _wire(page, (12.2, y - 0.25), ref)
    sink = (16.6, out[1])
    _wire(page, tuple(out), sink)
    page += elm.Dot().at(sink)
    page += elm.ResistorIEC().at((16.6, high)).down().toy(y + 1.6).label(part["R7"], loc="bottom")
    page += elm.ResistorIEC().at((18.4, high)).down().toy(y + 1.6).label(part["R10"], loc="bottom")
    _wire(page, (18.4, y + 1.6), (16.6, y + 1.6), sink)
    page += elm.Dot().at((16.6, y + 1.6))
    page += elm.ResistorIEC().at((16.6, y + 1.6)).left().tox(12.2).label(part["R6"])
    page += elm.Dot().at((12.2, y + 1.6))
    fet = page.add(elm.PFet().at((20.0, out[1])).anchor("gate").right().reverse())
    _wire(page, sink, tuple(fet.gate))
    source, drain = fet.source, fet.drain
    top, bottom = (source, drain) if source[1] > drain[1] else (drain, source)
    _wire(page, tuple(top), (top[0], high))
    _note(page, (top[0] + 0.3, out[1] + 0.2), "Q1", size=11)
    _note(page, (top[0] + 0.3, out[1] - 0.3), "P channel, 60 V", size=10)
    coil = (bottom[0], 2.2)
    _wire(page, tuple(bottom), coil)
    page += elm.Dot().at(coil)
    page += elm.ResistorIEC().at(coil).down().toy(low).label("K1\ncoil 12 V", loc="top")
    right = bottom[0] + 2.4
    _wire(page, coil, (right, coil[1]))
    page += elm.Diode().at((right, 1.1)).up().toy(coil[1]).label("D3", loc="bottom")
    page += elm.Zener().at((right, 1.1)).down().toy(low).label(f"D4 {_value(told['driver']['clamp'])}", loc="top")
    _wire(page, (10.4, high), (top[0], high))
    page += elm.Dot().at((12.2, high))
    page += elm.Dot().at((18.4, high))
    page += elm.Dot().at((16.6, high))
    page += elm.Vdd().at((14.4, high)).label("12 V")
    page += elm.Dot().at((14.4, high))
    _wire(page, (-0.6, low), (right, low))
    page += elm.Ground().at((9.5, low))
    _note(page, (9.9, low - 0.5), f"0 V, wire {told['grounds']['interlock']['wire']}", size=10)


# -- the guard --------------------------------------------------------------------------------------------------------


def _guard(page: schemdraw.Drawing, told: Told) -> None:
    lines, parts = told["guard"]["lines"], told["guard"]["parts"]
    ins = [name for name, line in lines.items() if line["direction"] == "in"]
    outs = [name for name, line in lines.items() if line["direction"] == "out"]
    height = max(len(ins), len(outs)) * 1.2
    page += elm.Rect(corner1=(0, 0), corner2=(5.0, height + 0.4)).at((0, 0))
    _note(page, (2.5, height + 0.75), "the lamp guard", "center")
    for i, name in enumerate(ins):
        y = height - 0.4 - i * 1.2
        line = lines[name]
        _note(page, (0.2, y), f"GP{line['gp']} {name}")
        if name == "button":
            _wire(page, (0, y), (-1.0, y))
            page += elm.Button().at((-1.0, y)).left().length(1.6)
            _wire(page, (-2.6, y), (-3.2, y))
            page += elm.Ground().at((-3.2, y))
            _note(page, (-1.8, y - 0.8), "clears a fault", "center", 10)
            continue
        theirs = told["lines"]["heartbeat" if name == "heartbeat" else name.replace("ask", "lamp")]
        page += (
            elm.ResistorIEC()
            .at((0, y))
            .left()
            .length(1.8)
            .label(_value(parts["series"]), loc="top", ofst=0.05, fontsize=9)
        )
        _wire(page, (-1.8, y), (-3.2, y))
        page += elm.Dot(open=True).at((-3.2, y))
        _note(page, (-3.4, y), f"GPIO{theirs['gpio']}, wire {theirs['wire']}", "right")
    for i, name in enumerate(outs):
        y = height - 0.4 - i * 1.2
        line = lines[name]
        _note(page, (4.7, y), f"{name} GP{line['gp']}", "right")
        if name == "led":
            page += (
                elm.ResistorIEC().at((5.0, y)).right().length(1.8).label(_value(parts["led"]), loc="top", fontsize=9)
            )
            page += elm.LED().at((6.8, y)).right().length(1.6)
            _wire(page, (8.4, y), (8.9, y))
            page += elm.Ground().at((8.9, y))
            _note(page, (9.4, y), "dark red: a fault", size=10)
            continue
        _wire(page, (5.0, y), (7.0, y))
        page += elm.Dot(open=True).at((7.0, y))
        _note(page, (7.3, y), f"to {line['joins']}")
    pull, series = _value(parts["pull"]), _value(parts["series"])
    below = (
        f"From each of the four lines, {pull} to 0 V at the guard, before the {series}.",
        "K1 to K4 by drivers as in the drawing of the lines; the lines of safelight and stay go past it.",
    )
    for i, text in enumerate(below):
        _note(page, (-6.6, -0.9 - i * 0.5), text, size=10)


# -- the mains side ---------------------------------------------------------------------------------------------------


def _mains(page: schemdraw.Drawing, _told: Told) -> None:
    live, neutral = 6.0, 0.0
    _note(page, (-0.2, live), "L", "right")
    _note(page, (-0.2, neutral), "N", "right")
    page += elm.Rect(corner1=(0.4, -0.7), corner2=(2.8, 6.7)).at((0, 0))
    _note(page, (1.6, 3.5), "RCD or GFCI,", "center", 10)
    _note(page, (1.6, 3.0), "breaker,", "center", 10)
    _note(page, (1.6, 2.5), "main switch", "center", 10)
    _wire(page, (0, live), (0.4, live))
    _wire(page, (0, neutral), (0.4, neutral))
    _wire(page, (2.8, live), (4.9, live))
    _wire(page, (2.8, neutral), (7.0, neutral))
    page += elm.Dot().at((4.9, live))
    page += elm.Dot().at((4.9, neutral))
    # The safelight, before the master relay.
    page += elm.FuseIEC().at((4.9, live)).down().length(1.4).label("fuse", loc="top", fontsize=10)
    page += (
        elm.Switch(nc=True)
        .at((4.9, live - 1.4))
        .down()
        .length(1.8)
        .label("K5\nnormally\nclosed", loc="bottom", fontsize=10)
    )
    page += elm.Lamp().at((4.9, live - 3.2)).down().toy(neutral).label("safelight", loc="top", fontsize=10)
    # The master relay, both poles.
    _wire(page, (4.9, live), (7.0, live))
    page += elm.Switch().at((7.0, live)).right().length(2.0).label("K1", loc="top")
    page += elm.Switch().at((7.0, neutral)).right().length(2.0).label("K1", loc="top")
    page += elm.Line().at((8.0, neutral + 1.0)).to((8.0, live - 0.1)).linestyle("--")
    _wire(page, (9.0, live), (11.0, live))
    _wire(page, (9.0, neutral), (11.0, neutral))
    _note(page, (8.0, live + 1.3), "master relay, both poles", "center", 10)
    for i, (name, relay) in enumerate((("lamp-1", "K2"), ("lamp-2", "K3"), ("lamp-3", "K4"))):
        x = 12.0 + i * 3.4
        _wire(page, (x - 3.4 if i else 11.0, live), (x, live))
        _wire(page, (x - 3.4 if i else 11.0, neutral), (x, neutral))
        page += elm.Dot().at((x, live))
        page += elm.Dot().at((x, neutral))
        page += elm.FuseIEC().at((x, live)).down().length(1.4).label("fuse", loc="top", fontsize=10)
        page += elm.Switch().at((x, live - 1.4)).down().length(1.8).label(relay, loc="top", fontsize=10)
        page += elm.Lamp().at((x, live - 3.2)).down().toy(neutral).label(name, loc="top", fontsize=10)
    below = (
        "A lamp that stays on: K6 and a fuse of its own before K1, as the safelight; its shutter in a lamp's place.",
        "Protective earth to every metal part, never switched, never fused, never left off: not drawn.",
        "Installed and tested by a licensed electrician, to the local code.",
    )
    for i, text in enumerate(below):
        _note(page, (0.4, -1.6 - i * 0.5), text, size=10)
