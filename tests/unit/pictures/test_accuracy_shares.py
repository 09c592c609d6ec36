"""Accuracy shares: every contributor once, in proportion, the largest first, biases apart from spreads."""

from __future__ import annotations

import dataclasses
from itertools import pairwise
from typing import Any

import pytest

from linewright.pictures.charts.accuracy import (
    GAP_PX,
    LEAST_WORDS,
    WIDTH_PX,
    accuracy_shares,
    joined,
    place_shares,
    ranked_shares,
)
from linewright.pictures.labels import text_width_px
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import INK, PAPER, Text
from linewright.pictures.track.accuracy_row import accuracy_row
from unit.pictures.test_limit_rows import ACCURACY, STRENGTH, clashes, evaluated, on_sheet
from unit.pictures.test_limit_rows import bars as limit_bars


def layers(picture: Picture) -> list[tuple[dict[str, Any], dict[str, Any], list[list[dict[str, Any]]]]]:
    return [
        (one["mark"], one["encoding"], picture.spec["datasets"][one["data"]["name"]])
        for view in picture.spec["vconcat"]
        for one in view["layer"]
    ]


def bars(picture: Picture, view: int) -> list[dict[str, Any]]:
    """The parts of the bar of one budget."""
    return [
        row
        for one in picture.spec["vconcat"][view]["layer"]
        if one["mark"]["type"] == "rect" and "fill" in one["encoding"]
        for row in picture.spec["datasets"][one["data"]["name"]]
    ]


@pytest.mark.parametrize("name", [ACCURACY, STRENGTH, "charts/forty"])
def test_every_contributor_with_a_share_stands_once_in_its_bar_in_proportion(name: str) -> None:
    e = evaluated(name)
    assert e.limits is not None
    picture = accuracy_shares(e)
    axes = e.limits.accuracy.axes
    for view, one in enumerate(axes):
        rows = [
            row
            for row in e.limits.accuracy.budgets.rows()
            if (row["station"], row["axis"]) == (one.station, one.axis) and row["share"] > 0.0
        ]
        parts = bars(picture, view)
        assert len(parts) == len(rows)
        whole = WIDTH_PX - (GAP_PX if len({row["kind"] for row in rows}) > 1 else 0.0)
        for row in rows:
            mine = [part for part in parts if f", {row['contributor']}: " in part["name"]]
            assert len(mine) == 1, row["contributor"]
            assert mine[0]["x2"] - mine[0]["x"] == pytest.approx(row["share"] * whole, rel=1e-6)
            assert row["kind"] in mine[0]["name"]
        assert parts[0]["x"] == 0.0
        assert parts[-1]["x2"] == pytest.approx(WIDTH_PX)


def test_spreads_stand_first_then_biases_each_the_largest_first() -> None:
    e = evaluated(ACCURACY)
    assert e.limits is not None
    for one in e.limits.accuracy.axes:
        shares = ranked_shares(e, one)
        assert [share.number for share in shares] == list(range(1, len(shares) + 1))
        kinds = [share.is_bias for share in shares]
        assert kinds == sorted(kinds)
        assert len(set(kinds)) == 2
        for kind in (False, True):
            mine = [share.share for share in shares if share.is_bias is kind]
            assert mine == sorted(mine, reverse=True)
        placed = place_shares(shares, Text())
        gaps = [after.left - before.right for before, after in pairwise(placed)]
        assert [round(gap, 6) for gap in gaps].count(GAP_PX) == 1
        assert placed[kinds.index(True)].left - placed[kinds.index(True) - 1].right == pytest.approx(GAP_PX)


def test_a_contributor_tells_what_halving_it_brings() -> None:
    e = evaluated(ACCURACY)
    assert e.limits is not None
    one = e.limits.accuracy.axes[0]
    rows = {row["contributor"]: row for row in e.limits.accuracy.budgets.rows()[: len(one.counted)]}
    for share in ranked_shares(e, one):
        cpk = one.budget.cpk + rows[share.name]["gain_cpk"]
        assert share.said.endswith(f"({cpk:.2f})" if round(100.0 * share.share, 1) >= 5.0 else " %")
        assert f"halved: Cpk {cpk:.2f} of 1.67" in share.told


