"""What would help, under its place: what changes that were tried gain or lose.

Every bar has a number, and under the plot stands in words which change it is: paper has no pointer. A change of several
transfers together has a bar at each of them, of one number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.grammar import Spec, as_is, field, layer, pixels, told
from linewright.pictures.key import KeyEntry, box, stroke
from linewright.pictures.labels import wrapped
from linewright.pictures.nothing import why_no_run
from linewright.pictures.style import GREY, INK, PAPER, round_step
from linewright.pictures.track.sheet import Row, Sheet
from linewright.pictures.track.time_row import why_no_rate
from linewright.pictures.track.values import Value, value_height, value_layers
from linewright.quantities import KEEP

if TYPE_CHECKING:
    from linewright.planning.gains import Gain, Gains

TITLE: Final = "What would help (good parts an hour more or fewer)"
PLOT_PX: Final = 72.0
PLOT_HIGH: Final = 5.0
"""The plot is so many sizes of its small letters high at least, or there is room for the name of zero alone."""
GREATEST: Final = 3
LEAST_RANGE: Final = 0.01
"""The scale spans at least this share of the rate, so that what does nothing looks like nothing."""
HOLLOW: Final = ("does nothing", "cannot be told")
"""The effects whose interval is not wholly on one side of zero: told by these words, not by a number."""
STOPS: Final = 0.999
"""Who loses this share of the rate has nothing left: the line stands."""


@dataclass(frozen=True, eq=False)
class _Place:
    """What was tried at one step or transfer, the greatest gain first.

    Parameters
    ----------
    name : as a reader calls it
    from_m, to_m : the bar along the axis. [m]
    gains : of the changes there
    number : of the change that is drawn
    """

    name: str
    from_m: float
    to_m: float
    gains: list[Gain]
    number: int = 0

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

    def level(self, most_per_h: float, small_px: float) -> float:
        """The round number that is named on the side of zero that reaches so far, clear of the name of zero. [1/h]"""
        apart_per_h = 1.5 * small_px * (self.high_per_h - self.low_per_h) / (self.foot - self.top)
        return round_step(max(apart_per_h, 0.4 * most_per_h))


def help_row(sheet: Sheet) -> Row:
    """The best change of every step and transfer as a bar at its place; the greatest of all, and what changes the
    whole line, in words."""
    gains = sheet.gains
    if gains is None:
        return sheet.missing("help", TITLE, _why(sheet))
    places = _places(sheet, gains)
    heading, top = sheet.heading(TITLE, " ".join(_said(sheet, gains)))
    if not places:
        return sheet.row("help", heading, top)
    values = [_value(sheet, place, gains) for place in places]
    plot_top = top + value_height(sheet, values) + 4.0
    scale = _scale(gains, places, plot_top, sheet.text.small_px)
    layers = [
        *heading,
        *sheet.ground(scale.top, scale.foot),
        *_levels(sheet, scale),
        *_bars(sheet, gains, places, scale),
        *value_layers(sheet, values, top),
    ]
    listed, foot = _listed(sheet, places, scale.foot + 0.5 * sheet.text.small_px)
    return sheet.row("help", [*layers, *listed], foot, _key(places))


def _why(sheet: Sheet) -> str:
    """Why there are no gains, and what would give some."""
    run = sheet.evaluation.run
    if run is None:
        return why_no_run(sheet.evaluation)
    if run.rate is None:
        return f"the runs give no rate to compare: {why_no_rate(run)}"
    return "nothing was tried: linewright rate and draw try it where the runs give a rate"


def _places(sheet: Sheet, gains: Gains) -> list[_Place]:
    """Steps and transfers where something was tried; a station's changes stand with those of its step."""
    steps = {name: step.stations for step in sheet.line.route for name in (step.name, *step.stations)}
    transfers = {one.name: one.platform_axis_m for one in sheet.layout.transfers}
    found: dict[tuple[str, ...], list[Gain]] = {}
    for gain in gains.gains:
        for place in gain.change.places:
            if place in steps or place in transfers:
                found.setdefault(steps.get(place, (place,)), []).append(gain)
    for tried in found.values():
        tried.sort(key=lambda gain: -gain.per_h.mean)
    places = []
    half_m = 0.5 * sheet.bar_m()
    for names, tried in found.items():
        ends = [transfers[names[0]]] if names[0] in transfers else _span(sheet, names, tried[0].change.place)
        places.append(_Place("/".join(names), min(ends) - half_m, max(ends) + half_m, tried))
    places.sort(key=lambda place: place.from_m)
    drawn = list(dict.fromkeys(place.best for place in places))
    return [replace(place, number=drawn.index(place.best) + 1) for place in places]


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


def _said(sheet: Sheet, gains: Gains) -> list[str]:
    """The greatest gains of all in words; then what of the whole line is not among them, and what was not tried."""
    sure = [gain for gain in gains.gains if gain.effect == "gains"]
    first = sure[:GREATEST]
    said = ["Of nothing that was tried the interval lies wholly above zero."]
    if first:
        said = [f"Most helps: {'; '.join(_in_words(sheet, gain, gains) for gain in first)}."]
        if not first[0].change.places:
            said.insert(0, "The greatest gain is of the whole line, which has no bar.")
    whole = [gain for gain in gains.gains if not gain.change.places and gain not in first]
    told_ = [gain for gain in whole if gain.effect in ("gains", "loses")]
    if told_:
        said.append(f"Of the whole line: {'; '.join(_in_words(sheet, gain, gains) for gain in told_)}.")
    for effect in HOLLOW:
        rest = [gain.change.words for gain in whole if gain.effect == effect]
        if rest:
            said.append(f"{effect.capitalize()}: {'; '.join(rest)}.")
    if gains.not_tried:
        said.append(f"Could not be tried: {'; '.join(words for words, _ in gains.not_tried)}.")
    return said


