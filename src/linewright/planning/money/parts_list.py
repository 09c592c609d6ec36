"""The parts of a line, counted, with the prices that its conveyor sheet states."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from linewright.checks.power.feeders import most_carriers
from linewright.checks.power.rows import counted
from linewright.checks.power.trace import feeder_track
from linewright.layout import Layout
from linewright.layout.lanes import SAME_PLACE_M
from linewright.layout.placing import length_text
from linewright.line.electrics import Feeder
from linewright.line.model import Line

SHEET: Final = "of the conveyor sheet"


@dataclass(frozen=True)
class PartRow:
    """One item of the parts list.

    Parameters
    ----------
    item : what it is
    part_number : of the conveyor sheet; None where it states none
    count, unit : how many pieces or metres; unit is ``piece`` or ``m``
    price_each : of one piece or metre, in the currency of the sheet; None where no file states it
    source : where count and price come from
    key : of the conveyor sheet, under which the price stands or would stand; None where no file has room for it
    """

    item: str
    part_number: str | None
    count: float
    unit: str
    price_each: float | None
    source: str
    key: str | None = None

    @property
    def price(self) -> float | None:
        """Count times price; None without a price."""
        return None if self.price_each is None else self.count * self.price_each


@dataclass(frozen=True)
class PartsList:
    """All parts of a line.

    Parameters
    ----------
    rows : in the order of the track, then the electrical side, then what stands on the carriers
    currency : of the sheet; None where it states none
    total : of what has a price
    missing : items without a price
    """

    rows: tuple[PartRow, ...]
    currency: str | None
    total: float
    missing: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether every item has a price, in a currency that is stated."""
        return not self.missing and self.currency is not None

    @property
    def missing_keys(self) -> tuple[str, ...]:
        """Keys of the conveyor sheet that would give a missing price, each once; the currency among them."""
        keys = [row.key for row in self.rows if row.price_each is None and row.key is not None]
        if self.currency is None:
            keys.append("prices.currency")
        return tuple(dict.fromkeys(keys))

    @property
    def without_key(self) -> tuple[str, ...]:
        """Items whose price no file has room for: offers have to be asked for."""
        return tuple(row.item for row in self.rows if row.price_each is None and row.key is None)


def parts_list(line: Line, layout: Layout) -> PartsList:
    """Count the parts of a line and price what its conveyor sheet prices.

    Parameters
    ----------
    line, layout : a line and its own layout

    Returns
    -------
    PartsList   A price that is not stated stays blank, and the list is then not complete. Spares are not in it.

    Notes      Sections and curves as the layout lays them, transfers and carriers as the line file states them, of
               carriers that are put in and taken out the most there are at one time; supplies the sum over the feeders;
               base the length of all lanes, curves included; links one from each section of a feeder to the next. Price
               of a row = count x price each; total = sum of these.
    Source     counts: layout and line file; prices: the conveyor sheet; docs/handover/money.md.
    """
    rows = (
        *_section_rows(line, layout),
        *_curve_rows(line, layout),
        *_transfer_rows(line),
        *_carrier_rows(line),
        *_supply_rows(line),
        _controller_row(line, layout),
        _base_row(line, layout),
        *(row for feeder in line.feeders for row in _feeder_rows(feeder, line, layout)),
        *_fixture_rows(line),
    )
    prices = line.conveyor.prices
    return PartsList(
        rows=rows,
        currency=None if prices is None else prices.currency,
        total=math.fsum(row.price for row in rows if row.price is not None),
        missing=tuple(row.item for row in rows if row.price_each is None),
    )


