"""Reading every number of a picture back, and holding it against what may stand there.

A sentence of a picture is read by a pattern with places for names and for numbers; a function then says which figures
may stand at the numbers of that sentence, given the names in it. Nothing here calls the pictures themselves.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final
from xml.etree import ElementTree

from linewright.evaluation import Evaluation
from linewright.planning.gains import Gains
from linewright.planning.size import Sizing
from linewright.traffic.gridlock.result import GridlockResult

INCH_M: Final = 0.0254
SVG: Final = "{http://www.w3.org/2000/svg}"

Fields = dict[str, str]
Figures = Sequence[float]
"""What may stand at the numbers of a sentence, in their order."""
Explain = Callable[[Any, Fields], Iterable[Figures]]
"""The facts and the names of a sentence -> every row of figures that may stand in it together."""

NUMBER: Final = r"[+\-±]?\d+(?:\.\d+)?"
SURE: Final = re.compile(r"\b(over|under|fails|holds|tight|trips|within|below|above|beyond)\b")
"""Words that say on which side of its limit a number lies, where both look alike."""


# ---- the facts -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Facts:
    """What the numbers of a picture are held against; None what its picture is not drawn from.

    Parameters
    ----------
    from_s : where the string line begins; None for where it does of itself. [s]
    """

    e: Evaluation
    gains: Gains | None = None
    sizing: Sizing | None = None
    locks: GridlockResult | None = None
    from_s: float | None = None

    def shown(self, length_m: float) -> float:
        """A length in the file's unit."""
        return length_m / INCH_M if self.e.line.units == "inch" else 1000.0 * length_m

    def finding(self, code: str, start: str = "") -> Any:
        """The first finding of a code whose place starts so."""
        return next(one for one in self.e.findings if one.code == code and one.where.startswith(start))

    @property
    def takt_s(self) -> float:
        """What the demand asks for. [s]"""
        return math.nan if self.e.takt is None else self.e.takt.takt_s

    @property
    def required_per_h(self) -> float:
        """The same as a rate. [1/h]"""
        return math.nan if self.e.takt is None else self.e.takt.required_rate_per_h

    @property
    def made(self) -> Any:
        """The runs that a picture is drawn from."""
        return self.e.run if self.sizing is None else self.sizing

    @property
    def most_per_h(self) -> float:
        """The greatest mean rate of all counts of carriers. [1/h]"""
        return max(row.rate.mean for row in self.sizing.counts)

    @property
    def bound_per_h(self) -> float:
        """No count allows more. [1/h]"""
        return max(row.upper_bound_per_h for row in self.sizing.counts)

    @property
    def steps(self) -> float:
        """Of the way into the jam."""
        return len(self.locks.from_start.way)

    @property
    def start_s(self) -> float:
        """The string line begins with the first whole second after the warm-up, if nobody says when. [s]"""
        return self.from_s if self.from_s is not None else math.ceil(max(self.e.run.warm_up_s, self.e.run.trace_from_s))

    @property
    def end_s(self) -> float:
        """And goes on for two minutes. [s]"""
        return self.start_s + 120.0


# ---- how numbers are rounded -----------------------------------------------------------------------------------------


def _decimals(shown: str) -> int:
    return len(shown.partition(".")[2])


def _near(shown: str, figure: float, decimals: int) -> bool:
    return abs(float(shown) - figure) <= 0.5 * 10.0**-decimals * (1.0 + 1e-6) + 1e-12


def _digits(shown: str, figure: float, digits: int) -> bool:
    """Rounded to so many digits that count, and no more of them shown; a half may go either way."""
    if figure == 0.0 or float(f"{float(shown):.{digits}g}") != float(shown):
        return figure == float(shown) == 0.0
    return _near(shown, figure, digits - 1 - math.floor(math.log10(abs(float(f"{figure:.{digits}g}")))))


def _gain(shown: str, figure: float) -> bool:
    """To a tenth, from a hundred on to one; nothing where a tenth is nothing."""
    if shown == "0":
        return abs(figure) <= 0.05
    return _near(shown, figure, 0 if abs(figure) >= 99.95 else 1) and _decimals(shown) == int(abs(figure) < 99.95)


def _in_part(shown: str, figure: float) -> bool:
    """Three digits, or all that stand before the point."""
    return _digits(shown, figure, 3) if abs(figure) < 100.0 else _near(shown, figure, 0)


