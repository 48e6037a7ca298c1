"""The map: areas in millimetres on the sheet, turned as it lies, and the ticks between which an area lies."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheet.plan_files import plan_of

from timerd.sheet.map import MapArea, Ring, SheetMap, Tick, area_at_hand, image_falls, sheet_map, ticks
from timerd.sheet.plan.value import Plan

# 254 x 203.2 mm of paper, 10 mm borders at the left and the top; the image is 200 x 100 mm, so fractions are easy.
PRINT = """\
print: Gasworks wall
paper: plain
bench: two-station
sheet: 10x8 in
image_mm: {left: 10, top: 20, width: 200, height: 100}
areas:
  sky: [[0, 0], [1, 0], [1, 0.5]]
  door: [[0.1, 0.2], [0.3, 0.2], [0.3, 0.9], [0.1, 0.9]]
steps:
  - {flash: sky, light: flash, seconds: 1}
  - {carry: enlarger}
  - {base: soft, light: green, seconds: 10, dodge: [{area: left, mm: 12, stops: 1/3}, {area: door, stops: 1/4}]}
  - {burn: edges, mm: 15, light: green, stops: 1/4}
  - {burn: edges, mm: 60, light: green, stops: 1/4}
  - {burn: right, mm: 20, light: green, stops: 1/4}
  - {burn: top, mm: 500, light: green, stops: 1/4}
  - {burn: bottom, mm: 5, light: green, stops: 1/4}
  - {burn: right, mm: 20, light: green, stops: 1/6}
