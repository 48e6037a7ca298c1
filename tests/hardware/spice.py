"""The interlock's netlist under ngspice: a heartbeat goes in, the coil's current comes out."""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

NETLIST = Path(__file__).parents[2] / "hardware" / "interlock.cir"

HALF_S = 0.002
"""From one edge of the heartbeat to the next: it is toggled 500 times a second."""
OPERATE_S = 0.015
"""The longest that the relay's contacts take once the coil has its current (rated so in PARTS.md)."""
RELEASE_S = 0.015
"""The longest that they take to open once it has not."""
PULLS_IN = 0.70
"""Of the nominal coil current: enough for every relay rated as in PARTS.md (20 degrees Celsius, cold coil)."""
LETS_GO = 0.10
"""Of the nominal coil current: under it every such relay has let go."""
HOLDS = 0.60
"""Of the nominal coil current: over it no such relay lets go once it is in (common practice, no source)."""
COIL_V = 12.0
COPPER_PER_K = 0.00393
"""Copper's resistance rises by this part a kelvin (IEC 60028, from memory)."""
COIL_RISE_K = 30.0
"""How much warmer than the box the coil of a relay that has been on for long may be (from memory)."""


def found() -> str | None:
    """Where ngspice is, or None."""
    return shutil.which("ngspice")


def beating(start: float, end: float, half_s: float = HALF_S) -> list[float]:
    """The edges of a heartbeat from `start` to `end`, in seconds."""
    return [start + i * half_s for i in range(round((end - start) / half_s))]


@dataclass(frozen=True)
class Traces:
    """What came out, in steps of 0.1 ms: seconds, the coil's current over its nominal one, the reservoir in volts."""

    seconds: Sequence[float]
    coil: Sequence[float]
    reservoir: Sequence[float]

    def _between(self, start: float, end: float) -> range:
        return range(
            next((i for i, s in enumerate(self.seconds) if s >= start), len(self.seconds)),
            next((i for i, s in enumerate(self.seconds) if s > end), len(self.seconds)),
        )

    def least(self, start: float, end: float) -> float:
        """The least coil current between two times, over the nominal one."""
        return min(self.coil[i] for i in self._between(start, end))

    def most(self, start: float, end: float) -> float:
        """The greatest coil current between two times, over the nominal one."""
        return max(self.coil[i] for i in self._between(start, end))

    def closed_after(self, start: float, end: float) -> float | None:
        """Seconds from `start` until every relay has its contact closed; None if not before `end`."""
        at = next((i for i in self._between(start, end) if self.coil[i] >= PULLS_IN), None)
        return None if at is None else self.seconds[at] - start + OPERATE_S

    def open_after(self, start: float, end: float) -> float | None:
        """Seconds from `start` until every relay has its contact open, for good; None if not before `end`."""
        last = next((i for i in reversed(self._between(start, end)) if self.coil[i] > LETS_GO), None)
        if last is None:
            return 0.0
        return None if self.seconds[last] >= end - 0.001 else self.seconds[last] - start + RELEASE_S


def coil_ohm(cold_ohm: float, celsius: float) -> float:
    """A coil's resistance at a temperature, from that at 20 degrees."""
    return cold_ohm * (1 + COPPER_PER_K * (celsius - 20))


def run(
    edges: Iterable[float],
    seconds: float,
    *,
    celsius: float = 25.0,
    values: Mapping[str, float] | None = None,
    swaps: Mapping[str, str] | None = None,
) -> Traces:
    """The netlist with this heartbeat, from rest.

    `values` replace parameters (a coil is given by `coil_r` at 20 degrees Celsius; copper is counted here, at `celsius`
    and no warmer unless `coil_rise` says by how many kelvin), `swaps` whole lines, by their first word.
    """
    values = dict(values or {})
    rise = values.pop("coil_rise", 0.0)
    text = NETLIST.read_text().split("\n.control\n")[0]
    cold = values.get("coil_r", float(_parameter(text, "coil_r")))
    values["coil_r"] = coil_ohm(cold, celsius + rise)
    for name, value in values.items():
        text, count = re.subn(rf"^\.param {name}=.*$", f".param {name}={value:.6g}", text, flags=re.M)
        assert count == 1, f"the netlist has no parameter {name}"
    high = values.get("beat_v", float(_parameter(text, "beat_v")))
    text = re.sub(r"^Vbeat .*$", lambda _: f"Vbeat beat 0 PWL({_steps(edges, high)})", text, flags=re.M)
    text = re.sub(r"^\.temp .*$", f".temp {celsius:g}", text, flags=re.M)
    for word, line in (swaps or {}).items():
        text, count = re.subn(rf"^{re.escape(word)} .*$", lambda _, line=line: line, text, flags=re.M)
        assert count == 1, f"the netlist has no line {word}"
    with tempfile.TemporaryDirectory() as folder:
        deck, out = Path(folder) / "deck.cir", Path(folder) / "out.txt"
        deck.write_text(
            f"{text}\n.control\nset filetype=ascii\nset numdgt=6\ntran 0.1m {seconds:g} 0 0.25m\n"
            "linearize i(Vcoil) v(held)\nwrdata out.txt i(Vcoil) v(held)\n.endc\n.end\n"
        )
        done = subprocess.run(["ngspice", "-b", deck.name], capture_output=True, text=True, cwd=folder)
        assert out.exists(), done.stdout[-2000:] + done.stderr[-2000:]
        rows = [[float(word) for word in line.split()] for line in out.read_text().splitlines()]
    assert rows and rows[-1][0] >= seconds - 0.0002, f"ngspice gave up:\n{done.stderr[-2000:]}"
    nominal = COIL_V / cold
    return Traces([r[0] for r in rows], [r[1] / nominal for r in rows], [r[3] for r in rows])


def _parameter(text: str, name: str) -> str:
    match = re.search(rf"^\.param {name}=(\S+)$", text, flags=re.M)
    assert match, f"the netlist has no parameter {name}"
    return match[1]


def _steps(edges: Iterable[float], high: float) -> str:
    """A line that starts low and toggles at each edge, as ngspice's list of corners, 10 us a slope."""
    corners, level = [(0.0, 0.0)], 0.0
    for edge in edges:
        corners.append((edge, level))
        level = high - level
        corners.append((edge + 1e-5, level))
    return "\n+ ".join(f"{at:.7g} {volts:.4g}" for at, volts in corners)
