"""Does the process image fit, does the controller answer in time, and does following a remedy make the row hold."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from linewright.checks.bus import BusResult, check_bus
from linewright.findings import Finding
from linewright.layout import Layout, lay_out
from linewright.line.electrics import Controls
from linewright.line.load import load_line
from linewright.line.model import CarrierChange, Line

EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.fixture(scope="module")
def example() -> tuple[Line, Layout]:
    line = load_line(EXAMPLES / "limits" / "bus.yaml")
    return line, lay_out(line)


def changed(line: Line, sheet: dict[str, Any] | None = None, image: dict[str, Any] | None = None, **own: Any) -> Line:
    """The line with other values of its own, of its sheet, of the sheet's process image; not validated anew."""
    conveyor = line.conveyor
    if image is not None:
        assert conveyor.image is not None
        conveyor = conveyor.model_copy(update={"image": conveyor.image.model_copy(update=image)})
    if sheet is not None:
        conveyor = conveyor.model_copy(update=sheet)
    return line.model_copy(update={"conveyor": conveyor, **own})


def row(result: BusResult, code: str) -> Finding:
    (found,) = [one for one in result.findings if one.code == code]
    assert found.subject == "bus"
    return found


def test_the_example_fails_and_is_tight_as_it_says(example: tuple[Line, Layout]) -> None:
    result = check_bus(*example)
    assert {one.code: one.verdict for one in result.findings} == {
        "image-bytes": "fails",
        "wire-time": "tight",
        "reaction-time": "fails",
        "carrier-identity": "tight",
    }
    assert all(one.place is not None and one.source and one.remedy for one in result.findings)
    assert result.most_carriers == 19


def test_bytes_are_counted_by_hand(example: tuple[Line, Layout]) -> None:
    """20 carriers of 18, 2 lifts of 8, the line 32: 408. On the wire 14 + 2 + 12 + 408 + 4 + 20 = 460, 368 µs."""
    result = check_bus(*example)
    assert result.image is not None
    assert result.image["bytes"].tolist() == [360, 16, 32]
    found = row(result, "image-bytes")
    assert (found.value, found.limit, found.unit) == (408.0, 400.0, "bytes")
    assert found.margin == pytest.approx(-0.02)
    found = row(result, "wire-time")
    assert (found.limit, found.unit) == (0.4e-3, "s")
    assert found.value == pytest.approx(460 * 8 / 10e6, rel=1e-12)
    assert found.margin == pytest.approx(0.08)
    found = row(result, "reaction-time")  # 3 x 0.4 ms + 2 x 5 ms against the least of the sheet's three
    assert (found.value, found.limit) == (pytest.approx(11.2e-3), 10e-3)


def test_the_carriers_that_a_remedy_names_fit_and_one_more_do_not(example: tuple[Line, Layout]) -> None:
    line, layout = example
    most = int(re.search(r"write carriers: (\d+)", row(check_bus(line, layout), "image-bytes").remedy)[1])  # type: ignore[index]
    assert most == 19
    assert row(check_bus(changed(line, carriers=most), layout), "image-bytes").verdict != "fails"
    slow = {"most_bytes": 1486}  # then the wire decides
    most = check_bus(changed(line, image=slow), layout).most_carriers
    assert most is not None
    verdicts = [
        row(check_bus(changed(line, image=slow, carriers=count), layout), "wire-time").verdict
        for count in (most, most + 1)
    ]
    assert verdicts == ["tight", "fails"]


def test_the_scan_that_a_remedy_names_holds_and_a_longer_one_does_not(example: tuple[Line, Layout]) -> None:
    line, layout = example
    text = row(check_bus(line, layout), "reaction-time").remedy
    scan_s = float(re.search(r"write scan: ([\d.]+) ms", text)[1]) / 1e3  # type: ignore[index]
    assert scan_s == pytest.approx(4.4e-3)
    for factor, verdict in ((1.0, "tight"), (1.001, "fails")):
        controls = Controls(scan_s=scan_s * factor, bus_cycle_s=0.4e-3)
        found = row(check_bus(changed(line, controls=controls), layout), "reaction-time")
        assert found.verdict == verdict
        assert ("with a tenth to spare" in found.remedy) == (verdict == "tight")
        if verdict == "tight":
            shorter_s = float(re.search(r"write scan: ([\d.]+) ms", found.remedy)[1]) / 1e3  # type: ignore[index]
            spared = changed(line, controls=Controls(scan_s=shorter_s, bus_cycle_s=0.4e-3))
            assert row(check_bus(spared, layout), "reaction-time").verdict == "holds"
    hopeless = changed(line, controls=Controls(scan_s=1e-3, bus_cycle_s=4e-3))
    assert "no scan time is short enough" in row(check_bus(hopeless, layout), "reaction-time").remedy


