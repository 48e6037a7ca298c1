"""A print on another paper: nothing changes on the same one, tones are held on another, the rest is named."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from papers_off import unsure_of_nothing

from timerd.desk.moving import Moved, move
from timerd.places import shipped
from timerd.printing.exposure import exposure
from timerd.printing.paper import iso_range
from timerd.printing.stops import burn_dose
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import Print
from timerd.sheet.profile.reading import read


def shipped_value(kind: Any, name: str) -> Any:
    path: Path = shipped() / {"bench": "benches", "paper": "papers", "print": "prints"}[kind] / f"{name}.yaml"
    return read(path.read_bytes(), path.name, kind).value


BENCH: Bench = shipped_value("bench", "two-station")
GLOSSY: Paper = unsure_of_nothing(shipped_value("paper", "demo-fibre-glossy"))
MATT: Paper = unsure_of_nothing(shipped_value("paper", "demo-fibre-matt"))


def print_of(steps: str, head: str = "") -> Print:
    text = f"print: t\npaper: demo-fibre-glossy\nbench: two-station\nsheet: 8x10 in\n{head}"
    text += "areas: {sky: [[0, 0], [1, 0], [1, 1]], rock: [[0, 0], [1, 0], [1, 1]]}\nsteps:\n" + steps
    return read(text.encode(), "t.yaml", "print").value


BASES = "  - {base: soft, light: green, seconds: 14}\n  - {base: hard, light: blue, seconds: 9.5}\n"


def changes(moved: Moved) -> dict[str, object]:
    return {".".join(map(str, change.place)): change.value for change in moved.changes}


@pytest.mark.parametrize("name", ["breakwater", "ferry-steps"])
def test_to_the_same_paper_nothing_changes(name: str) -> None:
    print_ = shipped_value("print", name)
    moved = move(print_, shipped_value("bench", print_.bench), GLOSSY, GLOSSY)
    assert moved.changes == [] and moved.r_after == pytest.approx(moved.r_before)
    assert not [one for one in moved.unmatched if "no planned dose" not in one]


def test_to_a_paper_of_the_same_numbers_the_solver_changes_nothing() -> None:
    """A curve that is not the same to the last figure goes through all of the arithmetic, and comes back."""
    assert GLOSSY.curve is not None
    twin = GLOSSY.model_copy(update={"curve": GLOSSY.curve.model_copy(update={"dmin": GLOSSY.curve.dmin + 1e-9})})
    moved = move(shipped_value("print", "breakwater"), BENCH, GLOSSY, twin)
    assert moved.changes == [] and moved.unmatched == []
    for before, after in moved.doses.values():
        assert after == pytest.approx(before, rel=1e-6)


def test_both_ends_of_the_range_are_held() -> None:
    moved = move(print_of(BASES), BENCH, GLOSSY, MATT)
    assert GLOSSY.curve is not None and MATT.curve is not None
    old, new = GLOSSY.curve.curve, MATT.curve.curve
    before, after = ((moved.doses["green"][i], moved.doses["blue"][i]) for i in (0, 1))
    assert before == (14.0, 9.5)
    for point, wanted in ((old.low_point, new.low_point), (old.high_point, new.high_point)):
        light = old.multiple(point, *before)
        assert new.density(light * after[0], light * after[1]) == pytest.approx(wanted, abs=1e-6)
    assert moved.r_after == pytest.approx(moved.r_before, abs=1e-3)
    assert changes(moved) == {
        "paper": "demo-fibre-matt",
        "steps.0.seconds": pytest.approx(after[0], abs=0.005),
        "steps.1.seconds": pytest.approx(after[1], abs=0.005),
    }


def test_dry_down_is_the_new_papers_own() -> None:
    dry, wet = (move(print_of(BASES, head), BENCH, GLOSSY, MATT) for head in ("", "judged: wet\n"))
    # 8 % on the old paper, 6 % on the new: the doses on the paper are held
    for key in ("steps.0.seconds", "steps.1.seconds"):
        assert changes(wet)[key] == pytest.approx(changes(dry)[key] * 0.92 / 0.94, abs=0.011)  # type: ignore[operator]
    assert dry.doses["green"][0] == 14.0 and wet.doses["green"][0] == pytest.approx(14.0 * 0.92)


def test_a_burned_area_ends_at_the_tone_that_its_old_one_maps_to() -> None:
    steps = BASES + "  - {burn: sky, light: green, stops: 1 1/4, leave: [{area: rock, stops: 1/2}]}\n"
    moved = move(print_of(steps), BENCH, GLOSSY, MATT)
    assert GLOSSY.curve is not None and MATT.curve is not None
    old, new = GLOSSY.curve.curve, MATT.curve.curve
    (green, new_green), (blue, new_blue) = moved.doses["green"], moved.doses["blue"]
    stops = float(changes(moved)["steps.2.stops"])  # type: ignore[arg-type]
    burn, new_burn = burn_dose(green, Fraction(5, 4)), burn_dose(new_green, Fraction(stops))
    light = old.multiple(old.dmin + 0.6, green + burn, blue)
    plain = old.multiple(old.dmin + 0.6, green, blue)
    wanted = new.density(plain * new_green, plain * new_blue)
    assert new.density(light * (new_green + new_burn), light * new_blue) == pytest.approx(wanted, abs=0.005)
    assert 1.0 < stops < 1.5 and 0.3 < float(changes(moved)["steps.2.leave.0.stops"]) < 0.7  # type: ignore[arg-type]


@pytest.mark.parametrize(("then", "now"), [(0.9, 0.9), (0.9, 1.0), (1.0, 0.85)])
def test_a_burned_area_ends_there_on_papers_with_a_reciprocity_too(then: float, now: float) -> None:
    """By exposures on both papers, as the plan, the report and the proof count; what a dodge's hint says, too."""
    glossy, matt = (p.model_copy(update={"reciprocity": r}) for p, r in ((GLOSSY, then), (MATT, now)))
    assert glossy.curve is not None and matt.curve is not None
    old, new = glossy.curve.curve, matt.curve.curve
    base = BASES.replace("seconds: 14", "seconds: 14, dodge: [{area: rock, stops: 1 1/4}]")
    moved = move(print_of(base + "  - {burn: sky, light: green, stops: 1 1/4}\n"), BENCH, glossy, matt)
    (green, new_green), (blue, new_blue) = moved.doses["green"], moved.doses["blue"]
    hint = next(one for one in moved.unmatched if one.startswith("dodge rock in soft: 1 1/4 stops kept, "))
    pairs = ((1.25, float(changes(moved)["steps.2.stops"])), (-1.25, -float(hint.split("kept, ")[1].split()[0])))  # type: ignore[arg-type]
    for stops, new_stops in pairs:
        dose = green * 2 ** (stops / then)
        assert exposure(dose, green, then) == pytest.approx(green * 2**stops)
        light = old.multiple(old.dmin + 0.6, exposure(dose, green, then), blue)
        plain = old.multiple(old.dmin + 0.6, green, blue)
        wanted = new.density(plain * new_green, plain * new_blue)
        got = new.density(light * exposure(new_green * 2 ** (new_stops / now), new_green, now), light * new_blue)
        assert got == pytest.approx(wanted, abs=0.01)


