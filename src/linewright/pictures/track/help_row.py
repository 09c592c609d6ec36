"""What would help, under its place: what changes that were tried gain or lose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.grammar import Spec, as_is, layer, told
from linewright.pictures.key import KeyEntry, box, stroke
from linewright.pictures.style import GREY, INK, PAPER, round_step
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.values import Value, value_height, value_layers

if TYPE_CHECKING:
    from linewright.planning.gains import Gain, Gains

TITLE: Final = "What would help (good parts an hour more or fewer)"
PLOT_PX: Final = 72.0
GREATEST: Final = 3
LEAST_RANGE: Final = 0.01
"""The scale spans at least this share of the rate, so that what does nothing looks like nothing."""
WORDS: Final = {"does nothing": "nothing", "cannot be told": "unsure"}


@dataclass(frozen=True, eq=False)
class _Place:
    """What was tried at one step or transfer, the greatest gain first.

    Parameters
    ----------
    name : as a reader calls it
    from_m, to_m : the bar along the axis. [m]
    gains : of the changes there
    """

    name: str
    from_m: float
    to_m: float
    gains: list[Gain]

    @property
    def best(self) -> Gain:
        """The one that is drawn."""
        return self.gains[0]


@dataclass(frozen=True)
class _Scale:
    """Heights of gains. [1/h], [px]"""

    low_per_h: float
    high_per_h: float
    top: float
    foot: float

    def y(self, per_h: float) -> float:
        """Height from the top of the row. [px]"""
        return self.foot - (self.foot - self.top) * (per_h - self.low_per_h) / (self.high_per_h - self.low_per_h)


def help_row(sheet: Sheet) -> Row:
    """The best change of every step and transfer as a bar at its place; the greatest of all, and what changes the
    whole line, in words."""
    gains = sheet.gains
    if gains is None:
        why = "no run was simulated" if sheet.evaluation.run is None else "nothing was tried"
        return sheet.missing("help", TITLE, why)
    places = _places(sheet, gains)
    heading, top = sheet.heading(TITLE, " ".join(_said(gains, places)))
    if not places:
        return sheet.row("help", heading, top)
    values = [_value(place, gains) for place in places]
    plot_top = top + value_height(sheet, values) + 4.0
    scale = _scale(gains, places, plot_top)
    layers = [
        *heading,
        *sheet.ground(scale.top, scale.foot),
        *_levels(sheet, scale),
        *_bars(sheet, gains, places, scale),
        *value_layers(sheet, values, top),
    ]
    return sheet.row("help", layers, scale.foot + 0.5 * sheet.text.small_px, _key(places))


def _places(sheet: Sheet, gains: Gains) -> list[_Place]:
    """Steps and transfers where something was tried; a station's changes stand with those of its step."""
    steps = {name: step.stations for step in sheet.line.route for name in (step.name, *step.stations)}
    transfers = {one.name: one.platform_axis_m for one in sheet.layout.transfers}
    found: dict[tuple[str, ...], list[Gain]] = {}
    for gain in gains.gains:
        place = gain.change.place
        if place in steps:
            found.setdefault(steps[place], []).append(gain)
        elif place in transfers:
            found.setdefault((place,), []).append(gain)
    for tried in found.values():
        tried.sort(key=lambda gain: -gain.per_h.mean)
    places = []
    half_m = 0.5 * sheet.bar_m()
    for names, tried in found.items():
        ends = [transfers[names[0]]] if names[0] in transfers else _span(sheet, names, tried[0].change.place)
        places.append(_Place("/".join(names), min(ends) - half_m, max(ends) + half_m, tried))
    return sorted(places, key=lambda place: place.from_m)


def _span(sheet: Sheet, stations: Sequence[str], place: str | None) -> list[float]:
    """From where to where the bar of a step goes: over the station that is changed; over all where the step is, but
    over its first alone where others stand between them. [m]"""
    if place in stations:
        return [sheet.station_m(str(place))]
    at = sorted(sheet.station_m(name) for name in stations)
    others = [sheet.station_m(one.name) for one in sheet.line.stations if one.name not in stations]
    platforms = [one.platform_axis_m for one in sheet.layout.transfers]
    return at[:1] if any(at[0] < one < at[-1] for one in (*others, *platforms)) else [at[0], at[-1]]


def signed(per_h: float) -> str:
    """A gain for a person: never minus zero, to a tenth, from a hundred on to one.

    Examples
    --------
    >>> signed(58.24), signed(-0.04), signed(-3.0), signed(567.08)
    ('+58.2 /h', '0 /h', '−3.0 /h', '+567 /h')
    """
    text = f"{abs(per_h):.{0 if abs(per_h) >= 99.95 else 1}f}"
    return "0 /h" if float(text) == 0.0 else f"{'+' if per_h > 0.0 else '−'}{text} /h"


def _interval(gain: Gain) -> str:
    return f"{signed(gain.per_h.low)} to {signed(gain.per_h.high)}".replace(" /h to", " to")