@pytest.mark.parametrize("code", ["image-bytes", "wire-time"])
def test_what_is_tight_is_told_how_many_carriers_leave_a_tenth(example: tuple[Line, Layout], code: str) -> None:
    line, layout = example
    line = changed(line, image={"most_bytes": 420})
    found = row(check_bus(line, layout), code)
    assert found.verdict == "tight"
    most = int(re.search(r"fits at most (\d+) carrier", found.remedy)[1])  # type: ignore[index]
    assert most < line.carriers
    for carriers, verdict in ((most, "holds"), (most + 1, "tight")):
        assert row(check_bus(changed(line, carriers=carriers), layout), code).verdict == verdict


def test_no_number_of_carriers_fits_where_the_rest_fills_the_image(example: tuple[Line, Layout]) -> None:
    line, layout = example
    result = check_bus(changed(line, image={"most_bytes": 40}), layout)
    assert result.most_carriers == 0
    assert "no number of carriers fits" in row(result, "image-bytes").remedy


def test_a_bus_quicker_than_the_drive_fails(example: tuple[Line, Layout]) -> None:
    line, layout = example
    quick = changed(line, controls=Controls(scan_s=1e-3, bus_cycle_s=0.2e-3))
    found = row(check_bus(quick, layout), "bus-cycle")
    assert (found.verdict, found.value, found.limit) == ("fails", 0.2e-3, 0.4e-3)
    assert found.margin == pytest.approx(-0.5)
    assert "bus_cycle: 0.4 ms" in found.remedy


def test_a_rate_that_assumes_no_reaction_fails_without_a_margin(example: tuple[Line, Layout]) -> None:
    line, layout = example
    reaction = line.conveyor.reaction.model_copy(update={"follow_s": 0.0})
    found = row(check_bus(changed(line, sheet={"reaction": reaction}), layout), "reaction-time")
    assert (found.verdict, found.limit, found.margin) == ("fails", 0.0, None)
    assert "reaction.follow" in found.where


def test_what_is_missing_is_named_once(example: tuple[Line, Layout]) -> None:
    line, layout = example
    result = check_bus(changed(line, image={"bytes_of_line": None, "most_bytes": None}), layout)
    found = row(result, "image-bytes")
    assert found.verdict == "not checked"
    assert "bytes_of_line and most_bytes are not stated" in found.where
    assert "state the keys bytes_of_line and most_bytes under image in the conveyor sheet" in found.remedy
    assert not [one for one in result.findings if one.code == "wire-time"]
    assert (result.image, result.image_bytes, result.most_carriers, result.budget) == (None, None, None, None)
    result = check_bus(changed(line, image={"bit_rate_bit_s": None}, controls=None), layout)
    assert row(result, "wire-time").verdict == row(result, "reaction-time").verdict == "not checked"
    assert "state the key bit_rate under image" in row(result, "wire-time").remedy
    assert "state the key controls in the line file" in row(result, "reaction-time").remedy
    nothing = check_bus(changed(line, sheet={"image": None}, controls=None), layout)
    assert [(one.code, one.verdict) for one in nothing.findings] == [
        ("process-image", "not checked"),
        ("reaction-time", "not checked"),
    ]


def test_carriers_that_are_put_in_later_need_bytes_too(example: tuple[Line, Layout]) -> None:
    line, layout = example
    changes = (
        CarrierChange(time_s=7200.0, station="load", in_=5),
        CarrierChange(time_s=3600.0, station="load", out=3),
        CarrierChange(time_s=9000.0, station="load", out=5),
    )
    result = check_bus(changed(line, carrier_changes=changes), layout)  # 20, 17, 22, 17 of them
    assert result.image_bytes == 22 * 18 + 2 * 8 + 32
    assert "those put in later included, at most 19 carriers; or" in row(result, "image-bytes").remedy


def test_a_line_without_transfers_needs_no_bytes_of_them(example: tuple[Line, Layout]) -> None:
    line = load_line(EXAMPLES / "ways" / "ring.yaml")
    layout = lay_out(line)
    assert not layout.transfers
    assert check_bus(changed(line, image={"bytes_per_transfer": None}), layout).image_bytes == 16 * 18 + 32


def test_the_image_of_the_demo_line_holds() -> None:
    line = load_line(EXAMPLES / "demo" / "line.yaml")
    result = check_bus(line, lay_out(line))
    for code in ("image-bytes", "wire-time", "carrier-identity"):
        assert row(result, code).verdict == "holds"
        assert row(result, code).remedy == ""


def test_nine_tenths_of_a_limit_hold_whatever_the_floats_say(example: tuple[Line, Layout]) -> None:
    """3 x 2 ms + 2 x 1.5 ms of 10 ms."""
    line, layout = example
    found = row(check_bus(changed(line, controls=Controls(scan_s=1.5e-3, bus_cycle_s=2e-3)), layout), "reaction-time")
    assert (found.margin, found.verdict, found.remedy) == (0.1, "holds", "")
