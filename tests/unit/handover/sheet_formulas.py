"""Works a workbook's formulas out anew, in Python, with the rules of a spreadsheet."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from openpyxl import Workbook
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token


class Fault:
    """What stands in a cell whose formula cannot be worked out."""


def number(value: Any) -> float:
    """A cell's value in arithmetic: a blank cell counts as nought."""
    if value is None:
        return 0.0
    if isinstance(value, bool | int | float):
        return float(value)
    raise TypeError(f"{value!r} is no number")


def same(one: Any, other: Any) -> bool:
    """Whether two values are equal: a blank cell equals nought and the empty text as well."""
    if one is None or other is None:
        blank = other if one is None else one
        return blank in (None, "") or blank == 0
    if isinstance(one, str) != isinstance(other, str):
        return False
    return bool(one == other)


class Value:
    """A value, or a list of them, with the operators of a formula."""

    def __init__(self, value: Any) -> None:
        self.value = value

    def _with(self, other: Value, work: Callable[[Any, Any], Any]) -> Value:
        one, two = self.value, other.value
        if isinstance(one, list) or isinstance(two, list):
            count = len(one if isinstance(one, list) else two)
            ones = one if isinstance(one, list) else [one] * count
            twos = two if isinstance(two, list) else [two] * count
            return Value([Value(a)._with(Value(b), work).value for a, b in zip(ones, twos, strict=True)])
        if isinstance(one, Fault) or isinstance(two, Fault):
            return Value(Fault())
        try:
            return Value(work(one, two))
        except (TypeError, ZeroDivisionError):
            return Value(Fault())

    def __add__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) + number(b))

    def __sub__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) - number(b))

    def __mul__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) * number(b))

    def __truediv__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) / number(b))

    def __and__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: text(a) + text(b))

    __hash__ = None  # type: ignore[assignment]

    def __eq__(self, other: Value) -> Value:  # type: ignore[override]
        return self._with(other, same)

    def __lt__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) < number(b))

    def __le__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) <= number(b))

    def __gt__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) > number(b))

    def __ge__(self, other: Value) -> Value:
        return self._with(other, lambda a, b: number(a) >= number(b))


def text(value: Any) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _figures(value: Value) -> list[float]:
    listed = value.value if isinstance(value.value, list) else [value.value]
    return [float(one) for one in listed if isinstance(one, int | float)]


def _sumif(where: Value, what: Value, of: Value) -> Value:
    pairs = zip(where.value, of.value, strict=True)
    return Value(
        math.fsum(float(two) for one, two in pairs if same(one, what.value) and not isinstance(two, str | None))
    )


FUNCTIONS: dict[str, Callable[..., Value]] = {
    "IF": lambda asked, yes, no: Value(Fault()) if isinstance(asked.value, Fault) else yes if asked.value else no,
    "OR": lambda *all_: Value(any(one.value for one in all_)),
    "SUM": lambda one: Value(math.fsum(_figures(one))),
    "MAX": lambda *all_: Value(max(number(one.value) for one in all_)),
    "COUNTBLANK": lambda one: Value(sum(each in (None, "") for each in one.value)),
    "SUMIF": _sumif,
    "SUMPRODUCT": lambda one: Value(math.fsum(number(each) for each in one.value)),
    "INT": lambda one: Value(math.floor(number(one.value))),
    "MOD": lambda one, by: Value(number(one.value) % number(by.value)),
    "ROUNDUP": lambda one, digits: Value(math.ceil(number(one.value))),
}


class Sheets:
    """A workbook whose formulas are worked out when they are asked for.

    Parameters
    ----------
    book : read with its formulas, not with what the file says that they come to
    """

    def __init__(self, book: Workbook) -> None:
        self.book = book
        self._known: dict[tuple[str, str], Any] = {}
        self._before: dict[tuple[str, str], Any] = {}

    def value(self, sheet: str, cell: str) -> Any:
        """What stands in a cell, or what its formula comes to."""
        key = (sheet, cell.replace("$", ""))
        if key not in self._known:
            found = self.book[sheet][key[1]]
            self._known[key] = self._work(sheet, found.value) if found.data_type == "f" else found.value
        return self._known[key]

    def type_in(self, sheet: str, cell: str, value: Any) -> None:
        """Change a cell; everything is worked out anew."""
        self._before.setdefault((sheet, cell), self.book[sheet][cell].value)
        self.book[sheet][cell].value = value
        self._known.clear()

    def as_it_was(self) -> None:
        """Take back whatever was typed in."""
        for (sheet, cell), value in self._before.items():
            self.book[sheet][cell].value = value
        self._before.clear()
        self._known.clear()

    def _work(self, sheet: str, formula: str) -> Any:
        source = "".join(self._python(sheet, token) for token in Tokenizer(formula).items)
        names = {"V": Value, "R": self._range, **{f"F_{name}": work for name, work in FUNCTIONS.items()}}
        found = eval(source, {"__builtins__": {}}, names)
        return found.value

    def _python(self, sheet: str, token: Token) -> str:
        kind, of, words = token.type, token.subtype, token.value
        if kind == Token.FUNC:
            return f"F_{words}" if of == Token.OPEN else ")"
        if kind == Token.OPERAND and of == Token.RANGE:
            other, _, cells = words.rpartition("!")
            return f"R({(other.strip(chr(39)) or sheet)!r},{cells!r})"
        if kind == Token.OPERAND:
            return f"V({words[1:-1].replace(chr(34) * 2, chr(34))!r})" if of == Token.TEXT else f"V({words})"
        if kind == Token.OP_IN:
            return "==" if words == "=" else words
        return {Token.SEP: ",", Token.PAREN: words, Token.WSPACE: ""}[kind]

    def _range(self, sheet: str, cells: str) -> Value:
        if ":" not in cells:
            return Value(self.value(sheet, cells))
        rows = self.book[sheet][cells.replace("$", "")]
        return Value([self.value(sheet, one.coordinate) for row in rows for one in row])
