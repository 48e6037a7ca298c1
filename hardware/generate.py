"""Write all that follows from wiring.yaml: `python hardware/generate.py`; with `--check` only tell what is stale.

Made whole: WIRING.md, drawings/*.svg, firmware/guard/pins.py. Made in part: the values in interlock.cir, the pins in
profiles/benches/ and in firmware/raspberrypi/config.txt. Needs PyYAML and schemdraw (the extra `test`).
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import drawing
import yaml

ROOT = Path(__file__).resolve().parents[1]


def wiring(root: Path = ROOT) -> dict[str, Any]:
    """What wiring.yaml says."""
    return yaml.safe_load((root / "hardware" / "wiring.yaml").read_text())


def made(root: Path = ROOT) -> dict[Path, str]:
    """Every file that follows from wiring.yaml, with its whole text."""
    told = wiring(root)
    files = {
        root / "hardware" / "WIRING.md": tables(told),
        root / "hardware" / "interlock.cir": netlist(told, (root / "hardware" / "interlock.cir").read_text()),
        root / "firmware" / "guard" / "pins.py": pins(told),
        (config := root / "firmware" / "raspberrypi" / "config.txt"): boot(told, config.read_text()),
    }
    for name, lines in told["benches"].items():
        path = root / "profiles" / "benches" / f"{name}.yaml"
        files[path] = bench(told, lines, path.read_text())
    for name, svg in drawing.drawings(told).items():
        files[root / "hardware" / "drawings" / f"{name}.svg"] = svg
    return files


# -- the benches -----------------------------------------------------------------------------------------------------


def bench(told: Mapping[str, Any], lines: Mapping[str, str], text: str) -> str:
    """A bench's file with the pins of wiring.yaml; nothing else in it is touched."""
    swaps = []
    for place, line in lines.items():
        node = yaml.compose(text)
        keys = place.split(".")
        for key in keys if keys[-1] == "stay_pin" else [*keys, "pin"]:
            node = _inside(node, key, place)
        swaps.append((node.start_mark.index, node.end_mark.index, str(told["lines"][line]["gpio"])))
    for start, end, pin in sorted(swaps, reverse=True):
        text = text[:start] + pin + text[end:]
    return text


def _inside(node: yaml.Node, key: str, place: str) -> yaml.Node:
    if isinstance(node, yaml.SequenceNode) and key.isdigit() and int(key) < len(node.value):
        return node.value[int(key)]
    if isinstance(node, yaml.MappingNode):
        for name, value in node.value:
            if name.value == key:
                return value
    raise SystemExit(f"wiring.yaml: benches: the bench has no {place}: found no '{key}' there")


# -- the netlist, the guard and the computer -------------------------------------------------------------------------

UNITS = {"ohm": "", "kohm": "k", "uF": "u"}


def netlist(told: Mapping[str, Any], text: str) -> str:
    """interlock.cir with the values of wiring.yaml between its two marks."""
    values = "".join(
        f".param {name}={part['value']}{UNITS[part['unit']]}\n" for name, part in told["interlock"].items()
    )
    return between("interlock.cir", text, "* <values>\n", "* </values>\n", values)


def boot(told: Mapping[str, Any], text: str) -> str:
    """The computer's config.txt, with every line at its resting level from the firmware on: `op` is out, `dl` and `dh`
    the level; `ip` is in, `pu` and `pd` the pull. No line of it is longer than the firmware reads (98 letters, from
    memory)."""
    kinds = {"out": ("op", {"low": "dl", "high": "dh"}, "idle"), "in": ("ip", {"up": "pu", "down": "pd"}, "pull")}
    groups: dict[str, list[str]] = {}
    for line in told["lines"].values():
        way, levels, by = kinds[line["direction"]]
        groups.setdefault(f"{way},{levels[line[by]]}", []).append(str(line["gpio"]))
    lines = "".join(f"gpio={','.join(numbers)}={how}\n" for how, numbers in groups.items())
    return between("config.txt", text, "# <lines>\n", "# </lines>\n", lines)


def between(name: str, text: str, begin: str, end: str, made: str) -> str:
    """A text with what was made between its two marks."""
    head, begun, rest = text.partition(begin)
    _, ended, tail = rest.partition(end)
    if not (begun and ended):
        raise SystemExit(f"{name}: the marks {begin.strip()} and {end.strip()} are gone: put them back")
    return f"{head}{begin}{made}{end}{tail}"


def pins(told: Mapping[str, Any]) -> str:
    """firmware/guard/pins.py."""
    lines = told["guard"]["lines"]
    asked = [name for name in lines if name.startswith("ask-")]
    limits = told["guard"]["longest_s"]

    def row(values: list[int]) -> str:
        return f"({', '.join(map(str, values))},)" if len(values) == 1 else f"({', '.join(map(str, values))})"

    return "\n".join([
        '"""The lamp guard\'s pins and limits. Written by hardware/generate.py from wiring.yaml: change that."""',
        "",
        f"ASK = {row([lines[name]['gp'] for name in asked])}",
        f"PASS = {row([lines[name.replace('ask', 'pass')]['gp'] for name in asked])}",
        *(f"{name.upper()} = {lines[name]['gp']}" for name in ("heartbeat", "master", "button", "led")),
        f"LONGEST_S = {row([limits[name] for name in asked])}",
        "",
    ])  # fmt: skip


