"""The chapters on what carriers may do, what they bear, and how near they stop to where they ought to."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any, Final

from linewright.handover.document.blocks import Block, Drawn, Facts, Heading, Part, Words
from linewright.handover.document.pdf import FOOT_MM, MARGIN_MM, SHEETS, TOP_MM
from linewright.handover.dossier.chapter import (
    NO_LIMITS,
    UNKNOWN,
    chapter,
    columns,
    plain,
    plus_minus,
    share,
    shown,
)
from linewright.layout.lanes import SAME_PLACE_M
from linewright.pictures.nothing import NothingToDraw
from linewright.quantities import KEEP, number

if TYPE_CHECKING:
    from collections.abc import Callable

    from linewright.evaluation import Evaluation
    from linewright.handover.papers.material import Material
    from linewright.motion.limits import CarrierLimits
    from linewright.pictures.picture import Picture
    from linewright.pictures.style import Text

# Under a picture, for its words. [mm]
_TOLD_MM: Final = 8.0
# So many of the hottest coil groups are told; the track chart has them all.
_HOTTEST: Final = 4
# A picture of more axes than this does not fit beside the tables and has letters that nobody reads.
_MOST_AXES: Final = 6
_LARGEST: Final = 3


def drawn(
    draw: Callable[[Evaluation, Text], Picture], size: float, told: str, height: float, material: Material
) -> tuple[Block, ...]:
    """A picture for the builder, or why there is none; nothing in the customer's paper, since it shows margins.

    Parameters
    ----------
    draw : makes it
    size : of its letters, as `linewright.pictures.Text` has it
    told : what it shows
    height : share of the page that it may take at most; it takes less where the page's width asks for less
    material : of the line
    """
    from linewright.pictures import Text

    if material.for_customer:
        return ()
    try:
        svg = draw(material.evaluation, Text(size)).svg()
    except NothingToDraw as nothing:
        return (Words(f"No picture: {nothing}."),)
    width_mm, height_mm = SHEETS[material.evaluation.line.units]["tall"]
    wide, high = (float(found) for found in re.findall(r'(?:width|height)="([0-9.]+)"', svg)[:2])
    needed = (width_mm - 2 * MARGIN_MM) * high / wide / (height_mm - TOP_MM - FOOT_MM - _TOLD_MM)
    return (Drawn(svg, told, min(height, needed)),)


# ---- motion ----------------------------------------------------------------------------------------------------------


def motion_part(material: Material) -> tuple[Part, ...]:
    """What carriers may do, empty and with parts; the hottest coils; the findings.

    Parameters
    ----------
    material : of the line
    """
    evaluation = material.evaluation
    drive, limits = evaluation.line.conveyor.drive, evaluation.limits
    own = evaluation.line.move_limits
    sheet = (
        f"{shown(drive.speed_m_s, 'm/s', material)}, {shown(drive.acceleration_m_s2, 'm/s²', material)}, "
        f"{shown(drive.jerk_m_s3, 'm/s³', material)}"
    )
    facts = [("the drive's limits", sheet)]
    if own is not None:
        stated = ((own.speed_m_s, "m/s"), (own.acceleration_m_s2, "m/s²"), (own.jerk_m_s3, "m/s³"))
        facts.append(("the line's own", ", ".join(shown(one, unit, material) for one, unit in stated if one)))
    blocks: list[Block] = [Facts(tuple(facts))]
    if limits is None or not len(limits.motion.legs):
        return chapter("Motion", "motion", [*blocks, Words(NO_LIMITS)], material)
    blocks += _moves(limits.motion.legs.rows(), limits.motion.limits, material)
    blocks += _heat([] if limits.motion.coil_heat is None else limits.motion.coil_heat.rows(), material)
    return chapter("Motion", "motion", blocks, material)


def _moves(legs: list[dict[str, Any]], limits: tuple[CarrierLimits, ...], material: Material) -> list[Block]:
    """The shortest move, the one made most and the longest, empty and with parts: what each may use."""
    chosen: dict[int, str] = {}
    for loaded in (False, True):
        mine = [i for i, row in enumerate(legs) if row["loaded"] == loaded]
        if mine:
            most = max(mine, key=lambda i: (legs[i]["made"], -i))
            picked = [(min(mine, key=lambda i: (legs[i]["distance_m"], i)), "shortest")]
            picked += [(most, "made most")] if legs[most]["made"] else []
            picked.append((max(mine, key=lambda i: (legs[i]["distance_m"], -i)), "longest"))
            for i, word in picked:
                same = next((j for j in chosen if _alike(legs[j], legs[i])), i)
                chosen[same] = f"{chosen[same]}, {word}" if same in chosen else word
    rows = [(legs[i], limits[i], word) for i, word in chosen.items()]

    def limit(value: float, unit: str, by: str) -> str:
        return f"{shown(value, unit, material)} ({by})"

    by = [
        (
            limit(one.limits.speed_m_s, "m/s", one.speed_set_by),
            limit(one.limits.acceleration_m_s2, "m/s²", one.acceleration_set_by),
            limit(one.limits.jerk_m_s3, "m/s³", one.jerk_set_by),
        )
        for _, one, _ in rows
    ]
    grid = columns(
        material,
        (
            ("carrier", False, [f"{'with a part' if leg['loaded'] else 'empty'}: {word}" for leg, _, word in rows]),
            (">distance", False, [shown(leg["distance_m"], "m", material) for leg, _, _ in rows]),
            (">time", False, [shown(leg["time_s"], "s", material) for leg, _, _ in rows]),
            ("=speed at most (by)", False, [one[0] for one in by]),
            ("acceleration at most (by)", False, [one[1] for one in by]),
            ("=jerk at most (by)", False, [one[2] for one in by]),
            ("=governs", True, [str(leg["governs"]) for leg, _, _ in rows]),
        ),
    )
    return [Heading("What a carrier may do", 2), grid]


def _alike(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether two legs stand in the table as the same figures."""
    return bool(one["loaded"] == other["loaded"] and abs(one["distance_m"] - other["distance_m"]) < SAME_PLACE_M)