def test_on_a_paper_that_differs_in_its_reciprocity_alone_stops_stay() -> None:
    slow = GLOSSY.model_copy(update={"reciprocity": 0.8})
    steps = "  - {burn: sky, light: green, stops: 1 1/4, leave: [{area: rock, stops: 1/2}]}\n"
    steps += "  - {burn: rock, light: blue, percent: 50}\n"
    found = changes(move(print_of(BASES + steps), BENCH, GLOSSY, slow))
    # the percent are of doses: 1.5^(1/0.8) - 1
    assert found == {"steps.3.percent": pytest.approx(100 * (1.5**1.25 - 1), abs=0.05)}


def test_a_burn_keeps_the_way_it_is_written() -> None:
    steps = BASES + "  - {burn: sky, light: green, percent: 40}\n  - {burn: rock, light: blue, seconds: 3}\n"
    found = changes(move(print_of(steps), BENCH, GLOSSY, MATT))
    assert 30 < float(found["steps.2.percent"]) < 50  # type: ignore[arg-type]
    assert 3 < float(found["steps.3.seconds"]) < 5  # type: ignore[arg-type]


def test_a_flash_keeps_its_share_of_the_threshold_or_says_what_is_missing(golden: Golden) -> None:
    flashes = "  - {flash: sky, light: flash, threshold: 60 %}\n  - {flash: rock, light: flash, seconds: 0.8}\n"
    steps = flashes + "  - {carry: enlarger}\n" + BASES
    moved = move(print_of(steps), BENCH, GLOSSY, MATT)
    assert "steps.0.threshold" not in changes(moved)
    assert changes(moved)["steps.1.seconds"] == pytest.approx(0.8 * 2.1 / 1.6, abs=0.005)
    bare = MATT.model_copy(update={"threshold": {}})
    said = [one for one in move(print_of(steps), BENCH, GLOSSY, bare).unmatched if one.startswith("flash")]
    golden(said)


