"""Prices of this line and of the baseline, what is saved in a year, and payback."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from linewright.planning.money.parts_list import PartsList
from linewright.tables import Column, Table

KWH_J: Final = 3.6e6
AIR_KWH_PER_M3: Final = 0.10
"""Electricity for a cubic metre of free air at 7 bar: 6 kW for 1 m3/min, see docs/handover/money.md. [kWh/m3]"""


@dataclass(frozen=True)
class Cost:
    """An amount at a price.

    Parameters
    ----------
    item : what it is
    amount, unit : how much; None where it is not known
    price_each : of one unit, in the currency of the sheet; None where it is not stated
    key : of the line file, that states the price
    missing_amount : what would give the amount
    """

    item: str
    amount: float | None
    unit: str
    price_each: float | None
    key: str
    missing_amount: tuple[str, ...] = ()

    @property
    def price(self) -> float | None:
        """Amount times price; 0 where there is none of it, None where a figure is missing."""
        if self.amount == 0.0:
            return 0.0
        return None if self.amount is None or self.price_each is None else self.amount * self.price_each

    @property
    def missing(self) -> tuple[str, ...]:
        """What would give the price; empty where it is known."""
        if self.price is not None:
            return ()
        return (*self.missing_amount, *((self.key,) if self.price_each is None else ()))


@dataclass(frozen=True)
class Money:
    """Prices, savings and payback.

    Parameters
    ----------
    currency : of the conveyor sheet; the prices of the baseline are in it
    parts : of this line
    purchases : what the baseline costs to buy
    savings : what this line saves in a year; an amount below zero is one more to pay
    """

    currency: str | None
    parts: PartsList
    purchases: tuple[Cost, ...]
    savings: tuple[Cost, ...]

    @property
    def price_here(self) -> float | None:
        """Of all items whose price a sheet has room for; None where one of these is missing."""
        return None if self.parts.missing_keys else self.parts.total

    @property
    def price_baseline(self) -> float | None:
        """Of all purchases; None where a price is missing."""
        return _sum(self.purchases)

    @property
    def saved_per_year(self) -> float | None:
        """All savings together; None where one is not known."""
        return _sum(self.savings)

    @property
    def extra(self) -> float | None:
        """Price of this line less that of the baseline; None where one is not known."""
        here, there = self.price_here, self.price_baseline
        return None if here is None or there is None else here - there

    @property
    def missing(self) -> tuple[str, ...]:
        """Keys and figures that would give the payback, each once; empty where it is known."""
        of_costs = (key for cost in (*self.purchases, *self.savings) for key in cost.missing)
        return tuple(dict.fromkeys((*self.parts.missing_keys, *of_costs)))

    @property
    def payback_years(self) -> float | None:
        """See :func:`payback_years`; None where a figure is missing."""
        extra, saved = self.extra, self.saved_per_year
        return None if extra is None or saved is None else payback_years(extra, saved)

    @property
    def why(self) -> str:
        """Of the payback, in words."""
        extra, saved = self.extra, self.saved_per_year
        if extra is None or saved is None:
            return f"not known; to be stated: {', '.join(self.missing)}"
        if extra <= 0.0:
            if saved >= 0.0:
                return "at once: this line costs no more to buy than the baseline at equal output"
            return "at once, but not for ever: this line costs no more to buy, and more in every year"
        if saved <= 0.0:
            return "never: this line costs more to buy, and saves nothing in a year"
        return "what this line costs more to buy, over what it saves in a year"


def air_energy_J(air_m3: float) -> float:
    """Electricity that a compressor takes for free air at about 7 bar. [J]

    Parameters
    ----------
    air_m3 : free air. [m3], >= 0

    Raises
    ------
    ValueError   The air is negative.

    Notes      E = 0.10 kWh/m3 x air, that of a screw compressor at full load; leaks, idling and part load come on top
               and are left out.
    Source     specific power of 5 to 7 kW for 1 m3/min, tests/reference/data/money.json; docs/handover/money.md.
    Examples   >>> round(air_energy_J(1.0) / 3.6e6, 3)
               0.1
    """
    if air_m3 < 0.0:
        raise ValueError(f"air_m3 is {air_m3}; it must not be negative")
    return AIR_KWH_PER_M3 * KWH_J * air_m3


def payback_years(extra: float, saved_per_year: float) -> float:
    """Years until what costs more to buy has paid for itself by what it saves; without interest.

    Parameters
    ----------
    extra : what it costs more to buy
    saved_per_year : in the same currency

    Raises
    ------
    ValueError   A figure is not finite.

    Notes      t = extra / saved; 0 where extra <= 0, infinite where extra > 0 and saved <= 0.
    Source     common practice: static payback time.
    Examples   >>> payback_years(30000.0, 12000.0), payback_years(-1.0, 5.0), payback_years(1.0, 0.0)
               (2.5, 0.0, inf)
    """
    if not math.isfinite(extra) or not math.isfinite(saved_per_year):
        raise ValueError(f"extra and saved_per_year must be finite, not {extra} and {saved_per_year}")
    if extra <= 0.0:
        return 0.0
    return extra / saved_per_year if saved_per_year > 0.0 else math.inf


def money_table(money: Money) -> Table:
    """All amounts as a table: what this line costs, what the baseline costs, what is saved in a year."""
    here = [
        ("this line", row.item, row.count, row.unit, row.price_each, row.price, row.key or "")
        for row in money.parts.rows
        if row.key is not None
    ]
    others = [
        (of, one.item, one.amount, one.unit, one.price_each, one.price, one.key)
        for of, costs in (("baseline", money.purchases), ("saved a year", money.savings))
        for one in costs
    ]
    rows = [*here, *others]
    texts = ("of", "item", "unit", "key")
    meanings = {
        "of": "this line, the baseline, or what is saved a year",
        "item": "what",
        "amount": "how much; not a number where unknown",
        "unit": "of the amount",
        "price_each": "of one unit, in the sheet's currency; not a number where not stated",
        "price": "amount times price",
        "key": "that states the price",
    }
    columns = []
    for place, name in enumerate(meanings):
        values = [row[place] for row in rows]
        if name in texts:
            array = np.array([str(value) for value in values], np.str_)
        else:
            array = np.array([math.nan if value is None else value for value in values], np.float64)
        columns.append(Column(name, None, array, meanings[name]))
    return Table(tuple(columns))


def _sum(costs: Sequence[Cost]) -> float | None:
    prices = [one.price for one in costs]
    return None if None in prices else math.fsum(price for price in prices if price is not None)
