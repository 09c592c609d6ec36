"""The track chart: the track strip over the string line of two minutes, on one horizontal axis.

The track is unrolled (lane, platform, lane, platform ...) from left to right in travel; time runs down the page. One
thread a carrier: upright where it rests, thick where work is done on it, flat where it moves; a ride keeps its place on
the axis and is upright too. Where a track branches, a thread ends at the edge of a lane or a platform and goes on at
that of the next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from linewright.pictures.key import key_chart
from linewright.pictures.string_line import string_line
from linewright.pictures.strip import strip_chart
from linewright.pictures.style import BAND, FONT, GREY, INK, Datasets, Scale
from linewright.pictures.threads import Thread, Window, carrier_threads, choose_window, drawn_works

if TYPE_CHECKING:
    import altair as alt

    from linewright.evaluation import Evaluation


def track_chart(evaluation: Evaluation, start_s: float | None = None, carrier: int | None = None) -> alt.VConcatChart:
    """The track chart of an evaluation as one Altair specification.

    Parameters
    ----------
    evaluation : without a run (no traffic possible, or none asked for) the strip stands alone and the title says so
    start_s : where the two minutes start; by default at the end of the warm-up, or so that they end with the log. [s]
    carrier : the one that is drawn bold; by default the one that travels farthest in the two minutes

    Raises
    ------
    ValueError   Nothing was logged from `start_s` on, or there is no such carrier.
    """
    import altair as alt

    line, layout, run = evaluation.line, evaluation.layout, evaluation.run
    scale, data = Scale(line.units, layout.loop_m), Datasets()
    rows = [strip_chart(layout, scale, data)]
    said = ["The track alone: no run was simulated."]
    if run is not None:
        window = choose_window(run, start_s)
        threads = carrier_threads(line, layout, run, window)
        works = drawn_works(layout, run, window)
        if threads:
            bold = _bold_carrier(threads, carrier)
            rows.append(string_line(layout, scale, window, threads, works, bold, data))
        said = _about_run(evaluation, window, threads)
    if line.conveyor.invented:
        said.append(f"The conveyor sheet {line.conveyor.name} is invented: do not buy or build from this picture.")
    title = alt.TitleParams(
        text=line.name,
        subtitle=said,
        anchor="start",
        fontSize=17,
        subtitleFontSize=12,
        color=INK,
        subtitleColor=INK,
        offset=10,
    )
    track = alt.VConcatChart(vconcat=rows, spacing=4).resolve_scale(x="shared")
    whole = alt.VConcatChart(
        vconcat=[track, key_chart(len(rows) > 1, data)],
        spacing=14,
        title=title,
        padding=14,
        background="white",
        config=alt.Config(
            font=FONT,
            view=alt.ViewConfig(stroke=None),
            axis=alt.AxisConfig(
                labelColor=INK,
                titleColor=INK,
                titleFontWeight="normal",
                domainColor=GREY,
                tickColor=GREY,
                gridColor=BAND,
            ),
        ),
    )
    whole.datasets = data.rows
    return whole


def _about_run(evaluation: Evaluation, window: Window, threads: tuple[Thread, ...]) -> list[str]:
    """What the reader must know of the data: simulated, of which run, from when, and what is not shown."""
    run, carriers = evaluation.run, evaluation.line.carriers
    assert run is not None
    stretch = f"{window.start_s:g} s to {window.end_s:g} s after the start."
    said = [f"Simulated data, not measured: run 1 of {run.runs}, seed {run.seed}, {stretch}"]
    if len(threads) < carriers:
        drawn = {thread.carrier for thread in threads}
        missing = ", ".join(str(number) for number in range(carriers) if number not in drawn)
        said.append(f"Not drawn, because the log shows no move of them: carriers {missing}.")
    return said


def _bold_carrier(threads: tuple[Thread, ...], carrier: int | None) -> int:
    if carrier is None:
        return max(threads, key=lambda thread: (round(thread.travel_m, 6), -thread.carrier)).carrier
    if carrier not in {thread.carrier for thread in threads}:
        known = ", ".join(str(thread.carrier) for thread in threads)
        raise ValueError(f"there is no thread of carrier {carrier}; there are those of {known}")
    return carrier
