"""What the line cycle is made of: the chains of causes of all replications, added up by kind and place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from linewright.tables import Column, Table
from linewright.traffic.plan import TrafficPlan

if TYPE_CHECKING:
    from linewright.flow.kernel.run import Chain, Replication

Ints = NDArray[np.int64]

KINDS: Final = {
    "work": "the tool acts on the part",
    "repair": "a failure of running or a jam is repaired",
    "clock failure": "a failure that came by the clock is repaired, or work waits for that",
    "prepare": "the tool prepares",
    "clear": "the tool clears the part",
    "done handshake": "tool clear until the carrier is released",
    "start handshake": "carrier settled until work starts",
    "settling": "the carrier and its fixture settle",
    "reaction": "the leader has committed itself, its follower does not yet depart",
    "exchange move": "the next carrier moves in, or the rear of the last leaves a platform",
    "travel": "any other move",
    "transfer": "a platform unlocks, rides, aligns and locks",
    "changeover": "the tool changes over to another variant, or waits for the last to run out",
    "operator": "the station waits for an operator, or for being released by one",
    "outside": "the station waits for a part from its feed or for room in its take-away",
    "break": "the station waits for the end of a break",
}
"""The kinds of cause, in the order of docs/semantics.md, each with what happens in it."""


@dataclass(frozen=True, eq=False)
class CycleCauses:
    """The causes of the line cycle, added up over all replications.

    Parameters
    ----------
    time_us : shape (kinds, places)   Whole microseconds in all windows together. [us]
    places : the stations, then the transfers
    parts : good parts finished in the windows
    window_us : length of all windows together; the causes add up to it exactly. [us]
    """

    time_us: Ints
    places: tuple[str, ...]
    parts: int
    window_us: int

    @property
    def cycle_s(self) -> float:
        """The line cycle that the causes add up to. [s]"""
        return self.window_us / 1e6 / self.parts

    def table(self) -> Table:
        """A row a kind and place that took any time, the largest first."""
        kinds, places = np.nonzero(self.time_us)
        taken = self.time_us[kinds, places]
        order = np.lexsort((places, kinds, -taken))
        kinds, places, taken = kinds[order], places[order], taken[order]
        names = list(KINDS)
        return Table(
            (
                Column("kind", None, np.array([names[k] for k in kinds], dtype=np.str_), "kind of cause"),
                Column("place", None, np.array([self.places[p] for p in places], dtype=np.str_), "where"),
                Column("time_s", "s", taken / 1e6 / max(self.parts, 1), "time per good part"),
                Column("share", None, taken / max(self.window_us, 1), "share of the line cycle"),
            )
        )

    def by_place(self) -> Table:
        """A row a place, a column a kind. [s] per good part"""
        times = self.time_us / 1e6 / max(self.parts, 1)
        columns = [Column("place", None, np.array(self.places, dtype=np.str_), "station or transfer")]
        columns += [
            Column(f"{kind.replace(' ', '_')}_s", "s", times[number], f"per good part: {meaning}")
            for number, (kind, meaning) in enumerate(KINDS.items())
        ]
        return Table((*columns, Column("all_s", "s", times.sum(axis=0), "per good part, all kinds")))


MAIN_SHARE: Final = 0.5
"""Where less than this share of the line cycle passes at one place, no place is the main cause."""
UNEXPLAINED_SHARE: Final = 0.85
"""Below this share of the line cycle the longest step is not what the line waits for."""


@dataclass(frozen=True)
class MainCause:
    """The step or transfer where most of the line cycle passes.

    Parameters
    ----------
    name : of the step, or of the transfer
    time_s, share : its causes of all kinds together, per good part and of the line cycle. [s]
    """

    name: str
    time_s: float
    share: float


def main_cause(causes: Table, stations: Table) -> MainCause | None:
    """Where most of the line cycle passes, the stations of one step taken together; None where nothing is known.

    Parameters
    ----------
    causes : rows kind, place, time_s, share
    stations : rows station, step
    """
    steps = {row["station"]: str(row["step"]) for row in stations.rows()}
    sums: dict[str, list[float]] = {}
    for row in causes.rows():
        name = steps.get(row["place"], str(row["place"]))
        time_s, share = sums.get(name, (0.0, 0.0))
        sums[name] = [time_s + float(row["time_s"]), share + float(row["share"])]
    if not sums:
        return None
    name = max(sums, key=lambda one: sums[one][0])
    return MainCause(name, *sums[name])


def find_causes(plan: TrafficPlan, replications: list[Replication], cut_bins: int, bin_us: int) -> CycleCauses:
    """Add up the chains of all replications between the first and the last good part after the warm-up.

    Parameters
    ----------
    plan : the plan that was run
    replications : with their chains
    cut_bins : bins of the warm-up
    bin_us : length of a bin. [us]

    Returns
    -------
    CycleCauses   .parts is 0 where no replication finishes two good parts after the warm-up.

    Source
    ------
    docs/semantics.md, "Causes of the line cycle".
    """
    places = (*plan.station_names, *plan.transfer_names)
    time_us = np.zeros(len(KINDS) * len(places), np.int64)
    parts = window_us = 0
    for one in replications:
        if one.chain is None:
            continue
        bins = max(cut_bins, -(-one.chain.kept_us // bin_us))
        finished = int(one.totals.good[bins:].sum())
        if finished < 2:
            continue
        first_us, last_us = int(one.totals.first_us[bins:].min()), int(one.chain.times_us[0])
        time_us += _add_up(one.chain, first_us, len(time_us))
        parts += finished - 1
        window_us += last_us - first_us
    return CycleCauses(time_us.reshape(len(KINDS), len(places)), places, parts, window_us)


def _add_up(chain: Chain, first_us: int, labels: int) -> Ints:
    """Time of each label from an instant to the chain's end; the link that first reaches back to it is clipped and the
    last."""
    links = int(np.argmax(chain.times_us <= first_us))
    times_us = chain.times_us[: links + 1].copy()
    times_us[-1] = first_us
    spent = np.bincount(chain.labels[:links], weights=times_us[:-1] - times_us[1:], minlength=labels)
    return spent.astype(np.int64)  # exact: whole numbers under 2^53
