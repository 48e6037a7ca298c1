"""The report in a real browser: whole at every width and on paper, readable, quiet, and deaf to hostile text.

`python tests/desk/test_report_browser.py` draws the README's pictures of it anew.
"""

from __future__ import annotations

import io
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import Browser, found
from desk.report_subjects import HOSTILE, ROOT, print_subject, sheet_subject, with_proof, with_texts
from outside import need
from PIL import Image

from timerd.desk.report.page import report_page
from timerd.panel.palette import contrast
from timerd.sheet.safe import safe

WIDTHS = (380, 768)
PAPERS = {"A4": (210, 297), "Letter": (216, 279)}
MARGIN_MM = 15
PX_A_MM = 96 / 25.4

CUT_OFF = """(() => {
  const wide = document.documentElement.clientWidth, found = [];
  const say = (what, e) => found.push(`${what}: <${e.tagName} class="${e.getAttribute('class') || ''}"> ` +
    (e.textContent || '').slice(0, 40));
  if (document.documentElement.scrollWidth > wide) say('the page is wider', document.documentElement);
  for (const e of document.body.querySelectorAll('*')) {
    const box = e.getBoundingClientRect();
    if (!box.width || !box.height) continue;
    if (box.left < -0.5 || box.right > wide + 0.5) say('beside the page', e);
    if (e instanceof HTMLElement && e.clientWidth && e.scrollWidth > e.clientWidth) say('more than its place', e);
    const svg = e.ownerSVGElement && e.tagName === 'text' ? e.closest('svg') : null;
    if (svg && getComputedStyle(svg).overflow !== 'visible') {
      const place = svg.getBoundingClientRect();
      if (box.left < place.left - 0.5 || box.right > place.right + 0.5 || box.top < place.top - 0.5 ||
          box.bottom > place.bottom + 0.5) say('outside of its picture', e);
    }
  }
  return found;
})()"""

TEXTS = """(() => {
  const parse = text => (text.match(/[0-9.]+/g) || [0, 0, 0, 0]).map(Number);
  const over = (top, alpha, under) => under.map((value, i) => top[i] * alpha + value * (1 - alpha));
  const behind = (e, x, y) => {
    const layers = [];
    for (const one of document.elementsFromPoint(x, y)) {
      const style = getComputedStyle(one);
      const shape = one instanceof SVGGeometryElement && one.tagName !== 'line';
      const colour = shape ? style.fill : one instanceof SVGElement ? 'none' : style.backgroundColor;
      if (colour === 'none' || one.tagName === 'text') continue;
      const [r, g, b, a = 1] = parse(colour);
      const alpha = a * (shape ? Number(style.fillOpacity) : 1);
      if (alpha > 0) layers.push([[r, g, b], alpha]);
      if (alpha >= 1) break;
    }
    return layers.reduceRight((under, [top, alpha]) => over(top, alpha, under), [255, 255, 255]);
  };
  const told = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.data.trim() || ['title', 'STYLE'].includes(e.tagName)) continue;
    const range = document.createRange();
    range.selectNodeContents(walk.currentNode);
    const box = range.getClientRects()[0];
    if (!box) continue;
    const style = getComputedStyle(e);
    const colour = parse(e.tagName === 'text' ? style.fill : style.color).slice(0, 3);
    const at = [box.left + box.width / 2, box.top + box.height / 2];
    told.push([walk.currentNode.data.slice(0, 40), colour, behind(e, ...at).map(Math.round)]);
  }
  return told;
})()"""

SHAPES = """[...document.querySelectorAll('.lit, .safe, .line, .point, svg.map .image, svg.map .area')].map(e => {
  const style = getComputedStyle(e), colour = e.matches('.lit, .safe') ? style.fill : style.stroke;
  return [e.getAttribute('class'), colour.match(/[0-9.]+/g).slice(0, 3).map(Number)];
})"""

TREE = """[...document.querySelectorAll('*')].map(
  e => e.tagName + ' ' + e.getAttributeNames().join(' ')).join('\\n')"""

