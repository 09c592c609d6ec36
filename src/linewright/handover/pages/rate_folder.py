"""The files that ``rate --out`` writes: the answer for people, for programs and for spreadsheets, and the picture."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial
from typing import TYPE_CHECKING, Final

from linewright.evaluation import Evaluation
from linewright.findings import worst_first
from linewright.handover.files import csv_bytes, json_text, rows_csv_bytes
from linewright.handover.pages.answer import answer
from linewright.handover.pages.rate_page import rate_page
from linewright.tables import Table

if TYPE_CHECKING:
    from linewright.planning.gains import Gains

FINDING_COLUMNS: Final = (
    *("code", "subject", "verdict", "where", "file", "line", "column"),
    *("value", "limit", "unit", "margin", "source", "remedy"),
)


def rate_files(evaluation: Evaluation, gains: Gains | None = None) -> dict[str, Callable[[], bytes]]:
    """File name -> a function that gives its bytes; without a run the tables of the run and the picture are left out.

    Parameters
    ----------
    evaluation : with or without a run
    gains : what would help, where it was tried
    """
    files: dict[str, Callable[[], bytes]] = {
        "page.txt": lambda: rate_page(evaluation, gains).encode("utf-8"),
        "answer.json": lambda: json_text(answer(evaluation, gains)).encode("utf-8"),
        "findings.csv": lambda: _findings_csv(evaluation),
    }
    run = evaluation.run
    if run is not None:
        tables: dict[str, Table] = {
            "stations": run.stations,
            "steps": run.steps,
            "causes": run.cycle_causes,
            "causes-by-place": run.cycle_causes_by_station,
            "moves": run.moves,
            "works": run.works,
        }
        if gains is not None:
            tables["gains"] = gains.table()
        files |= {f"{name}.csv": partial(csv_bytes, table) for name, table in tables.items()}
        files |= _chart(evaluation, gains)
    return files


def _findings_csv(evaluation: Evaluation) -> bytes:
    rows = []
    for finding in worst_first(evaluation.findings):
        data = finding.as_dict()
        data |= data.pop("place") or {"file": None, "line": None, "column": None}
        rows.append(tuple(data[column] for column in FINDING_COLUMNS))
    return rows_csv_bytes(FINDING_COLUMNS, rows)


def _chart(evaluation: Evaluation, gains: Gains | None) -> dict[str, Callable[[], bytes]]:
    """The track chart, built when its first file is asked for."""
    from linewright.pictures import Picture, track_chart

    @cache
    def chart() -> Picture:
        return track_chart(evaluation, gains)

    return {
        "track-chart.svg": lambda: chart().svg().encode("utf-8"),
        "track-chart.html": lambda: chart().html().encode("utf-8"),
    }
