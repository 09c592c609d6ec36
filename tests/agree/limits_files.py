"""Line files and sheets with some of their keys changed, for those who recompute the limits."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from linewright.line.load import load_line
from linewright.line.model import Line

Tree = dict[str, Any]


def trees_of(path: Path) -> tuple[Tree, Tree]:
    """What a line file and its sheet say, free to be changed."""
    line = load_line(path)
    assert line.document is not None
    assert line.conveyor.document is not None
    return copy.deepcopy(dict(line.document.tree)), copy.deepcopy(dict(line.conveyor.document.tree))


def line_of(tree: Tree, sheet: Tree, folder: Path) -> Line:
    """The line that a changed file and a changed sheet say; JSON is YAML."""
    (folder / "sheet.yaml").write_text(json.dumps(sheet, ensure_ascii=False), encoding="utf-8")
    (folder / "line.yaml").write_text(
        json.dumps({**tree, "conveyor": "sheet.yaml"}, ensure_ascii=False), encoding="utf-8"
    )
    return load_line(folder / "line.yaml")


def set_key(tree: Tree, path: str, value: Any) -> None:
    """Change one key, such as `guides.along`; None takes it out."""
    *way, last = path.split(".")
    for key in way:
        tree = tree.setdefault(key, {})
    if value is None:
        tree.pop(last, None)
    else:
        tree[last] = value
