"""Station time against the takt: what of the line cycle every station is busy for, and with what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from linewright.findings import Verdict
from linewright.flow.causes import MAIN_SHARE, UNEXPLAINED_SHARE, main_cause
from linewright.pictures.grammar import Spec, end, field, layer, pixels, told
from linewright.pictures.key import KeyEntry, box, fill_entry, stroke
from linewright.pictures.labels import spread
from linewright.pictures.nothing import why_no_run
from linewright.pictures.style import FILL_WORDS, GREY, INK, PAPER, STATE_FILLS
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.states_row import FILL_ORDER, Piece, fill_shares, stack_layer
from linewright.pictures.track.values import Value, value_height, value_layers
from linewright.pictures.wording import RATE_WORDS
from linewright.quantities import KEEP

if TYPE_CHECKING:
    from linewright.flow.run import Run

TITLE: Final = "Station time against the takt (s per good part)"
PLOT_PX: Final = 84.0
BUSY_FILLS: Final = {name: fill for name, fill in STATE_FILLS.items() if name not in ("blocked_share", "starved_share")}
"""What counts as a step's time: all but blocked and starved. Held by a station of the same step counts."""
MOST_OVER: Final = 2.0
"""A takt of more times all else than that would flatten the bars: an arrow and its number stand for it."""
NAME: Final = 1.2
"""Height of a level's name, in sizes of its letters."""
DASHES: Final = [5, 3]
PARTNER: Final = "held by a carrier at a station of the same step"


@dataclass(frozen=True, eq=False)
class _Bar:
    """One station's time.

    Parameters
    ----------
    station, step : whose it is
    share_of : how many stations share the step
    times_s : time per good part by fill. [s]
    step_s : the step's: the mean over its stations. [s]
    """

    station: str
    step: str
    share_of: int
    times_s: dict[str, float]
    step_s: float

    @property
    def time_s(self) -> float:
        """All of it. [s]"""
        return sum(self.times_s.values())


@dataclass(frozen=True, eq=False)
class _Plot:
    """What is drawn, and on what scale.

    Parameters
    ----------
    bars : a bar a station
    transfers : least time per good part of transfers, by name. [s]
    cycle_s, takt_s : the levels; takt_s None without a demand. [s]
    top, foot : of the plot. [px]
    """

    bars: list[_Bar]
    transfers: dict[str, float]
    cycle_s: float
    takt_s: float | None
    top: float
    foot: float

    @property
    def high_s(self) -> float:
        """The greatest time that is drawn, the takt left out. [s]"""
        return max(self.cycle_s, *(bar.time_s for bar in self.bars), *self.transfers.values())

    @property
    def takt_is_beyond(self) -> bool:
        """The takt lies above the plot."""
        return self.takt_s is not None and self.takt_s > MOST_OVER * self.high_s

    @property
    def px_a_s(self) -> float:
        """Height of one second. [px]"""
        takt_s = 0.0 if self.takt_s is None or self.takt_is_beyond else self.takt_s
        return (self.foot - self.top) / max(self.high_s, takt_s)

    def y(self, time_s: float) -> float:
        """Height of a time from the top of the row. [px]"""
        return self.foot - self.px_a_s * time_s


def time_row(sheet: Sheet) -> Row:
    """Each station's time per good part, neither blocked nor starved, by what it does then.

    A bar is the station's busy share of the line cycle, so that it can be held against takt and line cycle whatever
    the number of stations of its step; where several share a step their mean is the step's time, a mark across each.
    """
    evaluation = sheet.evaluation
    run = evaluation.run
    if run is None:
        return sheet.missing("time", TITLE, why_no_run(evaluation))
    if run.line_cycle_s is None:
        # The reason may be long: it is broken into lines.
        return sheet.row("time", *sheet.heading(f"{TITLE}: not known", why_no_rate(run)))
    bars = _bars(run, run.line_cycle_s)
    takt_s = None if evaluation.takt is None else evaluation.takt.takt_s
    heading, top = sheet.heading(TITLE, " ".join(_said(sheet, run, run.line_cycle_s, bars)))
    transfers = _transfers(sheet)
    values = [_value(sheet, bar, takt_s) for bar in bars] + _transfer_values(sheet, transfers, takt_s)
    plot_top = top + value_height(sheet, values) + 0.5 * sheet.text.small_px
    plot = _Plot(bars, transfers, run.line_cycle_s, takt_s, plot_top, plot_top + PLOT_PX)
    if plot.takt_is_beyond:  # its number stands above the plot
        plot = replace(plot, top=plot_top + NAME * sheet.text.small_px, foot=plot.foot + NAME * sheet.text.small_px)
    pieces = [piece for bar in bars for piece in _pieces(sheet, bar)]
    layers = [
        *heading,
        *sheet.ground(plot.top, plot.foot),
        *_transfer_layers(sheet, plot),
        stack_layer(sheet, pieces, plot.foot, plot.px_a_s, "times"),
        *_means(sheet, plot),
        *_levels(sheet, plot),
        *value_layers(sheet, values, top),
    ]
    return sheet.row("time", layers, plot.foot + 0.5 * sheet.text.small_px, _key(plot, {one.fill for one in pieces}))


