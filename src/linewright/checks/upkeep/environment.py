"""What the surroundings do to a track of magnets and guides: chips, spatter, wash-down, static electricity."""

from __future__ import annotations

import re
from typing import Final

from linewright.findings import Finding
from linewright.line.model import Line

SUBJECT: Final = "upkeep"
RULE: Final = "docs/limits/upkeep.md, Surroundings"
JETS: Final = 5
"""Second numeral of an IP code from which water jets are meant; 7 and 8 mean a bath and say nothing of jets."""
_IP: Final = re.compile(r"\bIP\s?[0-9X]([0-9])")
_NOT_MEANT: Final = re.compile(r"\b(?:not|no|never|non|unfit|unsuitable)\b[^.;]{0,40}?wash[- ]?down", re.IGNORECASE)

_CODES: Final = {"chips": "iron-chips", "spatter": "spatter", "wash_down": "wash-down", "static": "static-electricity"}
_WORDS: Final = {
    "chips": "iron chips",
    "spatter": "spatter",
    "wash_down": "wash-down",
    "static": "parts that charge harms",
}
_WHERE: Final = {
    "chips": "iron chips or dust about: the magnets under the carriers gather them and carry them into the guides",
    "spatter": "spatter about: it sticks to rails, covers and magnets",
    "static": "parts that static electricity harms: a carrier on guides is not earthed by itself",
}
_REMEDIES: Final = {
    "chips": "take them off where they arise, cover the track there, wipe magnets and rails at every greasing or more "
    "often, and look at the scrapers then; keep carriers away from the machines that make them",
    "spatter": "screen the station or lift the part off the carrier for it, cover the rails there, and wipe them at "
    "every greasing or more often",
    "static": "earth nests and carriers where parts are handled, measure the way to earth, and take charge off with "
    "ionised air where it cannot be led away; IEC 61340-5-1 says how it is planned and checked",
}


def jets_numeral(protection: str) -> int | None:
    """The second numeral of the IP code in a maker's statement that speaks best for water jets; None without a code.

    Parameters
    ----------
    protection : as the sheet states it

    Returns
    -------
    int or None   5, 6 or 9 where jets are meant, else another.

    Notes      Of several codes the greatest numeral of 5, 6 and 9, else the greatest at all. 5: jets, 6: powerful jets,
               9: hot jets of high pressure; 7 and 8: a bath, which says nothing of jets.
    Source     IEC 60529, from memory.
    Examples
    --------
    >>> jets_numeral("IP54, not for wash-down"), jets_numeral("IP67 and IP69K"), jets_numeral("dust-tight")
    (4, 9, None)
    """
    numerals = [int(one) for one in _IP.findall(protection)]
    return max(numerals, key=lambda one: (is_for_jets(one), one), default=None)


def is_for_jets(numeral: int) -> bool:
    """Whether the second numeral of an IP code means water jets.

    Parameters
    ----------
    numeral : 0 to 9

    Source     IEC 60529, from memory.
    Examples
    --------
    >>> [numeral for numeral in range(10) if is_for_jets(numeral)]
    [5, 6, 9]
    """
    return numeral in (JETS, 6, 9)


def environment_rows(line: Line) -> tuple[Finding, ...]:
    """What the surroundings ask for: a row for each thing that is stated to be there, one for what is not stated, and
    one where all that is stated is absent."""
    stated = line.environment
    values = {key: None if stated is None else getattr(stated, key) for key in _CODES}
    rows = [_tight(line, key) if key != "wash_down" else _wash_down(line) for key, value in values.items() if value]
    unknown = [key for key, value in values.items() if value is None]
    absent = [_WORDS[key] for key, value in values.items() if value is False]
    place = line.place("environment")
    if unknown:
        where = f"not stated of the surroundings: {', '.join(_WORDS[key] for key in unknown)}"
        keys = "true or false, ".join(f"{key}: " for key in unknown)
        remedy = f"state under environment in the line file {keys}true or false"
        rows.append(Finding("environment", SUBJECT, "not checked", where, place, None, None, None, None, RULE, remedy))
    elif not rows:
        where = f"surroundings without {', '.join(absent[:-1])} and {absent[-1]}"
        rows.append(Finding("environment", SUBJECT, "holds", where, place, None, None, None, None, RULE, ""))
    return tuple(rows)


def _tight(line: Line, key: str) -> Finding:
    place = line.place("environment", key)
    figures = (None, None, None, None)
    return Finding(_CODES[key], SUBJECT, "tight", _WHERE[key], place, *figures, RULE, _REMEDIES[key])


def _wash_down(line: Line) -> Finding:
    """Against the degree of protection that the sheet states."""
    stated = line.conveyor.protection
    if stated is None:
        where = "washed down, and the sheet states no degree of protection"
        remedy = "state the key protection in the conveyor sheet, in the maker's words with its IP code"
        place = line.conveyor.place("protection")
        return Finding("wash-down", SUBJECT, "not checked", where, place, None, None, None, None, RULE, remedy)
    numeral = jets_numeral(stated)
    where = f"washed down; the sheet states: {stated}"
    source = f"sheet {line.conveyor.name}, protection; IEC 60529, from memory"
    place = line.place("environment", "wash_down")
    if numeral is None and not _NOT_MEANT.search(stated):
        remedy = "write the IP code under protection in the conveyor sheet: IP65 and above are meant for water jets"
        place = line.conveyor.place("protection")
        return Finding("wash-down", SUBJECT, "not checked", where, place, None, None, None, None, source, remedy)
    value = None if numeral is None else float(numeral)
    if numeral is None or _NOT_MEANT.search(stated) or not is_for_jets(numeral):
        remedy = "keep the water off: a dry station under a cover, wiping instead of washing, or another conveyor"
        return Finding("wash-down", SUBJECT, "fails", where, place, value, float(JETS), None, None, source, remedy)
    remedy = "the code is tested with water alone: ask the maker about cleaning agents, and grease after each wash-down"
    return Finding("wash-down", SUBJECT, "tight", where, place, value, float(JETS), None, None, source, remedy)
