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
from linewright.layout import lay_out
from linewright.pictures import ROWS, Picture, Shown, Text, jam_steps, track_chart

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason=NO_CHROMIUM)

CHARTS = Path(__file__).resolve().parents[2] / "examples" / "charts"
LOCKS = CHARTS.parent / "locks"
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
        assert five.page.is_hidden("#none")
        five.page.uncheck(f"#rows input[name={row}]")
    five.settled()
    assert five.page.inner_text("#none") == "No row is chosen."
    assert five.page.locator("#chart g.ruler_group").count() == 1
    assert five.page.locator("#chart g.string_line_group").count() == 0
    five.page.check("#rows input[name=track]")
    five.settled()
    assert five.page.is_hidden("#none")


# Of a mark by the begin of its sentence: points that its area holds, in pixels of the window, and its sentence.
POINTS: Final = """begin => [...document.querySelectorAll('#chart [aria-label]')]
  .filter(node => node.getAttribute('aria-label').startsWith(begin)).map(node => {
    node.scrollIntoView({ block: 'center' });
    const box = node.getBoundingClientRect(), turn = node.getScreenCTM().inverse(), points = [];
    for (const across of [0.1, 0.5, 0.9]) for (const down of [0.2, 0.5, 0.8]) {
      const [x, y] = [box.left + across * box.width, box.top + down * box.height];
      if (node.isPointInFill(new DOMPoint(x, y).matrixTransform(turn))) points.push([x, y]);
    }
    return [points, node.getAttribute('aria-label')];
  })"""
AT_ONCE: Final = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"


def test_areas_tell_what_they_are_wherever_one_points(opened: Callable[[Picture], Opened]) -> None:
    stretch = Shown(("string-line",), start_s=1850.0, span_s=60.0)
    page = opened(track_chart(evaluated("fourteen"), None, stretch)).page
    for begin, least in (("standing: ", 5), ("failure at solder: ", 9)):
        (points, sentence), *_ = page.evaluate(POINTS, begin)
        assert len(points) >= least
        for x, y in points:
            page.mouse.move(x, y)
            page.evaluate(AT_ONCE)
            assert sentence in page.locator("#told p").all_text_contents(), (begin, x, y)
        assert page.locator("#told p").last.text_content() == sentence, "threads over it come first"
        page.mouse.move(2, 2)
        page.evaluate(AT_ONCE)
        assert page.is_hidden("#told")


def test_a_small_window_shrinks_the_picture_and_everything_still_hits(five: Opened) -> None:
    page, natural = five.page, five.places()
    assert page.is_hidden("#size")
    page.set_viewport_size({"width": 900, "height": 720})
    page.wait_for_function("() => document.getElementById('size').hidden === false")
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 900
    whole = five.places()
    assert whole["right"] - whole["left"] < 0.8 * (natural["right"] - natural["left"])
    assert_lined_up(whole)
    page.click("#closer")
    near = five.places()
    at = whole["left"] + 200.0
    page.mouse.move(at, 500)
    page.mouse.down()
    for px in (30, 60, 90):
        page.mouse.move(at + px, 500)
    page.mouse.up()
    moved_by(near, dragged := five.places(), lambda x: x + 90.0)
    page.mouse.move(at, 500)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -100)
    page.keyboard.up("Control")
    left = f"Math.abs(({PLACES})().pins.press - {dragged['pins']['press']}) > 1"
    page.wait_for_function(f"() => {left}")
    moved_by(dragged, five.places(), lambda x: at + 1.2214 * (x - at))
    page.click("#size")
    assert page.inner_text("#size") == "fit the window"
    large = five.places()
    assert large["right"] - large["left"] == pytest.approx(natural["right"] - natural["left"], abs=1.0)
    page.click("#size")
    assert page.inner_text("#size") == "natural size"


def test_the_place_gone_to_is_marked_until_the_next_move(five: Opened) -> None:
    page = five.page
    for station in ("press", "load"):
        page.select_option("#places", f"station {station}")
        pin = five.places()["pins"][station]
        assert page.input_value("#places") == f"station {station}"
        box = page.locator("#chart .place").bounding_box()
        assert box["x"] + box["width"] / 2 == pytest.approx(pin, abs=1.1)
        rows = [page.locator(f"g.{name}_group path.background").first.bounding_box() for name in ("track", "ruler")]
        assert (box["y"], box["y"] + box["height"]) == pytest.approx((rows[0]["y"], rows[1]["y"]), abs=3.0)
    page.click("#closer")
    five.settled()
    assert page.input_value("#places") == ""
    assert page.locator("#chart .place").count() == 0


def test_controls_grow_with_the_letters(five: Opened, opened: Callable[[Picture], Opened]) -> None:
    large = opened(track_chart(evaluated("five"), None, Shown(("track",), text=Text(2.0))))
    letters = [
        page.evaluate("() => getComputedStyle(document.getElementById('save')).fontSize")
        for page in (five.page, large.page)
    ]
    assert letters == ["14px", "28px"]


def test_a_jam_moves_along_the_track_too(opened: Callable[[Picture], Opened]) -> None:
    line = lw.load(LOCKS / "to-and-fro.yaml")
    one = opened(jam_steps(line, lay_out(line), lw.gridlock(line)))
    page = one.page
    place = "() => document.querySelector('#chart [aria-label^=\"station \"]').getBoundingClientRect().x"
    names = page.eval_on_selector_all("#places option", "nodes => nodes.map(node => node.textContent)")
    page.select_option("#places", names[1])
    one.settled()
    assert page.locator("#chart .place").count() == 1
    before = page.evaluate(place)
    page.mouse.move(500, 400)
    page.mouse.down()
    for px in (20, 40, 60):
        page.mouse.move(500 - px, 400)
    page.mouse.up()
    one.settled()
    assert page.evaluate(place) == pytest.approx(before - 60.0, abs=0.7)
    assert page.locator("#chart .place").count() == 0


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
