"""The sheet Payback: this line against a chain or belt line, with amounts and prices that the reader may change."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Final

from linewright.handover.papers.material import Material
from linewright.handover.workbook.buying import MONEY, NO_CURRENCY
from linewright.handover.workbook.cells import Cell, Entry, Labelled, Lines, Listed, Named, Sheet
from linewright.handover.workbook.units import figure, lines_of, scale_of

if TYPE_CHECKING:
    from linewright.planning.money.comparison import Comparison, Side
    from linewright.planning.money.costs import Cost, Money

_ABOUT: Final = "This line against a chain or belt line with stop gates and lift-and-locate units, at equal output."
_UNITS: Final = {"m3": "m³"}
_UNKNOWN: Final = "not known: prices or amounts missing"
# Amount times price; 0 of anything costs nothing, whatever its price. A blank cell equals 0 as well, so it goes first.
_PRICE: Final = '=IF({%s_amount}="","",IF({%s_amount}=0,0,IF({%s_each}="","",{%s_amount}*{%s_each})))'
_NOT_SUMMED: Final = 'SUMPRODUCT(({%s_price:}="")*1)'


def payback_sheet(material: Material) -> Sheet:
    """Both lines side by side, what each costs, what is saved in a year, and the payback."""
    found = material.comparison
    if isinstance(found, str):
        return Sheet("Payback", _ABOUT, (Labelled((Named("payback", f"not known: {found}"),)),))
    currency = found.costs.currency or NO_CURRENCY
    units = material.evaluation.line.units
    blocks = (
        Labelled(_result(found, currency), "Payback"),
        _costs(found.costs.purchases, "bought", "The baseline costs", currency),
        _costs(found.costs.savings, "saved", "This line saves in a year (below zero: one more to pay)", currency),
        _sides(found, units),
        lines_of(found.steps, units, "Stations that each step needs"),
        Labelled(
            tuple(Named(f"{i}", one) for i, one in enumerate(found.assumed, 1)), "What the comparison takes for granted"
        ),
    )
    tables = (("payback-money", found.money), ("payback-steps", found.steps))
    return Sheet("Payback", _ABOUT, blocks, tables)


def _result(found: Comparison, currency: str) -> tuple[Named, ...]:
    money = found.costs
    here, there = _known(money.price_here), _known(money.price_baseline)
    extra, saved = _known(money.extra), _known(money.saved_per_year)
    compared = '({Parts!compared:}="yes")'
    of_parts = (
        f'=IF(SUMPRODUCT({compared}*({{Parts!each:}}=""))>0,"",SUMIF({{Parts!compared:}},"yes",{{Parts!price:}}))'
    )
    return (
        Named(
            "this line",
            Cell(here, MONEY, of_parts),
            currency,
            "from the sheet Parts, items marked yes in the comparison",
            "here",
        ),
        Named("the baseline", Cell(there, MONEY, _sum_formula("bought")), currency, key="there"),
        Named(
            "this line costs more by",
            Cell(extra, MONEY, '=IF(OR({here}="",{there}=""),"",{here}-{there})'),
            currency,
            key="extra",
        ),
        Named("this line saves", Cell(saved, MONEY, _sum_formula("saved")), f"{currency} a year", key="saved"),
        Named(
            "payback [years]",
            Cell(
                payback(money),
                "0.00",
                f'=IF(OR({{extra}}="",{{saved}}=""),"{_UNKNOWN}",IF({{extra}}<=0,IF({{saved}}>=0,"at once",'
                '"at once, but not for ever: it costs more in every year"),IF({saved}<=0,"never",{extra}/{saved})))',
            ),
            "",
            "without interest",
        ),
        Named("as planned", found.why),
    )


def payback(money: Money) -> float | str:
    """What the formula of the payback comes to, as the comparison has it: years, or words."""
    years, saved = money.payback_years, money.saved_per_year
    if years is None or saved is None:
        return _UNKNOWN
    if years == 0.0:
        return "at once" if saved >= 0.0 else "at once, but not for ever: it costs more in every year"
    return "never" if math.isinf(years) else years


def _known(value: float | None) -> float | str:
    """What a formula comes to that leaves its cell empty where a price is missing."""
    return "" if value is None else value


def _sum_formula(prefix: str) -> str:
    missing = _NOT_SUMMED.replace("%s", prefix)
    return f'=IF({missing}>0,"",SUM({{{prefix}_price:}}))'


def _costs(costs: Sequence[Cost], prefix: str, heading: str, currency: str) -> Lines:
    price = _PRICE.replace("%s", prefix)
    return Lines(
        (
            Listed(f"{prefix}_item", "item", tuple(one.item for one in costs)),
            Listed(
                f"{prefix}_amount", "amount, input", tuple(figure(one.amount, _amount_form(one), True) for one in costs)
            ),
            Listed(f"{prefix}_unit", "unit", tuple(_UNITS.get(one.unit, one.unit) for one in costs)),
            Listed(
                f"{prefix}_each",
                f"price each [{currency}], input",
                tuple(figure(one.price_each, MONEY, True) for one in costs),
            ),
            Listed(
                f"{prefix}_price",
                f"price [{currency}]",
                tuple(Cell("" if one.price is None else one.price, MONEY, price) for one in costs),
                "amount times price each",
            ),
            Listed(
                f"{prefix}_key",
                "key",
                tuple(", ".join((one.key, *one.missing_amount)) for one in costs),
                "that would state it",
            ),
        ),
        heading,
    )


def _amount_form(cost: Cost) -> str:
    amount = cost.amount
    return "#,##0" if amount is None or amount == round(amount) else "#,##0.0"


def _sides(found: Comparison, units: str) -> Lines:
    here, other = found.here, found.baseline
    rows: list[tuple[str, str, Entry, Entry, Entry]] = []

    def add(
        label: str, unit: str | None, one: float | int | None, two: float | int | None, form: str | None = None
    ) -> None:
        scale = scale_of([one, two], unit, units)
        shown = [None if value is None else value * scale.factor for value in (one, two)]
        less = None if shown[0] is None or shown[1] is None else shown[1] - shown[0]
        cells = [figure(value, form) for value in (*shown, less)]
        if less is not None and isinstance(cells[2], Cell):
            cells[2] = Cell(less, cells[2].form, "={sides_baseline}-{sides_here}")
        rows.append((label, scale.unit, cells[0], cells[1], cells[2]))

    _add_sides(add, here, other)
    names = ("sides_what", "sides_unit", "sides_here", "sides_baseline", "sides_less")
    heads = ("what", "unit", "this line", "baseline", "baseline less this line")
    columns = zip(names, heads, zip(*rows, strict=True), strict=True)
    heading = f"Both lines at {found.output_per_h:,.1f} good parts per hour: {found.output_is}"
    return Lines(tuple(Listed(name, head, tuple(entries)) for name, head, entries in columns), heading)


def _add_sides(add: Callable[..., None], here: Side, other: Side) -> None:
    add("exchange: clear tool to next work", "s", here.exchange_s, other.exchange_s)
    add("stations", None, here.stations, other.stations, "0")
    add("of these with work by hand", None, here.manual_stations, other.manual_stations, "0")
    add("track", "m", here.track_m, other.track_m)
    add("carriers, or pallets", None, here.carriers, other.carriers, "0")
    add("floor of track and what stands on it", "m²", here.floor_m2, other.floor_m2)
    add("air for a good part, free", "l", here.air_m3_per_part * 1e3, other.air_m3_per_part * 1e3)
    add("electricity for a good part, air included", "J", here.energy_J_per_part, other.energy_J_per_part)