def why_no_rate(run: Run) -> str:
    """Why runs give no rate, and the option that mends it where one does."""
    why = run.reason or "the runs give no rate"
    option = "hours" if why.endswith("run longer") else "runs" if "runs are needed" in why else ""
    return f"{why}: --{option}" if option else why


def _bars(run: Run, cycle_s: float) -> list[_Bar]:
    steps = {str(row["step"]): float(row["time_per_good_part_s"]) for row in run.steps.rows()}
    rows = run.stations.rows()
    counts = {step: sum(row["step"] == step for row in rows) for step in steps}
    return [_bar(row, cycle_s, counts, steps) for row in rows]


def _bar(row: Mapping[str, Any], cycle_s: float, counts: Mapping[str, int], steps: Mapping[str, float]) -> _Bar:
    times_s = {fill: cycle_s * share for fill, share in fill_shares(row, BUSY_FILLS).items()}
    step = str(row["step"])
    return _Bar(str(row["station"]), step, counts[step], times_s, steps[step])


def _transfers(sheet: Sheet) -> dict[str, float]:
    """What each transfer takes for a good part at best: by its finding, or of the slowest alone by the bounds."""
    found: dict[str, float] = {}
    for finding in sheet.evaluation.findings:
        if finding.code == "transfer-cycle" and finding.value is not None:
            for one in sheet.layout.transfers:
                if finding.where == f"transfer {one.name}":
                    found[one.name] = max(found.get(one.name, 0.0), finding.value)
    bounds = sheet.evaluation.bounds
    if not found and bounds is not None and bounds.transfer_per_h:
        found[bounds.limiting_transfer] = 3600.0 / bounds.transfer_per_h
    return found


def seconds(time_s: float) -> str:
    """A time for a label, to three digits and no more than two decimals.

    Examples
    --------
    >>> seconds(2.4287), seconds(0.0191), seconds(12.345), seconds(312.0)
    ('2.43 s', '0.02 s', '12.3 s', '312 s')
    """
    return f"{time_s:.{2 if time_s < 9.995 else 1 if time_s < 99.95 else 0}f} s"


def _value(sheet: Sheet, bar: _Bar, takt_s: float | None) -> Value:
    told = f"{bar.station}: {bar.time_s:.3f} s per good part, neither blocked nor starved"
    if bar.share_of > 1:
        told += f"; step {bar.step}: {bar.step_s:.3f} s, the mean of its {bar.share_of} stations"
    over = takt_s is not None and max(bar.time_s, bar.step_s) > takt_s
    if takt_s is not None:
        told += f"; {'over' if over else 'within'} the takt of {takt_s:.3f} s"
    words = seconds(bar.time_s)
    return Value(sheet.station_m(bar.station), f"over {words}" if over else words, told, strong=over)


def _transfer_values(sheet: Sheet, transfers: Mapping[str, float], takt_s: float | None) -> list[Value]:
    values = []
    for one in sheet.layout.transfers:
        time_s = transfers.get(one.name)
        if time_s is not None:
            over = takt_s is not None and time_s > takt_s
            told = f"{one.kind} {one.name}: {time_s:.3f} s per good part at best"
            if takt_s is not None:
                told += f"; {'over' if over else 'within'} the takt of {takt_s:.3f} s"
            words = seconds(time_s)
            values.append(Value(one.platform_axis_m, f"over {words}" if over else words, told, strong=over))
    return values