RED = "document.getElementById('red').click()"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    program = found()
    need(program is not None, "a browser", "apt install chromium")
    assert program is not None
    with Browser(program) as browser:
        yield browser


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return put(tmp_path / "sheet.html", report_page(with_proof(sheet_subject())))


def put(page: Path, text: str) -> Path:
    page.write_text(text, encoding="utf-8")
    return page


def quiet(browser: Browser, page: Path) -> None:
    """The page asked for nothing but itself, and neither it nor the browser complained."""
    told = [message for message in browser.heard if message["method"] != "Network.requestWillBeSent"]
    asked = [
        message["params"]["request"]["url"] for message in browser.heard
        if message["method"] == "Network.requestWillBeSent"
    ]  # fmt: skip
    assert told == [] and [url for url in asked if not url.startswith("data:")] == [page.absolute().as_uri()]


def paper_width(paper: str) -> int:
    """How wide a page is between its margins, in CSS pixels."""
    return int((PAPERS[paper][0] - 2 * MARGIN_MM) * PX_A_MM)


def all_whole(browser: Browser, page: Path) -> None:
    for width in WIDTHS:
        browser.open(page, width)
        assert browser.value(CUT_OFF) == [], width
        quiet(browser, page)
    for paper in PAPERS:
        browser.open(page, paper_width(paper), "print")
        assert browser.value(CUT_OFF) == [], paper
        quiet(browser, page)


def test_nothing_is_cut_off_at_any_width_or_on_paper(chromium: Browser, sheet: Path, tmp_path: Path) -> None:
    all_whole(chromium, sheet)
    for name in ("lantern-room", "ferry-steps"):
        all_whole(chromium, put(tmp_path / f"{name}.html", report_page(print_subject(name))))


def test_what_is_too_wide_is_found(chromium: Browser, tmp_path: Path) -> None:
    """The check itself: a page with a word that does not break, and one with a text outside of its picture."""
    wide = report_page(sheet_subject(notes=("W" * 200,))).replace("overflow-wrap: anywhere", "overflow-wrap: normal")
    chromium.open(put(tmp_path / "wide.html", wide), 380)
    assert any("wider" in line for line in chromium.value(CUT_OFF))
    moved = report_page(sheet_subject()).replace('<text x="', '<text x="-', 1)
    chromium.open(put(tmp_path / "moved.html", moved), 380)
    assert any("outside of its picture" in line for line in chromium.value(CUT_OFF))


@pytest.mark.parametrize("style", ["light", "red", "paper"])
def test_every_text_stands_out(chromium: Browser, sheet: Path, style: str) -> None:
    """By 4.5 to 1, and shapes that tell something by 3: WCAG 2.2, 1.4.3 (AA) and 1.4.11."""
    chromium.open(sheet, 680, "print" if style == "paper" else "screen")
    if style == "red":
        chromium.value(RED)
    told = chromium.value(TEXTS)
    assert len(told) > 200 and any(text == "safelight" for text, _, _ in told)
    poor = [(text, one, other) for text, one, other in told if contrast(tuple(one), tuple(other)) < 4.5]
    assert poor == []
    ground = (0, 0, 0) if style == "red" else (255, 255, 255)
    assert any(tuple(other) == ground for _, _, other in told)
    shapes = chromium.value(SHAPES)
    assert {"lit", "safe", "line", "point", "image", "area"} <= {name for name, _ in shapes}
    assert [name for name, colour in shapes if contrast(tuple(colour), ground) < 3] == []


def test_the_red_style_is_red_and_nothing_else(chromium: Browser, sheet: Path, tmp_path: Path) -> None:
    chromium.open(sheet, 380)
    chromium.value(RED)
    clicked = pixels(chromium)
    assert (clicked[1], clicked[2]) == ((0, 0), (0, 0)) and clicked[0] == (0, 255)
    chromium.open(put(tmp_path / "red.html", report_page(with_proof(sheet_subject()), "red")), 380)
    assert pixels(chromium) == clicked, "a page that opens in red is the same"
    chromium.open(tmp_path / "red.html", paper_width("A4"), "print")
    assert all(most == 255 for _, most in pixels(chromium)), "paper is white all the same"


