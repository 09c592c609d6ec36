"""One log, judged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linewright.layout import Layout
from linewright.line.model import Line
from linewright.traffic.plan import TrafficPlan
from linewright.traffic.referee.following import Stretches, pairs_of, stretches_of, taken_out
from linewright.traffic.referee.frames import Frames
from linewright.traffic.referee.gaps import distances_of, judge_gaps
from linewright.traffic.referee.limits import judge_limits
from linewright.traffic.referee.log import Log, read_log
from linewright.traffic.referee.order import Pairs
from linewright.traffic.referee.reaction import judge_reactions
from linewright.traffic.referee.report import Looked, RefereeReport, listed
from linewright.traffic.referee.stays import judge_stops, judge_transfers
from linewright.traffic.referee.straight import judge_straight_on

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Followed:
    """A log that was read: what the referee judges, and the search for the worst contact looks through.

    Parameters
    ----------
    log, frames : the moves with their ways and profiles; the frames of the lanes
    pairs, stretches : who follows whom when; the stretches of time in which neither changes its state
    out : carriers that may have been taken out, and when. [us]
    until_us : up to when the log is complete. [us]
    """

    log: Log
    frames: Frames
    pairs: Pairs
    stretches: Stretches
    out: dict[int, int]
    until_us: int


def judge_log(line: Line, layout: Layout, plan: TrafficPlan, moves: Ints, until_us: int | None = None) -> RefereeReport:
    """Judge the log of moves of one replication.

    Parameters
    ----------
    line, layout : a line and its own layout
    plan : the plan by which it should have run: where carriers stand at time zero, stations, reaction, delays
    moves : int64[rows, 6]   From time zero on, in any order: carrier, departure, stop left, stop reached, arrival, load
        class (0 empty, 1 with a part aboard). [us]
    until_us : up to when the log is complete, so that places are known: the horizon of the run; None: to the last
        departure. [us]

    Returns
    -------
    RefereeReport   .least_gap, .use, .most_aboard, .looked, .violations …

    Notes
    -----
    Moves are integrated anew from the limits of their legs, and the distance of carriers that follow each other is
    minimised over continuous time. What the log does not tell, commitments, works, what becomes of parts, is not
    judged: the reaction is, where the log implies it (`judge_reactions`), and whether a station at which a carrier
    rests is one of its own is not.

    Source     docs/semantics.md, Gridlock, The referee.
    """
    return judge_followed(line, layout, plan, follow_log(line, layout, plan, moves, until_us))


def judge_followed(line: Line, layout: Layout, plan: TrafficPlan, followed: Followed) -> RefereeReport:
    """The judgement of a log that was read already.

    Parameters
    ----------
    line, layout, plan : as for :func:`judge_log`
    followed : of :func:`follow_log`, of the same three
    """
    log, frames, pairs, out = followed.log, followed.frames, followed.pairs, followed.out
    distances = distances_of(log, followed.stretches)
    found = list(log.violations)
    least, grid, near = judge_gaps(layout, log, pairs, followed.stretches, distances)
    straight, _, run_up = judge_straight_on(layout, frames, log)
    use, over = judge_limits(line, log)
    stays, standing = judge_stops(plan, layout, log, out, followed.until_us)
    crossings, aboard, crossed = judge_transfers(plan, layout, frames, log)
    reactions = judge_reactions(plan, layout, frames, log, pairs, out)
    found += [*near, *run_up, *over, *standing, *crossed, *reactions.violations]
    shown, counted = listed(found)
    looked = Looked(
        moves=len(log),
        legs=len(log.runs),
        pairs=len(pairs.follower),
        stretches=len(followed.stretches.pair),
        exact=distances.exact,
        grid=distances.grid,
        witnessed=distances.witnessed,
        stops=stays,
        crossings=crossings,
        straight_on=straight,
        reactions=reactions.judged,
        reactions_exact=reactions.exact,
        unjudged=reactions.unjudged,
    )
    return RefereeReport(
        least_gap=least,
        grid_spare_m=grid,
        use=use,
        least_reaction_s=reactions.least_s,
        most_aboard=aboard,
        looked=looked,
        violations=shown,
        violated=counted,
        until_us=followed.until_us,
    )


def follow_log(line: Line, layout: Layout, plan: TrafficPlan, moves: Ints, until_us: int | None = None) -> Followed:
    """The log read, and who follows whom in it; parameters as for :func:`judge_log`."""
    frames = Frames(line, layout)
    log = read_log(line, layout, plan, moves, frames)
    out = taken_out(plan, log)
    end_us = until_us if until_us is not None else int(log.departure_us.max()) if len(log) else 0
    pairs = pairs_of(layout, frames, log, out, end_us)
    return Followed(log, frames, pairs, stretches_of(log, pairs), out, end_us)
