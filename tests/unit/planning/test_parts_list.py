"""The parts list counts what the layout lays and prices what the sheet prices; a blank price stays blank."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from linewright.layout import lay_out
from linewright.line.load import load_line
from linewright.line.model import CarrierChange, Line
from linewright.planning.money.parts_list import PartRow, PartsList, controllers_needed, parts_list

EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.fixture(scope="module")
def demo() -> Line:
    return load_line(EXAMPLES / "demo" / "line.yaml")


def listed(line: Line) -> PartsList:
    return parts_list(line, lay_out(line))


def row(parts: PartsList, start: str) -> PartRow:
    (found,) = [one for one in parts.rows if one.item.startswith(start)]
    return found


def with_sheet(line: Line, **changes: Any) -> Line:
    return line.model_copy(update={"conveyor": line.conveyor.model_copy(update=changes)})


def test_the_demo_line_by_hand(demo: Line) -> None:
    parts = listed(demo)
    assert {one.item: (one.count, one.price_each) for one in parts.rows if one.price is not None} == {
        "section 736 mm": (10.0, 1420.0),  # two lanes of 3680 mm = 5 x 736 mm
        "lift": (2.0, 5900.0),
        "carrier": (24.0, 310.0),
        "motor supply": (2.0, 690.0),
        "controller": (1.0, 3900.0),
        "base": (7.36, 420.0),
    }
    assert parts.total == pytest.approx(14200 + 11800 + 7440 + 1380 + 3900 + 3091.2)
    assert parts.currency == "EUR"
    assert row(parts, "section").part_number == "DL-736"
    assert row(parts, "lift").part_number == "DL-LIFT"


def test_what_no_file_has_room_for_is_counted_without_a_price(demo: Line) -> None:
    parts = listed(demo)
    assert not parts.complete
    assert parts.missing == parts.without_key
    assert parts.missing_keys == ()
    assert row(parts, "fixture").count == 24.0
    cable = row(parts, "cable of two conductors of 6 mm², feeder upper")
    assert (cable.count, cable.unit, cable.price) == (6.0, "m", None)
    assert row(parts, "link of 800 mm, 6 mm², feeder lower").count == 4.0  # between five sections
    assert row(parts, "fuse gG 25 A, feeder lower").count == 1.0
    assert row(parts, "braking resistor 6.8 ohm, 60 W, feeder upper").count == 1.0


def test_a_list_is_complete_where_everything_has_a_price(demo: Line) -> None:
    bare = demo.model_copy(update={"feeders": (), "fixture": None})
    parts = listed(bare)
    assert parts.complete
    assert parts.missing == ()
    assert parts.total == pytest.approx(41811.2 - 1380.0)


def test_a_missing_price_names_its_key_and_leaves_the_rest(demo: Line) -> None:
    prices = demo.conveyor.prices
    assert prices is not None
    line = with_sheet(demo, prices=prices.model_copy(update={"carrier": None, "base_per_metre": None}))
    parts = listed(line)
    assert parts.missing_keys == ("prices.carrier", "prices.base_per_metre")
    assert row(parts, "carrier").price is None
    assert "key prices.carrier of the conveyor sheet" in row(parts, "carrier").source
    assert parts.total == pytest.approx(41811.2 - 7440.0 - 3091.2)


def test_without_prices_there_is_no_currency_and_no_complete_list(demo: Line) -> None:
    parts = listed(with_sheet(demo.model_copy(update={"feeders": (), "fixture": None}), prices=None))
    assert parts.currency is None
    assert not parts.complete
    assert parts.missing_keys == ("prices.carrier", "prices.controller", "prices.base_per_metre", "prices.currency")
    assert parts.total == pytest.approx(14200 + 11800)


def test_a_ring_has_its_curves_and_no_transfer() -> None:
    line = load_line(EXAMPLES / "ways" / "ring.yaml")
    parts = listed(line)
    assert row(parts, "curve 90°, radius 240 mm").count == 4.0
    # Straights of 1840 and 368 mm, two of each: 2 x (736 + 736 + 368) + 2 x 368.
    assert {one.item: one.count for one in parts.rows if one.item.startswith("section")} == {
        "section 368 mm": 4.0,
        "section 736 mm": 4.0,
    }
    assert not [one for one in parts.rows if one.item.startswith(("lift", "cross"))]
    assert row(parts, "base").count == pytest.approx(2 * (1.84 + 0.368) + 2 * 3.141592653589793 * 0.24)


def test_a_lift_with_more_places_than_the_sheet_prices_has_no_price() -> None:
    parts = listed(load_line(EXAMPLES / "ways" / "two-place-lift.yaml"))
    (wide,) = [one for one in parts.rows if "2 places" in one.item]
    assert (wide.price, wide.part_number, wide.key) == (None, None, "transfers.lift.price with places: 2")
    assert "that of the conveyor sheet has 1 place" in wide.source
    # It is no small thing: without it no price of this line can be compared.
    assert wide.key in parts.missing_keys


def test_fixture_sets_and_carriers_put_in_count(demo: Line) -> None:
    sets = listed(load_line(EXAMPLES / "ways" / "fixture-sets.yaml"))
    line = load_line(EXAMPLES / "ways" / "fixture-sets.yaml")
    assert {one.item: one.count for one in sets.rows if one.item.startswith("fixture")} == {
        f"fixture {one.name}": float(one.carriers) for one in line.fixture_sets
    }
    change = CarrierChange(time_s=60.0, station="load", in_=3)
    more = listed(demo.model_copy(update={"carrier_changes": (change,)}))
    assert row(more, "carrier").count == 27.0
    assert "the most that there are at one time" in row(more, "carrier").source


def test_inch_lines_are_named_in_inches() -> None:
    parts = listed(load_line(EXAMPLES / "charts" / "five.yaml"))
    assert row(parts, "section 15.157 in").count == 2.0
    assert not [one.item for one in parts.rows if " mm," in one.item]


@pytest.mark.parametrize(
    ("carriers", "sections", "most_carriers", "most_sections", "needed"),
    [
        (56, 30, 56, 30, 1),
        (57, 30, 56, 30, 2),
        (56, 61, 56, 30, 3),
        (1, 1, 56, 30, 1),
        (500, 500, None, None, 1),
        (500, 10, 100, None, 5),
        (0, 0, 10, 10, 1),
    ],
)
def test_controllers_by_their_most(
    carriers: int, sections: int, most_carriers: int | None, most_sections: int | None, needed: int
) -> None:
    assert controllers_needed(carriers, sections, most_carriers, most_sections) == needed


@pytest.mark.parametrize("arguments", [(-1, 1, 1, 1), (1, -1, 1, 1), (1, 1, 0, 1), (1, 1, 1, 0)])
def test_controllers_of_nonsense_are_refused(arguments: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match=r"count|takes at least"):
        controllers_needed(*arguments)