def _heat(rows: list[dict[str, Any]], material: Material) -> list[Block]:
    """The hottest coil groups, those nearest to their limit first; for the builder alone."""
    if material.for_customer or not rows:
        return []
    rows = sorted(rows, key=lambda row: (-row["filtered_W"] / row["limit_W"], row["lane"], row["from_m"]))[:_HOTTEST]
    grid = columns(
        material,
        (
            ("=on", False, [str(row["lane"]) for row in rows]),
            (">from", False, [shown(row["from_m"], "m", material, row["to_m"]) for row in rows]),
            (">to", False, [shown(row["to_m"], "m", material, row["from_m"]) for row in rows]),
            ("under", False, [str(row["under"]) for row in rows]),
            (">mean", False, [shown(row["mean_W"], "W", material, row["limit_W"]) for row in rows]),
            (">warmest", False, [shown(row["filtered_W"], "W", material, row["limit_W"]) for row in rows]),
            (">for ever", False, [shown(row["limit_W"], "W", material) for row in rows]),
        ),
    )
    return [Heading(f"The hottest {len(rows)} coil groups", 2), grid]


# ---- strength --------------------------------------------------------------------------------------------------------


def strength_part(material: Material) -> tuple[Part, ...]:
    """Forces of the stations against what a carrier takes, block loads under way, life of the guides, the findings.

    Parameters
    ----------
    material : of the line
    """
    limits = material.evaluation.limits
    if limits is None:
        return chapter("Strength", "strength", (Words(NO_LIMITS),), material)
    found = limits.strength
    blocks: list[Block] = []
    if len(found.stations):
        blocks += _forces(found.stations.rows(), material)
    else:
        blocks.append(Words("No force of a tool is reckoned: no station states one."))
    if len(found.moving) and not material.for_customer:
        blocks += _under_way(found.moving.rows(), material)
    if found.life is not None and not material.for_customer:
        life = found.life
        basis = "the moves of the run" if life.from_duty else "moves as planned"
        travel, yearly = (shown(one, "m", material) for one in (life.travel_m, life.travel_per_year_m))
        years = "" if life.years is None else f"; {number(life.years)} years at {yearly} a year"
        told = f"{travel} that nine of ten blocks outlive, over {basis}, load factor {number(life.load_factor)}{years}"
        blocks.append(Facts((("life of the guides", told),)))
    return chapter("Strength", "strength", blocks, material)


def _forces(rows: list[dict[str, Any]], material: Material) -> list[Block]:
    deflected = [_deflection([row[f"deflection_{axis}_m"] for axis in "xyz"], material) for row in rows]
    greatest = ["greatest" if row["at_greatest"] else "stated" for row in rows]
    grid = columns(
        material,
        (
            ("station", False, [str(row["station"]) for row in rows]),
            ("=force", False, greatest),
            (">size", False, [shown(row["force_N"], "N", material) for row in rows]),
            (">allowed", False, [shown(row["allowed_N"], "N", material) for row in rows]),
            ("=allowed by", False, [str(row["allowed_by"]) for row in rows]),
            (">down", True, [share(row["down_share"]) for row in rows]),
            (">across", True, [share(row["across_share"]) for row in rows]),
            (">along", True, [share(row["along_share"]) for row in rows]),
            (">worst block", True, [shown(row["block_load_N"], "N", material) for row in rows]),
            (">safety", True, [plain(row["static_safety"]) for row in rows]),
            (">deflection x, y, z", True, deflected),
        ),
    )
    words = "Shares are of what the sheet allows in that direction; safety: static rating of a block over its load."
    return [Heading("Forces of the tools", 2), *([] if material.for_customer else [Words(words)]), grid]


