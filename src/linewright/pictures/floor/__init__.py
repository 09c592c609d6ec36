"""The line on the floor: plans and a side view, to scale, with dimensions."""

from linewright.pictures.floor.whole import floor_plan

__all__ = ["floor_plan"]
