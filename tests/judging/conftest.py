"""Plans and takes made by hand."""

from by_hand import make_messages, make_plan

__all__ = ["make_messages", "make_plan"]
