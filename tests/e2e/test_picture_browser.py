"""Pages of pictures in a real browser: they ask for nothing, move all rows together, and tell what their marks are."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest

import linewright as lw
from e2e.measured import CHROMIUM, NO_CHROMIUM, chromium
from linewright.evaluation import Evaluation
from linewright.pictures import ROWS, Picture, Shown, track_chart

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason=NO_CHROMIUM)

CHARTS = Path(__file__).resolve().parents[2] / "examples" / "charts"
SVG: Final = "{http://www.w3.org/2000/svg}"
MOST_BYTES: Final = 3_000_000

# Where every row draws the stations: pins in the strip, work in the string line, thin upright lines in the rows.
PLACES: Final = """() => {
  const middle = node => { const b = node.getBoundingClientRect(); return (b.left + b.right) / 2; };
  const pins = {}, works = {};
  for (const node of document.querySelectorAll('#chart [aria-label^="station "]')) {
    if (node.closest('g.track_group')) pins[node.getAttribute('aria-label').split(' ')[1]] ??= middle(node);
  }
  for (const node of document.querySelectorAll('#chart g.string_line_group [aria-label^="work at "]')) {
    (works[node.getAttribute('aria-label').slice(8).split(':')[0]] ??= []).push(middle(node));
  }
  const lines = {};
  for (const row of document.querySelectorAll('#chart g[class*="_group"]')) {
    const name = /(\\w+)_group/.exec(row.getAttribute('class'))[1];
    lines[name] = [...row.querySelectorAll('line')].filter(node => {
      const b = node.getBoundingClientRect(); return b.width < 2 && b.height > 8; }).map(middle);
  }
  const box = document.querySelector('#chart g.ruler_group path.background').getBoundingClientRect();
  return { pins, works, lines, left: box.left, right: box.right };
}"""


TOLD: Final = """() => [...document.querySelectorAll('#chart svg [aria-label]')]
  .map(node => [node.getAttribute('aria-label'), node.getAttribute('fill')])"""
AS_OPENED: Final = """() => {
  for (const box of document.querySelectorAll('#rows input:not(:checked)')) box.click();
  document.getElementById('whole').click();
  document.activeElement.blur();
  window.scrollTo(0, 0);
}"""


@dataclass(frozen=True)
class Opened:
    """A page, what it asked for and what it complained of."""

    page: Any
    asked: list[str]
    errors: list[str]
    address: str

    def settled(self) -> None:
        """Wait until what is seen is what was asked for."""
        self.page.wait_for_selector("body[data-drawn=yes]", timeout=30_000)

    def places(self) -> dict[str, Any]:
        """Where everything stands, after the page has settled."""
        self.settled()
        found: dict[str, Any] = self.page.evaluate(PLACES)
        return found


@cache
def evaluated(line: str) -> Evaluation:
    return lw.evaluate(lw.load(CHARTS / f"{line}.yaml"), hours=1, runs=3)


@cache
def picture(line: str = "five") -> Picture:
    return track_chart(evaluated(line))


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as browser:
        yield browser


def open_page(browser: Any, one: Picture, path: Path, touch: bool = False) -> Opened:
    path.write_text(one.html(), encoding="utf-8")
    page = browser.new_page(viewport={"width": 1400, "height": 1000}, has_touch=touch)
    asked: list[str] = []
    errors: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type in ("error", "warning") else None)
    page.goto(path.as_uri())
    opened = Opened(page, asked, errors, path.as_uri())
    opened.settled()
    return opened


def assert_silent(one: Opened) -> None:
    """The page met no error and asked for nothing but itself."""
    assert one.errors == []
    assert [url for url in one.asked if not url.startswith(("data:", "blob:"))] == [one.address]


@pytest.fixture
def opened(browser: Any, tmp_path: Path) -> Iterator[Callable[..., Opened]]:
    """Write a picture's page, open it, and hold it to silence at the end."""
    seen: list[Opened] = []

    def open_one(one: Picture, touch: bool = False) -> Opened:
        seen.append(open_page(browser, one, tmp_path / f"{len(seen)}.html", touch))
        return seen[-1]

    yield open_one
    for one in seen:
        assert_silent(one)
        one.page.close()


@pytest.fixture(scope="module")
def page_of_five(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Opened:
    return open_page(browser, picture(), tmp_path_factory.mktemp("pages") / "five.html", touch=True)


@pytest.fixture
def five(page_of_five: Opened) -> Iterator[Opened]:
    """The page of five stations as it opens: drawing it anew for every test would take most of the time."""
    page = page_of_five.page
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 1400, "height": 1000})
    page.evaluate(AS_OPENED)
    page.mouse.move(1, 1)
    page_of_five.settled()
    yield page_of_five
    assert_silent(page_of_five)


