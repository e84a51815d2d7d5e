"""What every layout of the dashboard begins with: the moment, the room there is, and the rows on top."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.screen.practice.heading import status_row, title_row
from listener.screen.practice.pattern_line import pattern_row
from listener.screen.rows import Row, beside, rule
from listener.screen.theme import Theme
from listener.session.take.state import Snapshot

#: Cells of a rule that its label and what stands at its other end leave to lines and blanks.
_AROUND_PATTERN: Final = 7


@dataclass(frozen=True)
class Frame:
    """A moment to be drawn on ``width`` x ``height`` cells; ``voices`` is the most in this passage. After a take
    ``more`` is said when it was asked for."""

    snapshot: Snapshot
    width: int
    height: int
    theme: Theme
    voices: int
    more: bool = False

    @property
    def strings(self) -> int:
        """Strings of the guitar."""
        return self.snapshot.plan.string_count


def head_rows(frame: Frame, left: int, right: int, at_end: Row | None = None) -> list[Row]:
    """What is practised, where we are, and the rule over the two upper panels of these widths.

    The pattern of the chord that is due stands on the rule over what is to be played, ``at_end`` at the right end of
    the other. When the take is over there is one panel on small screens (``right`` is 0).
    """
    snapshot, theme, width = frame.snapshot, frame.theme, frame.width
    play = "this take" if snapshot.target is None else "play"
    if right:
        over = rule("heard", right, theme, at_end)
        pattern = pattern_row(snapshot, left - 1 - len(play) - _AROUND_PATTERN, theme)
        rows = beside([([rule(play, left - 1, theme, pattern)], left), ([over], right)], 1, theme)
    else:
        rows = [rule(play, left, theme, at_end)]
    return [title_row(snapshot, width, theme), status_row(snapshot, width, theme), *rows]


def padded(rows: list[Row], height: int) -> list[Row]:
    """The rows with empty ones below them."""
    return [*rows, *([[]] * (height - len(rows)))]
