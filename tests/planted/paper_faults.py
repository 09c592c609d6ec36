"""The faults planted in the papers: wrong numbers, places and orders, what is left out or told to the wrong reader.

Without the compiler a simulated line takes long: tests that need none catch them where there are such.
"""

from __future__ import annotations

from typing import Final

from planted.faults import Fault

GAPS: Final = "unit/handover/test_gaps.py"
RUN_OFF: Final = "reference/test_run_off.py"
PARTS: Final = "unit/planning/test_parts_list.py"
BASELINE: Final = "unit/planning/test_baseline.py"
ASSUMED: Final = "unit/planning/test_assumed.py"
DRAWING: Final = "unit/handover/test_drawing.py"
SMALL: Final = "unit/handover/test_small_papers.py"
CHAPTERS: Final = "unit/handover/test_dossier_chapters.py"
STOPS: Final = "unit/flow/test_stop_sheet.py"

PAPER_FAULTS: Final = (
    Fault(
        "a test of failures is as long as for one failure fewer",
        "planning/run_off/counts.py",
        "return limit_s * float(gammaincinv(allowed + 1.0, confidence))",
        "return limit_s * float(gammaincinv(max(allowed, 1.0), confidence))",
        (f"{RUN_OFF}::test_factors_of_the_test_length",),
    ),
    Fault(
        "the pass line of an availability is that of the builder's risk",
        "planning/run_off/rates.py",
        "least = 1.0 / (1.0 + worse / float(fdtri(freedom, freedom, confidence)))",
        "least = 1.0 / (1.0 + worse / float(fdtri(freedom, freedom, 1.0 - builder_risk)))",
        (f"{RUN_OFF}::test_availability_against_the_tables",),
        long=True,
    ),
    Fault(
        "the pass line of a spread has one degree of freedom too many",
        "planning/run_off/spreads.py",
        "half = 0.5 * freedom",
        "half = 0.5 * (freedom + 1)",
        (f"{RUN_OFF}::test_spread_against_the_tables",),
        long=True,
    ),
    Fault(
        "a part without a price costs nothing",
        "planning/money/parts_list.py",
        "return None if self.price_each is None else self.count * self.price_each",
        "return self.count * (self.price_each or 0.0)",
        (f"{PARTS}::test_a_missing_price_names_its_key_and_leaves_the_rest",),
    ),
    Fault(
        "one section too many is bought",
        "planning/money/parts_list.py",
        "count=float(counts[i]),",
        "count=float(counts[i] + 1),",
        (f"{PARTS}::test_the_demo_line_by_hand",),
        long=True,
    ),
    Fault(
        "a baseline's pallet leaves without its gate being opened",
        "planning/money/steps.py",
        "return 2.0 * lift_s + gate_release_s + pitch_m / belt_speed_m_s",
        "return 2.0 * lift_s + pitch_m / belt_speed_m_s",
        (f"{BASELINE}::test_exchange_of_the_baseline_by_hand",),
        long=True,
    ),
    Fault(
        "what costs more and saves nothing has paid for itself at once",
        "planning/money/costs.py",
        "return extra / saved_per_year if saved_per_year > 0.0 else math.inf",
        "return extra / saved_per_year if saved_per_year > 0.0 else 0.0",
        (f"{BASELINE}::test_payback[5.0-0.0-inf]",),
        long=True,
    ),
    Fault(
        "more losses leave the takt as it is",
        "planning/assumed.py",
        "return find_takt(demand).planned_time_s * (1.0 - losses) / demand.good_parts_per_year",
        "return find_takt(demand).planned_time_s * (1.0 - losses + more) / demand.good_parts_per_year",
        (f"{ASSUMED}::test_more_losses_shorten_the_takt_and_the_margin_by_the_closed_form",),
        long=True,
    ),
    Fault(
        "a change report leaves out what has become tight",
        "planning/promises.py",
        "    if before.verdict != after.verdict:",
        '    if before.verdict != after.verdict and after.verdict != "tight":',
        (f"{GAPS}::test_a_verdict_that_changed_is_listed_though_no_figure_moved[tight]",),
    ),
    Fault(
        "page one leaves out the rows that nobody looked at",
        "handover/dossier/answer.py",
        'return tuple(one for one in worst_first(all_findings(material)) if one.verdict != "holds")',
        'return tuple(one for one in worst_first(all_findings(material)) if one.verdict in ("fails", "tight"))',
        (
            f"{GAPS}::test_page_one_has_every_row_that_does_not_hold_also_without_a_run[False]",
            f"{GAPS}::test_page_one_has_every_row_that_does_not_hold_also_without_a_run[True]",
        ),
    ),
    Fault(
        "every station's page tells the force of the first",
        "handover/dossier/places.py",
        "facts += _force_rows(station, material) + _tolerance_rows(station, material)",
        "facts += _force_rows(material.evaluation.line.stations[0], material) + _tolerance_rows(station, material)",
        (f"{GAPS}::test_each_station_has_its_own_force_on_its_page",),
        long=True,
    ),
    Fault(
        "the gap between two bodies is their centre distance",
        "handover/dossier/place_facts.py",
        "clear gap {shown(off_m - layout.body_m, 'm', material)}",
        "clear gap {shown(off_m, 'm', material)}",
        (f"{CHAPTERS}::test_neighbours_stand_with_distance_and_gap",),
        long=True,
    ),
    Fault(
        "a customer reads margins",
        "handover/papers/rows.py",
        "keep = (0, 1, 2, 3, 5)",
        "keep = (0, 1, 2, 3, 4, 5)",
        (f"{GAPS}::test_the_customers_grid_of_findings_has_no_margin_anywhere",),
    ),
    Fault(
        "the workbook's takt forgets the losses",
        "handover/workbook/planned.py",
        '"={planned}*(1-{losses})"',
        '"={planned}"',
        (f"{GAPS}::test_every_formula_comes_to_what_the_file_says_also_without_a_run",),
        long=True,
    ),
    Fault(
        "the total that the workbook shows before it is worked out leaves out the first part",
        "handover/workbook/buying.py",
        'Cell(parts.total, MONEY, "=SUM({price:})")',
        'Cell(parts.total - (parts.rows[0].price or 0.0), MONEY, "=SUM({price:})")',
        (f"{GAPS}::test_every_formula_comes_to_what_the_file_says_also_without_a_run",),
        long=True,
    ),
    Fault(
        "the day on which it is written stands in the workbook",
        "handover/workbook/book.py",
        '"created": _CREATED',
        '"created": datetime.datetime.now()',
        (f"{GAPS}::test_no_clock_is_in_the_workbook",),
        long=True,
    ),
    Fault(
        "dimensions of an inch file are in millimetres",
        "handover/drawing/dxf.py",
        '"dimlfac": 1.0 / INCH_MM if inch else 1.0,',
        '"dimlfac": 1.0,',
        (f"{DRAWING}::test_dimensions_print_what_they_measure_in_the_unit_of_the_line_file[charts/five]",),
        long=True,
    ),
    Fault(
        "the sections of a lane that runs west are drawn from their east ends",
        "handover/drawing/scene.py",
        "west_m = min(lane.travel_to_floor(start_m), lane.travel_to_floor(start_m + length_m))",
        "west_m = lane.travel_to_floor(start_m)",
        (f"{DRAWING}::test_sections_of_a_lane_touch_end_to_end[charts/five]",),
        long=True,
    ),
    Fault(
        "stations are measured from their own lane's west end",
        "handover/drawing/rows.py",
        '        shapes.append(Measure("DIMENSION", (0.0, top), (x, top), at, size, words_at=outside))',
        '        shapes.append(Measure("DIMENSION", (min(places), top), (x, top), at, size, words_at=outside))',
        (f"{GAPS}::test_stations_are_measured_from_the_floors_west_end_where_their_lane_starts_elsewhere",),
        long=True,
    ),
    Fault(
        "carriers are moved in a recovery the farthest upstream first",
        "handover/papers/recovery.py",
        "for i, one in enumerate(order, 1)]\n    half",
        "for i, one in enumerate(reversed(order), 1)]\n    half",
        (f"{GAPS}::test_carriers_are_moved_in_the_order_of_the_record",),
        long=True,
    ),
    Fault(
        "a rejected part farthest downstream is not counted",
        "flow/stop_sheet.py",
        "sum(one.parts for one in left.carriers if one.fate == fate)",
        "sum(one.parts for one in left.carriers[1:] if one.fate == fate)",
        (f"{STOPS}::test_parts_behind_the_exit_are_taken_out_by_hand_and_others_rejected",),
        long=True,
    ),
    Fault(
        "upkeep is due in as many months as it is in weeks",
        "handover/papers/calendar.py",
        'return Repeat("WEEKLY", math.floor(',
        'return Repeat("MONTHLY", math.floor(',
        (f"{SMALL}::test_intervals_are_cut_to_whole_ones_that_are_not_late[28.14-travel-wanted0]",),
        long=True,
    ),
    Fault(
        "the upkeep paper tells a day more than the calendar",
        "handover/papers/upkeep.py",
        "return task.first.isoformat()",
        "return type(task.first).fromordinal(task.first.toordinal() + 1).isoformat()",
        (f"{GAPS}::test_the_upkeep_paper_tells_the_days_of_its_calendar",),
        long=True,
    ),
    Fault(
        "the hazard list ends before its last row",
        "handover/papers/hazards.py",
        "enumerate(limits.safety.hazards.rows(), 1)",
        "enumerate(limits.safety.hazards.rows()[:-1], 1)",
        (f"{SMALL}::test_the_hazard_list_holds_every_hazard_under_every_heading_with_blanks",),
        long=True,
    ),
    Fault(
        "a change report lists changes of prices to a customer",
        "handover/papers/changes.py",
        "shown = [one for one in changed if not (for_customer and _tells_a_price(one))]",
        "shown = list(changed)",
        (f"{SMALL}::test_the_customer_reads_verdicts_and_limits_but_no_prices_values_or_margins",),
        long=True,
    ),
    Fault(
        "a caution is a heading without words",
        "handover/document/pdf.py",
        """f'{{ text(weight: "bold", "CAUTION. "); text({_quoted(text)}) }})'""",
        """f'{{ text(weight: "bold", "CAUTION. ") }})'""",
        ("unit/handover/test_document.py::test_every_word_is_there_and_in_order[pdf]",),
        long=True,
    ),
    Fault(
        "the list of contents holds the hash of a file's name",
        "handover/files.py",
        "listed[name] = hashlib.sha256(data).hexdigest()",
        'listed[name] = hashlib.sha256(name.encode("utf-8")).hexdigest()',
        (f"{GAPS}::test_each_hash_of_the_list_is_that_of_its_own_file",),
        long=True,
    ),
)