@pytest.mark.parametrize(
    "line", ["five", *(pytest.param(line, marks=pytest.mark.long) for line in ("fourteen", "forty"))]
)
def test_the_page_shows_what_the_svg_shows(opened: Callable[[Picture], Opened], line: str) -> None:
    one = opened(picture(line))
    root = ET.fromstring(picture(line).svg())
    drawn = [(node.attrib["aria-label"], node.get("fill")) for node in root.iter() if "aria-label" in node.attrib]
    assert sorted(drawn, key=str) == sorted(map(tuple, one.page.evaluate(TOLD)), key=str)
    words = sorted("".join(node.itertext()) for node in root.iter(f"{SVG}text"))
    assert words == sorted(one.page.locator("#chart svg text").all_text_contents())


@pytest.mark.parametrize("line", ["five", pytest.param("forty", marks=pytest.mark.long)])
def test_a_page_keeps_its_size(line: str) -> None:
    assert len(picture(line).html().encode()) < MOST_BYTES


def assert_lined_up(places: dict[str, Any]) -> None:
    """Every station stands at one place in all rows, to 0.6 px."""
    assert places["pins"]
    for station, pin in places["pins"].items():
        for work in places["works"].get(station, []):
            assert abs(work - pin) < 0.6, f"work at {station}"
        for row, lines in places["lines"].items():
            if row in LINED:
                assert min(abs(line - pin) for line in lines) < 0.6, f"{station} in row {row}"


LINED: Final = ("time", "states", "strength", "accuracy", "heat", "feeder", "string_line")


def moved_by(before: dict[str, Any], after: dict[str, Any], law: Callable[[float], float]) -> None:
    """Every pin went where the law says, to 0.6 px, and all rows went along."""
    for station, pin in before["pins"].items():
        assert after["pins"][station] == pytest.approx(law(pin), abs=0.6), station
    assert_lined_up(after)


def test_all_rows_move_together_along_the_track(five: Opened) -> None:
    page, whole = five.page, five.places()
    assert_lined_up(whole)
    assert len(whole["works"]) > 3, "this picture shows no work at some stations"
    centre = (whole["left"] + whole["right"]) / 2
    assert page.is_disabled("#farther")
    page.click("#closer")
    moved_by(whole, five.places(), lambda x: centre + 1.5 * (x - centre))
    page.click("#closer")
    moved_by(whole, closer := five.places(), lambda x: centre + 2.25 * (x - centre))
    page.click("#farther")
    moved_by(closer, five.places(), lambda x: centre + (x - centre) / 1.5)
    page.click("#whole")
    moved_by(whole, five.places(), lambda x: x)


def test_wheel_drag_and_double_click(five: Opened) -> None:
    page, whole = five.page, five.places()
    at = whole["left"] + 300.0
    page.mouse.move(at, 500)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -300)
    page.keyboard.up("Control")
    page.wait_for_function("() => document.getElementById('farther').disabled === false")
    near = five.places()
    by = 1.822  # e to the 0.6
    moved_by(whole, near, lambda x: at + by * (x - at))
    page.mouse.down()
    for px in (30, 60, 90, 120):
        page.mouse.move(at + px, 500)
    page.mouse.up()
    moved_by(near, five.places(), lambda x: x + 120.0)
    page.mouse.down()
    page.mouse.move(at + 900, 500)
    page.mouse.move(at + 1000, 500)
    page.mouse.up()
    moved_by(whole, five.places(), lambda x: whole["left"] + by * (x - whole["left"]))  # held at the track's start
    page.mouse.wheel(0, 200)
    page.wait_for_function("() => window.scrollY > 0")
    page.evaluate("() => window.scrollTo(0, 0)")
    page.mouse.dblclick(at, 500)
    moved_by(whole, five.places(), lambda x: x)


def test_keys_and_the_closest_view(five: Opened) -> None:
    page, whole = five.page, five.places()
    width = whole["right"] - whole["left"]
    centre = whole["left"] + width / 2
    page.focus("#chart")
    page.keyboard.press("+")
    page.keyboard.press("+")
    page.keyboard.press("ArrowRight")
    moved_by(whole, five.places(), lambda x: centre + 2.25 * (x - centre) - 0.2 * width)
    page.keyboard.press("-")
    moved_by(whole, five.places(), lambda x: centre + 1.5 * (x - centre) - 0.2 * width / 1.5)
    page.keyboard.press("0")
    moved_by(whole, five.places(), lambda x: x)
    for _ in range(20):
        page.keyboard.press("+")
    five.settled()
    assert page.is_disabled("#closer")
    carrier = page.locator("g.track_group [aria-label^='carrier ']").first.bounding_box()
    assert carrier["width"] == pytest.approx(width, rel=0.01)


def test_a_list_goes_to_stations_and_lanes(five: Opened) -> None:
    whole = five.places()
    names = five.page.eval_on_selector_all("#places option", "nodes => nodes.map(node => node.textContent)")
    line = evaluated("five").line
    expected = {f"station {station.name}" for station in line.stations} | {f"lane {lane.name}" for lane in line.lanes}
    assert expected <= set(names[1:])
    five.page.select_option("#places", "station press")
    there = five.places()
    assert there["pins"]["press"] == pytest.approx((there["left"] + there["right"]) / 2, abs=0.6)
    assert_lined_up(there)
    first, second = line.lanes[0].name, line.lanes[1].name
    assert five.page.inner_text("#where") == f"seen: lane {first}"
    five.page.select_option("#places", f"lane {second}")
    on_lane = {stop.station for stop in evaluated("five").layout.stops if stop.lane == second}
    for station, pin in five.places()["pins"].items():
        assert (whole["left"] < pin < whole["right"]) == (station in on_lane), station


