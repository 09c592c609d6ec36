"""Where stops are laid, case by case after docs/semantics.md, Places and moves; all places worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linewright.errors import LineFileError
from linewright.layout import Layout, lay_out, resting_order
from unit.layout.layout_lines import HALF_M, PITCH_M, LineText

ONE = (("load", "upper", 2000.0, ""),)


def waiting(layout: Layout, lane: str) -> list[float]:
    return [round(stop.travel_m, 9) for stop in layout.stops if stop.lane == lane and stop.kind == "waiting"]


def grid(first_m: float, count: int) -> list[float]:
    return sorted(round(first_m - number * PITCH_M, 9) for number in range(count))


def test_the_grid_runs_upstream_from_a_station_and_from_the_dock() -> None:
    layout = lay_out(LineText(ONE).line())
    assert layout.pitch_m == PITCH_M
    # From 2.000: 1.735, 1.470 ... down to at least 0.118. From the dock 3.732: 3.467 ... down to at least 2.265.
    assert waiting(layout, "upper") == grid(1.735, 7) + grid(3.467, 5)
    assert waiting(layout, "upper")[0] == 0.145
    assert waiting(layout, "upper")[7] == 2.407


def test_a_stop_exactly_half_a_carrier_from_the_start_is_laid() -> None:
    at_mm = 118 + 3 * 265
    just = lay_out(LineText((("load", "upper", at_mm, ""),)).line())
    assert waiting(just, "upper")[:3] == [0.118, 0.383, 0.648]
    short = lay_out(LineText((("load", "upper", at_mm - 0.1, ""),)).line())
    assert waiting(short, "upper")[:2] == [0.3829, 0.6479]


def test_a_stop_exactly_one_pitch_after_a_station_is_laid() -> None:
    def between(second_mm: float) -> int:
        stations = (("load", "upper", 500.0, ""), ("press", "upper", second_mm, ""))
        layout = lay_out(LineText(stations).line())
        return len([one for one in waiting(layout, "upper") if 0.5 < one < second_mm / 1000])

    assert between(500 + 265) == 0
    assert between(500 + 2 * 265) == 1
    assert between(500 + 2 * 265 - 0.1) == 0


def test_the_dock_stop_is_half_a_carrier_before_the_end() -> None:
    layout = lay_out(LineText(ONE).line())
    docks = [stop for stop in layout.stops if stop.kind == "dock"]
    assert [(stop.lane, stop.transfer, stop.travel_m) for stop in docks] == [
        ("upper", "east-lift", pytest.approx(3.850 - HALF_M)),
        ("lower", "west-lift", pytest.approx(3.850 - HALF_M)),
    ]


def test_a_lane_without_a_station_has_the_dock_grid_alone() -> None:
    layout = lay_out(LineText(ONE).line())
    assert waiting(layout, "lower") == grid(3.467, 13)


def test_ranks_follow_the_loop() -> None:
    layout = lay_out(LineText(ONE).line())
    assert [stop.index for stop in layout.stops] == list(range(len(layout.stops)))
    assert [stop.axis_m for stop in layout.stops] == sorted(stop.axis_m for stop in layout.stops)
    assert layout.stops[layout.transfers[0].aboard].kind == "aboard"
    assert layout.stops[-1].transfer == "west-lift"
    assert layout.stop_of("load").kind == "station"
    with pytest.raises(KeyError, match="no station"):
        layout.stop_of("lode")


def test_the_first_lane_of_the_file_comes_first() -> None:
    layout = lay_out(LineText(ONE, lower_first=True).line())
    assert [lane.name for lane in layout.lanes] == ["lower", "upper"]
    assert [transfer.name for transfer in layout.transfers] == ["west-lift", "east-lift"]


def test_a_keep_clear_stretch_pushes_the_first_waiting_stop_back() -> None:
    keep = (("press", "upper", 2000.0, ", keep_clear: 180 mm"),)
    layout = lay_out(LineText(keep).line())
    # 180 + 118 = 298 mm is farther than the pitch. Downstream the dock grid loses what is nearer than 298 mm.
    assert waiting(layout, "upper")[:7] == grid(2.0 - 0.298, 6) + [2.407]
    less = lay_out(LineText((("press", "upper", 2000.0, ", keep_clear: 147 mm"),)).line())
    assert waiting(less, "upper")[6] == 1.735, "a body that only touches the stretch may stand there"


def test_a_stretch_reaches_past_the_station_before_and_the_grid_stays_in_place() -> None:
    stations = (("load", "upper", 1500.0, ""), ("press", "upper", 1900.0, ", keep_clear: 800 mm"))
    layout = lay_out(LineText(stations).line())
    # The stretch is 1.1 to 2.7 m, so bodies may stand up to 0.982 and from 2.818 m on. Load's grid is
    # 1.235, 0.970, 0.705 ...; the dock's 3.467, 3.202, 2.937, 2.672 ...
    assert waiting(layout, "upper") == grid(0.970, 4) + grid(3.467, 3)


def test_a_stretch_downstream_of_the_station_before_cuts_the_grid() -> None:
    stations = (("press", "upper", 1000.0, ", keep_clear: 300 mm"), ("load", "upper", 2000.0, ""))
    layout = lay_out(LineText(stations, route=("load", "press")).line())
    # From 2.000: 1.735, 1.470; 1.470 - 0.118 = 1.352 clears 1.300 and 1.205 would not.
    assert [one for one in waiting(layout, "upper") if 1.0 < one < 2.0] == [1.470, 1.735]


def test_a_fixture_longer_than_the_carrier_sets_the_body_and_the_pitch() -> None:
    line = LineText(ONE, fixture_mm=400.0).line()
    layout = lay_out(line)
    pitch_m = 0.400 + line.conveyor.clear_gap_m
    assert layout.body_m == 0.4
    assert layout.pitch_m == pytest.approx(pitch_m)
    dock = next(stop for stop in layout.stops if stop.kind == "dock")
    assert dock.travel_m == pytest.approx(3.850 - 0.2)
    assert waiting(layout, "upper")[-1] == pytest.approx(3.850 - 0.2 - pitch_m)
    assert waiting(layout, "upper")[0] >= 0.2
    assert layout.transfers[0].rear_m == pytest.approx(layout.transfers[0].platform_m / 2 + 0.2)


def test_axis_travel_and_floor_agree() -> None:
    line = LineText((("load", "upper", 430.0, ""), ("unload", "lower", 1090.0, ""))).line()
    layout = lay_out(line)
    transfer = line.conveyor.transfers["lift"]
    link_m = 2 * transfer.gap_m + transfer.platform_m
    upper, lower = layout.lanes
    assert (upper.start_axis_m, lower.start_axis_m) == (0.0, pytest.approx(3.850 + link_m))
    assert layout.loop_m == pytest.approx(2 * (3.850 + link_m))
    unload = layout.stop_of("unload")
    assert unload.travel_m == pytest.approx(3.850 - 1.090)
    assert unload.floor_m == pytest.approx(1.090)
    assert unload.axis_m == pytest.approx(lower.start_axis_m + 2.760)
    assert lower.floor_to_travel(lower.travel_to_floor(1.25)) == pytest.approx(1.25)
    assert lower.axis_to_travel(lower.travel_to_axis(1.25)) == pytest.approx(1.25)
    aboard = layout.stops[layout.transfers[0].aboard]
    assert aboard.travel_m == pytest.approx(3.850 + link_m / 2)
    assert aboard.axis_m == pytest.approx(layout.transfers[0].aboard_axis_m)
    assert aboard.floor_m == pytest.approx(3.850 + link_m / 2)
    assert layout.transfers[0].on_m == pytest.approx(HALF_M + link_m / 2)
    assert layout.transfers[0].off_m == pytest.approx(link_m / 2)
    assert layout.transfers[0].ride_m == pytest.approx(0.520)


def test_a_station_off_its_lane_is_an_error_at_its_place() -> None:
    stations = (("load", "upper", 430.0, ""), ("press", "upper", 3850.1, ""), ("mark", "lower", 4000.0, ""))
    text = LineText(stations)
    with pytest.raises(LineFileError) as caught:
        lay_out(text.line())
    rows = text.text().splitlines()
    spots = [rows[fault.place.line - 1][fault.place.column - 1 :] for fault in caught.value.faults]
    assert [spot.split(",")[0] for spot in spots] == ["at: 3850.1 mm", "at: 4000 mm"], "every fault at once"


def test_a_lane_that_stock_cannot_make_is_an_error_at_its_place() -> None:
    line = LineText(ONE).line()
    odd = line.conveyor.sections[0].model_copy(update={"length_m": 0.27686})
    line = line.model_copy(update={"conveyor": line.conveyor.model_copy(update={"sections": (odd,)})})
    with pytest.raises(LineFileError, match=r"276\.86 mm is not a whole number of tenths") as caught:
        lay_out(line)
    assert [fault.place.line for fault in caught.value.faults] == [6, 7]


def test_carriers_stand_upstream_of_the_first_station() -> None:
    line = LineText((("load", "upper", 700.0, ""), ("press", "lower", 2000.0, "")), carriers=20).line()
    layout = lay_out(line)
    order = resting_order(line, layout)
    kinds = [layout.stops[index].kind for index in order]
    assert order[0] == layout.stop_of("load").index
    assert kinds[:4] == ["station", "waiting", "waiting", "dock"], (
        "past the lane's start comes the dock of the lane before"
    )
    assert kinds.count("station") == 1
    assert "aboard" not in kinds
    ranks = [(order[0] - index) % len(layout.stops) for index in order]
    assert ranks == sorted(ranks)


def test_of_parallel_first_stations_the_farthest_downstream_is_taken() -> None:
    stations = (("load-1", "upper", 700.0, ""), ("load-2", "upper", 1300.0, ""), ("press", "lower", 2000.0, ""))
    line = LineText(stations, route=("[load-1, load-2]", "press"), carriers=12).line()
    layout = lay_out(line)
    order = resting_order(line, layout)
    assert order[0] == layout.stop_of("load-2").index
    assert layout.stop_of("load-1").index not in order


def test_parallel_first_stations_on_two_lanes() -> None:
    # load-2 at the end of the lower lane, load-1 at the start of the upper: the way round puts load-1 downstream.
    stations = (("load-1", "upper", 500.0, ""), ("load-2", "lower", 900.0, ""), ("press", "upper", 2600.0, ""))
    line = LineText(stations, route=("[load-1, load-2]", "press")).line()
    layout = lay_out(line)
    assert resting_order(line, layout)[0] == layout.stop_of("load-1").index


def test_more_carriers_than_places_says_how_many_fit() -> None:
    text = LineText(ONE)
    layout = lay_out(text.line())
    fit = sum(stop.kind in ("waiting", "dock") for stop in layout.stops) + 1
    assert len(resting_order(replace_carriers(text, fit), layout)) == fit
    with pytest.raises(LineFileError, match=f"{fit + 1} carriers; at most {fit}") as caught:
        lay_out(replace_carriers(text, fit + 1))
    (fault,) = caught.value.faults
    assert text.text().splitlines()[fault.place.line - 1].startswith("carriers:")


def replace_carriers(text: LineText, carriers: int):
    return replace(text, carriers=carriers).line()


@pytest.mark.parametrize(
    "stations, reason",
    [
        ((("a", "upper", 700.0, ""), ("b", "upper", 964.0, "")), "station-centres: station a and station b"),
        ((("a", "upper", 700.0, ""), ("b", "upper", 700.01, "")), "station-centres: station a and station b"),
        ((("load", "upper", 3600.0, ""),), "station-centres: station load and dock of east-lift"),
        ((("load", "upper", 3732.0, ""),), "station-centres: station load and dock of east-lift"),
        ((("load", "upper", 3800.0, ""),), "station-beyond-dock: station load"),
        ((("load", "upper", 0.0, ""),), "station-centres: aboard west-lift and station load"),
    ],
)  # fmt: skip
def test_what_no_traffic_can_get_around_is_blocking(stations, reason) -> None:
    assert reason in lay_out(LineText(stations).line()).blocking


def test_a_sound_track_blocks_nothing() -> None:
    stations = (("load", "upper", 700.0, ""), ("press", "upper", 965.0, ""), ("mark", "upper", 3732.0 - 265, ""))
    assert lay_out(LineText(stations).line()).blocking == ()


def test_a_lane_shorter_than_a_carrier_blocks() -> None:
    text = LineText((("load", "upper", 100.0, ""),), length_mm=200.0, carriers=1)
    assert "lane-length: lane upper" in lay_out(text.line()).blocking
