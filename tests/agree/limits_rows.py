"""What the plain recomputations of limits share: a row, how two lists of rows are compared, and lines made of parts."""

from __future__ import annotations

import copy
import io
import math
import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from ruamel.yaml import YAML

from linewright.errors import LineFileError
from linewright.findings import Finding
from linewright.line.load import read_line
from linewright.line.model import Line

ROOT: Final = Path(__file__).parents[2]
SHEETS: Final = ROOT / "src" / "linewright" / "line" / "sheets"
RELATIVE: Final = 1e-6

Tree = dict[str, Any]


@dataclass(frozen=True)
class Row:
    """One row as the page says it: figures None where the page names none, stations as the row should name them."""

    code: str
    verdict: str
    value: float | None = None
    limit: float | None = None
    margin: float | None = None
    stations: tuple[str, ...] = ()


def verdict_of(margin: float) -> str:
    """Below 0 it fails, with less than a tenth to spare it is tight."""
    return "fails" if margin < 0.0 else "tight" if margin < 0.1 else "holds"


def differences(mine: Iterable[Row], found: Sequence[Finding], names: Sequence[str] = ()) -> list[str]:
    """What two lists of rows do not have in common, in words; rows are paired by code and the stations they name."""
    told: list[str] = []
    theirs = list(found)
    for row in mine:
        same = [one for one in theirs if one.code == row.code and named(one, names) == row.stations]
        if not same:
            told.append(f"missing: {row}")
            continue
        best = min(same, key=lambda one: (one.verdict != row.verdict, _distance(row.value, one.value)))
        theirs.remove(best)
        theirs_are = (best.verdict, best.value, best.limit, best.margin)
        pairs = ((row.value, best.value), (row.limit, best.limit), (row.margin, best.margin))
        if row.verdict != best.verdict or not all(_same(one, other) for one, other in pairs):
            told.append(f"{row} against {theirs_are}: {best.where}")
    told += [f"too many: {one.code} {one.verdict} {one.value} {one.limit} {one.margin}: {one.where}" for one in theirs]
    return told


def named(finding: Finding, names: Sequence[str]) -> tuple[str, ...]:
    """The stations that begin a row: `station load: ...` or `stations load, unload: ...`."""
    found = re.match(r"stations? ([^:]*)", finding.where)
    words = [] if found is None else re.split(r", |: ", found.group(1))
    return tuple(word for word in words if word in names)


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=RELATIVE, abs_tol=1e-12)


def _distance(one: float | None, other: float | None) -> float:
    if one is None or other is None:
        return 0.0 if one is other else math.inf
    return abs(one - other)


def row_of(found: Sequence[Finding], code: str, station: str | None) -> Finding | None:
    """The row of a code, of a station where one is asked for."""
    for one in found:
        if one.code == code and (station is None or station in named(one, (station,))):
            return one
    return None


# ---- lines ---------------------------------------------------------------------------------------------------------


def tree_of(path: Path) -> Tree:
    """A file as plain dictionaries."""
    tree: Tree = YAML(typ="safe", pure=False).load(path.read_text(encoding="utf-8"))
    return tree


def text_of(tree: Tree) -> str:
    """Dictionaries as the text of a file."""
    stream = io.StringIO()
    yaml = YAML(typ="safe", pure=True)
    yaml.allow_unicode = True
    yaml.width = 100_000
    yaml.default_flow_style = False
    yaml.sort_base_mapping_type_on_output = False  # type: ignore[assignment]
    yaml.dump(tree, stream)
    return stream.getvalue()


def line_of(tree: Tree, sheet: Tree, folder: Path) -> Line:
    """A line of a tree and a sheet of its own, which is written into a folder."""
    (folder / "sheet.yaml").write_text(text_of(sheet), encoding="utf-8")
    return read_line(text_of({**tree, "conveyor": "sheet.yaml"}), folder=folder)


def valid_line(tree: Tree, sheet: Tree, folder: Path) -> Line | None:
    """The same; None where the file is refused, which is no affair of limits."""
    try:
        return line_of(tree, sheet, folder)
    except LineFileError:
        return None


def sheet_tree(name: str) -> Tree:
    """A built-in sheet, or one of the examples, as plain dictionaries."""
    path = SHEETS / f"{name}.yaml"
    return tree_of(path if path.exists() else ROOT / "examples" / name)


def with_keys(tree: Tree, **paths: Any) -> Tree:
    """A copy in which `a__b=value` sets tree[a][b]; None takes the key out where it is there."""
    found = copy.deepcopy(tree)
    for path, value in paths.items():
        *groups, key = path.split("__")
        at = found
        for group in groups:
            if group not in at:
                if value is None:
                    break
                at[group] = {}
            at = at[group]
        else:
            if value is None:
                at.pop(key, None)
            else:
                at[key] = value
    return found


def altered(line: Line, path: str, value: Any) -> Line:
    """A copy of a line in which an attribute has another value: `conveyor.supply`, `stations.load.guard`."""

    def deeper(at: Any, keys: list[str]) -> Any:
        if not keys:
            return value
        if isinstance(at, tuple):
            return tuple(deeper(one, keys[1:]) if one.name == keys[0] else one for one in at)
        return at.model_copy(update={keys[0]: deeper(getattr(at, keys[0]), keys[1:])})

    found: Line = deeper(line, path.split("."))
    return found


def some(dice: random.Random, low: float, high: float, unit: str) -> str:
    """A figure between two, with its unit, to three digits or so."""
    value = dice.uniform(low, high)
    return f"{value:.6g} {unit}"
