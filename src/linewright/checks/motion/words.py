"""Figures in words."""

from __future__ import annotations

from linewright.line.units import number_text


def figure_text(value: float, digits: int = 4) -> str:
    """So many digits that count, and no exponent.

    Examples
    --------
    >>> figure_text(12345.678), figure_text(0.5), figure_text(0.00001234567)
    ('12350', '0.5', '0.00001235')
    """
    return number_text(float(f"{value:.{digits}g}"))