def _whole(shown: str, figure: float) -> bool:
    """Without decimals, from a thousand on three digits."""
    return _digits(shown, figure, 3) if figure >= 1000.0 else _near(shown, figure, 0) and _decimals(shown) == 0


ROUNDED: Final[dict[str, Callable[[str, float], bool]]] = {
    "#": lambda shown, figure: _near(shown, figure, _decimals(shown)),
    "~": lambda shown, figure: _digits(shown, figure, 3),
    "`": lambda shown, figure: any(_digits(shown, figure, some) for some in (3, *((4, 5) if "." in shown else ()))),
    "^": lambda shown, figure: _digits(shown, figure, 2) if figure < 9.95 else _whole(shown, figure),
    "$": _in_part,
    "&": _gain,
    ":=": lambda shown, figure: abs(float(shown) - figure) < 0.1,
    "@": lambda shown, figure: _near(shown, figure, 1),
    "@@": lambda shown, figure: _near(shown, figure, 2),
    "=": lambda shown, figure: math.isclose(float(shown), figure, rel_tol=6e-6, abs_tol=1e-9),
}
"""Sign of a number in a pattern -> whether the number, as shown, is that figure rounded.

``#`` as many decimals as are shown; ``~`` three digits that count, zeros at the end left out; ````` the same, or up
to five where three would hide on which side of a limit it lies; ``^`` a share in per cent: two digits under ten, else
whole; ``$`` three digits or all before the point; ``&`` a gain; ``:=`` one of shares that add up to 100.0, so rounded
up or down; ``@`` a length, to 0.1 mm or 0.01 inch; ``=`` a count, or six digits.
"""


# ---- patterns --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Rule:
    """What a sentence of a picture looks like, and what its numbers are.

    Parameters
    ----------
    pattern : plain words; ``{name}`` is one of the line's names of that kind, ``{words}`` anything without a digit,
        ``{n}`` the number by which something is called; ``<<`` and ``>>`` stand about what may be left out; the signs
        of ROUNDED stand for numbers
    figures : what may stand at the numbers
    against : pairs of numbers, by place: the second is the limit of the first
    view : the one row in which it may stand; empty for any
    """

    pattern: str
    figures: Explain
    against: tuple[tuple[int, int], ...]
    view: str


def rules_of(table: str, known: Mapping[str, Explain]) -> list[Rule]:
    """Rules out of a table: a line each, the pattern, then after `` => `` its figures, then after `` ! `` its limits.

    Figures are the name of one of the known functions, with the places of those that are meant (``spent 0 1``), or
    attributes of the facts (``.e.run.runs .e.run.hours``), or numbers, any of which may stand (``0 | 100``), or
    columns of a table (``@e.limits.power.feeders feeder=feeder : peak_A``; ``%`` makes per cent of a share).
    Limits are pairs such as ``0<1``. A line that begins with ``+`` goes on with the one before; ``[time]`` says of what
    follows that it may stand in the row time only, ``[]`` that it may stand in any.
    """
    rules, view = [], ""
    lines = "\n".join(line.strip() for line in table.strip().splitlines()).replace("\n+", "")
    for line in lines.splitlines():
        if re.fullmatch(r"\[\S*\]", line):
            view = line[1:-1]
        elif line and not line.startswith("--"):
            pattern, _, rest = line.partition(" => ")
            spec, _, limits = rest.partition(" ! ")
            pairs = tuple((int(one[0]), int(one[2])) for one in limits.split())
            rules.append(Rule(pattern.strip(), _figures(spec.strip(), known), pairs, view))
    return rules


def _figures(spec: str, known: Mapping[str, Explain]) -> Explain:
    if not spec:
        return lambda facts, names: [()]
    if spec[0] == ".":
        return lambda facts, names: [tuple(_attribute(facts, path) for path in spec.split())]
    if spec[0].isdigit():
        return lambda facts, names: [(float(one),) for one in spec.split("|")]
    if spec[0] == "@":
        return _looked_up(spec[1:])
    name, *places = spec.split()
    if not places:
        return known[name]
    return lambda facts, names: (tuple(row[int(place)] for place in places) for row in known[name](facts, names))


