"""The planted faults: one line of the program each, and the tests that catch it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Fault:
    """One wrong line.

    Parameters
    ----------
    name : what is wrong, in words
    file : in the package
    line : what stands there, once in the file
    becomes : what stands there instead
    caught_by : the tests that catch it, each of which passes without the fault and fails with it
    long : its tests take long without the compiler, so it is planted with the long tests
    """

    name: str
    file: str
    line: str
    becomes: str
    caught_by: tuple[str, ...]
    long: bool = False


def agreed(*cases: int) -> tuple[str, ...]:
    """The kernel on these agreed cases."""
    return tuple(f"agree/test_kernel.py::test_kernel_reproduces_the_agreed_cases[case{case}]" for case in cases)


def all_states(*rows: str) -> tuple[str, ...]:
    """The prover against all states of small plans, these rows of them."""
    return tuple(f"agree/test_gridlock.py::test_the_prover_says_what_all_states_say[{row}]" for row in rows)


CAUSES: Final = "agree/test_kernel_causes.py"
FLOW: Final = "property/test_flow_laws.py"
LOOP: Final = "unit/flow/test_general_loop.py"
LAWS: Final = "reference/test_laws.py"
REFEREE: Final = "unit/traffic/test_referee.py"
WHOLE_LANES: Final = "agree/test_whole_lanes.py"
STOPPING: Final = "unit/flow/test_stopping.py"
RESERVATIONS: Final = "unit/traffic/test_gridlock_reservations.py"
RING: Final = "unit/traffic/test_gridlock_ring.py"
PROVER: Final = "traffic/gridlock/"

FAULTS: Final = (
    Fault(
        "the reaction to the leader's commitment is 60 ms short in the kernel alone",
        "flow/kernel/state.py",
        "follow_us=plan.follow_us,",
        "follow_us=plan.follow_us - 60_000,",
        agreed(101, 119),
    ),
    Fault(
        "a follower need not mind its leader's last departure",
        "traffic/rules.py",
        "time = max(time, leader_departure + delay_us)",
        "time = max(time, commitment)",
        (f"{FLOW}::test_a_follower_minds_its_leaders_last_departure[30-ms]",),
    ),
    Fault(
        "a carrier may reserve the stop that its leader has reserved",
        "traffic/rules.py",
        "return ahead - 1 if ahead > 0 else ahead - 1 + stops",
        "return ahead if ahead > 0 else ahead - 1 + stops",
        agreed(101, 119),
        long=True,
    ),
    Fault(
        "a transfer is home before it has ridden back and locked",
        "flow/kernel/release.py",
        'tables.rear_us[load, transfer, reach - 1] + tables.transfer[transfer]["home_us"]',
        "tables.rear_us[load, transfer, reach - 1]",
        agreed(101, 119),
        long=True,
    ),
    Fault(
        "of several asks in one microsecond the farthest upstream comes first",
        "flow/kernel/events.py",
        "| (LAST_RANK - rank)",
        "| rank",
        agreed(109),
        long=True,
    ),
    Fault(
        "of several free stations of a step a carrier goes to the nearest",
        "traffic/rules.py",
        "if best < ahead <= free:",
        "if ahead <= free and (best == 0 or ahead < best):",
        agreed(109, 129),
        long=True,
    ),
    Fault(
        "the tool is ready again without having prepared",
        "flow/kernel/station.py",
        'here["tool_ready"] = cleared + tool["prepare_us"]',
        'here["tool_ready"] = cleared',
        agreed(101, 119),
        long=True,
    ),
    Fault(
        "flagged parts are worked at the later steps too",
        "flow/kernel/station.py",
        'following = step["next_flagged"] if flagged else step["next_good"]',
        'following = step["next_good"]',
        agreed(109, 117, 137),
        long=True,
    ),
    Fault(
        "a failure due exactly as work ends comes in this work",
        "flow/kernel/clock.py",
        "return of == OF_CLOCK if due < 0 else",
        "return True if due < 0 else",
        (f"{CAUSES}::test_jams_come_between_failures_of_clock_and_of_running",),
        long=True,
    ),
    Fault(
        "time in the state work is not clipped at the horizon",
        "flow/kernel/clock.py",
        "state_us[station, kind] += min(end, horizon) - begin",
        "state_us[station, kind] += end - begin",
        (f"{FLOW}::test_the_warm_up_is_left_out_of_rate_and_shares",),
        long=True,
    ),
    Fault(
        "a failure before the work's end is overlooked until the next work",
        "flow/kernel/station.py",
        'if state.failure[f]["left"] < work:',
        'if state.failure[f]["left"] < 0:',
        (f"{FLOW}::test_a_failure_due_as_work_ends_comes_at_the_start_of_the_next",),
        long=True,
    ),
    Fault(
        "a station is not down while a clock failure finds it idle",
        "flow/kernel/clock.py",
        'here["up"] = repair_failure(counts, comings, kinds, laws, due, now, horizon)',
        "repair_failure(counts, comings, kinds, laws, due, now, horizon)",
        (f"{CAUSES}::test_failures_of_clock",),
        long=True,
    ),
    Fault(
        "every work counts twice towards a jam",
        "flow/kernel/clock.py",
        'comings[f]["left"] -= 1',
        'comings[f]["left"] -= 2',
        (f"{CAUSES}::test_a_jam_counts_works_from_the_end_of_its_repair",),
        long=True,
    ),
    Fault(
        "settling and start handshake change places in the chain of causes",
        "flow/kernel/marks.py",
        "C_START: Final = 6\nC_SETTLING: Final = 7\n",
        "C_START: Final = 7\nC_SETTLING: Final = 6\n",
        (f"{CAUSES}::test_one_carrier_alone_is_all_its_own_cause",),
        long=True,
    ),
    Fault(
        "work that starts as tool and carrier are ready at once is put down to the tool",
        "flow/kernel/station.py",
        'waits_for = settled_by if settled >= here["tool_ready"]',
        'waits_for = settled_by if settled > here["tool_ready"]',
        (f"{CAUSES}::test_tie_of_tool_and_carrier_goes_to_the_carrier",),
        long=True,
    ),
    Fault(
        "the window of the causes begins with the last good part of the warm-up",
        "flow/causes.py",
        "int(one.totals.first_us[bins:].min())",
        "int(one.totals.first_us[max(bins - 1, 0) :].min())",
        (f"{CAUSES}::test_the_window_begins_with_the_first_good_part_after_the_warm_up",),
        long=True,
    ),
    Fault(
        "parallel stations draw their own luck",
        "flow/kernel/draws.py",
        "steps = tuple(plan.step_names[step] for step in plan.station_step)",
        "steps = plan.station_names",
        (f"{LAWS}::test_a_part_has_the_same_luck_at_parallel_stations_alone",),
        long=True,
    ),
    Fault(
        "all replications have the same luck",
        "flow/kernel/draws.py",
        "for part in (replication, word, purpose):",
        "for part in (word, purpose):",
        (f"{LAWS}::test_replications_have_their_own_luck",),
        long=True,
    ),
    Fault(
        "drawn times are rounded down",
        "flow/kernel/draws.py",
        "return np.int64(ceil(x))",
        "return np.int64(x)",
        (f"{LAWS}::test_every_draw_is_rounded_up_to_a_microsecond",),
        long=True,
    ),
    Fault(
        "the mean of a lognormal law is taken for its median",
        "traffic/laws.py",
        "math.log(mean_us) - variance / 2",
        "math.log(mean_us)",
        (f"{LAWS}::test_lognormal_parameters_of_mean_and_cv",),
        long=True,
    ),
    Fault(
        "the stations' shares still hold the warm-up",
        "flow/run.py",
        "early = replicate(plan, seed, runs, cut_us, bin_us, workers) if cut_us else []",
        "early: list[Replication] = []",
        (f"{FLOW}::test_the_warm_up_is_left_out_of_rate_and_shares",),
        long=True,
    ),
    Fault(
        "a move minds no jerk limit",
        "motion/profile.py",
        "    jerk = limits.jerk_m_s3\n",
        "    jerk = math.inf\n",
        ("reference/test_motion.py::test_what_a_jerk_limit_costs",),
    ),
    Fault(
        "the interval uses the normal quantile",
        "flow/statistics.py",
        "stdtrit(len(x) - 1, 0.5 + 0.5 * confidence)",
        "stdtrit(1e12, 0.5 + 0.5 * confidence)",
        ("reference/test_output_analysis.py::test_student_quantiles",),
    ),
    Fault(
        "an operator is where he is called at once",
        "flow/kernel/general/gates.py",
        "        if best_us == 0:\n",
        "        if best_us >= 0:\n",
        (f"{LOOP}::test_an_operator_walks_to_the_station_before_work",),
        long=True,
    ),
    Fault(
        "work starts in a break",
        "flow/kernel/general/gates.py",
        '        if here["in_break"] > 0:\n            return np.int64(BREAK)\n',
        '        if here["in_break"] > 9:\n            return np.int64(BREAK)\n',
        (f"{LOOP}::test_no_work_starts_in_a_break",),
        long=True,
    ),
    Fault(
        "a feed gives a part that it has not made",
        "flow/kernel/general/gates.py",
        's.outside[feed]["buffer"] < parts',
        's.outside[feed]["buffer"] < parts - 1',
        (f"{LOOP}::test_a_feed_gives_no_more_parts_than_it_makes",),
        long=True,
    ),
    Fault(
        "there is no changeover",
        "flow/kernel/general/gates.py",
        'here["last_variant"] < 0 or here["last_variant"] == variant',
        'here["last_variant"] < 0 or here["last_variant"] != variant',
        (f"{LOOP}::test_a_changeover_takes_its_time_between_two_variants",),
        long=True,
    ),
    Fault(
        "a closed stretch is no end of the way",
        "traffic/rules.py",
        "shut = shut or (stops[here, STOP_STRETCHES] & closed) != 0",
        "shut = shut or closed < 0",
        (
            "unit/flow/test_general_rules.py::test_a_closed_stretch_ends_the_way_but_hides_neither_leader_nor_place_aboard",
        ),
    ),
    Fault(
        "a part is reworked once more than it may be",
        "flow/kernel/general/parts.py",
        'if me["visit"] < t.rework[rework]["at_most"]:',
        'if me["visit"] <= t.rework[rework]["at_most"]:',
        (f"{LOOP}::test_a_part_is_reworked_so_often_at_most",),
        long=True,
    ),
    Fault(
        "a stretch does not count the places aboard",
        "flow/kernel/general/tables.py",
        "table[list(stretch.stops), 5] |= 1 << bit",
        "table[[stop for stop in stretch.stops if plan.stop_kind[stop] != ABOARD], 5] |= 1 << bit",
        (f"{WHOLE_LANES}::test_the_third_waits_before_the_transfer_of_a_full_spur[2-expected0-4500]",),
        long=True,
    ),
    Fault(
        "a platform is called by one that may not board it",
        "flow/kernel/general/platforms.py",
        "if here >= 0 and (t.stops[here, STOP_STRETCHES] & closed) != 0:",
        "if here >= 0 and closed < 0:",
        (f"{WHOLE_LANES}::test_who_may_not_board_calls_no_platform[True-expected0-2500]",),
        long=True,
    ),
    Fault(
        "a stop flags no unverified part",
        "flow/stopping.py",
        "            flagged.append(here)\n",
        "            flagged.append(one.flagged)\n",
        (f"{STOPPING}::test_a_part_in_interrupted_work_is_flagged_for_the_next_exit",),
        long=True,
    ),
    Fault(
        "a carrier about to leave loses the stop that it had reserved",
        "flow/stopping.py",
        "                stop=stop,\n",
        "                stop=left if waits else stop,\n",
        (f"{STOPPING}::test_a_carrier_about_to_leave_goes_to_the_stop_that_it_has_reserved",),
        long=True,
    ),
    Fault(
        "the referee's run: the reaction to the leader's commitment is 60 ms short",
        "flow/kernel/state.py",
        "follow_us=plan.follow_us,",
        "follow_us=plan.follow_us - 60_000,",
        (f"{REFEREE}::test_a_small_run_is_clean[reaction]",),
        long=True,
    ),
    Fault(
        "the referee's run: a carrier may reserve the stop that its leader has reserved",
        "traffic/rules.py",
        "return ahead - 1 if ahead > 0 else ahead - 1 + stops",
        "return ahead if ahead > 0 else ahead - 1 + stops",
        (f"{REFEREE}::test_a_small_run_is_clean[stop]",),
        long=True,
    ),
    Fault(
        "the referee's run: a transfer is home before it has ridden back and locked",
        "flow/kernel/release.py",
        'tables.rear_us[load, transfer, reach - 1] + tables.transfer[transfer]["home_us"]',
        "tables.rear_us[load, transfer, reach - 1]",
        (f"{REFEREE}::test_a_small_run_is_clean[transfer]",),
        long=True,
    ),
    Fault(
        "the referee's run: a follower need not mind its leader's last departure",
        "traffic/rules.py",
        "time = max(time, leader_departure + delay_us)",
        "time = max(time, commitment)",
        (f"{REFEREE}::test_a_small_run_is_clean[gap]",),
        long=True,
    ),
    Fault(
        "the plan's moves are a hundredth quicker than their limits allow",
        "traffic/legs.py",
        "        move_us[(one.load, *at)] = to_microseconds(move.duration_s)\n",
        "        move_us[(one.load, *at)] = to_microseconds(0.99 * move.duration_s)\n",
        (f"{REFEREE}::test_a_small_run_is_clean[log]",),
        long=True,
    ),
    Fault(
        "as many carriers as the least ring has are too few for it after a stop",
        PROVER + "decide.py",
        "if ring is None or ring.carriers > self.most_carriers:",
        "if ring is None or ring.carriers >= self.most_carriers:",
        all_states("loop-5-1", "track-5-1"),
    ),
    Fault(
        "as many carriers as the least ring has are too few for it from the planned start",
        PROVER + "decide.py",
        "ring is None or ring.carriers > self.most_carriers for ring in",
        "ring is None or ring.carriers >= self.most_carriers for ring in",
        all_states("track-5-1"),
        long=True,
    ),
    Fault(
        "the prover lets everybody load at the gate of run-out",
        PROVER + "system.py",
        "return any(self._carries_other(number, variant) for number in state.posts)",
        "return False",
        all_states("feature-260-1"),
        long=True,
    ),
    Fault(
        "nobody at the gate of run-out is in a ring",
        PROVER + "ring.py",
        "return Node(stop, variant, True) if self.run_out and errand.is_empty and errand.step == 0 else None",
        "return None",
        all_states("feature-260-1"),
        long=True,
    ),
    Fault(
        "who was worked on and comes again is still in work",
        PROVER + "system.py",
        "number = self.number(Post(after, worked=after.step == self._step_at[stop]))",
        "number = self.number(Post(after))",
        all_states("track-5-1", "two-way-4-1"),
        long=True,
    ),
    Fault(
        "who was worked on and comes again is in no ring",
        PROVER + "ring.py",
        "*(Post(one, worked=one.step == step) for one in after))",
        "*(Post(one) for one in after))",
        all_states("track-5-1"),
        long=True,
    ),
    Fault(
        "a platform that is away with another is boarded",
        PROVER + "system.py",
        "away = transfer >= 0 and bool(state.away >> transfer & 1)",
        "away = False",
        (
            f"{RESERVATIONS}::test_nobody_boards_a_platform_that_has_unlocked_with_another",
            f"{RING}::test_a_platform_that_is_away_with_another_holds_who_is_at_the_dock",
        ),
        long=True,
    ),
    Fault(
        "a platform of one place is always at the dock from which a carrier comes",
        PROVER + "system.py",
        "targets += [target for target in short[-1:] if target != found[-1]]",
        "pass",
        (f"{RESERVATIONS}::test_a_platform_of_one_place_may_be_away_or_not",),
        long=True,
    ),
    Fault(
        "a platform that is away with another is in no ring",
        PROVER + "ring.py",
        "            if away != first:",
        "            if away == first:",
        (f"{RING}::test_a_platform_that_is_away_with_another_holds_who_is_at_the_dock",),
        long=True,
    ),
    Fault(
        "a stretch takes one more than it admits",
        PROVER + "system.py",
        "found |= (here >= stretch.most) << number",
        "found |= (here > stretch.most) << number",
        all_states("feature-260-1"),
        long=True,
    ),
    Fault(
        "a ring holds one more in a full stretch than it admits",
        PROVER + "ring.py",
        'add(other, self._most[number], "stretch", number)',
        'add(other, self._most[number] + 1, "stretch", number)',
        all_states("feature-260-1"),
        long=True,
    ),
    Fault(
        "a two-way lane turns under those who hold it",
        PROVER + "system.py",
        "        return direction == state.direction or not any(",
        "        return True or not any(",
        all_states("two-way-4-1"),
        long=True,
    ),
    Fault(
        "a carrier heads for the nearest station of its step alone",
        PROVER + "reservations.py",
        "return (*order, nearest)",
        "return (nearest, nearest)",
        all_states("track-5-1", "two-way-4-1"),
        long=True,
    ),
    Fault(
        "alone on the line a carrier comes to the farthest stops alone",
        PROVER + "ring.py",
        "found += [(option.target, Post(errand)) for option in dict.fromkeys(options)]",
        "found += [(option.target, Post(errand)) for option in reservations.options(asking)[-1:]]",
        all_states("ring-5-1"),
        long=True,
    ),
    Fault(
        "a part that was reworked often enough goes on",
        PROVER + "errands.py",
        "found[False, True, False] = None",
        "found[True, False, False] = None",
        all_states("ring-5-1"),
        long=True,
    ),
    Fault(
        "a force to the left presses the blocks on the right",
        "checks/strength/statics.py",
        "- _ACROSS * moment[0] / (2 * gauge_m)",
        "+ _ACROSS * moment[0] / (2 * gauge_m)",
        ("reference/test_guides.py::test_the_figure_of_a_record[four_block_3]",),
    ),
    Fault(
        "guides live by the square of the load",
        "checks/strength/ratings.py",
        "(load_factor * load_N)) ** 3 * rating_travel_m",
        "(load_factor * load_N)) ** 2 * rating_travel_m",
        ("reference/test_guides.py::test_the_figure_of_a_record[L10_3]",),
    ),
    Fault(
        "the stated force of a tool counts and not its greatest",
        "checks/strength/tools.py",
        "size = np.array([force.size_N if force.greatest_N is None else force.greatest_N for force in forces])",
        "size = np.array([force.size_N for force in forces])",
        ("unit/checks/test_strength_check.py::test_the_greatest_force_counts_and_not_the_stated_one",),
    ),
    Fault(
        "biases are added as squares",
        "checks/accuracy/budget.py",
        "rss_m = abs(now.bias_m) + coverage * now.sigma_m",
        "rss_m = math.hypot(now.bias_m, coverage * now.sigma_m)",
        ("unit/checks/test_accuracy_formulas.py::test_biases_are_added_as_they_are",),
    ),
    Fault(
        "current goes out and does not come back",
        "checks/power/conductors.py",
        "return 2.0 * length_m * ohm_per_m * current_A",
        "return length_m * ohm_per_m * current_A",
        ("reference/test_electrical.py::test_voltage_drop_of_a_textbook",),
    ),
    Fault(
        "capacitors hold twice what they do",
        "checks/power/storage.py",
        "return math.sqrt(start_V * start_V + 2.0 * energy_J / capacitance_F)",
        "return math.sqrt(start_V * start_V + energy_J / capacitance_F)",
        ("reference/test_electrical.py::test_regeneration[regen_1]",),
    ),
    Fault(
        "a hand beyond 500 mm is not reckoned anew",
        "checks/safety/distances.py",
        "if near_m <= NEAR_M + _SAME_M:",
        "if near_m <= NEAR_M + 10.0:",
        ("reference/test_safety.py::test_light_curtain[iso13855_sick]",),
    ),
    Fault(
        "the fastest carrier takes longest to its end stop",
        "motion/coasting.py",
        "time_s = math.sqrt(2.0 * way_m * mass_kg / drag_N)",
        "time_s = 2.0 * way_m / speed_m_s",
        ("unit/motion/test_coasting.py::test_longest_is_the_greatest_over_all_speeds",),
    ),
    Fault(
        "a winding warms twice as fast as its time constant says",
        "motion/heat.py",
        "kept = np.exp(-lengths / thermal_time_s)",
        "kept = np.exp(-2.0 * lengths / thermal_time_s)",
        ("unit/motion/test_heat.py::test_warming_settles_at_the_heat_and_never_overshoots",),
    ),
    Fault(
        "nothing is missed between bus and program",
        "checks/bus/timing.py",
        "math.fsum((sensor_s, filter_s, bus_s, scan_s, output_s, bus_s, scan_s)))",
        "math.fsum((sensor_s, filter_s, bus_s, scan_s, output_s)))",
        ("reference/test_networks.py::test_reaction",),
    ),
    Fault(
        "a solved figure is rounded to the side that fails",
        "remedies.py",
        "nearest = math.ceil(whole) if value > since else math.floor(whole)",
        "nearest = math.floor(whole) if value > since else math.ceil(whole)",
        ("unit/test_remedies.py::test_rounding_never_goes_back_towards_where_it_fails",),
    ),
    Fault(
        "a row of safety that nobody looked at does not count",
        "handover/subjects.py",
        'MUST_BE_CHECKED: Final = ("strength", "power", "safety")',
        'MUST_BE_CHECKED: Final = ("strength", "power")',
        ("e2e/test_cli.py::test_exit_code_of_a_finding[safety-not checked-1]",),
    ),
)
