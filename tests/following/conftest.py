"""Plans made by hand."""

from by_hand import make_plan

__all__ = ["make_plan"]
