"""The page of the track chart in a real browser: it draws itself, asks for nothing, and its labels keep apart."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from linewright.pictures import track_chart_html
from unit.pictures.hand_made import evaluation

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine (apt-get install chromium)")

SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


def open_page(browser: Any, path: Path, html: str) -> tuple[Any, list[str], list[str]]:
    """The drawn page, every address it asked for, and every error it met."""
    path.write_text(html, encoding="utf-8")
    page = browser.new_page(viewport={"width": 1400, "height": 1100})
    asked: list[str] = []
    errors: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda message: errors.append(message.text) if message.type in ("error", "warning") else None)
    page.goto(path.as_uri())
    page.wait_for_selector("body[data-drawn=yes]", timeout=60_000)
    return page, asked, errors


@pytest.mark.parametrize("stations", [5, *(pytest.param(many, marks=pytest.mark.long) for many in (14, 40))])
def test_the_page_draws_itself_without_asking_outside(browser: Any, tmp_path: Path, stations: int) -> None:
    e = evaluation(stations=stations, carriers=4)
    path = tmp_path / "track-chart.html"
    page, asked, errors = open_page(browser, path, track_chart_html(e))
    assert errors == []
    assert [url for url in asked if not url.startswith("data:")] == [path.as_uri()]
    for station in e.line.stations:
        assert page.locator("svg text", has_text=station.name).first.is_visible()
    assert page.locator("svg path[aria-label^='carrier ']").count() == 4
    page.close()


@pytest.mark.parametrize("stations", [5, pytest.param(14, marks=pytest.mark.long), 40])
def test_measured_labels_do_not_overlap(browser: Any, tmp_path: Path, stations: int) -> None:
    e = evaluation(stations=stations, carriers=2)
    page, _, _ = open_page(browser, tmp_path / "track-chart.html", track_chart_html(e))
    names = [*(station.name for station in e.line.stations), *(transfer.name for transfer in e.line.transfers)]
    boxes = page.evaluate(
        """names => [...document.querySelectorAll('svg text')]
            .filter(node => names.includes(node.textContent))
            .map(node => { const b = node.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; })""",
        names,
    )
    page.close()
    assert len(boxes) == len(names)
    for one, other in itertools.combinations(boxes, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, f"{one} and {other} overlap"


def test_a_pin_stands_over_its_works(browser: Any, tmp_path: Path) -> None:
    e = evaluation(stations=5, carriers=4)
    page, _, _ = open_page(browser, tmp_path / "track-chart.html", track_chart_html(e))
    places = page.evaluate(
        """() => { const middle = node => { const b = node.getBoundingClientRect(); return (b.left + b.right) / 2; };
            const of = start => [...document.querySelectorAll(`svg [aria-label^='${start}']`)].map(middle);
            return [of('station press '), of('work at press:')]; }"""
    )
    page.close()
    (pin,), works = places
    assert works
    assert all(abs(work - pin) < 0.6 for work in works)