def _pieces(sheet: Sheet, bar: _Bar) -> list[Piece]:
    at_m = sheet.station_m(bar.station)
    return [
        Piece(
            at_m,
            fill,
            bar.times_s[fill],
            f"{bar.station}: {bar.times_s[fill]:.3f} s of {bar.time_s:.3f} s per good part, "
            f"{PARTNER if fill == 'blocked' else FILL_WORDS[fill]}",
        )
        for fill in FILL_ORDER
        if bar.times_s[fill] > 0.0
    ]


def _said(sheet: Sheet, run: Run, cycle_s: float, bars: list[_Bar]) -> list[str]:
    """What the row says in words: what limits, line cycle and takt, what stations of one step show."""
    said = [f"The line stands still in {run.stalled_runs} of {run.runs} runs: these times mean nothing."]
    said = [] if run.stalled_runs == 0 else said
    said += [_limits(sheet, run, cycle_s), _against(sheet, cycle_s), "Blocked and starved are left out."]
    said += _unknown_transfers(sheet)
    shared = {bar.step: bar.step_s for bar in bars if bar.share_of > 1}
    if shared:
        means = ", ".join(f"{step} {_kept(step_s)}" for step, step_s in shared.items())
        said.append(
            "Stations that share a step each show their own time for a good part of the line; the step's time is their "
            f"mean, the white mark across them: {means}."
        )
    if any(bar.times_s["blocked"] > 0.0 for bar in bars):
        said.append("Held by one another counts, hatched as blocked.")
    return said


def _unknown_transfers(sheet: Sheet) -> list[str]:
    """Why a transfer has no bar."""
    known, bounds = _transfers(sheet), sheet.evaluation.bounds
    if len(known) == 1 < len(sheet.layout.transfers):
        return [f"Of the transfers only the slowest, {next(iter(known))}, is drawn: without a demand no more is known."]
    reasons = [] if bounds is None else [why for name, why in bounds.left_out if name == "transfer_per_h"]
    return [f"Transfers have no bar: {why}." for why in reasons] if sheet.layout.transfers and not known else []


def _limits(sheet: Sheet, run: Run, cycle_s: float) -> str:
    """What limits, as `rate` says it: slow transfers first, then the step; a step that is only the longest is not said
    to limit."""
    limiting = run.limiting
    if limiting is None:
        return "With a single step there is none that limits more than another."
    figures = f"{_kept(limiting.time_s)}, {_kept(limiting.by_s)} more than {limiting.next_step}"
    slow = {name: time_s for name, time_s in _transfers(sheet).items() if time_s > limiting.time_s}
    main = main_cause(run.cycle_causes, run.stations)
    elsewhere = main is not None and main.share >= MAIN_SHARE and main.name != limiting.step
    waits = max([limiting.time_s, *slow.values()]) < UNEXPLAINED_SHARE * cycle_s
    if not slow and not waits and not elsewhere:
        return f"{limiting.step} limits: {figures}."
    words = f"{_slow_words(slow)}; " if slow else ""
    words += f"{limiting.step} takes longest of the steps: {figures}"
    if main is not None and elsewhere:
        words += f"; but {100.0 * main.share:.1f}{KEEP}% of the line cycle passes at {main.name}"
    if waits:
        none = "No station and no transfer" if slow else "No station"
        words = f"{none} limits: {words}; that is far less than the line cycle, the rest is waiting"
    return f"{words}."


def _slow_words(slow: Mapping[str, float]) -> str:
    """The transfers that take longer than any step, the slowest first; those that are equally slow in one."""
    by_time: dict[str, list[str]] = {}
    for name, time_s in sorted(slow.items(), key=lambda one: -one[1]):
        by_time.setdefault(_kept(time_s), []).append(name)
    groups = [
        f"{' and '.join(names)} {'takes' if len(names) == 1 else 'take'} {time}" for time, names in by_time.items()
    ]
    return f"{', '.join(groups)} at best, more than any step"


def _kept(time_s: float) -> str:
    return f"{time_s:.3f}{KEEP}s"


def _against(sheet: Sheet, cycle_s: float) -> str:
    takt = sheet.evaluation.takt
    if takt is None:
        return f"Line cycle {_kept(cycle_s)}; no takt, the line file states no demand."
    verdicts: list[Verdict] = [row.verdict for row in sheet.evaluation.findings if row.code == "rate"]
    told = RATE_WORDS[verdicts[0] if verdicts else "not checked"]
    return f"Line cycle {_kept(cycle_s)} against a takt of {_kept(takt.takt_s)}: {told}."