def _looked_up(spec: str) -> Explain:
    """``path key=name ... : column %column``: rows of a table in which each key has the value that is named."""
    where, _, columns = spec.partition(":")
    path, *keys = where.split()

    def figures(facts: Facts, names: Fields) -> Iterator[Figures]:
        table = facts
        for name in path.split("."):
            table = getattr(table, name)
        for row in table.rows():
            pairs = [(str(row[key]), names.get(name)) for key, _, name in (one.partition("=") for one in keys)]
            if all(found == asked or (asked and found == asked[0] and "(" in asked) for found, asked in pairs):
                yield tuple(_figure(facts, row, column) for column in columns.split())

    return figures


def _figure(facts: Facts, row: Mapping[str, Any], column: str) -> float:
    if column.startswith("%"):
        return 100.0 * row[column[1:]]
    return facts.shown(row[column]) if column.endswith("_m") else float(row[column])


def _attribute(facts: Any, path: str) -> float:
    for name in path.split(".")[1:]:
        facts = getattr(facts, name)
    return float(facts)


@dataclass(frozen=True, eq=False)
class Compiled:
    """A rule for the names of one line."""

    rule: Rule
    match: re.Pattern[str]
    signs: tuple[str, ...]


_TOKEN: Final = re.compile(r"\{(\w+?)(\d?)\}|<<|>>|@@|:=|[#~`^$&@=]")


def compiled(rule: Rule, names: Mapping[str, Sequence[str]], length_sign: str) -> Compiled:
    """A rule as a regular expression.

    Parameters
    ----------
    names : kind -> all names of that kind
    length_sign : what ``@`` stands for: ``@`` for mm, ``@@`` for inch
    """
    parts, signs, last = [], [], 0
    for token in _TOKEN.finditer(rule.pattern):
        parts.append(re.escape(rule.pattern[last : token.start()]))
        last = token.end()
        if token[0] in ("<<", ">>"):
            parts.append("(?:" if token[0] == "<<" else ")?")
        elif token[1]:
            group = f"{token[1]}{token[2]}"
            if token[1] == "words":
                one = r"[^\d]*?"
            elif token[1] == "n":
                one = r"\d+"
            else:
                known = sorted(set(names[token[1]]), key=len, reverse=True)
                one = "|".join(map(re.escape, known)) or "(?!)"
            parts.append(f"(?P<{group}>{one})")
        else:
            parts.append(f"({NUMBER})")
            signs.append(length_sign if token[0] == "@" else token[0])
    parts.append(re.escape(rule.pattern[last:]))
    return Compiled(rule, re.compile("".join(parts)), tuple(signs))


@dataclass(frozen=True, eq=False)
class Reader:
    """Reads the sentences of one picture.

    Parameters
    ----------
    facts : handed to the rules
    rules : any of them may read a sentence
    pieces : a text that says several things, in pieces, the first of which names what all are about; else empty
    carried : kinds of names that hold for what is drawn after them in the same view, as those of a heading do
    read : the rules that read a text, of every text so far
    """

    facts: Facts
    rules: Sequence[Compiled]
    pieces: Callable[[Facts, str], Sequence[str]]
    carried: tuple[str, ...] = ()
    read: dict[str, list[tuple[Compiled, re.Match[str]]]] = field(default_factory=dict)

    def faults(self, text: str, given: Fields) -> list[str]:
        """What of the numbers of a text is not explained; empty where all is."""
        if not re.search(r"\d", text):
            return []
        found: list[str] = []
        for rule, match, names in self._matches(text, given):
            faults = self._explained(rule, match, names)
            if not faults:
                return []
            found += faults
        some = [] if found else self.pieces(self.facts, text)
        if some:
            given = {**given, **self.names_in(some[0])}
            return [fault for piece in some for fault in self.faults(piece, given)]
        return [f"{text!r}{f' at {given}' if given else ''}: {one}" for one in found or ["no rule reads it"]]

    def names_in(self, text: str) -> Fields:
        """The names in a text, by the first rule that reads it, or of the first piece of it that one reads."""
        for _, _, names in self._matches(text, {}):
            return names
        some = self.pieces(self.facts, text)
        return self.names_in(some[0]) if some and some[0] != text else {}

    def _matches(self, text: str, given: Fields) -> Iterator[tuple[Compiled, re.Match[str], Fields]]:
        if text not in self.read:
            found = ((rule, rule.match.fullmatch(text)) for rule in self.rules)
            self.read[text] = [(rule, match) for rule, match in found if match is not None]
        for rule, match in self.read[text]:
            if rule.rule.view in ("", given.get("view", rule.rule.view)):
                own = {name: value for name, value in match.groupdict().items() if value is not None}
                yield rule, match, {**given, **own}

    def _figures(self, rule: Compiled, names: Fields) -> list[Figures]:
        try:
            return list(rule.rule.figures(self.facts, names))
        except LookupError:  # the sentence lacks a name without which there is no figure, or counts too far
            return []

    def _explained(self, rule: Compiled, match: re.Match[str], names: Fields) -> list[str]:
        numbered = _numbers(match)
        nearest: tuple[int, list[str]] = (10**6, ["nothing that is known has these names"])
        for figures in self._figures(rule, names):
            if len(figures) != len(rule.signs):
                raise ValueError(f"{rule.rule.pattern!r} has {len(rule.signs)} numbers and {len(figures)} figures")
            wrong = []
            for shown, sign, figure in zip(numbered, rule.signs, figures, strict=True):
                if shown is not None and not is_rounded(shown, sign, figure):
                    wrong.append(f"{shown} stands for {figure:.7g}")
            wrong += _crossed(rule.rule.against, numbered, figures, match[0])
            wrong += _at_whole(rule.signs, numbered, figures, match[0])
            if not wrong:
                return []
            if len(wrong) < nearest[0]:
                nearest = (len(wrong), [", ".join(wrong)])
        return nearest[1]