def test_what_does_not_match_is_named(golden: Golden) -> None:
    said = move(shipped_value("print", "breakwater"), BENCH, GLOSSY, MATT).unmatched
    golden(said[:2])
    golden(said[-1])
    slow = MATT.model_copy(update={"base": "resin", "reciprocity": 0.95})
    said = move(print_of(BASES), BENCH, GLOSSY, slow).unmatched
    golden(said[-2:])


def test_one_light_alone_holds_the_highlight_and_says_what_the_shadow_does() -> None:
    moved = move(print_of("  - {base: plain, light: green, seconds: 9}\n"), BENCH, GLOSSY, MATT)
    assert GLOSSY.curve is not None and MATT.curve is not None
    old, new = GLOSSY.curve.curve, MATT.curve.curve
    light = old.multiple(old.low_point, 9.0, 0.0)
    assert new.density(light * moved.doses["green"][1], 0.0) == pytest.approx(new.low_point)
    assert moved.doses["blue"] == (0.0, 0.0)
    assert moved.unmatched[0].startswith("shadow 1.5") and "a base in blue too" in moved.unmatched[0]


def test_where_no_mix_holds_both_ends_the_nearest_is_taken_and_named(golden: Golden) -> None:
    assert MATT.curve is not None
    softer = [part.model_copy(update={"green": part.green * 4**-i}) for i, part in enumerate(MATT.curve.parts)]
    stretched = MATT.curve.model_copy(update={"slope": 4.0, "parts": softer})
    with golden.raises(ValueError):
        move(print_of(BASES), BENCH, GLOSSY, MATT.model_copy(update={"curve": stretched}))


def test_lights_of_other_strengths() -> None:
    """Only their ratio counts: blue twice as strong on the easel as in the readings is another mix."""
    assert GLOSSY.curve is not None
    even, same = (move(print_of(BASES), BENCH, GLOSSY, MATT, *lights) for lights in ((1.0, 1.0), (3.0, 3.0)))
    twice = move(print_of(BASES), BENCH, GLOSSY, MATT, 1.0, 2.0)
    assert same.doses["green"] == pytest.approx(even.doses["green"])
    assert twice.r_before == pytest.approx(iso_range(GLOSSY.curve.curve, 14.0, 19.0).r)


def bare(paper: Paper) -> Paper:
    return paper.model_copy(update={"curve": None})


def in_lux(paper: Paper) -> Paper:
    assert paper.curve is not None
    return paper.model_copy(update={"curve": paper.curve.model_copy(update={"unit": "lux seconds"})})


@pytest.mark.parametrize(
    ("steps", "old", "new", "said"),
    [
        (BASES, bare(GLOSSY), MATT, "paper 'demo-fibre-glossy' has no curve"),
        (BASES, GLOSSY, bare(MATT), "paper 'demo-fibre-matt' has no curve"),
        (BASES, GLOSSY, in_lux(MATT), "was read in seconds and 'demo-fibre-matt' in lux seconds"),
        ("  - {flash: sky, light: flash, seconds: 1}\n", GLOSSY, MATT, "has no base"),
        ("  - {base: b, light: flash, seconds: 1}\n", GLOSSY, MATT, "neither green nor blue"),
        ("  - {base: b, light: green, pedal: free}\n", GLOSSY, MATT, "has no planned dose"),
    ],
)
def test_what_cannot_be_moved_is_refused(steps: str, old: Paper, new: Paper, said: str) -> None:
    with pytest.raises((ValueError, LookupError), match=said):
        move(print_of(steps), BENCH, old, new)


def faster(paper: Paper, times: float) -> Paper:
    """A paper that needs so many times less of all light for the same tones."""
    assert paper.curve is not None
    mixes = [
        mix.model_copy(update={"green": [x / times for x in mix.green], "blue": [x / times for x in mix.blue]})
        for mix in paper.curve.mixes
    ]
    parts = [part.model_copy(update={"green": part.green * times}) for part in paper.curve.parts]
    update = {"parts": parts, "blue": paper.curve.blue * times, "mixes": mixes}
    return paper.model_copy(update={"paper": "fast", "curve": paper.curve.model_copy(update=update)})


@pytest.mark.parametrize(
    ("amount", "key", "wanted"),
    [("stops: 1", "stops", 1.0), ("percent: 50", "percent", 50.0), ("seconds: 9", "seconds", 3.0)],
)
def test_a_burn_in_the_mix_of_the_bases_moves_with_them(amount: str, key: str, wanted: float) -> None:
    """To a paper three times as fast: as many stops and percent, a third of the seconds."""
    steps = BASES + f"  - {{burn: sky, light: [green, blue], {amount}}}\n"
    moved = move(print_of(steps), BENCH, GLOSSY, faster(GLOSSY, 3.0))
    value = changes(moved).get(f"steps.2.{key}")
    if key == "seconds":
        assert value == pytest.approx(wanted, rel=0.01)
    else:
        assert value is None or value == pytest.approx(wanted, rel=0.01)
    assert not [said for said in moved.unmatched if said.startswith("burn sky")]