def _transfer_layers(sheet: Sheet, plot: _Plot) -> list[Spec]:
    """Transfers beside the stations, outlined as their platforms are: no more is known than their least time."""
    half_m = 0.5 * sheet.bar_m()
    rows = [
        {
            **sheet.span(one.platform_axis_m - half_m, one.platform_axis_m + half_m, plot.y(time_s), plot.foot),
            "name": f"{one.kind} {one.name}: {time_s:.3f} s per good part at best",
        }
        for one in sheet.layout.transfers
        if (time_s := plot.transfers.get(one.name)) is not None
    ]
    if not rows:
        return []
    look = {"fill": PAPER, "stroke": INK, "strokeDash": [3, 2], "strokeWidth": 1, "clip": True}
    return [layer(sheet.data.named(rows, "transfer-times"), "rect", look, sheet.box(**told()))]


def _means(sheet: Sheet, plot: _Plot) -> list[Spec]:
    """Across the bars of stations that share a step, the step's time."""
    half_m = 0.62 * sheet.bar_m()
    rows = []
    for bar in plot.bars:
        if bar.share_of > 1:
            at_m, y = sheet.station_m(bar.station), plot.y(bar.step_s)
            told_ = f"step {bar.step} at {bar.station}: {bar.step_s:.3f} s per good part, the mean of its stations"
            rows.append({**sheet.span(at_m - half_m, at_m + half_m, y - 1.6, y + 1.6), "name": told_})
    if not rows:
        return []
    look = {"fill": PAPER, "stroke": INK, "strokeWidth": 1, "clip": True}
    return [layer(sheet.data.named(rows, "step-times"), "rect", look, sheet.box(**told()))]


def _levels(sheet: Sheet, plot: _Plot) -> list[Spec]:
    """Takt, line cycle and the foot, their names kept apart at the left, each led to its level."""
    named = [(plot.y(plot.cycle_s), f"line cycle {plot.cycle_s:.3f} s"), (plot.foot, "0 s")]
    layers = sheet.level(plot.y(plot.cycle_s), "", strokeWidth=0.8, strokeDash=DASHES)
    layers += sheet.level(plot.foot, "", color=GREY, strokeWidth=0.6)
    if plot.takt_s is not None and plot.takt_is_beyond:
        named.append((plot.top - NAME * sheet.text.small_px, f"takt {plot.takt_s:.3f} s ↑"))
    elif plot.takt_s is not None:
        named.append((plot.y(plot.takt_s), f"takt {plot.takt_s:.3f} s"))
        layers += sheet.level(plot.y(plot.takt_s), "", strokeWidth=1.6)
    size = sheet.text.small_px
    shift = min(y for y, _ in named) - 0.5 * NAME * size
    room = plot.foot - shift + 0.5 * NAME * size
    centres = spread([y - shift for y, _ in named], [NAME * size] * len(named), room)
    rows = [
        {"x": -8.0, "x2": 0.0, "y": centre + shift, "y2": y, "words": words}
        for centre, (y, words) in zip(centres, named, strict=True)
    ]
    data, place = sheet.data.named(rows, "levels"), {"x": pixels("x"), "y": pixels("y")}
    look = {"align": "right", "baseline": "middle", "dx": -3, "fontSize": size, "color": INK}
    lead = {"color": GREY, "strokeWidth": 0.8}
    return [
        *layers,
        layer(data, "rule", lead, {**place, "x2": end("x2"), "y2": end("y2")}),
        layer(data, "text", look, {**place, "text": field("words", "nominal")}),
    ]


def _key(plot: _Plot, used: set[str]) -> list[KeyEntry]:
    key = [fill_entry(name) for name in FILL_ORDER if name in used]
    if plot.takt_s is not None and not plot.takt_is_beyond:
        key.append(stroke("takt", (2, 10), (27, 10), color=INK, strokeWidth=1.6))
    key.append(stroke("line cycle attained", (2, 10), (27, 10), color=INK, strokeWidth=0.8, strokeDash=DASHES))
    if any(bar.share_of > 1 for bar in plot.bars):
        key.append(box("time of a step with several stations", 3.2, 24, fill=PAPER, stroke=INK))
    if plot.transfers:
        look = {"fill": PAPER, "stroke": INK, "strokeDash": [3, 2]}
        key.append(box("a transfer's time per good part, at best", 14, 16, **look))
    return key
