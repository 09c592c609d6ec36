"""Reading every number of a paper back, and holding it against the one record that may stand there.

A text of a paper is read by a pattern with places for names and for numbers, as those of the pictures are; a row of a
grid is one text, its cells apart by ``|``, a label and what belongs to it are one, apart by ``::``. A number with a
unit is held against a figure in SI, in any unit of its kind that the line file's system has. Nothing here calls what
writes the papers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from linewright.handover.document.blocks import (
    Caution,
    Document,
    Drawn,
    Facts,
    Grid,
    Heading,
    Points,
    Tag,
    Words,
    opened,
)
from unit.pictures.numbers_of import (
    NUMBER,
    Compiled,
    Explain,
    Fields,
    Figures,
    Reader,
    Rule,
    is_rounded,
    plain,
    rules_of,
)

# Kind of quantity -> unit -> how many of it are one of SI; a file in inches shows none of the left ones.
_METRIC: Final[dict[str, dict[str, float]]] = {
    "m": {"µm": 1e6, "mm": 1e3, "m": 1.0, "km": 1e-3},
    "m/s": {"mm/s": 1e3, "m/s": 1.0},
    "m/s²": {"m/s²": 1.0},
    "m/s³": {"m/s³": 1.0},
    "kg": {"g": 1e3, "kg": 1.0},
    "N": {"N": 1.0},
}
_INCH: Final[dict[str, dict[str, float]]] = {
    "m": {"in": 1 / 0.0254, "ft": 1 / 0.3048, "miles": 1 / 1609.344},
    "m/s": {"in/s": 1 / 0.0254},
    "m/s²": {"in/s²": 1 / 0.0254},
    "m/s³": {"in/s³": 1 / 0.0254},
    "kg": {"lb": 1 / 0.45359237},
    "N": {"lbf": 1 / 4.4482216152605},
}
_BOTH: Final[dict[str, dict[str, float]]] = {
    "s": {"µs": 1e6, "ms": 1e3, "s": 1.0, "h": 1 / 3600.0, "days": 1 / 86400.0},
    "A": {"mA": 1e3, "A": 1.0},
    "V": {"V": 1.0, "mV": 1e3},
    "W": {"mW": 1e3, "W": 1.0, "kW": 1e-3},
    "J": {"mJ": 1e3, "J": 1.0, "kJ": 1e-3},
    "F": {"µF": 1e6, "mF": 1e3, "F": 1.0},
    "ohm": {"mohm": 1e3, "ohm": 1.0},
    "bit/s": {"kbit/s": 1e-3, "Mbit/s": 1e-6},
    "degC": {"°C": 1.0},
    "Pa": {"MPa": 1e-6},
    "m/year": {"m a year": 1.0, "km a year": 1e-3},
    "s/year": {"s a year": 1.0, "h a year": 1 / 3600.0},
    "1/year": {"a year": 1.0},
    "1/h": {"per hour": 1.0},
    "1": {"": 1.0},
}
_INCH_TOO: Final[dict[str, dict[str, float]]] = {
    "Pa": {"psi": 0.0254**2 / 4.4482216152605},
    "m/year": {"ft a year": 1 / 0.3048, "miles a year": 1 / 1609.344},
    "km": {"miles": 1 / 1.609344},
    "N/m": {"lbf/in": 0.0254 / 4.4482216152605},
}


def units_of(kind: str, units: str) -> dict[str, float]:
    """The units in which a kind of quantity may be shown, each with how many of it are one of SI."""
    some = {**_BOTH, **(_METRIC if units == "mm" else {**_INCH, **_INCH_TOO})}
    return some.get(kind, {kind: 1.0})


def is_four(shown: str, figure: float) -> bool:
    """Whether a number is a figure rounded to four digits, all that stand before the point kept."""
    if shown.startswith("±"):
        shown, figure = shown[1:], abs(figure)
    if not math.isfinite(figure):
        return False
    decimals = max(0, 3 - math.floor(math.log10(abs(figure)))) if figure else 0
    short = len(shown.partition(".")[2]) <= decimals
    return short and abs(float(shown) - figure) <= 0.5 * 10.0**-decimals * (1.0 + 1e-6) + 1e-15


def is_few(shown: str, figure: float, digits: int) -> bool:
    """Whether a number is a figure of which so many digits count, before the point too."""
    return figure != 0.0 and float(shown) == float(f"{figure:.{digits}g}")


def is_shown(shown: str, sign: str, figure: float, unit: str, units: str) -> bool:
    """Whether a number with its unit, as it stands in a paper, is a figure in SI, rounded.

    Parameters
    ----------
    shown : the number alone
    sign : ``[kind]`` of a quantity, ``[kind~]`` of one with three digits that count, ``#2`` for so many decimals, ``§``
        and ``≈`` for four and for three digits that count, or one of ROUNDED
    unit : what follows the number, of a quantity
    """
    if sign.startswith("["):
        factor = units_of(sign.strip("[,~]"), units).get(unit)
        few = sign.endswith("~]")
        return factor is not None and (is_few(shown, figure * factor, 3) if few else is_four(shown, figure * factor))
    if sign.startswith("#") and len(sign) == 2:
        return len(shown.partition(".")[2]) == int(sign[1]) and is_rounded(shown, "#", figure)
    if sign == "=":
        return is_four(shown, figure)
    if sign in ("§", "≈"):
        return is_few(shown, figure, 4 if sign == "§" else 3)
    return is_rounded(shown, sign, figure)


# ---- patterns --------------------------------------------------------------------------------------------------------

_TOKEN: Final = re.compile(r"\{(\w+?)(\d?)\}|<<|>>|\[[^\]\s]+\]|#\d|:=|[#~§≈=]")


def paper_rules(table: str, known: Mapping[str, Explain]) -> list[Rule]:
    """Rules out of a table as `rules_of` reads it; ``@@ heading | heading`` says of what follows that it stands in the
    rows under these headings, ``@@`` alone that it stands anywhere."""
    rules: list[Rule] = []
    view, lines = "", list[str]()
    whole = "\n".join(line.strip() for line in table.strip().splitlines()).replace("\n+", "")
    for line in [*whole.splitlines(), "@@"]:
        if line.startswith("@@"):
            rules += [replace(rule, view=view) for rule in rules_of("\n".join(lines), known)]
            view, lines = line[2:].strip(), []
        else:
            lines.append(line)
    return rules


def paper_compiled(rule: Rule, names: Mapping[str, Sequence[str]], units: str) -> Compiled:
    """A rule as a regular expression for the names and units of one line."""
    parts, signs, last = [], [], 0
    for token in _TOKEN.finditer(rule.pattern):
        parts.append(re.escape(rule.pattern[last : token.start()]))
        last = token.end()
        if token[0] in ("<<", ">>"):
            parts.append("(?:" if token[0] == "<<" else ")?")
        elif token[1]:
            parts.append(f"(?P<{token[1]}{token[2]}>{_one_of(token[1], names)})")
        elif token[0].startswith("[") and not token[0].endswith(",]"):
            some = sorted(units_of(token[0].strip("[~]"), units), key=len, reverse=True)
            parts.append(f"({NUMBER}(?: (?:{'|'.join(map(re.escape, some))}))?)")
            signs.append(token[0])
        else:
            parts.append(f"({NUMBER})")
            signs.append(token[0])
    parts.append(re.escape(rule.pattern[last:]))
    return Compiled(rule, re.compile("".join(parts)), tuple(signs))


def _one_of(kind: str, names: Mapping[str, Sequence[str]]) -> str:
    if kind == "n":
        return r"\d+"
    known = sorted(set(names[kind]), key=len, reverse=True)
    if kind == "words":  # no digit but those of the line's own names
        return f"(?:{''.join(f'{re.escape(one)}|' for one in known)}[^\\d])*?"
    return "|".join(map(re.escape, known)) or "(?!)"


@dataclass(frozen=True, eq=False)
class PaperReader(Reader):
    """Reads the texts of papers.

    Parameters
    ----------
    units : of the line file
    used : the patterns that explained something
    """

    units: str = "mm"
    used: set[str] = field(default_factory=set)

    def _explained(self, rule: Compiled, match: re.Match[str], names: Fields) -> list[str]:
        named = set(match.re.groupindex.values())
        told = [match[one] for one in range(1, match.re.groups + 1) if one not in named]
        nearest: list[str] = ["nothing that is known has these names"]
        for figures in self._figures(rule, names):
            if len(figures) != len(rule.signs):
                raise ValueError(f"{rule.rule.pattern!r} has {len(rule.signs)} numbers, its figures are {figures}")
            wrong = self._wrong(rule.signs, told, figures)
            if not wrong:
                self.used.add(rule.rule.pattern)
                return []
            if nearest[0].startswith("nothing") or len(wrong) < len(nearest):
                nearest = wrong
        return [", ".join(nearest)]

    def _wrong(self, signs: Sequence[str], told: Sequence[str | None], figures: Figures) -> list[str]:
        wrong, unit = [], ""
        for shown, sign, figure in reversed(list(zip(told, signs, figures, strict=True))):
            if shown is not None:
                number, _, own = shown.partition(" ")
                # A number without a unit of its own shares the one that follows it.
                unit = unit if sign.endswith(",]") else own
                if not is_shown(number, sign, float(figure), unit, self.units):
                    wrong.append(f"{shown} stands for {figure:.7g} ({sign})")
        return wrong[::-1]


# ---- what stands in a paper ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Said:
    """A text of a paper.

    Parameters
    ----------
    text : without no-break spaces
    names : what holds for it: ``view``, the headings over a row; ``chapter``; the place whose page it stands on
    cells : of a row of a grid; a verdict as ``<fails>``
    """

    text: str
    names: Fields
    cells: tuple[str, ...] = ()

    @property
    def is_finding(self) -> bool:
        """Whether it is a row of findings."""
        return bool(self.cells) and self.cells[0].startswith("<") and self.names.get("view", "").startswith("| what")


Split = Callable[[str, str], Sequence[str]]
"""Label and what belongs to it -> the pieces of that, each of which is read alone."""
Places = Mapping[str, Fields]
"""Heading -> the place whose figures stand under it."""


def said_in(document: Document, places: Places, split: Split) -> list[Said]:
    """Every text of a paper, drawings left out."""
    found: list[Said] = []
    for part in document.parts:
        names: Fields = {}
        for block in opened(part.blocks):
            if isinstance(block, Heading):
                text = plain(block.text)
                place = places.get(text, {})
                names = {"chapter": text, **place} if block.level == 1 else {**names, **place}
            found += _said(block, names, split)
    return found


def _said(block: Any, names: Fields, split: Split) -> Iterator[Said]:
    if isinstance(block, Heading | Words | Caution):
        yield from (Said(one, names) for one in split("", plain(block.text)))
    elif isinstance(block, Points):
        for row in block.rows:
            yield from (Said(one, names) for one in split("", plain(row)))
    elif isinstance(block, Facts):
        for label, text in block.rows:
            yield from (Said(f"{plain(label)} :: {one}", names) for one in split(plain(label), plain(text)))
    elif isinstance(block, Grid):
        yield from _rows(block, names, split)
    elif isinstance(block, Drawn):
        yield Said(plain(block.told), names)


def _rows(block: Grid, names: Fields, split: Split) -> Iterator[Said]:
    headings = [plain(column.heading) for column in block.columns]
    view = " | ".join(headings).strip()
    yield Said(view, names)
    for row in block.rows:
        cells = tuple(f"<{one.verdict}>" if isinstance(one, Tag) else plain(one) for one in row)
        if len(headings) == 4 and headings[1] == headings[3] == "":
            for label, text in (cells[:2], cells[2:]):
                yield from (Said(f"{label} :: {one}", names) for one in split(label, text))
        else:
            yield Said(" | ".join(cells).strip(), {**names, "view": view}, cells)


def changed(text: str) -> list[str]:
    """The text with the last digit of one of its numbers changed, for each of them."""
    found = []
    for number in re.finditer(r"\d+(?:\.\d+)?", text):
        last = number.end() - 1
        found.append(f"{text[:last]}{(int(text[last]) + 5) % 10}{text[last + 1 :]}")
    return found
