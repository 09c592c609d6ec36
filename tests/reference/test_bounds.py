"""Closed forms against data/queueing.json, factory_physics.json and serial_lines.json, at the precision printed there.

A printed value is held to half its last digit or to the tolerance of its record; what was computed for the record is
held to the digits it is given with.

Two tables of the book check nothing that the program computes and are left out: the steps of its table 7.4, whose times
only add up (to 34.0 where it prints 33.9), and the C(6, 3) = 20 states of three jobs at four stations, table 7.3.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from linewright.flow import bounds

DATA: Final = Path(__file__).parent / "data"
RECORDS: Final[dict[str, dict[str, Any]]] = {
    record["id"]: record
    for name in ("queueing", "factory_physics", "serial_lines")
    for record in json.loads((DATA / f"{name}.json").read_text("utf-8"))
}
COMPUTED: Final = 2e-9


def record(name: str) -> tuple[dict[str, Any], dict[str, Any], float]:
    """Inputs, expected values and tolerance of a record; its source and how it was had must be stated."""
    found = RECORDS[name]
    assert found["source"]
    assert found["access"]
    return found["inputs"], found["expected"], found.get("tol", COMPUTED)


def check(values: object, expected: object, tol: float) -> None:
    np.testing.assert_allclose(np.asarray(values, float), np.asarray(expected, float), rtol=0.0, atol=tol)


def check_queue(found: bounds.Queue, expected: dict[str, float], tol: float) -> None:
    names = {
        "rho": found.utilisation, "L": found.jobs, "Lq": found.waiting_jobs, "W": found.response_s,
        "Wq": found.waiting_s, "p0": found.empty_chance, "lam_eff": found.through_per_s,
    }  # fmt: skip
    compared = [name for name in expected if name in names]
    assert compared
    for name in compared:
        assert names[name] == pytest.approx(expected[name], rel=0.0, abs=tol * max(1.0, abs(expected[name]))), name


# ---- open queues -----------------------------------------------------------------------------------------------------


def test_mm1_md1_and_mg1() -> None:
    given, expected, tol = record("mm1_basic")
    check_queue(bounds.single_server_queue(given["lam"], 1.0 / given["mu"], 1.0), expected, tol)
    given, expected, tol = record("md1")
    check_queue(bounds.single_server_queue(given["lam"], given["service"], given["scv"]), expected, tol)
    given, expected, tol = record("mg1_scv")
    waits = [bounds.single_server_queue(given["lam"], given["service"], c).waiting_s for c in given["scv"]]
    check(waits, expected["Wq"], tol)


def test_mm2() -> None:
    given, expected, tol = record("mm2_lam9_mu5")
    found = bounds.many_server_queue(given["lam"], 1.0 / given["mu"], given["c"])
    check_queue(found, {"Lq": expected["Lq"], "W": expected["W"]}, tol)
    check_queue(found, expected["exact"], COMPUTED)
    assert bounds.erlang_c(given["c"], given["lam"] / given["mu"]) == pytest.approx(expected["exact"]["C"], abs=1e-10)


def test_erlang_tables() -> None:
    given, expected, tol = record("erlang_c_table")
    check([bounds.erlang_c(m, a) for m, a in given["pairs"]], expected["C"], tol)
    check([bounds.erlang_b(m, a) for m, a in given["pairs"]], expected["B"], tol)


def test_queue_with_room_for_seven() -> None:
    given, expected, tol = record("mm3_7")
    found = bounds.limited_queue(given["lam"], 1.0 / given["mu"], given["c"], given["K"])
    check_queue(found, {"p0": expected["p0"], "W": expected["W"]}, tol)
    check_queue(found, expected["exact"], COMPUTED)
    assert 1.0 - found.through_per_s / given["lam"] == pytest.approx(expected["exact"]["pK"], abs=1e-11)


def test_vut_wait() -> None:
    given, expected, _ = record("vut_hare")
    exact = bounds.vut_wait(given["ca2"], given["ce2"], given["u"], given["te_min"])
    assert exact == pytest.approx(expected["formula"], abs=1e-6)
    # The printed wait belongs to the utilisation before it was rounded, 23/24.
    printed = bounds.vut_wait(given["ca2"], given["ce2"], 23.0 / 24.0, given["te_min"])
    assert printed == pytest.approx(expected["CTq_min"], abs=0.05)
    assert printed / 60.0 == pytest.approx(expected["CTq_h"], abs=0.005)


def test_open_networks() -> None:
    given, expected, tol = record("bolch_open_7_4")
    found = bounds.open_network(given["lam_ext"], given["S"], given["P"])
    check(found.through_per_s, expected["X"], tol)
    check(found.utilisation, expected["U"], tol)
    check(found.response_s, expected["R"], tol)
    check(found.jobs, expected["Q"], tol)
    given, expected, tol = record("bolch_open_34_1")
    found = bounds.open_network([given["lam"] * v for v in given["V"]], given["S"])
    check(found.utilisation, expected["U"], tol)
    check(found.response_s, expected["R"], tol)
    check(found.response_s, expected["R_exact"], COMPUTED)


def test_outages_in_a_process_time() -> None:
    given, expected, tol = record("preemptive_outages")
    for machine, exact in zip(("hare", "tortoise"), expected["exact"], strict=True):
        times = given[machine]
        found = bounds.interrupted_time(given["t0_min"], given["c0_sq"], times["mf"], times["mr"], given["cr"])
        assert found.availability == expected["A"]
        assert found.mean_s == expected["te"]
        assert found.squared_cv == pytest.approx(exact, abs=1e-12)
        assert found.squared_cv == pytest.approx(expected[f"ce2_{machine}"], abs=tol)


# ---- closed networks -------------------------------------------------------------------------------------------------


def check_closed(found: bounds.ClosedNetwork, visits: Sequence[float], expected: dict[str, Any], tol: float) -> None:
    names = {
        "R": found.response_s, "Q": found.queue, "U": found.utilisation, "Rtot": found.round_s,
        "Xk": found.rate_per_s * np.asarray(visits),
    }  # fmt: skip
    if isinstance(expected.get("X"), float):
        names["X"] = found.rate_per_s
    compared = [name for name in expected if name in names]
    assert compared
    for name in compared:
        np.testing.assert_allclose(names[name], expected[name], rtol=tol, atol=tol, err_msg=name)


@pytest.mark.parametrize("name", ["bolch_8_1", "bolch_8_3", "jain_closed_think"])
def test_mean_value_analysis(name: str) -> None:
    given, expected, tol = record(name)
    found = bounds.mean_value_analysis(given["S"], given["N"], given["V"], given.get("m"), given.get("Z", 0.0))
    check_closed(found, given["V"], expected["exact"], COMPUTED)
    printed = {key: expected[key] for key in ("R", "Q", "U") if key in expected}
    printed |= {"Xk": expected["X"]} if "X" in expected else {}
    check_closed(found, given["V"], printed, tol)


@pytest.mark.parametrize(("name", "constants", "tol"), [("bolch_8_1", "G", 1e-3), ("bolch_8_3", "buzen_G", 1e-9)])
def test_normalising_constants(name: str, constants: str, tol: float) -> None:
    """G(n) = 1 / (X(1) … X(n)): the published constants, put together from the rates with one to n carriers."""
    given, expected, _ = record(name)
    rates = [
        bounds.mean_value_analysis(given["S"], n, given["V"], given.get("m")).rate_per_s
        for n in range(1, given["N"] + 1)
    ]
    np.testing.assert_allclose([1.0, *(1.0 / np.cumprod(rates))], expected[constants], rtol=tol)


def test_bounds_of_a_closed_network() -> None:
    given, expected, tol = record("bounds_D4")
    exact = dict(expected["exact_mva"])
    for (carriers, asymptotic), (_, balanced) in zip(expected["asymptotic"], expected["balanced_job"], strict=True):
        wide = bounds.asymptotic_bounds(given["D"], carriers, given["Z"])
        close = bounds.balanced_job_bounds(given["D"], carriers, given["Z"])
        rate = bounds.mean_value_analysis(given["D"], carriers, think_s=given["Z"]).rate_per_s
        check([wide.low_per_s, wide.high_per_s], [asymptotic["Xl"], asymptotic["Xu"]], 1e-8)
        check([close.low_per_s, close.high_per_s], [balanced["Xl"], balanced["Xu"]], 1e-8)
        assert rate == pytest.approx(exact[carriers], abs=1e-8)
        assert wide.low_per_s <= close.low_per_s <= rate <= close.high_per_s <= wide.high_per_s
    # The bounds that are printed in the paper are others; the exact rate lies between them.
    for printed in ("geometric_bounds_N_lo_hi", "proportional_bounds"):
        for carriers, low, high in expected[printed]:
            rate = bounds.mean_value_analysis(given["D"], carriers).rate_per_s
            assert low - tol <= rate <= high + tol, (printed, carriers)


def test_exponential_pallet_loops() -> None:
    given, expected, tol = record("pallet_loop_exponential")
    means = [1.0 / given["mu"]] * given["N_stations"]
    rates = [bounds.mean_value_analysis(means, n).rate_per_s for n in given["pallets"]]
    check(rates, expected["TH"], max(tol, 1e-10))
    unbalanced = expected["unbalanced"]
    rates = [bounds.mean_value_analysis(unbalanced["D"], n).rate_per_s for n, _ in unbalanced["TH"]]
    check(rates, [rate for _, rate in unbalanced["TH"]], 1e-10)


def test_blocked_carriers_that_stay() -> None:
    given, expected, tol = record("akyildiz_blocking_mva")
    assert "transfer blocking" in given["note"]
    cycle = [[0, 1, 0], [0, 0, 1], [1, 0, 0]]
    for case in expected["cases"]:
        found = bounds.blocking_mva(case["S"], case.get("P", cycle), case["M"], case["K"])
        check(found.response_s, case["R"], case.get("tol", tol))
        assert found.queue.sum() == pytest.approx(case["K"])


def test_blocked_carriers_that_retry() -> None:
    given, expected, tol = record("pallet_loop_unit_stops_tasep")
    flows = [bounds.unit_stop_ring(n, k, given["rate"]) for n, k in zip(given["N_stops"], given["K"], strict=True)]
    check(flows, expected["J"], max(tol, 1e-10))


# ---- laws of a line with a given number of jobs ----------------------------------------------------------------------


def test_penny_fab_one() -> None:
    given, expected, tol = record("penny_fab_one_best")
    line = bounds.line_character(given["process_h"], given["machines"])
    found = [line.bottleneck_per_s, line.raw_time_s, line.critical_jobs]
    check(found, [expected[key] for key in ("rb", "T0", "W0")], tol)
    for row in expected["table"]:
        best = bounds.best_case(line.bottleneck_per_s, line.raw_time_s, row["w"])
        check([best.time_s, best.rate_per_s], [row["CT"], row["TH"]], tol)
    given, expected, tol = record("penny_fab_one_worst")
    worst = bounds.worst_case(given["T0"], given["w"])
    check([worst.time_s, worst.rate_per_s], [expected["CT"], expected["TH"]], tol)
    given, expected, tol = record("penny_fab_one_pwc")
    states = [bounds.practical_worst_case(given["rb"], given["T0"], w) for w in given["w"]]
    check([state.time_s for state in states], expected["CT"], tol)
    check([state.rate_per_s for state in states], expected["TH"], max(tol, 1e-10))
    for state, jobs in zip(states, given["w"], strict=True):
        exact = bounds.mean_value_analysis([2.0] * 4, jobs).rate_per_s
        assert state.rate_per_s == pytest.approx(exact, rel=1e-12)


def test_penny_fab_two() -> None:
    given, expected, tol = record("penny_fab_two")
    line = bounds.line_character(given["process_h"], given["machines"])
    found = [line.bottleneck_per_s, line.raw_time_s, line.critical_jobs]
    check(found, [expected[key] for key in ("rb", "T0", "W0")], tol)
    for number, time_h in enumerate(given["process_h"]):
        alone = bounds.line_character([time_h], [given["machines"][number]]).bottleneck_per_s
        assert alone == pytest.approx(expected["capacity"][number], abs=1e-10)
        if (name := f"st{number + 1}") in expected["util_at_rb"]:
            assert line.bottleneck_per_s / alone == pytest.approx(expected["util_at_rb"][name], abs=1e-10)
            assert line.bottleneck_per_s * time_h == pytest.approx(expected["wip_at_rb"][name], abs=1e-10)


def test_practical_worst_case_of_a_real_line() -> None:
    """The book's critical number of jobs, 3,869, is a slip for 114 · 33.9 = 3,864.6; its rate holds with either."""
    given, expected, tol = record("hal_case")
    rate = bounds.practical_worst_case(given["rb"], given["T0"], given["w"]).rate_per_s
    assert rate == pytest.approx(expected["TH_pwc"], abs=0.5 * tol)
    assert expected["actual_TH"] < rate


