"""The reference model beyond the plain loop: tracks, rules of traffic, carriers that come and go; cases by hand."""

from __future__ import annotations

import dataclasses
from typing import Any, Final

from agree.general_cases import (
    BOTH_330,
    LOAD,
    SCRAP,
    TEST,
    causes,
    good,
    loop,
    luck,
    moves,
    run_ms,
    state,
    works,
)
from agree.reference_general import GeneralRun
from agree.reference_plans import MS, Transfer, WrittenLuck, plan_on
from agree.reference_track import Track
from linewright.traffic.general import (
    CarrierChange,
    General,
    Placement,
    Stretch,
    Variant,
)
from linewright.traffic.plan import TrafficPlan

# ---- transfers with several docks ----


def branch(returns_at_once: bool) -> TrafficPlan:
    """Two tests, each on a lane of its own.

    rank  0 waiting  1 load  2 dock  3 aboard  4 test-1  5 dock  6 aboard  7 test-2  8 dock
    """
    out = Transfer((0,), (1, 2), ((0, 300, 500), (300, 0, 200), (500, 200, 0)), at_once=returns_at_once)
    back = Transfer((1, 2), (0,), ((0, 200, 300), (200, 0, 500), (300, 500, 0)), at_once=returns_at_once)
    return plan_on(["wait load dock", "test-1 dock", "test-2 dock"], [out, back], ["load", "test-1 test-2"], [1, 0])


BRANCH_UNTIL_3700: Final = [
    [0, 560, 1, 3, 980],
    [1, 565, 0, 1, 785],
    [0, 1280, 3, 4, 1500],  # both tests are as near; the lane named first
    [1, 1345, 1, 2, 1565],  # calls the platform, whose rear is clear at 1390 and which is back at 1690
    [1, 1690, 2, 3, 1910],
    [1, 2410, 3, 7, 2630],  # test-1 is not free: 500 to the other lane
    [0, 2560, 4, 6, 2980],
    [0, 3280, 6, 1, 3700],  # rear clear at 3390
    [1, 3690, 7, 8, 3910],  # ready at 3690, calls the dock of its lane
]


def test_a_platform_with_several_docks_returns_at_once() -> None:
    # At 3390 nobody calls: home, locked at 3690, where the call sends it on, 200. Its lock at 3890 is before 3910.
    result = run_ms(branch(True), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 4200)
    assert moves(result) == [*BRANCH_UNTIL_3700, [1, 3910, 8, 6, 4130]]


def test_a_platform_that_stays_until_it_is_called() -> None:
    # At 3390 it stays at the first lane's dock; called at 3690 it rides 500.
    result = run_ms(branch(False), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 4200)
    assert moves(result) == [*BRANCH_UNTIL_3700, [1, 4190, 8, 6, 4410]]
    # Good parts at 2540 and, again at test-1, at 6540. Back from there: work to 5540; settled; 3 to 4 from 5280; the
    # ride from 4980; aboard from 4760, where the platform locked. It had been called at 4260 by the carrier that left
    # load then: its work from 3740; settled; 6 to 1 from 3280; the ride from 2980; 4 to 6 from 2560.
    later = run_ms(branch(False), WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 6600)
    assert causes(later, 6600) == {
        ("work", "test-1"): 1000,
        ("start handshake", "test-1"): 10,
        ("settling", "test-1"): 30,
        ("travel", "test-1"): 220,
        ("transfer", "transfer 0"): 300 + 500,
        ("exchange move", "transfer 0"): 220,
        ("done handshake", "load"): 20,
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("travel", "load"): 420,
        ("transfer", "transfer 1"): 300,
        ("travel", "transfer 1"): 420,
        ("done handshake", "test-1"): 20,
    }


def test_a_way_ends_at_its_own_stop_and_at_one_that_it_has_passed() -> None:
    track = Track(branch(True))
    assert track.path(3, 7, 4) == ((4, 5, 6, 0, 1, 2), True)
    assert track.path(8, 0, None) == ((6, 0, 1, 2, 3, 4, 5), False)


def test_the_stop_on_which_a_carrier_stands_is_not_free() -> None:
    # rank  0, 1 waiting  2 a  3 dock  4 aboard  5 waiting  6 b  7 dock. From a, itself is 5 stops away, b 4. At 560 the
    # one on b leaves for its dock and the one on 5 reserves b. The one on a is ready at 562: no station is free, the
    # nearest is b, whose carrier leads it: 560 and the reaction.
    between = ((0, 300, 0, 300), (300, 0, 300, 0), (0, 300, 0, 300), (300, 0, 300, 0))
    both_ways = Transfer((0, 1), (0, 1), between)
    plan = plan_on(["wait wait a dock", "wait b dock"], [both_ways], ["a b"], [2, 6, 5])
    result = run_ms(plan, WrittenLuck([502 * MS, 500 * MS]), 600)
    assert moves(result) == [[1, 560, 6, 7, 780], [0, 565, 2, 3, 785], [2, 565, 5, 6, 785]]