"""


def box(left: float, top: float, right: float, bottom: float) -> Ring:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def rounded(ring: Ring) -> list[tuple[float, float]]:
    return sorted((round(x, 9), round(y, 9)) for x, y in ring)


ALL = box(10, 20, 210, 120)


def the_map(print_: str = PRINT) -> SheetMap:
    made = sheet_map(plan_of(print_))
    assert made is not None
    return made


def test_outlines_lie_in_millimetres_on_the_sheet() -> None:
    assert the_map() == SheetMap(
        254.0, 203.2, ALL, True,
        (
            MapArea("sky", None, ((10, 20), (210, 20), (210, 70))),
            MapArea("door", None, box(30, 40, 70, 110)),
            MapArea("all", None, ALL),
            MapArea("left", 12, box(10, 20, 22, 120)),
            MapArea("edges", 15, ALL, box(25, 35, 195, 105)),
            MapArea("edges", 60, ALL),
            MapArea("right", 20, box(190, 20, 210, 120)),
            MapArea("top", 500, ALL),
            MapArea("bottom", 5, box(10, 115, 210, 120)),
        ),
    )  # fmt: skip


def test_a_print_that_does_not_say_where_its_image_lies_is_taken_to_fill_the_sheet() -> None:
    made = the_map("\n".join(line for line in PRINT.splitlines() if not line.startswith("image_mm")))
    assert (made.image, made.image_given) == (box(0, 0, 254, 203.2), False)


def test_a_plan_keeps_its_sheet_through_json_and_may_know_none() -> None:
    plan = plan_of(PRINT)
    again = Plan.model_validate_json(plan.model_dump_json())
    assert again == plan and sheet_map(again) == the_map()
    assert sheet_map(plan.model_copy(update={"sheet": None})) is None


def test_the_area_at_hand_of_each_step_is_on_the_map() -> None:
    plan = plan_of(PRINT)
    lights = [step for step in plan.steps if step.kind in ("flash", "base", "burn")]
    assert [area_at_hand(step) for step in lights] == [
        ("sky", None), ("all", None), ("edges", 15), ("edges", 60), ("right", 20), ("top", 500), ("bottom", 5),
        ("right", 20),
    ]  # fmt: skip
    assert [image_falls(step) for step in lights] == [False] + [True] * 7
    assert all(the_map().find(*area_at_hand(step)) is not None for step in lights)
    assert the_map().find("right", 21) is None and the_map().find("door", 20) is None


def test_turned_by_90_the_top_edge_is_at_the_right() -> None:
    turned = the_map().turned(90)
    assert (turned.width, turned.height) == (203.2, 254.0)
    door = turned.find("door")
    assert door is not None and rounded(door.outline) == [(93.2, 30), (93.2, 70), (163.2, 30), (163.2, 70)]
    other = the_map().turned(270).find("door")
    assert other is not None and rounded(other.outline) == [(40, 184), (40, 224), (110, 184), (110, 224)]
    with pytest.raises(ValueError, match="found 45"):
        the_map().turned(45)


def test_ticks_are_counted_from_the_top_left_corner_with_the_borders() -> None:
    made = the_map()
    door, frame = made.find("door"), made.find("edges", 15)
    assert door is not None and frame is not None
    assert ticks(door) == (Tick("top", 30), Tick("top", 70), Tick("left", 40), Tick("left", 110))
    assert ticks(frame) == (Tick("top", 25), Tick("top", 195), Tick("left", 35), Tick("left", 105)), "the hole"
    back = made.mirrored().find("door")
    assert back is not None
    assert ticks(back) == (Tick("top", 184), Tick("top", 224), Tick("left", 40), Tick("left", 110))


# -- whatever the outline -------------------------------------------------------------------------------------------

_MM = st.floats(0, 500)
RINGS = st.lists(st.tuples(_MM, _MM), min_size=3, max_size=12).map(tuple)
MAPS = st.builds(
    lambda w, h, rings, hole: SheetMap(
        500 + w, 500 + h, box(0, 0, 500, 500), True,
        (*(MapArea(f"area {i}", None, ring) for i, ring in enumerate(rings)), MapArea("edges", 5, rings[0], hole)),
    ),
    _MM, _MM, st.lists(RINGS, min_size=1, max_size=3), st.none() | RINGS,
)  # fmt: skip
TURNS = st.sampled_from((0, 90, 180, 270))


def near(one: SheetMap, other: SheetMap) -> bool:
    """The same map, to a millionth of a millimetre."""

    def points(made: SheetMap) -> list[float]:
        rings = [made.image, *(ring for area in made.areas for ring in (area.outline, area.hole or ()))]
        return [made.width, made.height, *(number for ring in rings for point in ring for number in point)]

    names = [(area.name, area.mm, area.hole is None) for area in one.areas]
    same_names = names == [(area.name, area.mm, area.hole is None) for area in other.areas]
    return same_names and points(one) == pytest.approx(points(other), abs=1e-6)


def span(area: MapArea) -> tuple[float, float, float, float]:
    """The box that the ticks enclose."""
    left, right, top, bottom = ticks(area)
    assert (left.edge, right.edge, top.edge, bottom.edge) == ("top", "top", "left", "left")
    return left.mm, top.mm, right.mm, bottom.mm


@given(MAPS)
def test_four_turns_are_none_and_two_mirrors_are_none(made: SheetMap) -> None:
    turned = made
    for _ in range(4):
        turned = turned.turned(90)
    assert near(turned, made)
    assert near(made.mirrored().mirrored(), made)
    assert made.turned(0) == made


@given(MAPS, TURNS, TURNS)
def test_turns_add_up_and_a_mirror_reverses_them(made: SheetMap, first: int, second: int) -> None:
    assert near(made.turned(first).turned(second), made.turned((first + second) % 360))
    assert near(made.turned(first).mirrored(), made.mirrored().turned((360 - first) % 360))


@given(MAPS, TURNS)
def test_ticks_enclose_an_area_touch_it_on_all_sides_and_turn_with_it(made: SheetMap, degrees: int) -> None:
    for area, turned in zip(made.areas, made.turned(degrees).areas, strict=True):
        left, top, right, bottom = span(area)
        points = area.hole or area.outline
        assert all(left <= x <= right and top <= y <= bottom for x, y in points)
        assert {left, right} <= {x for x, _ in points} and {top, bottom} <= {y for _, y in points}
        enclosed = MapArea("all", None, box(left, top, right, bottom))
        with_box = SheetMap(made.width, made.height, made.image, True, (enclosed,)).turned(degrees)
        assert span(with_box.areas[0]) == pytest.approx(span(turned), abs=1e-6)


@given(MAPS, TURNS)
def test_a_turned_map_stays_on_its_sheet(made: SheetMap, degrees: int) -> None:
    turned = made.turned(degrees)
    for area in turned.areas:
        for x, y in (*area.outline, *(area.hole or ())):
            assert -1e-6 <= x <= turned.width + 1e-6 and -1e-6 <= y <= turned.height + 1e-6
