"""The dashboard on a real terminal: drawn only when something changed, and given back as it was found.

Frames are drawn at most :data:`FRAMES_PER_S` times a second and only their changed rows are written. A new verdict
does not wait for the next frame: its panel alone is written at once, by the same thread, so no escape sequences can
mix.
"""

from __future__ import annotations

import atexit
import contextlib
import time
from collections.abc import Callable, Iterator, Sequence
from types import TracebackType
from typing import Final

from rich.console import Console, ConsoleOptions
from rich.control import Control
from rich.segment import ControlType, Segment

from listener.errors import OutputLost, ScreenError
from listener.screen import suspending
from listener.screen.leaving import exit_on_signals
from listener.screen.practice.dashboard import MORE, SIGNS, dashboard
from listener.screen.practice.heard import heard_rows
from listener.screen.practice.small import LEAST_HEIGHT, LEAST_WIDTH
from listener.screen.rows import Canvas, Region, Row, canvas, row, wrapped
from listener.screen.theme import Theme, theme_for
from listener.session.take.state import Snapshot

FRAMES_PER_S: Final = 20
_FRAME_S: Final = 1 / FRAMES_PER_S
#: More cells than the largest screens have with letters that can still be read. A terminal may claim 65,535 each way,
#: and a picture of that size takes gigabytes.
_MOST_WIDTH: Final = 600
_MOST_HEIGHT: Final = 300


class LiveScreen:
    """Context manager over a rich console. ``show`` may be called as often as the loop likes.

    ``clock`` gives seconds on any steady scale. Raises :class:`ScreenError` at the start when the terminal is
    too small; when it is made smaller later, one line says so until there is room again.
    """

    def __init__(
        self, console: Console, *, theme: Theme | None = None, clock: Callable[[], float] = time.perf_counter
    ) -> None:
        self._console = console
        self._theme = theme if theme is not None else theme_for(console.encoding, colours=console.color_system)
        self._clock = clock
        self._open = False
        #: The terminal takes no more; it may be gone.
        self._gone = False
        self._signals = contextlib.ExitStack()
        self._rows: list[Row | None] = []
        self._size = (0, 0)
        self._drawn: tuple[object, ...] = ()
        self._verdict: object = None
        self._page = ""
        self._region: Region | None = None
        self._last_frame_s = float("-inf")

    def __enter__(self) -> LiveScreen:
        width, height = _size(self._console)
        if not _fits(width, height):
            raise ScreenError(f"{too_small(width, height)}: enlarge it, or use --plain")
        self._signals.enter_context(exit_on_signals())
        self._open = True
        atexit.register(self.close)
        suspending.opened(self)
        self._take()
        return self

    def show(self, snapshot: Snapshot, force: bool = False) -> None:
        """Draw this moment if it differs from the last one drawn; ``force`` draws it in any case and at once.

        Between two frames only a new verdict is written; call again, and the rest follows when its time has come.
        """
        size = _size(self._console)
        seen = (size, *_looks(snapshot))
        if not self._open or self._gone or (seen == self._drawn and not force):
            return
        now_s = self._clock()
        if not force and now_s - self._last_frame_s < _FRAME_S:
            self._show_verdict(snapshot, size)
            return
        self._last_frame_s = now_s
        self._draw(snapshot, size)
        self._drawn, self._verdict = seen, snapshot.verdict

    def turn(self, word: str) -> bool:
        """A key that is about the screen alone turns its page: there, and back with any key. False for other keys."""
        about_screen = word in (SIGNS, MORE)
        if about_screen or self._page == SIGNS:
            self._page = word if about_screen and word != self._page else ""
            self._drawn, self._last_frame_s = (), float("-inf")
        return about_screen

    def close(self) -> None:
        """Give the terminal back; any number of times, also when it is gone."""
        if not self._open:
            return
        self._open = False
        self.step_aside()
        suspending.closed(self)
        atexit.unregister(self.close)
        self._signals.close()

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def step_aside(self) -> None:
        """The terminal as it was before the dashboard."""
        self._control(lambda: self._console.show_cursor(True))
        self._control(lambda: self._console.set_alt_screen(False))

    def step_back(self) -> None:
        """The dashboard again, to be drawn from nothing with the next ``show``."""
        if self._open:
            self._size, self._drawn, self._region, self._last_frame_s = (0, 0), (), None, float("-inf")
            self._take()

    def _take(self) -> None:
        self._control(lambda: self._console.set_alt_screen(True))
        self._control(lambda: self._console.show_cursor(False))

    def _draw(self, snapshot: Snapshot, size: tuple[int, int]) -> None:
        """Write the rows that are not on the terminal yet."""
        width, height = size
        if size != self._size:
            self._size, self._rows = size, [None] * height
            self._control(self._console.clear)
        picture = self._picture(snapshot, width, height)
        self._region = picture.verdict
        changed = [
            (0, top, cells) for top, cells in enumerate(picture.rows) if top < height and cells != self._rows[top]
        ]
        self._rows = list(picture.rows)
        self._write(changed)

    def _picture(self, snapshot: Snapshot, width: int, height: int) -> Canvas:
        if _fits(width, height):
            return dashboard(snapshot, width=width, height=height, theme=self._theme, page=self._page)
        words = wrapped(too_small(width, height), width, height, self._theme)
        return canvas([row(line) for line in words], width, height, self._theme)

    def _show_verdict(self, snapshot: Snapshot, size: tuple[int, ...]) -> None:
        """The verdict's panel by itself; the rows it stands on are drawn afresh with the next frame."""
        region = self._region
        if region is None or snapshot.verdict is None or snapshot.verdict == self._verdict or size != self._size:
            return
        rows = heard_rows(snapshot, region.width, region.height, self._theme)
        shown = canvas(rows, region.width, region.height, self._theme).rows
        self._write([(region.left, region.top + index, cells) for index, cells in enumerate(shown)])
        for top in range(region.top, region.top + region.height):
            self._rows[top] = None
        self._verdict = snapshot.verdict

    def _write(self, placed: Sequence[tuple[int, int, Row]]) -> None:
        if placed:
            self._control(lambda: self._console.print(_Patch(placed), end="", crop=False, soft_wrap=True))

    def _control(self, action: Callable[[], object]) -> None:
        """A terminal that has gone away must not end the take: the screen goes quiet instead."""
        if self._gone:
            return
        try:
            action()
        except (OSError, ValueError, OutputLost):
            self._gone = True