def is_rounded(shown: str, sign: str, figure: float) -> bool:
    """Whether a number, as it stands in a picture, is a figure rounded."""
    if shown.startswith("±"):
        return ROUNDED[sign](shown[1:], abs(figure))
    return math.isfinite(figure) and ROUNDED[sign](shown.removeprefix("+"), figure)


def _numbers(match: re.Match[str]) -> list[str | None]:
    """What the groups without a name hold."""
    named = set(match.re.groupindex.values())
    return [match[number] for number in range(1, match.re.groups + 1) if number not in named]


def _crossed(against: Sequence[tuple[int, int]], shown: Sequence[str | None], figures: Figures, text: str) -> list[str]:
    """Where a number and its limit, as shown, do not stand as they are."""
    faults = []
    for one, other in against:
        value, limit = shown[one], shown[other]
        if value is None or limit is None or math.isclose(figures[one], figures[other], rel_tol=1e-9):
            continue
        apart = float(value.lstrip("±+")) - float(limit.lstrip("±+"))
        true = figures[one] - figures[other]
        if apart * true < 0.0 or (apart == 0.0 and not SURE.search(text)):
            faults.append(f"{value} of {limit} hides {figures[one]:.7g} of {figures[other]:.7g}")
    return faults


def _at_whole(signs: Sequence[str], shown: Sequence[str | None], figures: Figures, text: str) -> list[str]:
    """Shares that look like the whole of a limit and are not."""
    some = zip(signs, shown, figures, strict=True)
    near = [figure for sign, value, figure in some if sign == "^" and value == "100" and abs(figure - 100.0) > 1e-6]
    return [] if SURE.search(text) else [f"100 hides {figure:.7g}" for figure in near]


# ---- what stands in a drawing ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Words:
    """Words of a drawing that belong together.

    Parameters
    ----------
    view : name of the row, empty outside
    texts : the lines of one layer that say the same of the same thing, or each something else
    label : what a pointer is told of them; empty where nothing
    kind : ``text``, ``label`` (a mark's own), or ``tick`` (of an axis)
    """

    view: str
    texts: tuple[str, ...]
    label: str = ""
    kind: str = "text"


def plain(text: str) -> str:
    """Without thousands separators, no-break spaces and the long minus sign."""
    text = re.sub(r"(?<=\d)[\u00a0,](?=\d{3}(?!\d))", "", text)
    return text.replace("\u00a0", " ").replace("−", "-").strip()


def words_of(svg: str) -> list[Words]:
    """All words of a drawing, those that are seen and those that are told."""
    found: list[Words] = []
    _walk(ElementTree.fromstring(svg), "", found)
    told = {one.label: one for one in found if one.label}
    return [*found, *(Words(one.view, (label,), kind="label") for label, one in told.items())]


