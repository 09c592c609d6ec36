"""Words for messages: the nearest known word, and the list of those that may stand in a place."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from linewright.line.units import shown


def nearest(word: str, known: Iterable[str]) -> str:
    """``did you mean 'press'? `` where a known word is near, else nothing.

    Examples
    --------
    >>> nearest("pres", ["press", "load"]), nearest("xyz", ["press"])
    ("did you mean 'press'? ", '')
    """
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f"did you mean {shown(close[0])}? " if close else ""


def choice(word: str, known: Iterable[str], what: str) -> str:
    """What may stand in place of an unknown word: the nearest known one and the list of all."""
    words = list(known)
    listed = ", ".join(words[:40]) + (" …" if len(words) > 40 else "")
    return f"{nearest(word, words)}{what}: {listed or 'none'}"