def pixels(browser: Browser) -> list[tuple[int, int]]:
    """The least and the most of red, of green and of blue on the page as it is seen."""
    found = Image.open(io.BytesIO(browser.picture())).convert("RGB").getextrema()
    return [(int(low), int(high)) for low, high in found]  # type: ignore[misc]


def test_paper_has_its_own_size_and_every_page_is_used(chromium: Browser, sheet: Path) -> None:
    chromium.open(sheet, paper_width("A4"), "print")
    for wide, tall in PAPERS.values():
        pdf = chromium.pdf(wide / 25.4, tall / 25.4)
        boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
        assert 2 <= len(boxes) <= 5
        for box in boxes:
            assert [float(side) / 72 * 25.4 for side in box] == pytest.approx([wide, tall], abs=0.5)


def test_hostile_text_is_shown_and_never_obeyed(chromium: Browser, tmp_path: Path) -> None:
    texts = list(HOSTILE.values())
    page = put(tmp_path / 'it\'s "quoted" <b> & more.html', report_page(with_proof(with_texts(texts))))
    tame = put(tmp_path / "tame.html", report_page(with_proof(with_texts(["plain words"] * len(texts)))))
    chromium.open(tame, 380)
    tree = chromium.value(TREE)
    assert "SCRIPT" not in tree
    chromium.open(page, 380)
    quiet(chromium, page)
    assert chromium.value(TREE) == tree, "no text made an element or an attribute"
    assert chromium.value("typeof hit") == "undefined" and chromium.value("document.scripts.length") == 0
    shown = chromium.value("document.body.textContent")
    for what, text in HOSTILE.items():
        assert safe(text) in shown, what
    assert re.search("[\0-\\x09\x0b-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069]", shown) is None
    assert chromium.value("document.title") == f"{safe(texts[5])}, sheet 1"
    all_whole(chromium, page)


def test_text_from_right_to_left_turns_nothing_else_round(chromium: Browser, tmp_path: Path) -> None:
    """Beside a text that runs from right to left, what follows it in the same line stays to its right."""
    page = put(tmp_path / "page.html", report_page(with_texts([HOSTILE["right to left"]])))
    chromium.open(page, 768)
    places = chromium.value("""[...document.querySelectorAll('#steps td bdi')].filter(
      e => e.nextSibling && e.nextSibling.nodeType === Node.TEXT_NODE).map(e => {
        const range = document.createRange();
        range.selectNodeContents(e.nextSibling);
        const one = e.getBoundingClientRect(), other = range.getClientRects()[0];
        return [e.textContent, one.height < 24 && Math.abs(one.top - other.top) < 8, one.right, other.left];
      }).filter(([, sameLine]) => sameLine)""")
    assert any(text.startswith("breakwater") for text, *_ in places) and len(places) > 5
    assert [text for text, _, right, left in places if left < right - 0.5] == []


def draw() -> None:
    """The README's pictures: the page on a wide screen, and on a phone in red."""
    folder = ROOT / "tests" / "pictures" / "report"
    folder.mkdir(exist_ok=True)
    program = found()
    assert program is not None
    with tempfile.TemporaryDirectory() as scratch, Browser(program) as browser:
        page = put(Path(scratch) / "page.html", report_page(with_proof(sheet_subject())))
        browser.open(page, 1000)
        save(browser, folder / "light.png", 1220)
        browser.open(page, 380)
        browser.value(RED)
        save(browser, folder / "red.png", 1220)


def save(browser: Browser, picture: Path, tall: int) -> None:
    """The top of the page as a PNG of few colours."""
    whole = Image.open(io.BytesIO(browser.picture())).convert("RGB")
    whole.crop((0, 0, whole.width, tall)).quantize(64).save(picture, optimize=True)


if __name__ == "__main__":
    draw()
