"""A strip to read: what each patch gets, and what the hands do for it."""

from __future__ import annotations

import textwrap
from typing import Any

from timerd.sheet.words import seconds_words, signed_stops

WIDTH = 80


def strip_table(facts: dict[str, Any]) -> str:
    """The facts of a strip as text, 80 columns wide."""
    lines = [facts["print"], ""]
    for ladder in facts.get("ladders", ()):
        lines += _ladder(ladder)
    if facts.get("highlight_shift_stops"):
        lines += _shifts(facts)
    if "patches" in facts:
        lines += _patches(facts["patches"])
    lines.append("in order:")
    for one in facts["exposures"]:
        light = f"{one['seconds']:.2f} s of {one['light']}"
        if one["light"] is None:
            light = f"{seconds_words(one['seconds'])} under the safelight"
        lines += _wrapped(f"{one['card']}; {light}", f"{one['n']:>3}  ", 5)
        if one["note"]:
            lines += _wrapped(one["note"], "     ", 5)
    lines += ["", "mind:"]
    for said in facts["mind"]:
        lines += _wrapped(said, "  - ", 4)
    return "\n".join([*lines, ""])


def _ladder(ladder: dict[str, Any]) -> list[str]:
    lines = [f"{ladder['what']:>8}  {ladder['light']}, s     stops"]
    for patch in ladder["patches"]:
        stops = signed_stops(patch["stops"]) if patch["patch"] > 1 else "-"
        lines.append(f"{patch['patch']:>8}  {patch['seconds']:>{len(ladder['light']) + 3}g}  {stops:>8}")
    return [*lines, ""]


def _shifts(facts: dict[str, Any]) -> list[str]:
    """What the last ladder's light adds to the highlight, in stops over the light below."""
    last = facts["ladders"][-1]
    lines = [f"what {last['light']} adds to the highlight, in stops:"]
    many = len(facts["highlight_shift_stops"]) > 1
    if many:
        heads = "".join(f"{f'column {k}':>10}" for k in range(1, len(facts["highlight_shift_stops"]) + 1))
        lines.append(f"{'':>8}{heads}")
    for k, patch in enumerate(last["patches"]):
        cells = "".join(f"{shifts[k]:>+10.2f}" for shifts in facts["highlight_shift_stops"])
        lines.append(f"{last['what'] + ' ' + str(patch['patch']):>8}{cells}")
    return [*lines, ""]


def _patches(patches: list[dict[str, Any]]) -> list[str]:
    lines = []
    for patch in patches:
        if "minutes" in patch:
            said = f"{patch['minutes']:g} min under the safelight"
        else:
            given = ", ".join(f"{e['light']} {e['seconds']:.2f} s" for e in patch["exposures"])
            said = f"{patch['percent']:g} % less: {given}"
        lines.append(f"patch {patch['patch']}: {said}")
    return [*lines, ""]


def _wrapped(text: str, first: str, indent: int) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * indent)
