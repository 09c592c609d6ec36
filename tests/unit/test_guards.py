"""Guards over the whole tree: what importing costs, what is public, what names mean, how long files get."""

from __future__ import annotations

import ast
import inspect
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

import linewright

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "linewright"

PUBLIC = [
    "Evaluation",
    "Fault",
    "Finding",
    "Line",
    "LineFileError",
    "LinewrightError",
    "Place",
    "Run",
    "SimulationError",
    "Table",
    "__version__",
    "checks",
    "evaluate",
    "flow",
    "gridlock",
    "layout",
    "line",
    "load",
    "motion",
    "pictures",
    "planning",
    "simulate",
    "traffic",
]
# Not one of these may load by importing the package root.
NOT_AT_ROOT = [
    "altair",
    "ezdxf",
    "icalendar",
    "numba",
    "numpy",
    "pandas",
    "pint",
    "pydantic",
    "rich",
    "ruamel",
    "scipy",
    "typer",
    "typst",
    "vl_convert",
    "xlsxwriter",
]
# Not one of these may load by importing a module: who does not need it must not wait for it.
HEAVY = ["altair", "ezdxf", "icalendar", "numba", "pandas", "scipy.stats", "typst", "vl_convert", "xlsxwriter"]
# These hold what numba compiles, and are loaded by the function that needs them.
COMPILED = ("linewright.flow.kernel", "linewright.motion._gap_batch")
# Modules whose public parameter names stand in the glossary.
NAMED = [
    "linewright.line.demand",
    "linewright.layout",
    "linewright.motion",
    "linewright.flow.bounds",
    "linewright.flow.causes",
    "linewright.flow.comparison",
    "linewright.flow.line_bounds",
    "linewright.flow.parallel",
    "linewright.flow.statistics",
    "linewright.evaluation",
    "linewright.planning",
    "linewright.pictures",
    "linewright.traffic.explore",
    "linewright.traffic.referee",
    "linewright.traffic.contact",
    "linewright.traffic.dead_section",
    "linewright.checks.accuracy",
    "linewright.checks.bus",
    "linewright.checks.motion",
    "linewright.checks.power",
    "linewright.checks.referee",
    "linewright.checks.safety",
    "linewright.checks.strength",
    "linewright.checks.upkeep",
    "linewright.flow.duty",
    "linewright.motion.coasting",
    "linewright.motion.electric",
    "linewright.motion.heat",
    "linewright.remedies",
]

MOST_LINES = 600
MOST_LINES_IN_A_FUNCTION = 90
# Words of other makers' programs and brochures; one term for one thing here, see docs/glossary.md.
KEPT_OUT = ["mover", "shuttle", "slider", "puck", "tile", "twin", "workbench"]