# ---- serial lines ----------------------------------------------------------------------------------------------------


def test_balanced_lines_without_buffers() -> None:
    given, expected, tol = record("exp_balanced_zero_buffer_K2to5")
    lines = [bounds.exponential_line([1.0 / given["mu"]] * k, [given["buffers"]] * (k - 1)) for k in given["K"]]
    check([line.rate_per_s for line in lines], expected["throughput"], tol)
    check([line.rate_per_s for line in lines], expected["published_4dp"], 0.5e-4)
    assert [line.states for line in lines] == expected["states"]
    fractions = [int(top) / int(low) for top, low in (f.split("/") for f in expected["exact_fractions"])]
    check([line.rate_per_s for line in lines[: len(fractions)]], fractions, 1e-14)


def test_two_stations_with_a_buffer() -> None:
    given, expected, _ = record("exp_two_station_buffer")
    first_s, second_s = (1.0 / mu for mu in given["mu"])
    check([bounds.two_station_rate(first_s, second_s, b) for b in given["B"]], expected["throughput"], 1e-10)
    chains = [bounds.exponential_line([first_s, second_s], [b]).rate_per_s for b in given["B"]]
    check(chains, expected["throughput"], 1e-10)


def test_three_stations_with_buffers() -> None:
    given, expected, tol = record("exp_three_station_buffers")
    means = [1.0 / given["mu"]] * given["K"]
    check([bounds.exponential_line(means, [b, b]).rate_per_s for b in given["B"]], expected["throughput"], tol)


