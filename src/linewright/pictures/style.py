"""Colours, fills and sizes of all pictures.

One hue and greys that stay apart in a grey print. Fills are told apart by lightness and hatching, never by colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

FONT: Final = "sans-serif"

INK: Final = "#1d2733"
HUE: Final = "#15527d"
MIDDLE: Final = "#7fa3bd"
LIGHT: Final = "#bfd1df"
QUIET: Final = "#5f6b78"
GREY: Final = "#9aa4af"
PALE: Final = "#d3d9df"
BAND: Final = "#f0f2f5"
CURVE: Final = "#b4bdc6"
PAPER: Final = "#ffffff"

LEAST_TEXT: Final = 1.0
MOST_TEXT: Final = 2.0


@dataclass(frozen=True)
class Text:
    """Sizes of letters.

    Parameters
    ----------
    size : 1 for the usual size to 2 for twice that

    Raises
    ------
    ValueError   The size is out of range.
    """

    size: float = 1.0

    def __post_init__(self) -> None:
        if not LEAST_TEXT <= self.size <= MOST_TEXT:
            raise ValueError(f"size is {self.size}; it must lie from {LEAST_TEXT:g} to {MOST_TEXT:g}")

    @property
    def px(self) -> float:
        """Of most words. [px]"""
        return 12.0 * self.size

    @property
    def small_px(self) -> float:
        """Of numbers at ticks and bars. [px]"""
        return 10.5 * self.size

    @property
    def title_px(self) -> float:
        """Of a picture's title. [px]"""
        return 17.0 * self.size

    @property
    def line_px(self) -> float:
        """From one line of words to the next. [px]"""
        return 1.5 * self.px


@dataclass(frozen=True)
class Fill:
    """How an area is filled.

    Parameters
    ----------
    name : of the hatch; empty for a plain fill
    ground : the colour behind the hatch, or the whole fill
    lines : paths of the hatch in a square of HATCH_PX, drawn in HUE; empty for a plain fill
    width_px : of these lines
    """

    name: str
    ground: str
    lines: str = ""
    width_px: float = 1.0

    @property
    def paint(self) -> str:
        """What stands as the fill of a mark."""
        return f"url(#lw-{self.name})" if self.lines else self.ground


HATCH_PX: Final = 6

# What stations do and what a line cycle is made of; every picture fills the same thing alike.
FILLS: Final[dict[str, Fill]] = {
    "work": Fill("", HUE),
    "tool": Fill("", LIGHT),
    "change": Fill("", MIDDLE),
    "travel": Fill("travel", PAPER, "M0,1.5H6M0,4.5H6", 1.1),
    "down": Fill("down", PAPER, "M-1,-1L7,7M-1,7L7,-1", 1.5),
    "blocked": Fill("blocked", PAPER, "M-1,7L7,-1M-1,1L1,-1M5,7L7,5", 1.4),
    "starved": Fill("", PAPER),
    "waits": Fill("waits", PAPER, "M1,1.5h1.8M4,4.5h1.8", 1.8),
}

FILL_WORDS: Final = {
    "work": "work",
    "tool": "tool prepares or clears",
    "change": "carriers change: move in, settle, shake hands",
    "travel": "travel and transfer",
    "down": "down: repair",
    "blocked": "blocked: the carrier cannot leave",
    "starved": "starved: no carrier comes",
    "waits": "waits for people, parts outside, changeover, a break",
}

STATE_FILLS: Final = {
    "down_share": "down",
    "work_share": "work",
    "clear_share": "tool",
    "done_handshake_share": "change",
    "blocked_share": "blocked",
    "partner_share": "blocked",
    "settling_share": "change",
    "prepare_share": "tool",
    "exchange_share": "change",
    "starved_share": "starved",
    "changeover_share": "waits",
    "operator_share": "waits",
    "outside_share": "waits",
    "break_share": "waits",
}
"""Column of a run's stations -> its fill."""

CAUSE_FILLS: Final = {
    "work": "work",
    "repair": "down",
    "clock failure": "down",
    "prepare": "tool",
    "clear": "tool",
    "done handshake": "change",
    "start handshake": "change",
    "settling": "change",
    "reaction": "change",
    "exchange move": "change",
    "travel": "travel",
    "transfer": "travel",
    "changeover": "waits",
    "operator": "waits",
    "outside": "waits",
    "break": "waits",
}
"""Kind of cause of the line cycle -> its fill."""


def hatch_defs(svg: str) -> str:
    """The patterns that a drawing names, as an SVG element that defines them; empty where it names none."""
    used = [fill for fill in FILLS.values() if fill.lines and fill.paint in svg]
    patterns = "".join(
        f'<pattern id="lw-{fill.name}" width="{HATCH_PX}" height="{HATCH_PX}" patternUnits="userSpaceOnUse">'
        f'<rect width="{HATCH_PX}" height="{HATCH_PX}" fill="{fill.ground}"/>'
        f'<path d="{fill.lines}" stroke="{HUE}" stroke-width="{fill.width_px}" fill="none"/></pattern>'
        for fill in used
    )
    return f"<defs>{patterns}</defs>" if patterns else ""


_PER_M: Final = {"mm": 1000.0, "inch": 1.0 / 0.0254}
_SHORT: Final = {"mm": "mm", "inch": "in"}


@dataclass(frozen=True)
class Lengths:
    """Lengths in the line file's unit.

    Parameters
    ----------
    units : ``mm`` or ``inch``
    """

    units: str

    @property
    def short(self) -> str:
        """The unit as it stands behind a number."""
        return _SHORT[self.units]

    def value(self, length_m: float) -> float:
        """A length as a picture counts it, to a hundredth of a millimetre or a thousandth of an inch."""
        return round(length_m * _PER_M[self.units], 2 if self.units == "mm" else 3)

    def to_SI(self, value: float) -> float:
        """Back to metres."""
        return value / _PER_M[self.units]

    def text(self, length_m: float) -> str:
        """A length with its unit, to a tenth of a millimetre or a hundredth of an inch."""
        return f"{round(length_m * _PER_M[self.units], 1 if self.units == 'mm' else 2) + 0.0:.10g} {self.short}"

    def round_step(self, least_m: float) -> float:
        """The least round step (1, 2 or 5 times a power of ten) that is no shorter, in the unit. [unit]"""
        return round_step(least_m * _PER_M[self.units])


def round_step(least: float) -> float:
    """The least of 1, 2 and 5 times a power of ten that is no less.

    Raises
    ------
    ValueError   `least` is not positive.

    Examples
    --------
    >>> round_step(0.3), round_step(12), round_step(5)
    (0.5, 20.0, 5.0)
    """
    if not least > 0.0:
        raise ValueError(f"least is {least}; it must be positive")
    power = 1.0
    while power > least:
        power /= 10.0
    while True:
        for digit in (1.0, 2.0, 5.0):
            if digit * power >= least * (1.0 - 1e-12):
                return digit * power
        power *= 10.0
