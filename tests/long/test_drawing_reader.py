"""The drawing in another program: LibreCAD measures the dimensions anew and must print the numbers that the layout has.

LibreCAD prints words as strokes, from which no text can be taken. So pages are compared: the drawing as it is with the
same drawing in which every number is written out. Where both pages are alike, LibreCAD has measured these numbers.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document
from ezdxf.entities import Dimension, Text

from linewright.evaluation import Evaluation, evaluate_without_run
from linewright.handover.drawing.drawing import drawing_of
from linewright.handover.drawing.dxf import dxf_of
from linewright.layout.placing import length_text
from linewright.line.load import load_line
from linewright.planning.money.parts_list import parts_list

EXAMPLES = Path(__file__).parents[2] / "examples"
LINES = ("demo/line", "charts/five", "charts/forty", "ways/ring", "ways/branch", "ways/four-decks")
READER, PAINTER = shutil.which("librecad"), shutil.which("pdftoppm")

pytestmark = [
    pytest.mark.long,
    pytest.mark.skipif(READER is None, reason="librecad is not installed"),
    pytest.mark.skipif(PAINTER is None, reason="pdftoppm (poppler-utils) is not installed"),
]


def drawn(name: str) -> tuple[Evaluation, bytes]:
    evaluation = evaluate_without_run(load_line(EXAMPLES / f"{name}.yaml"))
    return evaluation, dxf_of(drawing_of(evaluation, parts_list(evaluation.line, evaluation.layout)))


def page(folder: Path, name: str, content: bytes) -> bytes:
    """The drawing as LibreCAD prints it, in pixels."""
    source, target = folder / f"{name}.dxf", folder / f"{name}.pdf"
    source.write_bytes(content)
    assert READER is not None
    assert PAINTER is not None
    command = [READER, "dxf2pdf", "-a", "-p", "1189x841", "-o", str(target), str(source)]
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "HOME": str(folder), "XDG_RUNTIME_DIR": str(folder)}
    subprocess.run(command, env=environment, capture_output=True, check=True, timeout=120)
    painted = subprocess.run([PAINTER, "-r", "100", "-gray", str(target)], capture_output=True, check=True)
    return painted.stdout


def changed(content: bytes, change: Callable[[Document], None]) -> bytes:
    document = ezdxf.read(io.StringIO(content.decode("utf-8")))
    change(document)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


def dimensions(document: Document) -> list[Dimension]:
    return [one for one in document.modelspace().query("DIMENSION") if isinstance(one, Dimension)]


@pytest.mark.parametrize("name", LINES)
def test_librecad_measures_the_numbers_of_the_layout(name: str, tmp_path: Path) -> None:
    evaluation, content = drawn(name)
    units = evaluation.line.units

    def write_out(document: Document) -> None:
        for one in dimensions(document):
            number = length_text(float(one.get_measurement()) / 1e3, units).split()[0]
            one.dxf.text = f"R{number}" if one.dimtype == 4 else number

    def write_one_wrong(document: Document) -> None:
        write_out(document)
        dimensions(document)[0].dxf.text = "17"

    measured = page(tmp_path, "measured", content)
    assert len(set(measured)) > 2  # something is drawn
    assert page(tmp_path, "written", changed(content, write_out)) == measured
    assert page(tmp_path, "wrong", changed(content, write_one_wrong)) != measured


@pytest.mark.parametrize("name", LINES)
def test_librecad_shows_every_station_and_section(name: str, tmp_path: Path) -> None:
    """Without any one of them its page is another."""
    evaluation, content = drawn(name)
    whole = page(tmp_path, "whole", content)

    def without(station: str) -> Callable[[Document], None]:
        def change(document: Document) -> None:
            for one in document.modelspace().query('TEXT[layer=="TEXT"]'):
                if isinstance(one, Text) and one.dxf.text.split(",")[0] == station:
                    document.modelspace().delete_entity(one)

        return change

    def without_sections(document: Document) -> None:
        for one in document.modelspace().query('INSERT[layer=="OUTLINE-SECTION"]'):
            document.modelspace().delete_entity(one)

    for station in (evaluation.line.stations[0].name, evaluation.line.stations[-1].name):
        assert page(tmp_path, "nameless", changed(content, without(station))) != whole
    assert page(tmp_path, "trackless", changed(content, without_sections)) != whole
    assert page(tmp_path, "again", changed(content, lambda document: None)) == whole