# -- the tables ------------------------------------------------------------------------------------------------------

PAGE = """\
# Wiring

Written by `hardware/generate.py` from `wiring.yaml`: change that file, not this one. Build by `BUILD.md`.

**Everything on this page is safety extra-low voltage: 3.3 V at the header, 12 V at the coils. The mains side (relay
contacts, lamps, fuses) is a licensed electrician's, to your local code: see `PARTS.md`. Switch everything off and pull
the plug before you touch a wire.**

Wire numbers are on the ferrules at both ends. `pull`: the resistor that holds the line when nothing drives it.

![The computer's lines, one relay driver, one pedal](drawings/lines.svg)

## The computer's header

{lines}

{supplies}

Held against the headers of: {boards}.

## The benches that come along

{benches}

## The interlock

![Heartbeat, charge pump, comparator, master relay](drawings/interlock.svg)

`worst`: what the simulation takes for the part over tolerance, age and 0 to 50 degrees Celsius.

{interlock}

## The lamp guard, where it stands in place of the interlock

![The lamp guard between the computer and the drivers](drawings/guard.svg)

{guard}

## The smaller parts of the drawings

{small}

## The mains side

A plan for the electrician, not a drawing to build from: `PARTS.md` says what each part must be rated for.

![Mains: the master relay before the lamps' relays, the safelight on a normally-closed contact](drawings/mains.svg)
"""


def tables(told: Mapping[str, Any]) -> str:
    """WIRING.md."""
    lines = told["lines"]
    fields = ("direction", "idle", "pull", "drives")
    benches = [
        f"`{bench}`\n\n"
        + _table(
            ("place in the file", "pin", "header pin", "wire", "line"),
            [
                (f"`{at}`", lines[name]["gpio"], lines[name]["header"], lines[name]["wire"], name)
                for at, name in of.items()
            ],
        )
        for bench, of in told["benches"].items()
    ]
    joined = [("0 V", row) for row in told["grounds"].values()] + [("3.3 V", row) for row in told["supplies"].values()]
    limits = told["guard"]["longest_s"]
    small = [("driver", told["driver"]), ("pedal", told["pedal"]), ("lamp guard", told["guard"]["parts"])]
    return PAGE.format(
        lines=_table(
            ("header pin", "GPIO", "wire", "line", "direction", "idle", "pull", "what it drives"),
            sorted(
                (l["header"], l["gpio"], l["wire"], name, *(l[field] for field in fields)) for name, l in lines.items()
            ),
        ),
        supplies=_table(
            ("header pin", "is", "wire", "what it joins"),
            sorted((row["header"], volts, row["wire"], row["joins"]) for volts, row in joined),
        ),
        boards=", ".join(told["boards"]),
        benches="\n\n".join(benches),
        interlock=_table(
            ("part", "value", "worst", "what it does"),
            [(name, _value(part), _worst(part), part["what"]) for name, part in told["interlock"].items()],
        ),
        guard=_table(
            ("its pin (GP)", "line", "direction", "pull", "what it joins", "no longer than"),
            sorted(
                (l["gp"], name, l["direction"], l["pull"], l["joins"], f"{limits[name]} s" if name in limits else "-")
                for name, l in told["guard"]["lines"].items()
            ),
        ),
        small=_table(
            ("where", "part", "value", "what it does"),
            [(at, name, _value(part), part["what"]) for at, parts in small for name, part in parts.items()],
        ),
    )


def _value(part: Mapping[str, Any]) -> str:
    return f"{part['value']} {part['unit']}"


def _worst(part: Mapping[str, Any]) -> str:
    return f"{part['low'] * 100 - 100:+.3g} to {part['high'] * 100 - 100:+.3g} %"


def _table(heads: tuple[str, ...], rows: list[tuple[Any, ...]]) -> str:
    lines = [heads, ("---",) * len(heads), *rows]
    return "\n".join(f"| {' | '.join(str(cell) for cell in line)} |" for line in lines)


def stale(files: Mapping[Path, str]) -> list[Path]:
    """Those that are not as they should be."""
    return [path for path, text in files.items() if not path.exists() or path.read_text() != text]


def main(arguments: list[str], root: Path = ROOT) -> int:
    """Write what is stale under `root`, or only tell it; 1 if there was some to tell."""
    if arguments not in ([], ["--check"]):
        print(f"generate.py: takes nothing, or --check; found {' '.join(arguments)}", file=sys.stderr)
        return 2
    files = made(root)
    old = stale(files)
    for path in old:
        found = "is not what wiring.yaml makes: run generate.py" if arguments else "written"
        print(f"{path.relative_to(root)}: {found}")
        if not arguments:
            path.parent.mkdir(parents=True, exist_ok=True)
            beside = path.with_name(path.name + ".new")
            beside.write_text(files[path])
            beside.replace(path)
    return 1 if old and arguments else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