def test_from_aboard_the_next_place_aboard_is_reserved_along_the_shortest_way_alone() -> None:
    # rank  0 pack  1 load  2 dock  3 aboard  4 waiting  5 dock  6 waiting  7 test  8 waiting  9 dock  10 aboard. From 3
    # the nearest is test, over the second lane; 10 is 5 stops away over it and 3 over the first. Locked at 980 + 500,
    # it rests at 9, though the platform behind is there, and goes aboard from there.
    out = Transfer((0,), (1, 2), ((0, 300, 500), (300, 0, 200), (500, 200, 0)))
    back = Transfer((2, 1), (0,), ((0, 300, 200), (300, 0, 500), (200, 500, 0)))
    plan = plan_on(["pack load dock", "wait dock", "wait test wait dock"], [out, back], ["load", "test pack"], [1])
    result = run_ms(plan, WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 4000)
    assert moves(result) == [[0, 560, 1, 3, 980], [0, 1480, 3, 9, 2300], [0, 2300, 9, 10, 2520], [0, 2720, 10, 0, 2940]]
    assert good(result) == [(0, 3980)]


def test_a_station_is_passed_by_for_one_beyond_a_platform() -> None:
    # rank  0 waiting  1 load  2 waiting  3 test-1  4 dock  5 aboard  6 waiting  7 test-2  8 dock  9 aboard. The first
    # passes test-1 and is aboard until 1710; the second, ready at 1345, has that before it.
    transfers = [Transfer((0,), (1,), BOTH_330), Transfer((1,), (0,), BOTH_330)]
    plan = plan_on(["wait load wait test-1 dock", "wait test-2 dock"], transfers, ["load", "test-1 test-2"], [1, 0])
    result = run_ms(plan, WrittenLuck([500 * MS, 1000 * MS, 1000 * MS]), 2500)
    assert moves(result) == [
        [0, 560, 1, 5, 1380],
        [1, 565, 0, 1, 785],
        [1, 1345, 1, 3, 1765],
        [0, 1710, 5, 7, 2130],
    ]


def test_a_platform_with_two_places_waits_for_all_who_have_reserved() -> None:
    # rank  0 waiting  1 dock  2, 3 aboard  4 load  5 dock  6 aboard. The first is aboard at 420, the second at 425;
    # locked at 725. The second leaves when load is free, its rear is clear at 1620, home at 1920.
    transfers = [Transfer((0,), (1,), ((0, 300), (300, 0)), places=2), Transfer((1,), (0,), BOTH_330)]
    plan = plan_on(["wait dock", "load dock"], transfers, ["load"], [1, 0])
    result = run_ms(plan, WrittenLuck([500 * MS]), 2400)
    assert moves(result) == [
        [0, 0, 1, 3, 420],
        [1, 5, 0, 2, 425],
        [0, 725, 3, 4, 945],
        [0, 1505, 4, 6, 1925],
        [1, 1510, 2, 4, 1930],
        [0, 2255, 6, 3, 3075],
    ]


# ---- rules of traffic that a line may add ----


def ring(**general: Any) -> TrafficPlan:
    """rank  0 press  1 waiting  2 pack  3 waiting, closed; two carriers, on 0 and 3."""
    return plan_on(["press wait pack wait"], [], ["press", "pack"], [0, 3], closed=True, general=General(**general))


PRESS_PACK: Final = WrittenLuck([500 * MS, 1000 * MS])


def test_carriers_move_together() -> None:
    result = run_ms(ring(together=(0,)), PRESS_PACK, 3600)
    assert moves(result) == [
        [0, 560, 0, 2, 980],
        [1, 565, 3, 0, 785],
        [0, 2040, 2, 3, 2260],
        [1, 2045, 0, 2, 2465],  # ready at 1345
        [0, 3525, 3, 0, 3745],  # the press has been free since 2045
        [1, 3530, 2, 3, 3750],
    ]
    # Good parts at 2020, 3505 and 5765. The last was at the press from 3745; its carrier left 3 at 3525, when the other
    # was ready at the pack, last on the lane. That one had come from the press a reaction after 2040.
    later = run_ms(ring(together=(0,)), PRESS_PACK, 5800)
    assert causes(later, 5800) == {
        ("work", "pack"): 2000,
        ("start handshake", "pack"): 20,
        ("settling", "pack"): 60,
        ("travel", "pack"): 420,
        ("done handshake", "press"): 20,
        ("work", "press"): 500,
        ("start handshake", "press"): 10,
        ("settling", "press"): 30,
        ("exchange move", "press"): 220,
        ("done handshake", "pack"): 40,
        ("exchange move", "pack"): 420,
        ("reaction", "pack"): 5,
    }


