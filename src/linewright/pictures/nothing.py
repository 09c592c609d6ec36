"""What a picture raises that has nothing to show."""

from __future__ import annotations

from linewright.errors import LinewrightError


class NothingToDraw(LinewrightError):
    """There is nothing to draw; the text says why, and what would give something."""
