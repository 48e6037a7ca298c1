"""The map for paper: real size, every area, ticks where no image falls, the back mirrored, every text escaped."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from golden import Golden
from sheet.plan_files import plan_of

from timerd.sheet.map_svg import map_figure, map_svg

PRINT = """\
print: {title}
negative: "1 < 2"
paper: plain
bench: two-station
sheet: [200, 150]
{image}
areas:
  sky: [[0, 0], [1, 0], [1, 0.5], [0, 0.5]]
  door: [[0.1, 0.6], [0.3, 0.6], [0.3, 0.9], [0.1, 0.9]]
steps:
  - {{flash: door, light: flash, seconds: 1}}
  - {{carry: enlarger}}
  - {{base: soft, light: green, seconds: 10}}
  - {{burn: edges, mm: 15, light: green, stops: 1/4}}
  - {{burn: sky, light: green, stops: 1/4}}
"""
SVG = "{http://www.w3.org/2000/svg}"
NUMBER = re.compile(r"-?[0-9.]+")


def drawn(back: bool, title: str = "A wall", image: str = "image_mm: {left: 10, top: 20, width: 100, height: 100}"
) -> ElementTree.Element:  # fmt: skip
    return ElementTree.fromstring(map_svg(plan_of(PRINT.format(title=title, image=image)), back))


def texts(svg: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in svg.iter(f"{SVG}text")]


def paths(svg: ElementTree.Element, kind: str) -> list[list[float]]:
    found = [path.get("d", "") for path in svg.iter(f"{SVG}path") if path.get("class") == kind]
    return [[float(number) for number in NUMBER.findall(d)] for d in found]


def test_the_page_is_the_sheet_at_real_size_with_lines_below(golden: Golden) -> None:
    svg = drawn(False)
    assert svg.get("width") == "200mm"
    assert svg.get("viewBox") == f"0 0 200 {svg.get('height', '').removesuffix('mm')}"
    sheet = svg.find(f"{SVG}rect")
    assert sheet is not None and (sheet.get("width"), sheet.get("height")) == ("200", "150")
    assert paths(svg, "image") == [[10, 20, 110, 20, 110, 120, 10, 120]]
    assert paths(svg, "area") == [
        [10, 20, 110, 20, 110, 70, 10, 70],
        [20, 80, 40, 80, 40, 110, 20, 110],
        [10, 20, 110, 20, 110, 120, 10, 120, 25, 35, 95, 35, 95, 105, 25, 105],
    ]
    golden(texts(svg))


def test_ticks_are_on_both_edges_across_and_only_for_what_is_lit_without_an_image() -> None:
    lines = paths(drawn(False), "tick")[:8]
    assert lines == [
        [20, 0, 20, 6], [20, 150, 20, 144], [40, 0, 40, 6], [40, 150, 40, 144],
        [0, 80, 6, 80], [200, 80, 194, 80], [0, 110, 6, 110], [200, 110, 194, 110],
    ]  # fmt: skip
    without = PRINT.format(title="A wall", image="").replace("flash: door, light: flash", "base: hard, light: blue")
    plain = ElementTree.fromstring(map_svg(plan_of(without.replace("  - {carry: enlarger}\n", "")), False))
    assert len(paths(plain, "tick")) == 3, "only the scale"
    assert not any("ticks" in text for text in texts(plain))


def test_the_back_is_mirrored_and_says_so(golden: Golden) -> None:
    svg = drawn(True)
    assert paths(svg, "image") == [[190, 20, 90, 20, 90, 120, 190, 120]]
    assert [text for text in texts(svg) if text.endswith(" door")] == ["160 door", "180 door", "80 door", "110 door"]
    golden(texts(svg))
    assert not any("BACK" in text for text in texts(drawn(False)))


def test_an_image_that_is_not_told_is_said_to_be_taken_to_fill_the_sheet(golden: Golden) -> None:
    svg = drawn(False, image="")
    assert paths(svg, "image") == [[0, 0, 200, 0, 200, 150, 0, 150]]
    golden(texts(svg))


def test_text_is_escaped() -> None:
    plan = plan_of(PRINT.format(title="A wall", image=""))
    svg = ElementTree.fromstring(map_svg(plan.model_copy(update={"print": "<script>&amp;\a]]> 'so'"}), False))
    name = svg.find(f"{SVG}title")
    assert name is not None and name.text == "<script>&amp; ]]> 'so'"
    assert any("<script>&amp; ]]> 'so', negative 1 < 2" in text for text in texts(svg))
    assert svg.find(f".//{SVG}script") is None


def test_a_plan_without_a_sheet_has_no_map() -> None:
    plan = plan_of(PRINT.format(title="A wall", image="")).model_copy(update={"sheet": None})
    with pytest.raises(LookupError, match="no sheet"):
        map_svg(plan, False)
    with pytest.raises(LookupError, match="no sheet"):
        map_figure(plan)


def test_a_figure_is_the_sheet_alone_with_text_in_proportion(golden: Golden) -> None:
    image = "image_mm: {left: 10, top: 20, width: 100, height: 100}"
    plan = plan_of(PRINT.format(title="A <wall>", image=image))
    figure, page = ElementTree.fromstring(map_figure(plan)), drawn(False, image=image)
    assert (figure.get("viewBox"), figure.get("width")) == ("0 0 200 150", None)
    assert [paths(figure, kind) for kind in ("image", "area")] == [paths(page, kind) for kind in ("image", "area")]
    assert paths(figure, "tick") == paths(page, "tick")[:8], "no scale"
    assert texts(figure) == ["door", "sky", "edges 15 mm", "20 door", "40 door", "80 door", "110 door"]
    assert {text.get("font-size") for text in figure.iter(f"{SVG}text")} == {"6.25"}
    name = figure.find(f"{SVG}title")
    assert name is not None
    golden(name.text)


def test_a_tick_at_the_right_edge_has_its_words_on_the_page() -> None:
    plan = plan_of(PRINT.format(title="A wall", image="").replace("flash: door", "flash: sky"))
    for svg in (map_svg(plan, False), map_figure(plan)):
        places = re.findall(r"translate\(([0-9.]+) 1.5\) rotate\(90\)\">(\d+) sky", svg)
        sizes = [float(size) for size in re.findall(r'font-size="([0-9.]+)"[^>]*rotate', svg)]
        assert [mm for _, mm in places] == ["0", "200"]
        assert all(float(x) > 0 and float(x) + size * 0.75 < 200 for (x, _), size in zip(places, sizes, strict=True))
