"""Numbers, units and findings as a person reads them."""

from __future__ import annotations

import pytest

from linewright.findings import Finding
from linewright.handover.wording import figures, finding_lines, page
from linewright.quantities import number, quantity


def plain(text: str) -> str:
    return page([text]).rstrip("\n")


def row(
    value: float | None, limit: float | None, margin: float | None, unit: str | None = "m", verdict: str = "fails"
) -> Finding:
    return Finding("c", "layout", verdict, "w", None, value, limit, unit, margin, "s", "r")  # type: ignore[arg-type]


def test_numbers_are_grouped_so_that_nobody_reads_a_decimal_sign() -> None:
    assert (
        page([number(1234567.8), number(0.0), number(-1234.5, 1), number(12.346)]) == "1 234 568\n0\n-1 234.5\n12.35\n"
    )


@pytest.mark.parametrize(
    ("value", "unit", "mm", "inch"),
    [
        (0.2, "m", "200 mm", "7.874 in"),
        (0.00003, "m", "30 µm", "0.001181 in"),
        (-0.00003, "m", "-30 µm", "-0.001181 in"),
        (0.0, "m", "0 mm", "0 in"),
        (150.0, "m", "150 m", "492.1 ft"),
        (5.2e7, "m", "52 000 km", "32 311 miles"),
        (1.85, "m/s", "1.85 m/s", "72.83 in/s"),
        (9.0, "m/s²", "9 m/s²", "354.3 in/s²"),
        (1100.0, "N", "1 100 N", "247.3 lbf"),
        (0.705, "kg", "0.705 kg", "1.554 lb"),
        (0.085, "kg", "85 g", "0.1874 lb"),
        (2e7, "N/m", "20 N/µm", "114 203 lbf/in"),
        (6e-6, "m²", "6 mm²", "0.0093 in²"),
        (1.72, "s", "1.72 s", "1.72 s"),
        (0.012, "s", "12 ms", "12 ms"),
        (90e-6, "s", "90 µs", "90 µs"),
        (7200.0, "s", "7 200 s", "7 200 s"),
        (36000.0, "s", "10 h", "10 h"),
        (36.8e6, "s", "425.9 days", "425.9 days"),
        (0.022, "F", "22 mF", "22 mF"),
        (24.0, "A", "24 A", "24 A"),
        (0.05, "A", "50 mA", "50 mA"),
        (58.1, "V", "58.1 V", "58.1 V"),
        (350.0, "W", "350 W", "350 W"),
        (1.2, "J", "1.2 J", "1.2 J"),
        (7.0, "K", "7 K", "7 K"),
        (1486.0, "bytes", "1 486 bytes", "1 486 bytes"),
        (1e8, "bit/s", "100 Mbit/s", "100 Mbit/s"),
        (7.25, "years", "7.25 years", "7.25 years"),
        (1.33, "1", "1.33", "1.33"),
        (3.0, None, "3", "3"),
        (800.0, "1/h", "800 per hour", "800 per hour"),
        (2.5e8, "Pa", "250 MPa", "36 259 psi"),
    ],
)
def test_quantities_read_well_in_both_systems(value: float, unit: str | None, mm: str, inch: str) -> None:
    assert (plain(quantity(value, unit)), plain(quantity(value, unit, "inch"))) == (mm, inch)


def test_both_figures_of_a_row_stand_in_one_unit() -> None:
    assert plain(figures(row(0.00003, 0.00012, 0.75))) == "0.03 mm, at most 0.12 mm, margin 75.0 %"
    assert plain(figures(row(0.0, 0.00005, 1.0))) == "0 µm, at most 50 µm, margin 100 %"
    assert plain(figures(row(0.02, 8.0, 0.9975, "s"))) == "0.02 s, at most 8 s, margin 99.8 %"


@pytest.mark.parametrize(
    ("value", "limit", "margin", "words"),
    [
        (1.0, 2.0, 0.5, "1 N, at most 2 N, margin 50.0 %"),
        (3.0, 2.0, -0.5, "3 N, at most 2 N, over by 50.0 %"),
        (3.0, 2.0, 0.5, "3 N, at least 2 N, margin 50.0 %"),
        (1.0, 2.0, -0.5, "1 N, at least 2 N, short by 50.0 %"),
        (-5.0, -8.0, 0.4, "-5 N, at least -8 N, margin 40.0 %"),
        (2.0, 2.0, 0.0, "2 N, limit 2 N, margin 0.0 %"),
        (2.0, 2.0000001, 0.0, "2 N, limit 2 N, margin 0.0 %"),
        (1.0, 2.0, None, "1 N, limit 2 N"),
        (None, 2.0, None, "limit 2 N"),
        (None, None, None, ""),
        (90.0, 2.0, 44.0, "90 N, at least 2 N, margin 4 400 %"),
    ],
)
def test_whether_a_limit_is_the_most_or_the_least(
    value: float | None, limit: float | None, margin: float | None, words: str
) -> None:
    assert plain(figures(row(value, limit, margin, "N"))) == words


def test_a_figure_that_was_not_judged_does_not_pass_for_one_that_holds() -> None:
    assert plain(figures(row(1.2, None, None, "J", "holds"))) == "1.2 J, no limit"
    assert plain(figures(row(1.2, None, None, "J", "not checked"))) == "1.2 J"


def test_lines_of_a_finding() -> None:
    finding = row(0.254, 0.508, -0.5)
    assert page(finding_lines(finding)) == (
        "FAILS        c: w\n             254 mm, at least 508 mm, short by 50.0 %\n             -> r\n"
    )
    assert "10 in, at least 20 in, short by 50.0 %  [s]" in page(finding_lines(finding, "inch", with_source=True))
    assert page(finding_lines(row(None, None, None, None, "not checked"), with_source=True)) == (
        "NOT CHECKED  c: w\n             [s]\n             -> r\n"
    )
