"""The keeper's messages and reports on the wire: their bytes as they always were, and nothing else taken for one."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timerd.wire.codec import Codec, Malformed, as_json, encoded, read_as
from timerd.wire.keeper import (
    FROM_KEEPER,
    LONGEST_MESSAGE,
    MOST_PULSES,
    TO_KEEPER,
    ClearLines,
    Cut,
    Dark,
    Edge,
    Expose,
    Fault,
    FoundDown,
    HasLines,
    Here,
    KeepBench,
    LacksLines,
    LampTurned,
    Lit,
    Low,
    Message,
    PluggedIn,
    Pulses,
    Refused,
    Renew,
    Report,
    Rest,
    SafelightDark,
    SafelightEdge,
    Setup,
    Unplugged,
    stay_on,
)  # fmt: skip

TOLD: list[tuple[Message, bytes]] = [
    (
        Expose(3, "green", 13.25, 4.0, ("go", "end"), "go", SafelightDark(10, ("pedal", "deadline")), 7, False),
        b'{"do": "expose", "burst": 3, "light": "green", "at": 13.25, "seconds": 4.0, "cut_on": ["go", "end"], '
        b'"while_down": "go", "safelight": {"dark": 10, "stays": ["pedal", "deadline"]}, "seen": 7, "view": false}',
    ),
    (
        Expose(4, "white", 1.0, 600.0, (), None, None, 0, True, (Pulses(-0.5, 1.0, 3, 0.08), Pulses(0.0, 0.0, 1, 0.3))),
        b'{"do": "expose", "burst": 4, "light": "white", "at": 1.0, "seconds": 600.0, "cut_on": [], '
        b'"while_down": null, "safelight": null, "seen": 0, "view": true, '
        b'"cues": [[-0.5, 1.0, 3, 0.08], [0.0, 0.0, 1, 0.3]]}',
    ),
    (Renew(), b'{"do": "renew"}'),
    (Renew(12.5), b'{"do": "renew", "until": 12.5}'),
    (stay_on("blue", "green"), b'{"do": "stay", "on": ["stay blue", "stay green"]}'),
    (stay_on(), b'{"do": "stay", "on": []}'),
    (Cut(), b'{"do": "cut"}'),
    (ClearLines(), b'{"do": "clear"}'),
]
REPORTED: list[tuple[HasLines | LacksLines | Here | Report, bytes]] = [
    (
        HasLines("real time", "LGPIOFactory", 0),
        b'{"is": "keeping", "scheduling": "real time", "factory": "LGPIOFactory", "chip": 0}',
    ),
    (HasLines("", "simulated", None), b'{"is": "keeping", "scheduling": "", "factory": "simulated", "chip": null}'),
    (LacksLines("the pins: gone"), b'{"is": "no lines", "why": "the pins: gone"}'),
    (Here(), b'{"is": "here"}'),
    (Edge("go", True, 1.5, 9), b'{"is": "pedal", "pedal": "go", "down": true, "at": 1.5, "number": 9}'),
    (FoundDown("end", 1.5), b'{"is": "found down", "pedal": "end", "at": 1.5}'),
    (
        Unplugged("end", "is unplugged", 1.5),
        b'{"is": "unplugged", "pedal": "end", "why": "is unplugged", "at": 1.5}',
    ),
    (PluggedIn("end", 1.5), b'{"is": "plugged in", "pedal": "end", "at": 1.5}'),
    (LampTurned("stay blue", True, 1.5), b'{"is": "stay", "line": "stay blue", "on": true, "at": 1.5}'),
    (Lit(3, 1.5), b'{"is": "lit", "burst": 3, "at": 1.5}'),
    (Dark(3, 1.5, "deadline"), b'{"is": "dark", "burst": 3, "at": 1.5, "why": "deadline"}'),
    (
        Dark(3, 1.5, "light not seen", 1.25),
        b'{"is": "dark", "burst": 3, "at": 1.5, "why": "light not seen", "lo": 1.25}',
    ),
    (Refused(3, "no such light", 1.5), b'{"is": "refused", "burst": 3, "why": "no such light", "at": 1.5}'),
    (Fault("bad message", 1.5), b'{"is": "fault", "why": "bad message", "at": 1.5}'),
    (Fault("line not low", 1.5, ("a",)), b'{"is": "fault", "why": "line not low", "at": 1.5, "high": ["a"]}'),
    (Low(1.5), b'{"is": "low", "at": 1.5}'),
    (Rest(1.5, False), b'{"is": "rest", "at": 1.5, "low": false}'),
    (SafelightEdge(True, 1.5), b'{"is": "safelight", "lit": true, "at": 1.5}'),
]


def test_the_bytes_are_as_they_were_and_are_read_as_what_they_say() -> None:
    """As the daemon and the keeper sent them before either had a type."""
    for codec, all_of in ((TO_KEEPER, TOLD), (FROM_KEEPER, REPORTED)):
        for message, raw in all_of:
            assert codec.encode(message) == raw  # type: ignore[attr-defined]
            assert codec.decode(raw) == message  # type: ignore[attr-defined]
    assert {type(message) for message, _ in TOLD} == set(get_args(Message))
    assert {type(report) for report, _ in REPORTED} == {HasLines, LacksLines, Here, *get_args(Report)}


WRONG_VALUES: tuple[Any, ...] = (None, True, 1, 1.5, "go", [], {}, ["go", 3], [[]], -1, 10**20, {"dark": "x"})


def _taken(codec: Codec[Any], told: dict[str, Any]) -> Any:
    try:
        return codec.decode(json.dumps(told).encode())
    except Malformed:
        return None


@pytest.mark.parametrize(("codec", "all_of"), [(TO_KEEPER, TOLD), (FROM_KEEPER, REPORTED)])
def test_a_key_less_or_more_or_of_another_type_is_no_message(codec: Codec[Any], all_of: list[Any]) -> None:
    """Whatever is taken all the same says what was sent, to the last key."""
    tried = refused = 0
    for message, raw in all_of:
        told = json.loads(raw)
        assert _taken(codec, {**told, "more": 1}) is None
        for key, right in told.items():
            less = {name: value for name, value in told.items() if name != key}
            found = _taken(codec, less)
            assert found is None or (key in ("until", "cues", "lo", "high") and found != message)
            for value in WRONG_VALUES:
                found = _taken(codec, {**told, key: value})
                tried += 1
                refused += found is None
                alike = isinstance(value, (int, float)) and isinstance(right, (int, float))
                if found is not None and isinstance(value, bool) != isinstance(right, bool):
                    raise AssertionError(f"{key}: {value!r} for {right!r}")
                assert found is None or alike or type(value) is type(right) or None in (value, right), (key, value)
    assert refused > tried / 2


@pytest.mark.parametrize(
    "raw",
    [
        b"", b"[]", b"1", b'"cut"', b'{"do":"cut","do":"cut"}', b'{"do":["cut"]}', b'{"do":"renew","until":NaN}',
        b'{"do":"renew","until":1e999}', b"\xff", b"[" * 3000, b'{"do":"cut"' + b" " * LONGEST_MESSAGE + b"}",
    ],
)  # fmt: skip
def test_what_is_no_object_or_not_one_of_them_is_no_message(raw: bytes) -> None:
    with pytest.raises(Malformed):
        TO_KEEPER.decode(raw)


@pytest.mark.parametrize(
    ("row", "taken"),
    [
        ([0, 0, MOST_PULSES, 0.1], True), ([0, 0, MOST_PULSES + 1, 0.1], False), ([0, -0.1, 1, 0.1], False),
        ([0, 0, 1, 0], False), ([0, 0, 1, 1e4], False), ([0, 0, 1.5, 0.1], False), ([0, 0, 1], False),
        ([0, 0, 1, 0.1, 0], False), ("go", False), ({}, False),
    ],
)  # fmt: skip
def test_pulses_are_no_more_than_a_person_could_count(row: Any, taken: bool) -> None:
    told = {**json.loads(TOLD[0][1]), "cues": [row]}
    assert (_taken(TO_KEEPER, told) is not None) is taken


@given(st.binary(max_size=300))
def test_any_bytes_are_a_message_or_are_refused(raw: bytes) -> None:
    for codec in (TO_KEEPER, FROM_KEEPER):
        try:
            message = codec.decode(raw)  # type: ignore[attr-defined]
        except Malformed:
            continue
        assert codec.decode(codec.encode(message)) == message  # type: ignore[attr-defined]


def test_what_a_keeper_is_told_when_it_starts_is_as_it_was() -> None:
    """The order of its keys too; the pin of each line goes through as it is. A rule that is missing, or one that is
    not known, is no start: the keeper would keep another bench than the daemon means."""
    start = KeepBench(
        Setup({"green": "lamp a"}, {"lamp a": 30.0}, ("go", "end"), frozenset({"go", "end"}), frozenset({"green"})),
        {"outputs": {"lamp a": {"pin": 17, "active": "high"}}, "contacts": {}}, True, "b00c", "b007",
    )  # fmt: skip
    raw = (
        b'{"rules": {"lights": {"green": "lamp a"}, "longest_s": {"lamp a": 30.0}, "pedals": ["go", "end"], '
        b'"darkens": ["end", "go"], "views": ["green"], "view_s": 600.0, "safelight": true, "stay": {}, "cues": false, '
        b'"senses": {}}, "wiring": {"outputs": {"lamp a": {"pin": 17, "active": "high"}}, "contacts": {}}, '
        b'"simulated": true, "book": "b00c", "boot": "b007"}'
    )
    assert encoded(as_json(start)) == raw
    told = json.loads(raw)
    assert read_as(KeepBench, told) == start
    assert read_as(KeepBench, {**told, "chip": 3}) == replace(start, chip=3)
    for rule in told["rules"]:
        less = {name: value for name, value in told["rules"].items() if name != rule}
        for rules in (less, {**told["rules"], rule: None}, {**told["rules"], "more": 1}):
            with pytest.raises(Malformed):
                read_as(KeepBench, {**told, "rules": rules})
