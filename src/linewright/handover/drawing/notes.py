"""The notes of the drawing: what a reader must know to use it, and what is not known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from linewright.handover.drawing.scene import Scene, View
from linewright.handover.drawing.shapes import MM
from linewright.quantities import number


def notes_of(scene: Scene, moved: Sequence[tuple[View, float]]) -> list[str]:
    """What a reader must know to use the drawing.

    Parameters
    ----------
    moved : views, and how far below its own place each is drawn. [mm]
    """
    return [*_of_places(scene, moved), *_of_mounting(scene), *_of_things(scene), *_of_lacks(scene)]


def _of_places(scene: Scene, moved: Sequence[tuple[View, float]]) -> Iterator[str]:
    below = "; ".join(f"{view.heading.split(':')[0]}, {scene.length(down / MM)}" for view, down in moved[1:])
    model = " (1 in is 25.4 mm of the drawing)" if scene.line.units == "inch" else ""
    measured = "stations and of platforms' centres" if scene.layout.transfers else "stations"
    yield (
        "x of the drawing is the floor distance from the west end, from which the line file counts; all distances of "
        f"{measured} are measured from there, also where a lane starts elsewhere. Less than 0 is west of it."
    )
    yield (
        f"{moved[0][0].heading}: drawn at its own place, y is {moved[0][0].down}. "
        f"The other views are drawn lower than their own y: {below}{model}."
    )
    yield (
        "Levels are counted from level 0 of the line file; its height over the floor is stated by no key: plan it. "
        "Track and platforms are drawn as wide as the bare carrier: the conveyor sheet states no width or height of "
        "the track, nor the height of a carrier."
    )
    yield (
        "The small number in a section counts the sections of its lane in travel, from the lane's start; the cable "
        'schedule speaks of the same numbers: "section 2" there is number 2 of the lane that the feeder feeds.'
    )


def _of_mounting(scene: Scene) -> Iterator[str]:
    accuracy = scene.line.conveyor.accuracy
    stated = {} if accuracy is None else accuracy.model_dump()
    lacking = [what for what in ("straightness", "flatness", "joint_step") if stated.get(f"{what}_m") is None]
    if lacking:
        keys = ", ".join(lacking)
        yield f"How the track must be mounted is not known in full: the conveyor sheet states no {keys} under accuracy."
    elif scene.evaluation.limits is None:
        yield "Limits for mounting are not listed, as no carrier can move: see accuracy in the conveyor sheet."
    between = " and for a platform against its lane (in line, in level)" if scene.layout.transfers else ""
    yield (
        "No key of line file or sheet states a tolerance for the places of stations, for the gap at a joint"
        f"{between}: agree them with the maker of the conveyor. A station's key tolerance is of its process."
    )


def _of_things(scene: Scene) -> Iterator[str]:
    line = scene.line
    yield f"A carrier is drawn at each station; the line has {number(line.carriers)} in all."
    yield "Footprint: the track with its platforms and carriers. Machines, guards, access and cabinets are not in it."
    if any(station.guard is not None for station in line.stations):
        yield (
            "A guard is drawn at its distance from the edge of carrier and fixture, on a side that has no other "
            "lane: the line file states neither its side, nor its width, nor where the nearest danger is."
        )


def _of_lacks(scene: Scene) -> Iterator[str]:
    line = scene.line
    if any(station.work == "manual" and station.guard is None for station in line.stations):
        yield "Stations with work by hand and no guard: state the key guard of the station, with its distance."
    if scene.layout.transfers:
        yield "How much room access takes is stated by no key of the line file: plan it on the floor."
    if not line.feeders:
        yield "Where supply cables come in is not known: the key feeders of the line file would say."
    for lane in scene.layout.lanes:
        if lane.surplus_m:
            surplus = scene.length(lane.surplus_m)
            yield f"The stock sections of {lane.name} are {surplus} longer than the line file asks for."
    if scene.layout.blocking:
        yield f"No traffic can be planned on this track: {'; '.join(scene.layout.blocking)}."
