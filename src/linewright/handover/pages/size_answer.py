"""What ``size`` answers for another program, and the files that ``size --out`` writes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.assumptions import CAUTION
from linewright.handover.files import json_text, rows_csv_bytes
from linewright.handover.pages.answer import head, interval_data
from linewright.handover.pages.size_page import size_assumptions, size_page
from linewright.planning.size import CountRow, Sizing

if TYPE_CHECKING:
    from linewright.pictures import Picture

COUNT_COLUMNS: Final = (
    *("carriers", "rate_per_h", "low_per_h", "high_per_h", "confidence", "upper_bound_per_h", "bound", "of_bound"),
    *("above_bounds", "blocked_share", "limiting_step", "limiting_blocked_share", "round_s", "loop_s"),
    *("stalled_runs", "reason"),
)


def size_answer(sizing: Sizing) -> dict[str, Any]:
    """The whole answer, its keys in a fixed order; what is not known is None.

    Parameters
    ----------
    sizing : of a line

    Returns
    -------
    dict   ``counts`` (rows), ``plateau``, ``smallest_within_half_percent``, ``smallest_meeting_takt``, ``one_out``,
           ``onset_of_blocking``, ``lower_than_fewer`` (rows), ``waiting_stops`` (rows; None where not asked for) ...
    """
    line, choices = sizing.line, sizing.choices
    return head(line) | {
        "seed": sizing.seed,
        "hours": sizing.hours,
        "runs": sizing.runs,
        "warm_up_s": sizing.warm_up_s,
        "carriers_in_file": line.carriers,
        "most_that_fit": sizing.most_fit,
        "most_on_sheet": sizing.most_on_sheet,
        "required_rate_per_h": sizing.required_rate_per_h,
        "rate_reason": choices.reason,
        "counts": [_count(row) for row in sizing.counts],
        "plateau": _plateau(sizing),
        "smallest_within_half_percent": _smallest_near(sizing),
        "smallest_meeting_takt": choices.smallest_meeting_takt,
        "smallest_meeting_takt_one_out": choices.smallest_meeting_takt_one_out,
        "one_out": _one_out(sizing),
        "onset_of_blocking": choices.onset_of_blocking,
        "lower_than_fewer": [
            {"carriers": one.carriers, "than": one.than, "difference_per_h": interval_data(one.difference)}
            for one in choices.lower
        ],
        "waiting_stops_hours": sizing.stops_hours,
        "waiting_stops": _waiting_stops(sizing),
        "assumptions": list(size_assumptions(sizing)),
        "caution": CAUTION,
    }


def size_files(sizing: Sizing) -> dict[str, Callable[[], bytes]]:
    """File name -> a function that gives its bytes.

    Parameters
    ----------
    sizing : of a line
    """
    return {
        "page.txt": lambda: size_page(sizing).encode("utf-8"),
        "answer.json": lambda: json_text(size_answer(sizing)).encode("utf-8"),
        "counts.csv": lambda: _counts_csv(sizing),
        "carriers.svg": lambda: _picture(sizing).svg().encode("utf-8"),
        "carriers.png": lambda: _picture(sizing).png(),
    }


def _picture(sizing: Sizing) -> Picture:
    from linewright.pictures import rate_against_carriers

    return rate_against_carriers(sizing)


def _counts_csv(sizing: Sizing) -> bytes:
    rows = []
    for row in sizing.counts:
        data = _count(row)
        rate = data["rate_per_h"] or {"mean": None, "low": None, "high": None, "confidence": None}
        data |= {"rate_per_h": rate["mean"], "low_per_h": rate["low"], "high_per_h": rate["high"]}
        data["confidence"] = rate["confidence"]
        rows.append(tuple(data[column] for column in COUNT_COLUMNS))
    return rows_csv_bytes(COUNT_COLUMNS, rows)


def _count(row: CountRow) -> dict[str, Any]:
    return {
        "carriers": row.carriers,
        "rate_per_h": interval_data(row.rate),
        "reason": row.reason,
        "upper_bound_per_h": row.upper_bound_per_h,
        "bound": row.bound,
        "of_bound": row.of_bound,
        "above_bounds": row.above_bounds,
        "blocked_share": row.blocked_share,
        "limiting_step": row.limiting_step,
        "limiting_blocked_share": row.limiting_blocked_share,
        "round_s": row.round_s,
        "loop_s": row.loop_s,
        "stalled_runs": row.stalled_runs,
    }


def _plateau(sizing: Sizing) -> dict[str, Any] | None:
    plateau = sizing.choices.plateau
    if plateau is None:
        return None
    return {
        "carriers": plateau.carriers,
        "rate_per_h": interval_data(plateau.rate),
        "counts": list(plateau.counts),
        "at_end": plateau.at_end,
    }


def _smallest_near(sizing: Sizing) -> dict[str, Any] | None:
    near = sizing.choices.smallest_near
    if near is None:
        return None
    return {"carriers": near.carriers, "difference_per_h": interval_data(near.difference), "by_mean": near.by_mean}


def _one_out(sizing: Sizing) -> dict[str, Any] | None:
    one = sizing.choices.one_out
    if one is None:
        return None
    return {
        "carriers": one.carriers,
        "rate_per_h": interval_data(one.rate),
        "difference_per_h": interval_data(one.difference),
        "meets_takt": one.meets_takt,
    }


def _waiting_stops(sizing: Sizing) -> list[dict[str, Any]] | None:
    if sizing.waiting_stops is None:
        return None
    return [
        {
            "before": row.before,
            "lane": row.lane,
            "stops": list(row.stops),
            "laid": len(row.stops),
            "used": row.used,
            "occupied_share": list(row.occupied_share),
            "visits_per_h": list(row.visits_per_h),
            "farthest_gain_per_h": interval_data(row.gain_per_h),
            "worth": row.worth,
            "why": row.why,
        }
        for row in sizing.waiting_stops
    ]
