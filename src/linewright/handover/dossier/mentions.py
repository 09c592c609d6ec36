"""Which stations and transfers a finding is about: its words name them, always behind the same few nouns."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from linewright.findings import Finding
    from linewright.line.model import Line

# A name that stands behind one of these is that of another thing, even where a transfer is called the same.
_OTHERS: Final = r"(?:stations?|lanes?|ring|feeders?|zones?|steps?|variants?|failures?|contributors?)[ \u00a0]$"
_BEFORE: Final = r"(?<![\w.-])"
_AFTER: Final = r"(?![\w-]|\.\w)"


def stations_named(finding: Finding, line: Line) -> frozenset[str]:
    """The stations that a finding is about.

    Parameters
    ----------
    finding : of any subject
    line : whose names these are

    Notes      ``station press``, ``stations load, press``, and ``step a/b``, which is each of its stations. A name
               counts only as a whole: ``press-2`` is not ``press``. A zone or feeder of a station's name is not it.
    """
    found: set[str] = set()
    for match in _station_words(tuple(station.name for station in line.stations)).finditer(finding.where):
        listed = next(words for words in match.groups() if words is not None)
        found.update(re.split(r", | and |/", listed))
    return frozenset(found)


def transfers_named(finding: Finding, line: Line) -> frozenset[str]:
    """The transfers that a finding is about.

    Parameters
    ----------
    finding : of any subject
    line : whose names these are
    """
    if not line.transfers:
        return frozenset()
    words = _transfer_words(tuple(transfer.name for transfer in line.transfers))
    found = words.finditer(finding.where)
    return frozenset(one.group() for one in found if not re.search(_OTHERS, finding.where[: one.start()]))


@lru_cache(maxsize=8)
def _station_words(names: tuple[str, ...]) -> re.Pattern[str]:
    one = f"(?:{_either(names)}){_AFTER}"
    several = f"stations ({one}(?:(?:, | and ){one})*)"
    return re.compile(f"{_BEFORE}(?:{several}|station ({one})|step ({one}(?:/{one})*))")


@lru_cache(maxsize=8)
def _transfer_words(names: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(f"{_BEFORE}(?:{_either(names)}){_AFTER}")


def _either(names: tuple[str, ...]) -> str:
    """Any of the names, the longest tried first."""
    return "|".join(re.escape(name) for name in sorted(names, key=lambda name: (-len(name), name)))
