"""Timings of the program, as ratios measured side by side in one run: `python -m bench`."""
