"""The tables of a handover: one workbook with formulas, and the same figures in SI units as CSV."""
