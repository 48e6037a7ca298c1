"""Every number of every file that a client may send, in turn one that no file should have: what comes of it is a plan
that can be told, kept and played to its end, or an error in words."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from timerd.bench.simulated import SimulatedBench
from timerd.daemon.loading import loading
from timerd.daemon.trays import event_of
from timerd.places import shipped
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.session import Session
from timerd.wire.control import FillBath, LoadPrint, SentFile, request_of

NUMBERS = (
    "0", "-1", "5e-324", "1e-320", "1e-300", "1e-100", "1e-15", "1e-9", "0.0009", "0.001", "0.01", "3600", "1e9",
    "1e18", "9007199254740993", "1e300", "1.7976931348623157e308", "-5e-324",
)  # fmt: skip
TWELVE = Path(__file__).parents[1] / "served" / "twelve.yaml"
_NUMBER = re.compile(r"(?<![\w#.])[-+]?[0-9]+(?:\.[0-9]+)?(?![\w.])")
_NAMES = re.compile(r"^(?:  - \{)?(bench|paper|develop): ([\w-]+)", re.MULTILINE)
MOST_PRESSES = 400


@dataclass
class Tried:
    """How much was tried and what came of it; `wrong` has a line for whatever must not be."""

    tried: int = 0
    played: int = 0
    came: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


WORST = ("5e-324", "1e-320", "0.0009", "1.7976931348623157e308")


def requests(
    numbers: tuple[str, ...] = NUMBERS, every: int = 1
) -> Iterator[tuple[str, dict[str, Any], Profile[Bench]]]:
    """Each request with one number exchanged, what it is called, and the bench that it goes to; or every so manyth."""
    count = 0
    for path in [*sorted((shipped() / "prints").glob("*.yaml")), TWELVE]:
        files = {"print": path, **_named(path.read_text())}
        bench = _bench(files.pop("bench"))
        texts = {kind: file.read_text() for kind, file in files.items()}
        for kind, text in texts.items():
            for found in _NUMBER.finditer(text):
                for number in numbers:
                    count += 1
                    if count % every == 0:
                        mine = {**texts, kind: text[: found.start()] + number + text[found.end() :]}
                        line = 1 + text.count("\n", 0, found.start())
                        sent = {which: {"name": files[which].name, "text": mine[which]} for which in mine}
                        yield f"{files[kind].name}:{line}: {found[0]} -> {number}", sent, bench


def try_one(what: str, request: dict[str, Any], bench: Profile[Bench], found: Tried) -> None:
    """Load it, and if that can be done play it."""
    found.tried += 1
    try:
        asked = request_of(json.dumps({"do": "load", **request}).encode())
        assert isinstance(asked, LoadPrint)
        plan, _ = loading(asked, bench)
        if asked.bath is not None:
            _fill_anew(asked.bath)
        json.dumps(plan.model_dump(mode="json"), allow_nan=False)
        assert Plan.model_validate_json(plan.model_dump_json()) == plan, "the book would not give it back"
        ended = played(plan, bench.value)
        found.played += 1
        found.came[f"played to {ended}"] += 1
        if ended != rows.DONE:
            found.wrong.append(f"{what}: ends in {ended}")
    except ValueError as error:
        found.came["refused"] += 1
        if not str(error) or "validation error" in str(error) or "Traceback" in str(error):
            found.wrong.append(f"{what}: refused without words: {error}")
    except Exception as error:  # noqa: BLE001 (whatever it is, it would have ended the daemon)
        found.came[type(error).__name__] += 1
        found.wrong.append(f"{what}: {error!r}")


def _fill_anew(file: SentFile) -> None:
    """Each bath of the line as a client would tell of a new batch of it."""
    for bath in read(file.text.encode(), "bath.yaml", "bath").value.baths:
        event_of(FillBath(bath.name, file), 0.0)


@cache
def _bench(path: Path) -> Profile[Bench]:
    return read(path.read_bytes(), path.name, "bench")


def _named(text: str) -> dict[str, Path]:
    """The files that a print names."""
    folders = {"bench": ("bench", "benches"), "paper": ("paper", "papers"), "develop": ("bath", "baths")}
    return {
        folders[key][0]: shipped() / folders[key][1] / f"{name}.yaml" for key, name in _NAMES.findall(text)
    }  # fmt: skip


def played(plan: Plan, bench: Bench) -> str:
    """A sheet of a plan, by somebody who always does what is next; the state in which it ends."""
    simulated = SimulatedBench(Session(bench))
    standing = simulated.session.standing
    simulated.event(ev.Load(plan, 1, 0.0))
    for _ in range(MOST_PRESSES):
        simulated.advance(simulated.now + 2.0)
        row, step = standing.row, standing.step
        if row in (rows.DONE, rows.FAULT, rows.ABANDONED):
            break
        if row in (rows.LEAD_IN, rows.EXPOSING) or standing.warming(simulated.now) is not None:
            simulated.advance(max(simulated.next_due or 0.0, simulated.now))
            continue
        contacts = standing.feet.contacts.values()
        here = step.station if step is not None else None
        go = next(c.name for c in contacts if c.pedal == "go" and (here is None or c.station in (None, here)))
        simulated.raw_edge(go, True)
        held = step is not None and step.pedal in ("hold", "free") and row in (rows.READY_HELD, rows.PAUSED)
        simulated.advance(simulated.now + (1.2 if row in (rows.IDLE, rows.ASIDE) else 4000.0 if held else 0.15))
        simulated.raw_edge(go, False)
        if held and step is not None and step.dose is None:
            simulated.advance(simulated.now + 2.0)
            ends = [c.name for c in contacts if c.pedal == "end"]
            if ends:
                simulated.raw_edge(ends[0], True)
                simulated.advance(simulated.now + 1.2)
                simulated.raw_edge(ends[0], False)
    for name in list(simulated.raw_down):
        simulated.raw_edge(name, False)
    json.dumps(asdict(simulated.session.trayside.status(simulated.now)), allow_nan=False)
    return standing.state