def in_new_process(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def modules() -> list[str]:
    paths = [path.relative_to(SOURCE.parent).with_suffix("") for path in sorted(SOURCE.rglob("*.py"))]
    names = [".".join(path.parts).removesuffix(".__init__") for path in paths]
    return [name for name in names if not name.endswith(".__main__")]


# ---- importing -------------------------------------------------------------------------------------------------------


def test_importing_the_package_prints_nothing_and_loads_no_library() -> None:
    code = f"import sys, linewright; found = [m for m in {NOT_AT_ROOT} if m in sys.modules]; assert not found, found"
    assert in_new_process(code) == ""


def test_no_module_but_the_compiled_ones_loads_a_heavy_library() -> None:
    names = [name for name in modules() if not name.startswith(COMPILED)]
    assert len(names) > 15
    code = f"""
import importlib, sys
heavy = set({HEAVY})
for name in {names}:
    importlib.import_module(name)
    loaded = heavy & set(sys.modules)
    if loaded:
        print(name, "loads", *sorted(loaded))
        heavy -= loaded
"""
    assert in_new_process(code) == ""


# ---- the public face -------------------------------------------------------------------------------------------------


def test_the_public_names_are_exactly_these() -> None:
    assert linewright.__all__ == PUBLIC
    assert dir(linewright) == sorted(PUBLIC)


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_is_there(name: str) -> None:
    assert getattr(linewright, name) is not None
    assert getattr(linewright, name) is getattr(linewright, name)


def test_an_unknown_name_is_answered_with_those_there_are() -> None:
    with pytest.raises(AttributeError, match="no attribute 'sinulate'; it has Evaluation, Fault"):
        linewright.sinulate  # noqa: B018


@pytest.mark.parametrize("room", ["linewright.flow", "linewright.layout", "linewright.motion", "linewright.planning"])
def test_every_name_that_a_room_offers_is_there(room: str) -> None:
    module = import_module(room)
    assert len(set(module.__all__)) == len(module.__all__) > 0
    for name in module.__all__:
        assert getattr(module, name) is not None, name


# ---- names -----------------------------------------------------------------------------------------------------------


def public_functions(module_name: str) -> Iterator[tuple[str, Callable[..., Any]]]:
    """The functions that a module offers and the public methods of the classes it offers."""
    module = import_module(module_name)
    offered = getattr(module, "__all__", [name for name in vars(module) if not name.startswith("_")])
    for name in offered:
        value = getattr(module, name)
        if inspect.isfunction(value) and value.__module__.startswith(module_name):
            yield f"{module_name}.{name}", value
        if inspect.isclass(value) and value.__module__.startswith(module_name):
            for method, function in vars(value).items():
                if inspect.isfunction(function) and not method.startswith("_"):
                    yield f"{module_name}.{name}.{method}", function


def parameters(module_name: str) -> dict[str, str]:
    """Parameter name -> one function that has it."""
    return {
        parameter: where
        for where, function in public_functions(module_name)
        for parameter in inspect.signature(function).parameters
        if parameter not in ("self", "cls")
    }


def glossary_names() -> list[str]:
    text = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
    return re.findall(r"^\| `(\w+)` \| ", text.split("## Names in the source")[1], flags=re.MULTILINE)


@pytest.mark.parametrize("module_name", NAMED)
def test_every_public_parameter_stands_in_the_glossary(module_name: str) -> None:
    used = parameters(module_name)
    assert used
    unlisted = {name: where for name, where in used.items() if name not in glossary_names()}
    assert not unlisted, f"to be listed in docs/glossary.md: {unlisted}"


def test_the_glossary_lists_no_name_twice_or_in_vain() -> None:
    listed = glossary_names()
    assert listed == sorted(set(listed), key=str.lower)
    used = {name for module_name in NAMED for name in parameters(module_name)}
    assert not set(listed) - used


@pytest.mark.parametrize("module_name", NAMED)
def test_no_public_function_takes_just_anything(module_name: str) -> None:
    for where, function in public_functions(module_name):
        kinds = {parameter.kind for parameter in inspect.signature(function).parameters.values()}
        assert inspect.Parameter.VAR_KEYWORD not in kinds, where


# ---- size and words --------------------------------------------------------------------------------------------------


def written_files(*folders: str, suffixes: tuple[str, ...] = (".py", ".md", ".yaml")) -> list[Path]:
    found = [path for folder in folders for path in sorted((ROOT / folder).rglob("*")) if path.suffix in suffixes]
    return [path for path in found if "_build" not in path.parts]


def test_no_source_file_is_too_long() -> None:
    lengths = {
        str(path.relative_to(ROOT)): path.read_text(encoding="utf-8").count("\n")
        for path in written_files("src", "tests", "bench", suffixes=(".py",))
    }
    assert len(lengths) > 20
    assert {name: length for name, length in lengths.items() if length > MOST_LINES} == {}


def test_no_function_is_too_long() -> None:
    too_long = {}
    for path in written_files("src", suffixes=(".py",)):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or 0) - node.lineno + 1
                if length > MOST_LINES_IN_A_FUNCTION:
                    too_long[f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"] = length
    assert too_long == {}


def test_words_that_are_kept_out_stay_out() -> None:
    pattern = re.compile(rf"(?<![A-Za-z.])({'|'.join(KEPT_OUT)})s?(?![A-Za-z])", flags=re.IGNORECASE)
    files = [*written_files("src", "docs", "examples"), ROOT / "README.md", ROOT / "CHANGELOG.md"]
    hits = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for path in files
        for match in pattern.finditer(path.read_text(encoding="utf-8"))
    ]
    assert hits == []