def test_a_burn_in_the_mix_keeps_its_stops_on_any_paper() -> None:
    """It does what less density in the negative does, and the bases are moved so that each such tone is held."""
    steps = BASES + "  - {burn: sky, light: [green, blue], stops: 1, leave: [{area: rock, stops: 1/2}]}\n"
    moved = move(print_of(steps), BENCH, GLOSSY, MATT)
    assert set(changes(moved)) == {"paper", "steps.0.seconds", "steps.1.seconds"}
    assert not [said for said in moved.unmatched if said.startswith("burn sky")]


def test_a_burn_in_the_mix_counts_the_reciprocity_of_both_papers() -> None:
    """50 % more on paper that counts all of it, on one with 0.8: 1.5^(1/0.8) - 1 = 65.99 % more for as many stops."""
    steps = BASES + "  - {burn: sky, light: [green, blue], percent: 50}\n"
    slow = faster(GLOSSY, 3.0).model_copy(update={"reciprocity": 0.8})
    assert changes(move(print_of(steps), BENCH, GLOSSY, slow))["steps.2.percent"] == pytest.approx(66.0, abs=0.05)


def test_burns_that_cannot_be_counted_are_left_and_named(golden: Golden) -> None:
    steps = BASES + "  - {burn: sky, light: green, pedal: free}\n  - {carry: flashing}\n"
    steps += "  - {burn: rock, light: flash, seconds: 2}\n"
    golden(move(print_of(steps), BENCH, GLOSSY, MATT).unmatched)


# -- burns in several lights ------------------------------------------------------------------------------------------

MIX = "light: [green, blue]"


def ends_at(
    print_: Print, new: Paper, moved: Moved, by_hand: dict[str, float], old: Paper = GLOSSY
) -> tuple[float, float]:
    """Where an area comes to that a burn brought to the old paper's mid tone: as it is, and as it is to be."""
    assert old.curve is not None and new.curve is not None
    (green, new_green), (blue, new_blue) = moved.doses["green"], moved.doses["blue"]
    was = [exposure(base * (1 + by_hand["was"]), base, old.reciprocity) for base in (green, blue)]
    now = [exposure(base * (1 + by_hand["now"]), base, new.reciprocity) for base in (new_green, new_blue)]
    light = old.curve.curve.multiple(old.curve.dmin + 0.6, *was)
    plain = old.curve.curve.multiple(old.curve.dmin + 0.6, green, blue)
    got = new.curve.curve.density(light * now[0], light * now[1])
    return got, new.curve.curve.density(plain * new_green, plain * new_blue)


@pytest.mark.parametrize(("then", "now"), [(1.0, 1.0), (0.9, 1.0), (1.0, 0.85)])
def test_a_burn_in_the_mix_of_the_bases_ends_where_it_did(then: float, now: float) -> None:
    """All tones move along that mix, so its stops stay; its percent are doses, its seconds those of the new bases."""
    old, new = (p.model_copy(update={"reciprocity": r}) for p, r in ((GLOSSY, then), (MATT, now)))
    burns = f"  - {{burn: sky, {MIX}, stops: 1 1/4, leave: [{{area: rock, stops: 1/2}}]}}\n"
    burns += f"  - {{burn: sky, {MIX}, percent: 50}}\n  - {{burn: rock, {MIX}, seconds: 6}}\n"
    print_ = print_of(BASES + burns)
    moved = move(print_, BENCH, old, new)
    assert not [said for said in moved.unmatched if "burn" in said]
    found = changes(moved)
    assert [place for place in found if place.startswith("steps.2")] == []
    percent = float(found.get("steps.3.percent", 50.0))  # type: ignore[arg-type]
    assert percent == pytest.approx(100 * (1.5 ** (then / now) - 1), abs=0.06)
    # 6 s of both lamps, which have no lag, are 6 / (14 + 9.5) of both bases
    share = (1 + 6 / 23.5) ** (then / now) - 1
    seconds = float(found["steps.4.seconds"])  # type: ignore[arg-type]
    assert seconds == pytest.approx(share * (moved.doses["green"][1] + moved.doses["blue"][1]), abs=0.006)
    for was, is_ in ((2 ** (1.25 / then), 2 ** (1.25 / now)), (1.5, 1 + percent / 100), (1 + 6 / 23.5, 1 + share)):
        got, wanted = ends_at(print_, new, moved, {"was": was - 1, "now": is_ - 1}, old)
        assert got == pytest.approx(wanted, abs=0.002)