def test_a_stretch_admits_so_many() -> None:
    # The second is ready at 1345 and might go to 1; the first is on the stretch until it arrives at 3.
    result = run_ms(ring(admission=(Stretch("zone", (1, 2), 1),)), PRESS_PACK, 2600)
    assert moves(result) == [
        [0, 560, 0, 2, 980],
        [1, 565, 3, 0, 785],
        [0, 2040, 2, 3, 2260],
        [1, 2260, 0, 2, 2680],
        [0, 2265, 3, 0, 2485],
    ]
    # Good parts at 2020 and 3720. The second left the press when the first had arrived at 3.
    later = run_ms(ring(admission=(Stretch("zone", (1, 2), 1),)), PRESS_PACK, 3800)
    assert causes(later, 3800) == {
        ("work", "pack"): 1000,
        ("start handshake", "pack"): 10,
        ("settling", "pack"): 30,
        ("exchange move", "pack"): 420,
        ("travel", "press"): 220,
        ("done handshake", "pack"): 20,
    }


def test_a_lane_to_and_fro_turns_when_nobody_holds_its_direction() -> None:
    # rank  0 load-1  1 load-2  2 waiting  3 pack-1  4 pack-2. At 2240 the one on 4 is ready, the one on 3 at 2245: it
    # goes to the farthest free station first.
    plan = plan_on(["load-1 load-2 wait pack-1 pack-2"], [], ["load-1 load-2", "pack-1 pack-2"], [1, 0], two_way=True)
    result = run_ms(plan, WrittenLuck([500 * MS, 500 * MS, 1000 * MS, 1000 * MS]), 3500)
    assert moves(result) == [
        [0, 560, 1, 4, 1180],
        [1, 565, 0, 3, 1185],
        [1, 2245, 3, 0, 2865],
        [0, 2250, 4, 1, 2870],
        [0, 3430, 1, 4, 4050],
        [1, 3435, 0, 3, 4055],
    ]
    # Good parts at 2220, 2225, 5090 and 5095: back from the last over load-2 to pack-1, whose carrier turned the lane.
    later = run_ms(plan, WrittenLuck([500 * MS, 500 * MS, 1000 * MS, 1000 * MS]), 5200)
    assert causes(later, 5200) == {
        ("work", "pack-1"): 1000 + 5,
        ("start handshake", "pack-1"): 10,
        ("settling", "pack-1"): 30,
        ("exchange move", "pack-1"): 620,
        ("reaction", "pack-1"): 5,
        ("done handshake", "load-2"): 20,
        ("work", "load-2"): 500,
        ("start handshake", "load-2"): 10,
        ("settling", "load-2"): 30,
        ("exchange move", "load-2"): 620,
        ("reaction", "load-2"): 5,
        ("done handshake", "pack-1"): 20,
    }


def going_on(follow_ms: int) -> GeneralRun:
    """rank  0 press  1, 2 waiting  3 pack  4 waiting, closed. The second is ready at the press at 2145."""
    plan = plan_on(
        ["press wait wait pack wait"],
        [],
        ["press", "pack"],
        [0, 4],
        closed=True,
        delay_ms=-200,
        general=General(going_on=True),
    )
    given = WrittenLuck([500 * MS, 1000 * MS], work_us_of={(0, 0, 1, 0): 1300 * MS - (follow_ms - 5) * MS})
    return run_ms(dataclasses.replace(plan, follow_us=follow_ms * MS), given, 2700)


def test_a_carrier_under_way_goes_on() -> None:
    # At 2240 the pack's carrier reserves the press. The longer move first differs at 2145 + 300.
    result = going_on(5)
    assert moves(result)[2:] == [[1, 2145, 0, 3, 2765], [0, 2240, 3, 0, 2660]]
    assert (result.halts, result.halts_cost_us) == (0, 0)
    assert state(result, "pack", "exchange") == 620 + (2700 - 2240)


