"""The sheet that all rows of the track chart stand on: one horizontal axis, and what every row shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from linewright.evaluation import Evaluation
from linewright.layout import Layout
from linewright.line.model import Line
from linewright.pictures.grammar import FAR, NEAR, Datasets, Spec, end, field, layer, layered, pixels
from linewright.pictures.key import KeyEntry
from linewright.pictures.labels import text_width_px, wrapped
from linewright.pictures.style import BAND, GREY, INK, PALE, Lengths, Text

if TYPE_CHECKING:
    from linewright.planning.gains import Gains

LEAST_WIDTH_PX: Final = 1180.0
UPRIGHT_LABEL: Final = 1.3  # room of an upright label along the track, in sizes of its letters
MARGIN: Final = 0.012


@dataclass(frozen=True)
class Row:
    """One row of the track chart.

    Parameters
    ----------
    name : as in ``--rows``
    chart : on the shared axis, as wide as the sheet
    key : what its marks mean
    """

    name: str
    chart: Spec
    key: tuple[KeyEntry, ...]


@dataclass(frozen=True, eq=False)
class Sheet:
    """What every row of the track chart reads.

    Parameters
    ----------
    evaluation : of the line
    gains : what would help; None where nothing was tried
    lengths : the file's unit
    text : sizes of letters
    width_px : of the axis. [px]
    data : takes the rows
    """

    evaluation: Evaluation
    gains: Gains | None
    lengths: Lengths
    text: Text
    width_px: float
    data: Datasets

    @property
    def line(self) -> Line:
        """The line."""
        return self.evaluation.line

    @property
    def layout(self) -> Layout:
        """Its track, unrolled."""
        return self.evaluation.layout

    def value(self, axis_m: float) -> float:
        """A place on the axis in the file's unit: what the field of a row holds for `x` and `x2`."""
        return self.lengths.value(axis_m)

    @property
    def margin_m(self) -> float:
        """How far the plot goes on beyond both ends of the axis, so that nothing at the ends is cut. [m]"""
        return MARGIN * self.layout.loop_m

    @property
    def ends(self) -> dict[str, float]:
        """The two parameters between which the axis is drawn, for the whole of it. [unit]"""
        return {NEAR: self.value(-self.margin_m), FAR: self.value(self.layout.loop_m + self.margin_m)}

    @property
    def m_a_px(self) -> float:
        """Length of track on one pixel, not zoomed. [m]"""
        return (self.layout.loop_m + 2.0 * self.margin_m) / self.width_px

    def to_px(self, axis_m: float) -> float:
        """Pixels from the left end of the plot, not zoomed."""
        return (axis_m + self.margin_m) / self.m_a_px

    def to_m(self, px: float) -> float:
        """Axis place of a pixel. [m]"""
        return px * self.m_a_px - self.margin_m

    def axis_m(self, lane: str, travel_m: float) -> float:
        """Axis place of a travel on a lane. [m]"""
        return self.layout.lane(lane).travel_to_axis(travel_m)

    def station_m(self, station: str) -> float:
        """Axis place of a station. [m]"""
        return self.layout.stop_of(station).axis_m

    def x(self, name: str = "x") -> Spec:
        """The shared axis. Every mark on it is drawn with ``clip``, so that the page can zoom."""
        scale = {"domainMin": {"expr": NEAR}, "domainMax": {"expr": FAR}, "nice": False, "zero": False}
        return field(name, scale=scale, axis=None)

    def box(self, **more: Spec) -> Spec:
        """Channels of a stretch of track: fields x and x2 on the shared axis, y and y2 in pixels."""
        return {"x": self.x("x"), "x2": end("x2"), "y": pixels("y"), "y2": end("y2"), **more}

    def span(self, from_m: float, to_m: float, top: float, foot: float) -> dict[str, Any]:
        """The fields of `box` of a stretch of the axis. [m], [m], [px], [px]"""
        return {"x": self.value(from_m), "x2": self.value(to_m), "y": top, "y2": foot}

    @property
    def bar_px(self) -> float:
        """Width of a bar at a station, so that those of the two nearest stations keep apart. [px]"""
        places = sorted(self.to_px(stop.axis_m) for stop in self.layout.stops if stop.kind == "station")
        least = min((after - before for before, after in pairwise(places)), default=self.width_px)
        return max(4.0, min(26.0, 0.72 * least))

    def bar_m(self) -> float:
        """The same along the axis: bars are stretches of track, so that zooming stretches them too. [m]"""
        return self.bar_px * self.m_a_px

    def heading(self, bold: str, words: str = "") -> tuple[list[Spec], float]:
        """A row's heading, at its upper left corner, and how much height it takes.

        Parameters
        ----------
        bold : what the row shows, with its unit
        words : what a reader must know of it; broken into lines where it is long

        Returns
        -------
        layers, height   [px]
        """
        size, high = self.text.px, self.text.line_px
        place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
        look = {"align": "left", "baseline": "middle", "fontSize": size, "color": INK}
        lines = wrapped(words, self.width_px, size) if words else []
        rows = [{"x": 0.0, "y": high * (1.5 + number), "words": one} for number, one in enumerate(lines)]
        first = self.data.named([{"x": 0.0, "y": high * 0.5, "words": bold}])
        layers = [layer(first, "text", {**look, "fontWeight": "bold"}, place)]
        if rows:
            layers.append(layer(self.data.named(rows), "text", look, place))
        return layers, high * (1 + len(lines)) + 4.0

    def ground(self, top: float, foot: float) -> list[Spec]:
        """Behind the marks of a row: a band under each platform and its gaps, a thin line under each station. [px]"""
        layout = self.layout
        bands = [self.span(one.start_axis_m, one.end_axis_m, top, foot) for one in layout.transfers]
        places = [self.span(one.axis_m, one.axis_m, top, foot) for one in layout.stops if one.kind == "station"]
        rule = {"color": PALE, "strokeWidth": 0.8, "clip": True}
        down = {"x": self.x("x"), "y": pixels("y"), "y2": end("y2")}
        return [
            layer(self.data.named(bands), "rect", {"color": BAND, "clip": True}, self.box()),
            layer(self.data.named(places), "rule", rule, down),
        ]

    def level(self, y_px: float, words: str, **look: Any) -> list[Spec]:
        """A level line across the whole row at a height, such as a limit, named at the left of the plot. [px]"""
        data = self.data.named([{"x": 0.0, "x2": self.width_px, "y": y_px, "words": words}])
        place = {"x": pixels("x"), "y": pixels("y")}
        drawn = {"color": INK, "strokeWidth": 1.2, **look}
        layers = [layer(data, "rule", drawn, {**place, "x2": end("x2")})]
        if words:
            named = {"align": "right", "baseline": "middle", "dx": -6, "fontSize": self.text.small_px, "color": INK}
            layers.append(layer(data, "text", named, {**place, "text": field("words", "nominal")}))
        return layers

    def row(self, name: str, layers: Sequence[Spec], height_px: float, key: Sequence[KeyEntry] = ()) -> Row:
        """Layers put together as a row."""
        return Row(name, layered(layers, self.width_px, height_px, name), tuple(key))

    def missing(self, name: str, bold: str, why: str) -> Row:
        """A row of which nothing is known: its heading, why, and a rule under it."""
        short = f"{bold}: not known, {why}"
        fits = 1.1 * text_width_px(short, self.text.px) <= self.width_px
        layers, height = self.heading(short) if fits else self.heading(f"{bold}: not known", f"{why}.")
        rule = {"color": GREY, "strokeWidth": 0.6, "clip": True}
        under = self.data.named([self.span(0.0, self.layout.loop_m, height - 2.0, height - 2.0)])
        across = {"x": self.x("x"), "x2": end("x2"), "y": pixels("y")}
        return self.row(name, [*layers, layer(under, "rule", rule, across)], height)

    def ruler(self) -> Spec:
        """The axis itself, under the last row."""
        first = self.layout.lanes[0].name
        title = f"along the unrolled track, in travel from the start of lane {first} ({self.lengths.short})"
        axis = {"title": title, "grid": False, "format": ".3~f", "tickCount": 14, "orient": "bottom"}
        rule = {"color": GREY, "strokeWidth": 1, "clip": True}
        row = self.data.named([self.span(0.0, self.layout.loop_m, 0.0, 0.0)], "ruler")
        return layered(
            [layer(row, "rule", rule, {"x": {**self.x("x"), "axis": axis}, "x2": end("x2"), "y": pixels("y")})],
            self.width_px,
            1.0,
            "ruler",
        )


def sheet_of(evaluation: Evaluation, gains: Gains | None, text: Text) -> Sheet:
    """A sheet wide enough for the upright names of all stations and transfers."""
    named = len(evaluation.line.stations) + len(evaluation.layout.transfers)
    width_px = max(LEAST_WIDTH_PX, UPRIGHT_LABEL * text.px * (named + 1))
    return Sheet(evaluation, gains, Lengths(evaluation.line.units), text, width_px, Datasets())