def _deflection(axes_m: list[float], material: Material) -> str:
    """Of the three axes, in one unit that stands once; a dash where none is known."""
    known = [abs(one) for one in axes_m if math.isfinite(one)]
    if not known:
        return UNKNOWN
    told = [shown(one, "m", material, max(known)) for one in axes_m]
    unit = shown(max(known), "m", material).rsplit(KEEP, 1)[1]
    return f"{', '.join(one.removesuffix(f'{KEEP}{unit}') for one in told)}{KEEP}{unit}"


def _under_way(rows: list[dict[str, Any]], material: Material) -> list[Block]:
    grid = columns(
        material,
        (
            ("a carrier", False, [f"{'loaded' if row['loaded'] else 'empty'}, {row['state']}" for row in rows]),
            ("=worst block", False, [str(row["worst_block"]) for row in rows]),
            (">carries", False, [shown(row["block_load_N"], "N", material) for row in rows]),
            (">the least block", False, [shown(row["least_block_N"], "N", material) for row in rows]),
        ),
    )
    return [Heading("Block loads under way", 2), grid]


# ---- accuracy --------------------------------------------------------------------------------------------------------


def accuracy_part(material: Material) -> tuple[Part, ...]:
    """Error budgets a station and axis, their shares, how straight the track is to be mounted, the findings.

    Parameters
    ----------
    material : of the line
    """
    from linewright.pictures import accuracy_shares

    limits = material.evaluation.limits
    if limits is None:
        return chapter("Accuracy", "accuracy", (Words(NO_LIMITS),), material)
    found = limits.accuracy
    blocks: list[Block] = []
    rows = found.summary.rows()
    if rows:
        blocks += [Heading("Error budgets at the tool point", 2), _budgets(rows, material)]
        if len(rows) <= _MOST_AXES:
            told = "What each contributor has of the root sum of squares, and the tolerance."
            blocks += drawn(accuracy_shares, 1.3, told, 0.6, material)
        elif not material.for_customer:
            blocks += [Heading("Largest contributors", 2), _largest(found.budgets.rows(), material)]
    else:
        blocks.append(Words("No station states a tolerance (key tolerance), so there is no error budget."))
    mounting = found.mounting.rows()
    if mounting:
        blocks += [Heading("How the track is to be mounted", 2), _mounting(mounting, material)]
    return chapter("Accuracy", "accuracy", blocks, material)


def _budgets(rows: list[dict[str, Any]], material: Material) -> Block:
    def lengths(key: str) -> list[str]:
        return [shown(row[key], "m", material, row["tolerance_m"]) for row in rows]

    return columns(
        material,
        (
            ("station", False, [f"{row['station']}, {row['axis']}" for row in rows]),
            (">tolerance", False, [plus_minus(row["tolerance_m"], material) for row in rows]),
            (">Cpk asked", False, [plain(row["asked_cpk"]) for row in rows]),
            (">Cpk", True, [plain(row["cpk"]) for row in rows]),
            (">Cp", True, [plain(row["cp"]) for row in rows]),
            (">bias", True, lengths("bias_m")),
            (">σ", True, lengths("sigma_m")),
            (">bias and 3 σ", True, [f"±{one}" for one in lengths("rss_m")]),
            (">worst case", True, [f"±{one}" for one in lengths("worst_case_m")]),
            (">out, ppm", True, [plain(row["ppm"]) for row in rows]),
            ("pin", True, [str(row["pinning"]) for row in rows]),
        ),
    )


def _largest(rows: list[dict[str, Any]], material: Material) -> Block:
    """The three largest of each budget in a row; every one of many would fill pages."""
    of: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in rows:
        of.setdefault((row["station"], row["axis"]), []).append(row)
    told = [
        ", ".join(
            f"{row['contributor']} {share(row['share'])} ({plus_minus(row['half_width_m'], material)})"
            for row in sorted(mine, key=lambda row: (-row["share"], row["contributor"]))[:_LARGEST]
        )
        for mine in of.values()
    ]
    names = [f"{station}, {axis}" for station, axis in of]
    return columns(material, (("=station", False, names), ("share of the root sum of squares (amount)", False, told)))


def _mounting(rows: list[dict[str, Any]], material: Material) -> Block:
    return columns(
        material,
        (
            ("=what", False, [str(row["what"]).replace("_", " ") for row in rows]),
            ("=lane", False, [str(row["lane"]) for row in rows]),
            (">within", False, [plus_minus(row["limit_m"], material) for row in rows]),
            (">places", False, [number(row["places"]) for row in rows]),
            ("how", False, [str(row["method"]) for row in rows]),
        ),
    )