def controllers_needed(carriers: int, sections: int, most_carriers: int | None, most_sections: int | None) -> int:
    """How many controllers a line needs.

    Parameters
    ----------
    carriers, sections : on the whole line, >= 0
    most_carriers, most_sections : on one controller, >= 1; None where the sheet does not say

    Raises
    ------
    ValueError   A count is out of range.

    Notes      n = max(1, ceil(carriers / most carriers), ceil(sections / most sections)).
    Source     common practice, from memory: each controller is filled up before the next is bought.
    Examples   >>> controllers_needed(24, 20, 56, 30), controllers_needed(24, 31, 56, 30)
               (1, 2)
    """
    if carriers < 0 or sections < 0:
        raise ValueError(f"carriers and sections are counts, not {carriers} and {sections}")
    shares = [(carriers, most_carriers), (sections, most_sections)]
    if any(most is not None and most < 1 for _, most in shares):
        raise ValueError("a controller takes at least one carrier and one section")
    return max([1, *(-(-count // most) for count, most in shares if most is not None)])


# ---- the track -------------------------------------------------------------------------------------------------------


def _lengths(line: Line, layout: Layout) -> Counter[int]:
    """Sections of each stock, by its place in the sheet; the curves of rings are no stock sections."""
    stock_m = [stock.length_m for stock in line.conveyor.sections]
    found: Counter[int] = Counter()
    for lane in layout.lanes:
        for length_m in lane.sections:
            near = [i for i, one in enumerate(stock_m) if abs(one - length_m) <= SAME_PLACE_M]
            found.update(near[:1])
    return found


def _curves(line: Line, layout: Layout) -> int:
    """Curved sections of all rings: each turns once round."""
    rings, curve = sum(lane.is_ring for lane in layout.lanes), line.conveyor.curve
    return 0 if curve is None else rings * round(360.0 / curve.angle_deg)


def _section_rows(line: Line, layout: Layout) -> Iterator[PartRow]:
    counts = _lengths(line, layout)
    lanes = counted(len(layout.lanes), "lane")
    for i, stock in enumerate(line.conveyor.sections):
        if counts[i]:
            yield PartRow(
                item=f"section {length_text(stock.length_m, line.units)}",
                part_number=stock.part_number,
                count=float(counts[i]),
                unit="piece",
                price_each=stock.price,
                source=f"layout: as cut for {lanes}; price {_stated(stock.price, 'sections.price')}",
                key="sections.price",
            )


def _curve_rows(line: Line, layout: Layout) -> Iterator[PartRow]:
    curve, count = line.conveyor.curve, _curves(line, layout)
    if curve is None or not count:
        return
    rings = counted(sum(lane.is_ring for lane in layout.lanes), "ring")
    yield PartRow(
        item=f"curve {curve.angle_deg:.3g}°, radius {length_text(curve.radius_m, line.units)}",
        part_number=curve.part_number,
        count=float(count),
        unit="piece",
        price_each=curve.price,
        source=f"layout: the turns of {rings}; price {_stated(curve.price, 'curve.price')}",
        key="curve.price",
    )


def _transfer_rows(line: Line) -> Iterator[PartRow]:
    kinds: dict[tuple[str, int], list[str]] = {}
    for transfer in line.transfers:
        kinds.setdefault((transfer.kind, transfer.places), []).append(transfer.name)
    for (kind, places), names in sorted(kinds.items()):
        stated = line.conveyor.transfers[kind]
        key, fits = f"transfers.{kind}.price", places == stated.places
        # What the sheet prices has the places that the sheet states.
        price = stated.price if fits else None
        told = _stated(price, key)
        if not fits:
            key += f" with places: {places}"
            told = f"not known: that of the conveyor sheet has {counted(stated.places, 'place')}"
        yield PartRow(
            item=kind if places == 1 else f"{kind} with {places} places",
            part_number=stated.part_number if fits else None,
            count=float(len(names)),
            unit="piece",
            price_each=price,
            source=f"line file: {', '.join(names)}; price {told}",
            key=key,
        )


def _carrier_rows(line: Line) -> Iterator[PartRow]:
    prices = line.conveyor.prices
    price, most = None if prices is None else prices.carrier, most_carriers(line)
    said = "line file: carriers" if most == line.carriers else "line file: the most that there are at one time"
    yield PartRow(
        item="carrier",
        part_number=line.conveyor.carrier.part_number,
        count=float(most),
        unit="piece",
        price_each=price,
        source=f"{said}, without spares; price {_stated(price, 'prices.carrier')}",
        key="prices.carrier",
    )


def _base_row(line: Line, layout: Layout) -> PartRow:
    prices = line.conveyor.prices
    price = None if prices is None else prices.base_per_metre
    return PartRow(
        item="base",
        part_number=None,
        count=math.fsum(max(lane.length_m, math.fsum(lane.sections)) for lane in layout.lanes),
        unit="m",
        price_each=price,
        source=f"layout: track of all lanes, curves included; price {_stated(price, 'prices.base_per_metre')}",
        key="prices.base_per_metre",
    )


# ---- the electrical side ---------------------------------------------------------------------------------------------


def _supply_rows(line: Line) -> Iterator[PartRow]:
    if not line.feeders:
        return
    supply = line.conveyor.supply
    price = None if supply is None else supply.price
    yield PartRow(
        item="motor supply",
        part_number=None if supply is None else supply.part_number,
        count=float(sum(feeder.supplies for feeder in line.feeders)),
        unit="piece",
        price_each=price,
        source=f"line file: supplies of {counted(len(line.feeders), 'feeder')}; price {_stated(price, 'supply.price')}",
        key="supply.price",
    )


def _controller_row(line: Line, layout: Layout) -> PartRow:
    most, prices = line.conveyor.most, line.conveyor.prices
    price, carriers = None if prices is None else prices.controller, most_carriers(line)
    sections = sum(len(lane.sections) for lane in layout.lanes)
    if most is None:
        rule = "one: the sheet does not say how many carriers and sections one takes (key most)"
    else:
        rule = (
            f"{carriers} of {most.carriers} carriers and {sections} of {most.sections} sections that one takes, "
            "each filled up before the next, at least one"
        )
    return PartRow(
        item="controller",
        part_number=None,
        count=float(
            controllers_needed(
                carriers, sections, None if most is None else most.carriers, None if most is None else most.sections
            )
        ),
        unit="piece",
        price_each=price,
        source=f"{rule}; price {_stated(price, 'prices.controller')}",
        key="prices.controller",
    )


def _feeder_rows(feeder: Feeder, line: Line, layout: Layout) -> Iterator[PartRow]:
    """Cable, links, fuse or breaker, braking resistor: no sheet has room for their prices."""
    name, cable, link = feeder.name, feeder.cable, feeder.link

    def row(item: str, count: float, unit: str, key: str) -> PartRow:
        source = f"line file: feeders.{name}.{key}; no file has room for its price: ask for an offer"
        return PartRow(f"{item}, feeder {name}", None, count, unit, None, source)

    if cable is not None:
        yield row(f"cable of two conductors of {cable.area_mm2:.4g} mm²", cable.length_m, "m", "cable")
    links = len(feeder_track(feeder, layout).sections) - 1
    if link is not None and links > 0:
        yield row(
            f"link of {length_text(link.length_m, line.units)}, {link.area_mm2:.4g} mm²", float(links), "piece", "link"
        )
    if feeder.fuse_A is not None:
        yield row(f"fuse gG {feeder.fuse_A:.4g} A", 1.0, "piece", "fuse")
    if feeder.breaker_A is not None:
        yield row(f"circuit-breaker {feeder.breaker_A:.4g} A", 1.0, "piece", "breaker")
    resistor = feeder.braking_resistor
    if resistor is not None:
        item = f"braking resistor {resistor.resistance_ohm:.4g} ohm, {resistor.power_W:.4g} W"
        yield row(item, 1.0, "piece", "braking_resistor")


def _fixture_rows(line: Line) -> Iterator[PartRow]:
    ask = "no file has room for its price: ask for an offer"
    if line.fixture_sets:
        for one in line.fixture_sets:
            source = f"line file: one for each carrier of fixture_sets.{one.name}; {ask}"
            yield PartRow(f"fixture {one.name}", None, float(one.carriers), "piece", None, source)
    elif line.fixture is not None:
        yield PartRow(
            "fixture", None, float(most_carriers(line)), "piece", None, f"line file: one for each carrier; {ask}"
        )


def _stated(price: float | None, key: str) -> str:
    return f"from the key {key} {SHEET}" if price is not None else f"not stated: key {key} {SHEET}"
