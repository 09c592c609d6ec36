"""The faults planted in the pictures: wrong places, numbers and words, and what is left out; in each file another."""

from __future__ import annotations

from typing import Final

from planted.faults import Fault

GAPS: Final = "unit/pictures/test_gaps.py"
FLOW_ROWS: Final = "unit/pictures/test_flow_rows.py"
CHART: Final = "unit/pictures/test_chart.py"
LIMIT_ROWS: Final = "unit/pictures/test_limit_rows.py"
POWER: Final = "unit/pictures/test_power_pictures.py"
STRING: Final = "unit/pictures/test_string_line.py"
TRACKS: Final = "unit/pictures/test_tracks.py"
FLOOR: Final = "unit/pictures/test_floor.py"
CAUSES: Final = "unit/pictures/test_causes.py"
MOVE: Final = "unit/pictures/test_move.py"
ACCURACY: Final = "unit/pictures/test_accuracy_shares.py"
JAM: Final = "unit/pictures/test_jam.py"

PICTURE_FAULTS: Final = (
    Fault(
        "the key calls a blocked station starved",
        "pictures/style.py",
        '"blocked": "blocked: the carrier cannot leave",',
        '"blocked": "starved: no carrier comes",',
        (f"{GAPS}::test_every_fill_is_named_by_what_it_stands_for",),
    ),
    Fault(
        "bars stand a carrier's length beside their station",
        "pictures/track/sheet.py",
        "return self.layout.stop_of(station).axis_m",
        "return self.layout.stop_of(station).axis_m + self.layout.body_m",
        (f"{GAPS}::test_bars_of_strength_and_accuracy_stand_at_the_places_of_their_stations",),
    ),
    Fault(
        "the takt is drawn where the line cycle is",
        "pictures/track/time_row.py",
        'layers += sheet.level(plot.y(plot.takt_s), "", strokeWidth=1.6)',
        'layers += sheet.level(plot.y(plot.cycle_s), "", strokeWidth=1.6)',
        (f"{FLOW_ROWS}::test_the_takt_lies_at_its_height",),
        long=True,
    ),
    Fault(
        "the row of the states leaves out the first station",
        "pictures/track/states_row.py",
        "pieces = [piece for row in rows for piece in _pieces(sheet, row)]",
        "pieces = [piece for row in rows[1:] for piece in _pieces(sheet, row)]",
        (f"{FLOW_ROWS}::test_shares_of_a_bar_make_a_hundred_and_the_whole_plot",),
        long=True,
    ),
    Fault(
        "the strip leaves out the first station",
        "pictures/track/strip.py",
        'stations = [row for row in rows if row["kind"] == "station"]',
        'stations = [row for row in rows if row["kind"] == "station"][1:]',
        (f"{CHART}::test_every_station_stands_in_the_strip_once[5]",),
        long=True,
    ),
    Fault(
        "the interval of a gain ends at its mean",
        "pictures/track/help_row.py",
        "high, low = scale.y(best.per_h.high), scale.y(best.per_h.low)",
        "high, low = scale.y(best.per_h.high), scale.y(best.per_h.mean)",
        (f"{FLOW_ROWS}::test_whiskers_are_the_intervals",),
        long=True,
    ),
    Fault(
        "stations tell one another's strength",
        "pictures/track/strength_row.py",
        "bars.append(LimitBar(at_m - half_m, at_m + half_m, use.share, known, use.told))",
        "bars.append(LimitBar(at_m - half_m, at_m + half_m, use.share, known, uses[-1 - len(bars)].told))",
        (f"{LIMIT_ROWS}::test_every_station_stands_once_in_the_row_strength[limits/strength]",),
        long=True,
    ),
    Fault(
        "every axis tells the name of the first station",
        "pictures/track/accuracy_row.py",
        'return AxisUse(station, axis, share, index, verdict, "; ".join(told))',
        'return AxisUse(station, axis, share, index, verdict, "; ".join(told).replace(station, line.stations[0].name))',
        (f"{LIMIT_ROWS}::test_verdicts_of_axes_are_those_of_the_findings",),
        long=True,
    ),
    Fault(
        "bars of limits leave the plot on zooming",
        "pictures/track/limit_bars.py",
        'outline = {"stroke": HUE, "strokeWidth": stroke_px, "clip": True}',
        'outline = {"stroke": HUE, "strokeWidth": stroke_px}',
        (f"{CHART}::test_all_rows_share_one_axis",),
        long=True,
    ),
    Fault(
        "the coil groups of a lane are mirrored",
        "pictures/track/heat_row.py",
        "return lane.travel_to_axis(lane.floor_to_travel(floor_m))",
        "return lane.travel_to_axis(lane.length_m - lane.floor_to_travel(floor_m))",
        (f"{LIMIT_ROWS}::test_coil_groups_fill_their_lanes_and_platforms_on_the_axis[demo/line]",),
        long=True,
    ),
    Fault(
        "the voltage of a feeder is counted from its far end",
        "pictures/track/feeder_row.py",
        "sections = tuple(rows)",
        "sections = tuple(rows)[::-1]",
        (f"{POWER}::test_the_line_goes_from_the_entry_outward_and_never_up[west]",),
        long=True,
    ),
    Fault(
        "each row of the track chart has an axis of its own",
        "pictures/track/chart.py",
        "sheet.ruler()], 10, share_x=True)",
        "sheet.ruler()], 10)",
        (f"{CHART}::test_all_rows_share_one_axis",),
        long=True,
    ),
    Fault(
        "every failure is drawn at the last stop of the track",
        "pictures/track/works.py",
        "DrawnFailure(station, carrier, serial, axis_m,",
        "DrawnFailure(station, carrier, serial, layout.stops[-1].axis_m,",
        (f"{STRING}::test_a_failure_stands_once_at_the_right_pixels[{{every: 4 h, repair: 20 s}}-41.0-1]",),
        long=True,
    ),
    Fault(
        "a jam is told to end with the first of its carriers",
        "pictures/track/jams.py",
        "end_s=max(rest.end_s for rest in group),",
        "end_s=min(rest.end_s for rest in group),",
        (f"{STRING}::test_carriers_behind_one_another_are_one_jam",),
        long=True,
    ),
    Fault(
        "threads are thinned three times as far as is allowed",
        "pictures/track/thinned.py",
        "split = apart_px > tolerance_px",
        "split = apart_px > 3.0 * tolerance_px",
        (f"{GAPS}::test_no_place_of_a_wave_is_farther_from_its_thinned_line_than_told[0.3]",),
        long=True,
    ),
    Fault(
        "threads of an inch file are in millimetres",
        "pictures/track/string_line.py",
        "_rounded(thread.axis_m[kept] / frame.sheet.lengths.to_SI(1.0)",
        "_rounded(thread.axis_m[kept] * 1000.0",
        (f"{GAPS}::test_threads_and_carriers_of_an_inch_file_stand_in_inches",),
        long=True,
    ),
    Fault(
        "the hours of the string line are minutes",
        "pictures/track/time_scale.py",
        'return "h", 3600.0',
        'return "h", 60.0',
        (f"{GAPS}::test_the_unit_of_the_axis_of_time_is_as_long_as_it_is_called[28800.0-h-3600]",),
        long=True,
    ),
    Fault(
        "a carrier that goes back is drawn as going on",
        "pictures/track/unrolled.py",
        "1 if end_m >= begin_m else -1))",
        "1))",
        (f"{TRACKS}::test_a_lane_to_and_fro_goes_back_on_the_axis",),
        long=True,
    ),
    Fault(
        "lanes lie too near to one another across",
        "pictures/floor/plan.py",
        "return placed[0].y_px + (rows[0].across_m - across_m) * ground.px_m",
        "return placed[0].y_px + 0.9 * (rows[0].across_m - across_m) * ground.px_m",
        (f"{GAPS}::test_lanes_and_platforms_lie_where_their_stations_do[charts/five]",),
    ),
    Fault(
        "decks lie too near to one another upwards",
        "pictures/floor/side.py",
        "heights = {level_m: top + (levels[0] - level_m) * ground.px_m for level_m in levels}",
        "heights = {level_m: top + 0.8 * (levels[0] - level_m) * ground.px_m for level_m in levels}",
        (f"{FLOOR}::test_across_and_upwards_have_the_scale_of_along[ways/four-decks]",),
        long=True,
    ),
    Fault(
        "the floor under a lane begins at its own west end",
        "pictures/floor/track.py",
        "x, x2 = sorted(ground.x(lane.travel_to_floor(travel_m)) for travel_m in (start_m, end_m))",
        "x, x2 = sorted(ground.x(travel_m) for travel_m in (start_m, end_m))",
        (f"{GAPS}::test_lanes_and_platforms_lie_where_their_stations_do[ways/four-decks]",),
        long=True,
    ),
    Fault(
        "a platform stands at the lane's end without its gap",
        "pictures/floor/ground.py",
        "near_m, far_m = transfer.gap_m, transfer.gap_m + transfer.platform_m",
        "near_m, far_m = 0.0, transfer.platform_m",
        (f"{GAPS}::test_lanes_and_platforms_lie_where_their_stations_do[charts/five]",),
        long=True,
    ),
    Fault(
        "every lane is told to be as long as the first",
        "pictures/floor/blocks.py",
        "whole = lengths.text(part.to_m - part.from_m)",
        "whole = lengths.text(ground.layout.lanes[0].length_m)",
        (f"{FLOOR}::test_lengths_spacings_and_levels_are_the_layouts[ways/four-decks]",),
        long=True,
    ),
    Fault(
        "the kinds of causes stand the smallest first",
        "pictures/charts/causes.py",
        "key=lambda one: -one[2])",
        "key=lambda one: one[2])",
        (f"{CAUSES}::test_kinds_are_sums_over_places",),
        long=True,
    ),
    Fault(
        "the upper bound stands one carrier too far to the right",
        "pictures/charts/carriers.py",
        'ends = {"x": panel.x(row.carriers - 0.5), "x2": panel.x(row.carriers + 0.5)}',
        'ends = {"x": panel.x(row.carriers + 0.5), "x2": panel.x(row.carriers + 1.5)}',
        (f"{GAPS}::test_each_step_of_the_bound_lies_over_its_own_count",),
    ),
    Fault(
        "the limit of the speed stands at the acceleration",
        "pictures/charts/move.py",
        '"acceleration": (found.limits.acceleration_m_s2, found.acceleration_set_by),',
        '"acceleration": (found.limits.speed_m_s, found.acceleration_set_by),',
        (f"{MOVE}::test_acceleration_and_jerk_keep_their_limits_on_both_sides",),
        long=True,
    ),
    Fault(
        "all shares of a budget are drawn alike",
        "pictures/charts/accuracy.py",
        "wide = whole * share.share / total",
        "wide = whole / len(shares)",
        (f"{ACCURACY}::test_every_contributor_with_a_share_stands_once_in_its_bar_in_proportion[limits/accuracy]",),
        long=True,
    ),
    Fault(
        "every feeder has the trace of the first",
        "pictures/charts/current.py",
        'of = trace["feeder"] == row["feeder"]',
        'of = trace["feeder"] == trace["feeder"][0]',
        (f"{POWER}::test_each_feeder_has_its_trace_and_its_peak",),
        long=True,
    ),
    Fault(
        "a carrier that moves is drawn where it was",
        "pictures/jam/steps.py",
        "now[step.carrier] = At(step.carrier, step.stop, step.carries)",
        "now[step.carrier] = At(step.carrier, step.start, step.carries)",
        (f"{JAM}::test_carriers_stand_where_start_and_way_put_them",),
        long=True,
    ),
    Fault(
        "the letters of the key do not grow",
        "pictures/key.py",
        '"fontSize": text.px, "color": INK}',
        '"fontSize": 12.0, "color": INK}',
        (f"{GAPS}::test_the_letters_of_the_key_grow_and_keep_apart[2.0-24.0]",),
        long=True,
    ),
    Fault(
        "the letters over a picture do not grow",
        "pictures/picture.py",
        '"subtitleFontSize": text.px,',
        '"subtitleFontSize": 12.0,',
        (f"{GAPS}::test_title_head_and_axes_grow_with_the_letters[2.0]",),
        long=True,
    ),
    Fault(
        "the page asks a server for its looks",
        "pictures/page.html",
        '<link rel="icon" href="data:,">',
        '<link rel="stylesheet" href="https://example.org/page.css">',
        (f"{CHART}::test_the_page_holds_everything_and_cannot_be_broken_by_a_name",),
    ),
)
