"""A jam, step by step: how a line locks up, who holds whom, and what cures it."""

from linewright.pictures.jam.steps import jam_steps

__all__ = ["jam_steps"]
