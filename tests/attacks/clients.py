"""What somebody at the control socket may not do: end the daemon, put out a light, or keep others from being heard."""

from __future__ import annotations

import contextlib
import json
import threading
import time
from typing import Any

from served import LIMIT_S, Served, bursts, stand_still
from served.asking import ask
from walks.numbers_walk import WORST, Tried, requests, try_one

from attacks import LIGHT_S, PAPER, PRINT, Ground, attack, raw
from timerd.control import MOST_CLIENTS, ControlError

SLOW = "steps:\n" + "".join(f"  - {{bass: soft{n}, lite: gren}}\n" for n in range(5_000))
"""A print's file that takes a second to be refused."""
MANY_OBJECTS = b'{"do": "status", "x": [' + b"{}," * 280_000 + b"{}]}\n"


def load_of(print_: str) -> dict[str, Any]:
    """A request to load a print."""
    files = {"print": {"name": "print.yaml", "text": print_}, "paper": {"name": PAPER.name, "text": PAPER.read_text()}}
    return {"do": "load", **files}


@attack("15.7", "a print whose seconds are next to nothing, over the raw socket")
def tiny_seconds(ground: Ground) -> str:
    tried = ("1e-320", "5e-324", "1e-300", "0.0009", "1e300")
    dodged = PRINT.replace("lead_in: 0.2", "dodge: [{area: left, mm: 20, stops: 1}]")
    with ground.served() as served:
        for seconds in tried:
            with raw(served) as end:
                text = dodged.replace(f"seconds: {LIGHT_S}", f"seconds: {seconds}")
                end.sendall(json.dumps(load_of(text)).encode() + b"\n")
                answer = json.loads(end.makefile().readline())
            assert not answer["ok"] and answer["why"].startswith("print.yaml:6: steps[0].seconds: must be "), answer
        assert served.status()["state"] == "idle"
    return f"{len(tried)} loads refused in words, with their line; the daemon lives"


@attack("15.7", "every number of every file that a client sends, exchanged for others")
def all_numbers(ground: Ground) -> str:
    found = Tried()
    for what, request, bench in requests(WORST, 61) if ground.short else requests():
        try_one(what, request, bench, found)
    assert not found.wrong, "\n".join(found.wrong)
    came = ", ".join(f"{count:,} {what}" for what, count in sorted(found.came.items()))
    return f"{found.tried:,} loads: {came}"


@attack("15.8", "eight clients with 840 KB of small objects in a status each, while a light burns")
def much_while_lit(ground: Ground) -> str:
    times = 1 if ground.short else 20
    with ground.served() as served:
        served.load(PRINT, PAPER, sheets=times)
        for n in range(times):
            if n:  # a hold counts from the state in which it began, and not too soon after a light
                stand_still(2.2)
            served.arm()
            served.light()
            senders = [threading.Thread(target=_send, args=(served, MANY_OBJECTS)) for _ in range(MOST_CLIENTS)]
            for sender in senders:
                sender.start()
            status = served.until(lambda s: s["state"] not in ("lead-in", "exposing"))
            for sender in senders:
                sender.join()
            assert (status["state"], status["dark"]["why"]) == ("done", "deadline"), status
        lengths = [dark - lit for _, lit, dark in bursts(served.truth()) if dark is not None]
        assert len(lengths) == times and max(abs(s - LIGHT_S) for s in lengths) < served.near_s, lengths
    return f"{times} lights of {LIGHT_S} s went out by their dose, {_spread(lengths)} s after they were lit"


@attack("15.8", "eight who follow, and a ninth who wants it dark")
def eight_followers(ground: Ground) -> str:
    with ground.served() as served:
        ends = [raw(served) for _ in range(MOST_CLIENTS)]
        for end in ends:
            end.sendall(b'{"do": "follow"}\n')
        told = [json.loads(end.makefile().readline()) for end in ends]
        asked = [ask(served.run, {"do": what}, LIMIT_S)["state"] for what in ("dark", "status") * 5]
        for end in ends:
            end.close()
    assert asked == ["idle"] * 10
    return f"{sum(one['ok'] for one in told)} may follow; ten times the ninth was heard"


@attack("15.8", "files that take a second to be refused, and somebody who wants it dark meanwhile")
def slow_files(ground: Ground) -> str:
    with ground.served() as served:
        ends = [raw(served) for _ in range(2 if ground.short else 6)]
        for end in ends:
            end.sendall(json.dumps(load_of(SLOW)).encode() + b"\n")
        answered: list[float] = []
        while not answered or not _readable(ends[-1]):
            begun = time.monotonic()
            ask(served.run, {"do": "dark"}, LIMIT_S)
            answered.append(time.monotonic() - begun)
        for end in ends:
            answer = json.loads(end.makefile().readline())
            assert not answer["ok"] and "steps: must have 200 at most" in answer["why"], answer
            end.close()
    assert len(answered) >= 8, f"only {len(answered)} were heard while those were read"
    return f"{len(answered)} times `dark` was heard meanwhile, after {_spread(answered)} s"


@attack("15.8", "a long load while a light burns: not read")
def load_while_lit(ground: Ground) -> str:
    with ground.served() as served:
        served.load(PRINT, PAPER)
        served.arm()
        served.tap("go")
        served.state("exposing")
        try:
            ask(served.run, load_of(SLOW), LIMIT_S)
        except ControlError as error:
            said = str(error)
        status = served.state("done")
    assert said == "a light is on: nothing is loaded" and status["dark"]["why"] == "deadline", said
    return f"refused with '{said}'; the light went out by its dose"


def _send(served: Served, line: bytes) -> None:
    with contextlib.suppress(OSError), raw(served) as end:
        end.sendall(line)
        end.recv(65536)


def _readable(end: Any) -> bool:
    end.setblocking(False)
    try:
        return bool(end.recv(1, 2))  # MSG_PEEK
    except BlockingIOError:
        return False
    finally:
        end.settimeout(LIMIT_S)


def _spread(seconds: list[float]) -> str:
    ordered = sorted(seconds)
    return f"{ordered[0]:.4f} to {ordered[-1]:.4f} (median {ordered[len(ordered) // 2]:.4f})"
