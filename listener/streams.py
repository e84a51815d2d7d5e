"""Standard output and standard error, and what becomes of a command when nobody can be told.

Output is lost in three ways: it is closed, its disk is full, or its reader has gone (``widehand drills | head -1``).
None is a fault of ours, and none may end in a traceback, spoil a take, or leave an exit code that says nothing. So
while a command runs, standard output raises OutputLost in place of a system error that somebody might take for
one about a file, and remembers it; and writing to standard error never fails.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress

TYPE_CHECKING = False  # typing and the errors take longer to load than anything else that --help needs
if TYPE_CHECKING:
    from typing import IO, Any, TextIO

    from listener.errors import OutputLost

#: Windows reports a pipe without a reader as an invalid argument.
_READER_GONE = (errno.EPIPE, *((errno.EINVAL,) if os.name == "nt" else ()))
_STANDARD_HANDLES = 3


class Output:
    """Standard output while a command runs. All that is not about writing is the stream's own.

    ``stream`` is None when standard output was closed before the program began; ``losses`` is shared with ``buffer``.
    """

    def __init__(self, stream: IO[Any] | None, losses: list[OutputLost] | None = None) -> None:
        self._stream = stream
        self._losses: list[OutputLost] = [] if losses is None else losses

    @property
    def lost(self) -> OutputLost | None:
        """What happened to it, None while all is well."""
        return self._losses[0] if self._losses else None

    def write(self, data: Any) -> int:
        """Write text, or bytes to ``buffer``. OutputLost when that cannot be, from then on always."""
        if self.lost is not None:
            raise self.lost
        if self._stream is None:
            raise self._give_up("standard output is closed")
        try:
            return int(self._stream.write(data))
        except OSError as error:
            raise self._give_up(error) from None

    def writelines(self, lines: Iterable[Any]) -> None:
        """Each of them in turn."""
        for line in lines:
            self.write(line)

    def flush(self) -> None:
        """Hand on what was held back. OutputLost as for ``write``."""
        if self._stream is None or self.lost is not None:
            return
        try:
            self._stream.flush()
        except OSError as error:
            raise self._give_up(error) from None

    @property
    def buffer(self) -> Output:
        """The stream of bytes beneath."""
        return Output(getattr(self._stream, "buffer", None), self._losses)

    @property
    def encoding(self) -> str:
        """How text becomes bytes."""
        return getattr(self._stream, "encoding", None) or "utf-8"

    def isatty(self) -> bool:
        """Whether a terminal shows it."""
        return self._stream is not None and self._stream.isatty()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _give_up(self, reason: str | OSError) -> OutputLost:
        from listener.errors import OutputLost

        gone = isinstance(reason, OSError) and reason.errno in _READER_GONE
        words = reason if isinstance(reason, str) else f"standard output: {(reason.strerror or str(reason)).lower()}"
        self._losses.append(OutputLost(words, reader_gone=gone))
        discard(self._stream)
        return self._losses[0]


class Talk:
    """Standard error while a command runs: who cannot be told misses something, and that is all."""

    encoding = "utf-8"

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        if stream is not None and stream.encoding:
            self.encoding = stream.encoding

    def write(self, text: str) -> int:
        """Write it if that can be."""
        self._attempt(lambda stream: stream.write(text))
        return len(text)

    def flush(self) -> None:
        """Hand on what was held back, if that can be."""
        self._attempt(lambda stream: stream.flush())

    def isatty(self) -> bool:
        """Whether a terminal shows it."""
        return self._stream is not None and self._stream.isatty()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _attempt(self, action: Callable[[TextIO], object]) -> None:
        if self._stream is None:
            return
        try:
            action(self._stream)
        except OSError:
            discard(self._stream)
            self._stream = None


@contextmanager
def standard_streams() -> Iterator[Output]:
    """Within this block ``sys.stdout`` is an :class:`Output`, which is given, and ``sys.stderr`` a :class:`Talk`."""
    if None in (sys.stdin, sys.stdout, sys.stderr):
        _fill_handles()
    before = sys.stdout, sys.stderr
    output = Output(sys.stdout)
    sys.stdout, sys.stderr = output, Talk(sys.stderr)
    try:
        yield output
    finally:
        sys.stdout, sys.stderr = before


def _fill_handles() -> None:
    """Or the next file that is opened, the history perhaps, would be where some library writes its complaints."""
    handle = -1
    while handle < _STANDARD_HANDLES:
        handle = os.open(os.devnull, os.O_RDWR)
    os.close(handle)


def discard(stream: IO[Any] | None) -> None:
    """Send what the stream still holds nowhere: Python would try it again at the end, and exit with 120."""
    if stream is None:
        return
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, stream.fileno())
        finally:
            os.close(nowhere)