def _said(gains: Gains, places: Sequence[_Place]) -> list[str]:
    """The greatest gains of all in words; then what of the whole line is not among them, and what was not tried."""
    sure = [gain for gain in gains.gains if gain.effect == "gains"]
    first = sure[:GREATEST]
    drawn = [gain for place in places for gain in place.gains]
    said = ["Nothing that was tried is sure to gain."]
    if first:
        said = [f"Most helps: {'; '.join(_in_words(gain) for gain in first)}."]
    whole = [gain for gain in gains.gains if gain not in drawn and gain not in first]
    told_ = [gain for gain in whole if gain.effect in ("gains", "loses")]
    if told_:
        said.append(f"Of the whole line: {'; '.join(_in_words(gain) for gain in told_)}.")
    for effect, words in (("does nothing", "Does nothing"), ("cannot be told", "Cannot be told")):
        rest = [gain.change.words for gain in whole if gain.effect == effect]
        if rest:
            said.append(f"{words}: {'; '.join(rest)}.")
    if gains.not_tried:
        said.append(f"Could not be tried: {'; '.join(words for words, _ in gains.not_tried)}.")
    return said


def _in_words(gain: Gain) -> str:
    # No line breaks between a number and its unit.
    return f"{signed(gain.per_h.mean)}: {gain.change.words}".replace(" /h", "\u00a0/h")


def _told(gain: Gain, gains: Gains) -> str:
    """The whole sentence of one change."""
    runs, hours = (gains.full_runs, gains.full_hours) if gain.confirmed else (gains.runs, gains.hours)
    return (
        f"{gain.change.words}: {signed(gain.per_h.mean)}, {100.0 * gain.per_h.confidence:g} % interval "
        f"{_interval(gain)}, {gain.effect}, by {runs} runs of {hours:.3g} h"
    )


def _value(place: _Place, gains: Gains) -> Value:
    best = place.best
    words = WORDS.get(best.effect, signed(best.per_h.mean))
    others = [f"{gain.change.words} {signed(gain.per_h.mean)} ({gain.effect})" for gain in place.gains[1:]]
    also = f"; also tried there: {', '.join(others)}" if others else ""
    return Value(0.5 * (place.from_m + place.to_m), words, f"best at {place.name}: {_told(best, gains)}{also}")


def _scale(gains: Gains, places: Sequence[_Place], top: float) -> _Scale:
    low_per_h = min(0.0, *(place.best.per_h.low for place in places))
    high_per_h = max(0.0, *(place.best.per_h.high for place in places))
    missing = LEAST_RANGE * gains.base.mean - (high_per_h - low_per_h)
    return _Scale(low_per_h, high_per_h + max(0.0, missing), top, top + PLOT_PX)


def _levels(sheet: Sheet, scale: _Scale) -> list[Spec]:
    """Zero, and a round number above and below it where it keeps clear of zero's name."""
    layers = sheet.level(scale.y(0.0), "0 /h", strokeWidth=1.0)
    apart = 1.5 * sheet.text.small_px * (scale.high_per_h - scale.low_per_h) / (scale.foot - scale.top)
    for sign, most in ((1.0, scale.high_per_h), (-1.0, -scale.low_per_h)):
        step = round_step(max(apart, 0.4 * most))
        if step <= most:
            number = f"{'+' if sign > 0 else '−'}{step:g} /h"
            layers += sheet.level(scale.y(sign * step), number, color=GREY, strokeWidth=0.6)
    return layers


def _bars(sheet: Sheet, gains: Gains, places: Sequence[_Place], scale: _Scale) -> list[Spec]:
    rows: list[dict[str, Any]] = []
    whiskers = []
    for place in places:
        best = place.best
        ends = sorted((scale.y(best.per_h.mean), scale.y(0.0)))
        said = {"name": f"{place.name}: {_told(best, gains)}"}
        paint = PAPER if best.effect in WORDS else GREY
        rows.append({**sheet.span(place.from_m, place.to_m, *ends), **said, "paint": paint})
        middle_m, half_m = 0.5 * (place.from_m + place.to_m), 0.2 * sheet.bar_m()
        high, low = scale.y(best.per_h.high), scale.y(best.per_h.low)
        whiskers.append({**sheet.span(middle_m, middle_m, high, low), **said})
        whiskers += [{**sheet.span(middle_m - half_m, middle_m + half_m, y, y), **said} for y in (high, low)]
    look = {"stroke": INK, "strokeWidth": 1.0, "clip": True}
    thin = {"color": INK, "strokeWidth": 1.4, "clip": True}
    return [
        layer(sheet.data.named(rows, "gains"), "rect", look, sheet.box(fill=as_is("paint"), **told())),
        layer(sheet.data.named(whiskers, "gain-intervals"), "rule", thin, sheet.box(tooltip=told()["tooltip"])),
    ]


def _key(places: Sequence[_Place]) -> list[KeyEntry]:
    key = [box("sure to gain (up) or lose (down)", 12, 12, fill=GREY, stroke=INK)]
    if any(place.best.effect in WORDS for place in places):
        key.append(box("does nothing, or cannot be told", 12, 12, fill=PAPER, stroke=INK))
    key.append(stroke("95 % interval", (14, 4), (14, 16), color=INK, strokeWidth=1.4))
    return key
