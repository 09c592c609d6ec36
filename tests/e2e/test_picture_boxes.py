"""Texts of the pictures measured in a real browser: none stands over another, none is cut."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, Final

import pytest

import linewright as lw
from e2e.measured import CHROMIUM, NO_CHROMIUM, chromium, faults_of, texts_of
from linewright.evaluation import Evaluation
from linewright.pictures import (
    Picture,
    Shown,
    Text,
    accuracy_shares,
    current_trace,
    cycle_causes,
    floor_plan,
    move_limits,
    rate_against_carriers,
    track_chart,
)
from linewright.planning.gains import Gains, find_gains
from linewright.planning.size import Sizing, size_line

pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason=NO_CHROMIUM)

CHARTS = Path(__file__).resolve().parents[2] / "examples" / "charts"


@cache
def gains_of(evaluation: Evaluation) -> Gains | None:
    assert evaluation.plan is not None
    assert evaluation.run is not None
    return find_gains(evaluation.line, evaluation.layout, evaluation.plan, evaluation.run)


@cache
def sizing_of(evaluation: Evaluation) -> Sizing:
    carriers = evaluation.line.carriers
    return size_line(evaluation.line, max(1, carriers - 12), carriers + 2, hours=1, runs=2)


Maker = Callable[[Evaluation, Text], Picture]

PICTURES: Final[list[tuple[str, Maker]]] = [
    ("track-chart", lambda evaluation, text: track_chart(evaluation, gains_of(evaluation), Shown(text=text))),
    ("floor", floor_plan),
    ("causes", cycle_causes),
    ("carriers", lambda evaluation, text: rate_against_carriers(sizing_of(evaluation), text)),
    ("move", lambda evaluation, text: move_limits(evaluation, text=text)),
    ("accuracy", accuracy_shares),
    ("current", current_trace),
]
LONG = pytest.mark.long
LINES = [
    ("five", 1.0),
    ("five", 2.0),
    pytest.param("fourteen", 1.0, marks=LONG),
    pytest.param("fourteen", 2.0, marks=LONG),
    pytest.param("forty", 1.0, marks=LONG),
    ("forty", 2.0),
]


@cache
def evaluated(line: str) -> Evaluation:
    return lw.evaluate(lw.load(CHARTS / f"{line}.yaml"), hours=1, runs=3)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as browser:
        yield browser


@pytest.mark.parametrize(("line", "size"), LINES)
@pytest.mark.parametrize(("name", "maker"), PICTURES, ids=[name for name, _ in PICTURES])
def test_no_text_overlaps_and_none_is_cut(browser: Any, name: str, maker: Maker, line: str, size: float) -> None:
    texts = texts_of(browser, maker(evaluated(line), Text(size)).svg())
    assert len(texts) > 5
    faults = faults_of(texts)
    assert not faults, f"{name} of {line} at size {size:g}: {len(faults)} faults\n" + "\n".join(faults[:20])


FAULTY: Final = """<svg xmlns="http://www.w3.org/2000/svg" width="300" height="60" font-size="12">
<defs><clipPath id="half"><rect x="0" y="0" width="20" height="60"/></clipPath></defs>
<text x="10" y="20">one stands here</text><text x="40" y="22">another too</text>
<text x="285" y="50">over the edge</text>
<g clip-path="url(#half)"><text x="2" y="50">clipped away</text></g>
<text transform="translate(200,40) rotate(-90)">tall</text><text transform="translate(212,40) rotate(-90)">tall</text>
</svg>"""


def test_the_measure_finds_what_it_is_for(browser: Any) -> None:
    found = [fault.split(":")[0] for fault in faults_of(texts_of(browser, FAULTY))]
    assert found == ["'one stands here' and 'another too' overlap", "'over the edge' is cut", "'clipped away' is cut"]