def test_a_mix_that_counts_over_one_base_of_several_is_worked_out_anew() -> None:
    """More of one light than the bases have: the one amount that ends there, in each light over its own new base."""
    bases = "  - {base: main, light: green, seconds: 10}\n  - {base: main, light: blue, seconds: 9.5}\n"
    bases += "  - {base: more, light: green, seconds: 4}\n"
    for amount in ("stops: 1", "percent: 100"):
        moved = move(print_of(f"{bases}  - {{burn: sky, {MIX}, {amount}, over: main}}\n"), BENCH, GLOSSY, MATT)
        assert GLOSSY.curve is not None and MATT.curve is not None
        (green, new_green), (blue, new_blue) = moved.doses["green"], moved.doses["blue"]
        assert (green, blue) == (14, 9.5)
        found = changes(moved)
        share = 2 ** float(found["steps.3.stops"]) - 1 if "stops" in amount else float(found["steps.3.percent"]) / 100  # type: ignore[arg-type]
        light = GLOSSY.curve.curve.multiple(GLOSSY.curve.dmin + 0.6, green + 10, blue + 9.5)
        plain = GLOSSY.curve.curve.multiple(GLOSSY.curve.dmin + 0.6, green, blue)
        got = MATT.curve.curve.density(light * new_green * (1 + share * 10 / 14), light * new_blue * (1 + share))
        assert got == pytest.approx(MATT.curve.curve.density(plain * new_green, plain * new_blue), abs=0.005)
        assert 0.9 < share < 1.1 and share != 1


def test_dry_down_and_lamps_that_lag_are_in_the_seconds_of_a_mix() -> None:
    """0.2 s are lost of each light's burst; 8 % on the old paper and 6 % on the new are taken off of all of it."""
    lamps = {name: lamp.model_copy(update={"lag_s": 0.2}) for name, lamp in BENCH.lamps.items()}
    print_ = print_of(BASES + f"  - {{burn: sky, {MIX}, seconds: 6}}\n", "judged: wet\n")
    moved = move(print_, BENCH.model_copy(update={"lamps": lamps}), GLOSSY, MATT)
    (green, new_green), (blue, new_blue) = moved.doses["green"], moved.doses["blue"]
    assert (green, blue) == (pytest.approx(13.8 * 0.92), pytest.approx(9.3 * 0.92))
    share = (6 - 0.4) * 0.92 / (green + blue)
    seconds = share * (new_green + new_blue) / 0.94 + 0.4
    assert changes(moved)["steps.2.seconds"] == pytest.approx(seconds, abs=0.006)


def test_to_the_same_paper_no_mix_changes_and_a_free_one_is_named(golden: Golden) -> None:
    burns = f"  - {{burn: sky, {MIX}, stops: 1 1/4}}\n  - {{burn: sky, {MIX}, percent: 37.5}}\n"
    burns += f"  - {{burn: rock, {MIX}, seconds: 6}}\n  - {{burn: rock, {MIX}, pedal: free}}\n"
    twin = GLOSSY.model_copy(update={"curve": GLOSSY.curve.model_copy(update={"dmin": GLOSSY.curve.dmin + 1e-9})})  # type: ignore[union-attr]
    for new in (GLOSSY, twin):
        moved = move(print_of(BASES + burns), BENCH, GLOSSY, new)
        golden((moved.changes, moved.unmatched))


def test_a_leave_in_a_burn_of_seconds_moves_too() -> None:
    steps = BASES + "  - {burn: sky, light: green, seconds: 18, leave: [{area: rock, stops: 1/2}]}\n"
    like = BASES + "  - {burn: sky, light: green, stops: 1 1/4, leave: [{area: rock, stops: 1/2}]}\n"
    found, there = (changes(move(print_of(text), BENCH, GLOSSY, MATT)) for text in (steps, like))
    assert found["steps.2.leave.0.stops"] == there["steps.2.leave.0.stops"] != 0.5


def test_a_burn_over_a_base_in_another_light_is_left_and_named(golden: Golden) -> None:
    ratio = GLOSSY.model_copy(update={"speed_ratio": {"green": 1.0, "blue": 0.5}})
    moved = move(print_of(BASES + "  - {burn: sky, light: green, stops: 1, over: hard}\n"), BENCH, ratio, MATT)
    golden(moved.unmatched)
    assert not [place for place in changes(moved) if place.startswith("steps.2")]