def test_rows_are_switched_and_the_view_stays(five: Opened) -> None:
    page = five.page
    assert page.locator("#rows input").count() == len(ROWS)
    page.click("#closer")
    near = five.places()
    for row in ("time", "string-line"):
        page.uncheck(f"#rows input[name={row}]")
        five.settled()
        assert page.locator(f"#chart g.{row.replace('-', '_')}_group").count() == 0
    less = five.places()
    share = {name: (pin - near["left"]) / (near["right"] - near["left"]) for name, pin in near["pins"].items()}
    assert {name: (pin - less["left"]) / (less["right"] - less["left"]) for name, pin in less["pins"].items()} == (
        pytest.approx(share, abs=1e-3)
    )
    for row in ("time", "string-line"):
        page.check(f"#rows input[name={row}]")
    moved_by(near, five.places(), lambda x: x)
    assert page.inner_text("#rows").split("\n")[-1].strip().endswith("string line")


def test_every_row_can_be_off(five: Opened) -> None:
    for row in ROWS:
        five.page.uncheck(f"#rows input[name={row}]")
    five.settled()
    assert five.page.locator("#chart g.ruler_group").count() == 1
    assert five.page.locator("#chart g.string_line_group").count() == 0


def test_a_mark_tells_its_sentence(five: Opened) -> None:
    pin = five.page.locator("g.track_group path[aria-label^='station press ']").first
    sentence = pin.get_attribute("aria-label")
    assert five.page.is_hidden("#told")
    pin.hover()
    assert five.page.inner_text("#told") == sentence
    five.page.keyboard.press("Escape")
    assert five.page.is_hidden("#told")


def test_a_finger_taps_for_it(five: Opened) -> None:
    pin = five.page.locator("g.track_group path[aria-label^='station press ']").first
    assert five.page.is_hidden("#told")
    pin.tap()
    assert five.page.inner_text("#told") == pin.get_attribute("aria-label")


def test_the_saved_svg_is_whole(five: Opened) -> None:
    with five.page.expect_download() as waited:
        five.page.click("#save")
    assert waited.value.suggested_filename == "track-chart.svg"
    text = Path(waited.value.path()).read_text(encoding="utf-8")
    root = ET.fromstring(text)
    assert root.tag == f"{SVG}svg"
    named = set(re.findall(r"url\((?:&quot;)?#(lw-[\w-]+)", text))
    assert named, "this picture has no hatch"
    assert named <= {node.attrib["id"] for node in root.iter(f"{SVG}pattern")}


EVIL: Final = "</script><script>window.broken = 1</script> </script <!-- <script $title ${title} & \u2028 \"'"


def test_no_name_breaks_the_page(opened: Callable[[Picture], Opened]) -> None:
    rows = json.loads(json.dumps(picture().spec["datasets"]).replace("load", json.dumps(EVIL)[1:-1]))
    spec = {**picture().spec, "title": {"text": EVIL}, "datasets": rows}
    one = opened(replace(picture(), title=EVIL, spec=spec))
    assert one.page.title().split() == EVIL.split()
    assert one.page.evaluate("() => window.broken === undefined")
    assert one.page.locator("#chart svg text", has_text=EVIL.split()[0]).count() > 0
    assert any(EVIL.split()[0] in name for name in one.page.locator("#places option").all_inner_texts())


def test_a_picture_that_does_not_zoom_has_no_such_controls(opened: Callable[[Picture], Opened]) -> None:
    one = opened(replace(picture(), zooms=False, rows=()))
    for control in ("#along", "#rows", "#hint"):
        assert one.page.is_hidden(control)
    assert one.page.is_visible("#save")


def test_on_paper_the_bar_is_gone_and_the_width_fits(five: Opened) -> None:
    five.page.set_viewport_size({"width": 700, "height": 1000})
    five.page.emulate_media(media="print")
    assert five.page.is_hidden("#bar")
    assert five.page.locator("#chart svg").bounding_box()["width"] <= 700


def test_without_javascript_a_text_stands(browser: Any, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text(picture().html(), encoding="utf-8")
    page = browser.new_page(java_script_enabled=False)
    page.goto(path.as_uri())
    assert "switched off" in page.inner_text("body")
    page.close()


@pytest.mark.long
def test_a_page_of_a_shift_keeps_its_size() -> None:
    e = lw.evaluate(lw.load(CHARTS / "five.yaml"), hours=9, runs=1)
    assert len(track_chart(e, None, Shown(span_s=8 * 3600.0)).html().encode()) < MOST_BYTES
