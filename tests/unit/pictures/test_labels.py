"""Labels along a track: in order, not overlapping, as near as can be."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linewright.pictures.labels import place_labels, spread, text_width_px


@given(
    st.lists(st.tuples(st.floats(0, 1000), st.floats(1, 60)), min_size=1, max_size=16),
)
def test_boxes_keep_apart_inside_the_row_and_in_order(boxes: list[tuple[float, float]]) -> None:
    places, sizes = [place for place, _ in boxes], [size for _, size in boxes]
    centres = spread(places, sizes, 1000.0)
    order = sorted(range(len(boxes)), key=lambda number: (places[number], number))
    for before, after in itertools.pairwise(order):
        assert centres[after] - centres[before] >= (sizes[before] + sizes[after]) / 2 - 1e-9
    assert centres[order[0]] - sizes[order[0]] / 2 >= -1e-9
    assert centres[order[-1]] + sizes[order[-1]] / 2 <= 1000.0 + 1e-9


@given(st.lists(st.integers(0, 12), min_size=1, max_size=3))
def test_no_other_whole_numbered_places_are_nearer(places: list[int]) -> None:
    centres = spread(places, [4.0] * len(places), 14.0)
    cost = sum((centre - place) ** 2 for centre, place in zip(centres, places, strict=True))
    order = sorted(range(len(places)), key=lambda number: (places[number], number))
    halves = [half / 2 for half in range(4, 25)]
    for other in itertools.combinations(halves, len(places)):
        if all(after - before >= 4 for before, after in itertools.pairwise(other)):
            assert cost <= sum((x - places[number]) ** 2 for x, number in zip(other, order, strict=True)) + 1e-9


def test_labels_with_room_stay_over_their_places() -> None:
    row = place_labels(["load", "press"], [100.0, 400.0], 1000.0, 11.0)
    assert (row.direction, row.centres_px) == ("level", (100.0, 400.0))


def test_labels_without_room_stand_upright() -> None:
    names = [f"station-{number}" for number in range(40)]
    row = place_labels(names, [25.0 * number for number in range(40)], 1000.0, 11.0)
    assert row.direction == "upright"
    assert row.height_px == text_width_px("station-10", 11.0)


def test_a_crowd_at_one_place_stands_upright_though_the_row_is_long() -> None:
    row = place_labels(["a long station name"] * 6, [500.0] * 6, 1180.0, 11.0)
    assert row.direction == "upright"


def test_too_many_labels_are_refused() -> None:
    with pytest.raises(ValueError, match="do not fit"):
        place_labels(["x"] * 100, [1.0] * 100, 1000.0, 11.0)