class _Patch:
    """Rows at their places on the terminal."""

    def __init__(self, placed: Sequence[tuple[int, int, Row]]) -> None:
        self._placed = placed

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Segment]:
        for left, top, cells in self._placed:
            yield Control((ControlType.CURSOR_MOVE_TO, left, top)).segment
            yield from cells


def _looks(snapshot: Snapshot) -> tuple[object, ...]:
    """Everything that can be seen of a snapshot: all but its time."""
    newest = snapshot.verdicts[-1] if snapshot.verdicts else None
    return (
        id(snapshot.plan), snapshot.phase, snapshot.step, snapshot.verdict, len(snapshot.verdicts), newest,
        snapshot.sounding, snapshot.tempo, snapshot.bar, snapshot.beat, snapshot.source, snapshot.note,
        snapshot.can_sound, snapshot.since, snapshot.coming, len(snapshot.chords or ()), snapshot.cleaned,
        len(snapshot.harmony), snapshot.harmony[-1:],
        snapshot.last_step, snapshot.place, snapshot.away, snapshot.until_right, len(snapshot.asides), snapshot.jumps,
        snapshot.touch,
    )  # fmt: skip


def _size(console: Console) -> tuple[int, int]:
    """Cells to draw on: those that there are, up to what any screen has."""
    width, height = console.size
    return min(width, _MOST_WIDTH), min(height, _MOST_HEIGHT)


def _fits(width: int, height: int) -> bool:
    return width >= LEAST_WIDTH and height >= LEAST_HEIGHT


def too_small(width: int, height: int) -> str:
    """What is wrong with a terminal of this size."""
    return f"the terminal is {width} x {height}; the dashboard needs {LEAST_WIDTH} x {LEAST_HEIGHT}"