def _stops(sheet: Sheet, gain: Gain, gains: Gains) -> bool:
    """The line stands with that change: all of its rate is lost, of the trials' or of the run's."""
    run = sheet.evaluation.run
    rates = [gains.base.mean, *([] if run is None else [float(run.rates_per_h.mean())])]
    return gain.effect == "loses" and gain.per_h.mean <= -STOPS * min(rates)


def _effect(sheet: Sheet, gain: Gain, gains: Gains) -> str:
    """What may be said of it, in one wording everywhere."""
    return "the line stops" if _stops(sheet, gain, gains) else gain.effect


def _in_words(sheet: Sheet, gain: Gain, gains: Gains) -> str:
    # No line breaks between a number and its unit.
    stops = ", the line stops" if _stops(sheet, gain, gains) else ""
    return f"{signed(gain.per_h.mean)}: {gain.change.words}{stops}".replace(" /h", f"{KEEP}/h")


def _told(sheet: Sheet, gain: Gain, gains: Gains) -> str:
    """The whole sentence of one change."""
    runs, hours = (gains.full_runs, gains.full_hours) if gain.confirmed else (gains.runs, gains.hours)
    return (
        f"{gain.change.words}: {signed(gain.per_h.mean)}, {100.0 * gain.per_h.confidence:g} % interval "
        f"{_interval(gain)}, {_effect(sheet, gain, gains)}, by {runs} runs of {hours:.3g} h"
    )


def _together(place: _Place) -> str:
    """With which other transfers the change that is drawn at one is made."""
    others = [name for name in place.best.change.places if name != place.name]
    return f"; together with {' and '.join(others)}" if len(place.best.change.places) > 1 else ""


def _value(sheet: Sheet, place: _Place, gains: Gains) -> Value:
    best = place.best
    words = best.effect if best.effect in HOLLOW else signed(best.per_h.mean)
    words += ", the line stops" if _stops(sheet, best, gains) else ""
    others = [
        f"{gain.change.words} {signed(gain.per_h.mean)} ({_effect(sheet, gain, gains)})" for gain in place.gains[1:]
    ]
    also = f"; also tried there: {', '.join(others)}" if others else ""
    told_ = f"best at {place.name}: {_told(sheet, best, gains)}{_together(place)}{also}"
    return Value(0.5 * (place.from_m + place.to_m), f"{place.number}: {words}", told_)


def _listed(sheet: Sheet, places: Sequence[_Place], top: float) -> tuple[list[Spec], float]:
    """Under the plot, from `top` down, the change of each number; layers and where they end. [px]"""
    changes = {place.number: place.best.change.words for place in places}
    words = [f"{number}:{KEEP}{changes[number]}" for number in sorted(changes)]
    size = sheet.text.small_px
    lines = wrapped("; ".join(words), sheet.width_px, size)
    rows = [{"x": 0.0, "y": top + (1.0 + 1.4 * number) * size, "words": one} for number, one in enumerate(lines)]
    place = {"x": pixels("x"), "y": pixels("y"), "text": field("words", "nominal")}
    look = {"align": "left", "baseline": "middle", "fontSize": size, "color": INK}
    return [layer(sheet.data.named(rows, "changes"), "text", look, place)], top + (0.6 + 1.4 * len(lines)) * size


def _scale(gains: Gains, places: Sequence[_Place], top: float, small_px: float) -> _Scale:
    low_per_h = min(0.0, *(place.best.per_h.low for place in places))
    high_per_h = max(0.0, *(place.best.per_h.high for place in places))
    missing = LEAST_RANGE * gains.base.mean - (high_per_h - low_per_h)
    plot_px = max(PLOT_PX, PLOT_HIGH * small_px)
    scale = _Scale(low_per_h, high_per_h + max(0.0, missing), top, top + plot_px)
    level = scale.level(scale.high_per_h, small_px)
    if level <= scale.high_per_h or scale.level(-low_per_h, small_px) <= -low_per_h:
        return scale
    return replace(scale, high_per_h=level)  # beside zero at least one level has room for its name


def _levels(sheet: Sheet, scale: _Scale) -> list[Spec]:
    """Zero, and a round number above and below it where it keeps clear of zero's name."""
    layers = sheet.level(scale.y(0.0), "0 /h", strokeWidth=1.0)
    for sign, most in ((1.0, scale.high_per_h), (-1.0, -scale.low_per_h)):
        step = scale.level(most, sheet.text.small_px)
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
        said = {"name": f"{place.name}: {_told(sheet, best, gains)}{_together(place)}"}
        paint = PAPER if best.effect in HOLLOW else GREY
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
    key = []
    if any(place.best.effect not in HOLLOW for place in places):
        key.append(box("gain or loss, interval wholly above or below zero", 12, 12, fill=GREY, stroke=INK))
    if any(place.best.effect in HOLLOW for place in places):
        key.append(box(" or ".join(HOLLOW), 12, 12, fill=PAPER, stroke=INK))
    words = "95 % interval of a gain: of twenty one misses"
    key.append(stroke(words, (14, 4), (14, 16), color=INK, strokeWidth=1.4))
    return key
