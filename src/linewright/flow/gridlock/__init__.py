"""Whether a line can lock up: the proof, and the kernel led into every jam that is told."""

from __future__ import annotations

from linewright.flow.gridlock.proof import gridlock, gridlock_of_plan

__all__ = ["gridlock", "gridlock_of_plan"]