def test_what_has_no_name_in_the_bar_is_named_under_it() -> None:
    e = evaluated("charts/forty")
    assert e.limits is not None
    for size in (1.0, 2.0):
        picture = accuracy_shares(e, Text(size))
        for view, one in enumerate(e.limits.accuracy.axes):
            found = [
                row["words"]
                for layer in picture.spec["vconcat"][view]["layer"]
                if layer["mark"]["type"] == "text"
                for row in picture.spec["datasets"][layer["data"]["name"]]
            ]
            entries = [entry for words in found for entry in words.split(" · ")]
            shares = ranked_shares(e, one)
            for share in shares:
                whole = f"{share.number} {share.said}"
                named = [entries.count(share.name), entries.count(whole) + entries.count(share.said)]
                assert sum(named) == (0 if share.percent == LEAST_WORDS else 1), share.said
                inside = named[0] and f"{share.percent} {share.halved}".strip() in entries
                alone = named[0] and f"{share.name} {share.halved}" in entries
                assert bool(inside or alone) == bool(named[0])
            none = [counted.contributor.name for n, counted in enumerate(one.counted) if one.budget.shares[n] == 0.0]
            tiny = [share.name for share in shares if share.percent == LEAST_WORDS] + none
            said = {f"{LEAST_WORDS}: {', '.join(tiny)}", f"{len(tiny)} {LEAST_WORDS}"}
            assert len(said & set(entries)) == (1 if tiny else 0)


def test_forty_stations_in_large_letters_take_no_more_than_two_pages() -> None:
    spec = accuracy_shares(evaluated("charts/forty"), Text(2.0)).spec
    assert sum(view["height"] + 14 for view in spec["vconcat"]) < 2 * 1.414 * WIDTH_PX


def test_a_budget_that_fails_stands_white_on_dark() -> None:
    picture = accuracy_shares(evaluated("charts/fourteen"))
    titles = [
        (row["words"], mark["color"])
        for mark, _, rows in layers(picture)
        if mark["type"] == "text" and mark.get("fontWeight") == "bold"
        for row in rows
    ]
    assert titles == [
        ("press, x (along): Cpk 1.65 of 1.33, holds", INK),
        ("press, y (across): Cpk 1.35 of 1.33, tight", INK),
        ("solder, x (along): Cpk 1.29 of 1.33, fails", PAPER),
        ("solder, y (across): Cpk 0.97 of 1.33, fails", PAPER),
    ]


def test_a_tolerance_of_nothing_and_figures_that_are_not_stated_are_told() -> None:
    picture = accuracy_shares(evaluated(STRENGTH, ("{x: ±0.15 mm, z: ±0.1 mm}", "{x: ±0.5 mm, y: ±0 mm}")))
    texts = [
        row["words"] for mark, _, rows in layers(picture) if mark["type"] == "text" for row in rows if "words" in row
    ]
    assert "a tolerance of ±0, which nothing meets" in texts
    assert "rivet, y (across): no index, fails" in texts
    assert any(text.startswith("rivet, x (along): ") and text.endswith(", not checked") for text in texts)
    assert "not stated, so not counted: base" in " ".join(texts)


def test_without_a_tolerance_there_is_nothing_to_draw() -> None:
    e = evaluated("ways/ring")
    with pytest.raises(NothingToDraw, match="write the key tolerance"):
        accuracy_shares(e)
    with pytest.raises(NothingToDraw, match="no carrier can move"):
        accuracy_shares(dataclasses.replace(e, limits=None))


@pytest.mark.parametrize("size", [1.0, 2.0])
@pytest.mark.parametrize("name", [ACCURACY, STRENGTH, "charts/forty"])
def test_no_words_lie_over_others_or_leave_the_picture(name: str, size: float) -> None:
    picture = accuracy_shares(evaluated(name), Text(size))
    for view in picture.spec["vconcat"][:-1]:
        boxes = []
        for one in view["layer"]:
            if one["mark"]["type"] != "text":
                continue
            letters = one["mark"]["fontSize"]
            for row in picture.spec["datasets"][one["data"]["name"]]:
                wide = text_width_px(row["words"], letters) * (1.0 if one["mark"].get("fontWeight") else 0.95)
                left = row["x"] - (wide / 2 if one["mark"]["align"] == "center" else 0.0)
                boxes.append((row["words"], left, row["y"] - 0.45 * letters, left + wide, row["y"] + 0.45 * letters))
        assert clashes(boxes) == []
        assert max(box[3] for box in boxes) <= WIDTH_PX + 1.0
        assert min(box[1] for box in boxes) >= -1.0
        assert max(box[4] for box in boxes) <= view["height"] + 1.0


def test_the_bar_of_each_axis_stays_wide_enough_to_be_seen_among_forty_stations() -> None:
    sheet = on_sheet(evaluated("charts/forty"))
    drawn = limit_bars(sheet, accuracy_row(sheet))
    assert len(drawn) == 14
    assert min((one["x2"] - one["x"]) / sheet.value(sheet.m_a_px) for one in drawn) > 3.9


def test_entries_are_joined_without_breaking_one() -> None:
    entries = [f"{number} contributor of some length {number} %" for number in range(30)]
    lines = joined(entries, 12.0)
    assert " · ".join(lines) == " · ".join(entries)
    assert len(lines) > 1
    assert all(text_width_px(line, 12.0) <= WIDTH_PX for line in lines)