def _walk(node: ElementTree.Element, view: str, found: list[Words]) -> None:
    classes = node.get("class", "")
    scope = re.search(r"role-scope (\S+?)_group", classes)
    view = scope[1] if scope else view
    label = node.get("aria-label", "")
    if label and not node.tag.endswith("}text") and "axis" not in classes and "title" not in classes:
        found.append(Words(view, (), plain(label), "mark"))
    if "mark-text" in classes:
        kind = "tick" if "role-axis-label" in classes else "text"
        _gather(node, view, kind, found)
        return
    for child in node:
        _walk(child, view, found)


def _gather(group: ElementTree.Element, view: str, kind: str, found: list[Words]) -> None:
    """Words of one layer: lines with one label are one thing; those without are kept together."""
    bare: list[str] = []
    told: dict[str, list[str]] = {}
    for node in group.iter(f"{SVG}text"):
        lines = [line for line in (span.text or "" for span in node.iter(f"{SVG}tspan")) if line]
        text = plain(" ".join(lines) if lines else "".join(node.itertext()))
        label = plain(node.get("aria-label", ""))
        if label:
            told.setdefault(label, []).append(text)
        elif text:
            bare.append(text)
    if bare:
        found.append(Words(view, tuple(bare), kind=kind))
    found += [Words(view, tuple(texts), label, kind) for label, texts in told.items()]


@dataclass(frozen=True, eq=False)
class Ticks:
    """Where bare numbers are round ones of an axis.

    Parameters
    ----------
    view : name of the row
    most : no greater number may stand there; in the unit that is shown
    unit : what follows each number, empty where the axis says it
    """

    view: str
    most: float
    unit: str = ""
    texts: list[str] = field(default_factory=list)

    def numbers(self, texts: Sequence[str]) -> list[float] | None:
        """The numbers of a layer that holds nothing else; None for any other."""
        found = [re.fullmatch(rf"(-?\d+(?:\.\d+)?){re.escape(self.unit)}", text) for text in texts]
        return None if any(one is None for one in found) else [float(one[1]) for one in found if one is not None]

    def faults(self, numbers: Sequence[float]) -> list[str]:
        """Whether these are whole multiples of one round step, and within the axis."""
        sizes = sorted({abs(number) for number in numbers if number})
        beyond = [
            f"tick {size:g} lies beyond the axis, {self.most:g}" for size in sizes if size > self.most * (1 + 1e-6)
        ]
        apart = [after - before for before, after in zip([0.0, *sizes], sizes, strict=False)]
        step = min(apart, default=1.0)
        round_one = any(
            math.isclose(step, digit * 10.0**power, rel_tol=1e-6) for digit in (1, 2, 2.5, 5) for power in range(-9, 7)
        )
        odd = [size for size in sizes if abs(size / step - round(size / step)) > 1e-6]
        if not round_one or odd:
            beyond.append(f"ticks {sorted(set(numbers))} are no multiples of one round step")
        return beyond


def faults_of(svg: str, reader: Reader, ticks: Sequence[Ticks] = ()) -> list[str]:
    """Every number of a drawing that nothing explains, with its text and the nearest figure."""
    found: list[str] = []
    carried: dict[str, Fields] = {}
    for one in words_of(svg):
        joined = " ".join(one.texts)
        names = {**reader.names_in(joined), **reader.names_in(one.label)}
        if one.kind != "label":
            kept = carried.setdefault(one.view, {})
            kept.update({kind: names[kind] for kind in reader.carried if kind in names})
            names = {**kept, **(reader.names_in(one.label) if one.label else {})}
        else:
            names = {}
        if not re.search(r"\d", joined):
            continue
        axis = [
            tick.faults(numbers) for tick in ticks if tick.view == one.view and (numbers := tick.numbers(one.texts))
        ]
        if axis and not one.label:
            found += min(axis, key=len)
        elif one.label:
            found += _least(reader, [joined], list(one.texts), {"view": one.view, **names})
        else:
            found += _least(reader, list(one.texts), [joined], {"view": one.view, **names})
    return list(dict.fromkeys(found))


def _least(reader: Reader, first: Sequence[str], second: Sequence[str], names: Fields) -> list[str]:
    """The faults of texts read in one way, or in the other where that leaves none."""
    ways = ([fault for text in some for fault in reader.faults(text, names)] for some in (first, second))
    faults = next(ways)
    return [] if faults and not next(ways) else faults
