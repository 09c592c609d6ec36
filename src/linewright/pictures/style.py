"""Colours, sizes and the one horizontal axis that all rows of a track chart share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import altair as alt

PLOT_WIDTH_PX: Final = 1180.0
FONT_PX: Final = 11.0
FONT: Final = "sans-serif"

# One hue, and greys that stay apart in a grey print. Colour never says more than shape and weight say.
INK: Final = "#1d2733"
HUE: Final = "#15527d"
QUIET: Final = "#5f6b78"
GREY: Final = "#9aa4af"
PALE: Final = "#d3d9df"
BAND: Final = "#f0f2f5"
CURVE: Final = "#b4bdc6"

REPAIR_CROSS: Final = "M-1,-1L1,1M-1,1L1,-1"
REPAIR_CROSS_PX2: Final = 130.0

_PER_M: Final = {"mm": 1000.0, "inch": 1.0 / 0.0254}
_SHORT: Final = {"mm": "mm", "inch": "in"}


@dataclass(frozen=True)
class Scale:
    """The unrolled axis in the line file's unit, and its pixels.

    Parameters
    ----------
    units : ``mm`` or ``inch``
    loop_m : length of the axis. [m]
    """

    units: str
    loop_m: float

    @property
    def short(self) -> str:
        """The unit as it stands behind a number."""
        return _SHORT[self.units]

    def value(self, place_m: float) -> float:
        """A length as the axis counts it, to a hundredth of a millimetre or a thousandth of an inch."""
        return round(place_m * _PER_M[self.units], 2 if self.units == "mm" else 3)

    def to_SI(self, value: float) -> float:
        """Back to metres."""
        return value / _PER_M[self.units]

    def to_px(self, axis_m: float) -> float:
        """Pixels from the left end of the axis."""
        return axis_m / self.loop_m * PLOT_WIDTH_PX

    def to_m(self, pixels: float) -> float:
        """Axis place of a pixel."""
        return pixels / PLOT_WIDTH_PX * self.loop_m

    def text(self, length_m: float) -> str:
        """A length with its unit."""
        return f"{round(length_m * _PER_M[self.units], 1 if self.units == 'mm' else 2) + 0.0:.10g} {self.short}"

    def floor_step(self, apart_px: float) -> float:
        """The least round step (1, 2 or 5 times a power of ten) of which two ticks are `apart_px` apart."""
        least = apart_px / PLOT_WIDTH_PX * self.loop_m * _PER_M[self.units]
        power = 1.0
        while True:
            for digit in (1, 2, 5):
                if digit * power >= least:
                    return digit * power
            power *= 10

    def x(self, field: str) -> alt.X:
        """The shared axis, for marks without an axis of their own."""
        import altair as alt

        return alt.X(field, type="quantitative", scale=self.shared(), axis=None)

    def shared(self) -> alt.Scale:
        """The scale itself, the same for every mark of the chart."""
        import altair as alt

        return alt.Scale(domain=[0, self.value(self.loop_m)], nice=False, zero=False)


class Datasets:
    """The rows that a specification draws, gathered while it is built.

    Rows that stand in the specification under a name are checked by nobody row by row and copied by nobody, which makes
    a chart of ten thousand points a hundred times quicker to build than rows given to each layer.
    """

    def __init__(self) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {}

    def named(self, rows: Sequence[dict[str, Any]]) -> alt.NamedData:
        """A name for these rows, to give to a chart as its data."""
        import altair as alt

        name = f"rows-{len(self.rows) + 1}"
        self.rows[name] = list(rows)
        return alt.NamedData(name=name)