def test_the_reaction_to_a_re_aiming_is_due() -> None:
    # rank  0 a  1 b  2 waiting  3 c  4 waiting, closed. The third load skips b: its carrier is ready at a at 1730. The
    # second leaves b for 2 at 1925 and is re-aimed at 1960, when c's carrier leaves for 4, and then for a.
    variants = (Variant("u", 0.5), Variant("v", 0.5, skips=(1,)))
    plan = plan_on(
        ["a b wait c wait"],
        [],
        ["a", "b", "c"],
        [0, 4, 2],
        closed=True,
        delay_ms=-200,
        general=General(going_on=True, variants=variants, sequence=(0, 0, 1)),
    )
    given = WrittenLuck([500 * MS, 300 * MS, 340 * MS], work_us_of={(0, 1, 2, 0): 100 * MS}, variants=(0, 0, 1))
    result = run_ms(plan, given, 2100)
    assert moves(result)[-3:] == [[1, 1925, 1, 3, 2345], [0, 1960, 3, 0, 2380], [2, 1965, 0, 2, 2385]]


def test_it_halts_where_it_is_too_late_to_go_on() -> None:
    # 2240 + 250 is later than 2445: it arrives at 2565 and starts anew at once.
    result = going_on(250)
    assert moves(result)[2:] == [[1, 2145, 0, 2, 2565], [0, 2395, 3, 0, 2815], [1, 2565, 2, 3, 2785]]
    assert (result.halts, result.halts_cost_us) == (1, 20 * MS)


# ---- carriers taken out and put in, time zero ----


def test_carriers_are_taken_out_and_put_in() -> None:
    changes = (CarrierChange(LOAD, 4000 * MS, -1), CarrierChange(LOAD, 8000 * MS, 1))
    result = run_ms(loop(carrier_changes=changes), luck(), 10_000)
    assert works(result, "load") == [(0, 40, 540), (1, 8040, 8540)]
    assert [carrier for name, carrier, *_ in result.works if name == "load"] == [0, 1]
    assert moves(result)[4] == [1, 8560, 1, 3, 8980]


def test_a_stop_is_kept_for_a_carrier_to_be_put_in() -> None:
    # From 500 on nobody else may reserve load. The first leaves it at 560 and is aboard at 980; then the new one stands
    # there.
    result = run_ms(loop(2, carrier_changes=(CarrierChange(LOAD, 500 * MS, 1),)), luck(), 3000)
    assert works(result, "load") == [(0, 40, 540), (1, 1020, 1520), (2, 1805, 2305)]
    assert [carrier for name, carrier, *_ in result.works if name == "load"] == [0, 2, 1]
    # The platform is back at 1750.
    assert moves(result)[2:4] == [[2, 1540, 1, 2, 1760], [1, 1545, 0, 1, 1765]]
    assert state(result, "load", "exchange") == 980 - 560 + 1765 - 1540


def test_what_a_carrier_put_in_goes_back_to() -> None:
    # Good parts at 3770 and 7770: put in at 4000, aboard at 4980, at test at 5730.
    result = run_ms(loop(carrier_changes=(CarrierChange(LOAD, 4000 * MS, 1),)), luck(), 7800)
    assert causes(result, 7800) == {
        ("work", "test"): 2000,
        ("start handshake", "test"): 10,
        ("settling", "test"): 30,
        ("travel", "test"): 420,
        ("transfer", "transfer 0"): 330,
        ("travel", "transfer 0"): 420,
        ("done handshake", "load"): 20,
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("outside", "load"): 230,
    }


def test_what_a_way_goes_back_to_that_one_taken_out_opened() -> None:
    # rank  0 load  1, 2, 3 waiting, closed. Taken out when settled, at 825; the next leaves 3 then.
    changes = (CarrierChange(LOAD, 700 * MS, -1),)
    plan = plan_on(
        ["load wait wait wait"], [], ["load"], [0, 3, 2], closed=True, general=General(carrier_changes=changes)
    )
    result = run_ms(plan, WrittenLuck([500 * MS]), 1600)
    assert works(result, "load") == [(0, 40, 540), (1, 1085, 1585)]
    assert causes(result, 1600) == {
        ("work", "load"): 500,
        ("start handshake", "load"): 10,
        ("settling", "load"): 30,
        ("exchange move", "load"): 220,
        ("outside", "load"): 285,
    }


def test_a_run_may_begin_on_a_line_that_is_not_empty() -> None:
    # One stands at test with a flagged part of load 7 whose work there is done, one aboard with a part of load 8.
    start = Placement(
        stops=(5, 3),
        steps=(SCRAP, TEST),
        loads=(7, 8),
        present=(1, 1),
        flagged=(1, 0),
        exits=(SCRAP, -1),
        visits=(0, 0),
        next_load=9,
    )
    result = run_ms(loop(2, start=start), luck(), 4000)
    assert moves(result)[:2] == [[0, 0, 5, 7, 420], [1, 5, 3, 5, 425]]
    assert works(result, "scrap") == [(7, 460, 560)]
    assert works(result, "test")[0] == (8, 465, 2465)
    assert good(result) == [(8, 2465)]
    assert works(result, "load")[0][0] == 9