def test_the_bowl() -> None:
    given, expected, _ = record("bowl_K3")
    buffers = [given["B"]] * (given["K"] - 1)

    def rate(middle_s: float) -> float:
        side_s = (given["total_work"] - middle_s) / 2.0
        return bounds.exponential_line([side_s, middle_s, side_s], buffers).rate_per_s

    best = bounds.exponential_line(expected["opt_means"], buffers).rate_per_s
    assert best == pytest.approx(expected["opt_TH"], abs=1e-9)
    assert rate(1.0) == pytest.approx(expected["balanced_TH"], abs=1e-9)
    assert 100.0 * (best / rate(1.0) - 1.0) == pytest.approx(expected["gain_pct"], abs=1e-6)
    # No other split of the work does better: less or more in the middle, or a station unlike the other side.
    middle_s = expected["opt_means"][1]
    assert max(rate(middle_s - 0.01), rate(middle_s + 0.01)) < best
    lopsided = [expected["opt_means"][0] - 0.01, middle_s, expected["opt_means"][2] + 0.01]
    assert bounds.exponential_line(lopsided, buffers).rate_per_s < best


def test_two_machines_with_failures_and_a_buffer() -> None:
    given, expected, tol = record("gershwin_two_machine_deterministic")
    cases = given["cases_r1_p1_r2_p2_N"]
    for (r1, p1, r2, p2, buffer), result in zip(cases, expected["results"], strict=True):
        found = bounds.two_machine_line([p1, p2], [r1, r2], buffer)
        values = [found.efficiency, found.first_efficiency, found.level, found.starved, found.blocked]
        check(values, [result[key] for key in ("E", "E1", "nbar", "p_starve", "p_block")], max(tol, 2e-9))
        assert found.efficiency == pytest.approx(r1 / (r1 + p1) * (1.0 - found.blocked), rel=1e-12)
        assert found.efficiency == pytest.approx(r2 / (r2 + p2) * (1.0 - found.starved), rel=1e-12)


@pytest.mark.parametrize("name", ["unreliable_line_limits", "unreliable_line_limits_b"])
def test_limits_of_unreliable_lines(name: str) -> None:
    given, expected, _ = record(name)
    found = bounds.unreliable_limits(given["p"], given["r"])
    check(found.no_buffer_running, expected["zero_buffer_ODF"], 1e-10)
    check(found.no_buffer_clock, expected["zero_buffer_TDF"], 1e-10)
    check(found.endless_buffers, expected["infinite_buffer"], 1e-10)
