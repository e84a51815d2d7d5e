"""With how many examples a law is tried: all of them before a change lands, a quarter while somebody is at work.

The same goes for what is tried on every drill of the course, or on a long list of other cases, and is dear: every
fourth while somebody is at work.

What tortures histories by the thousand takes an hour; a small part of it is done each time. WIDEHAND_TORTURE in the
environment says how much: 0.1 is a tenth, 1 is all of it.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import Final, TypeVar

#: Set by .ci/run, and by whoever wants to know.
THOROUGH: Final = bool(os.environ.get("THOROUGH"))
#: What Hypothesis tries of a law that says nothing.
USUAL: Final = 100
_SHARE: Final = 4
_LEAST: Final = 10
#: The share of the tortures that is done.
TORTURE: Final = float(os.environ.get("WIDEHAND_TORTURE", "0.03" if THOROUGH else "0.004"))


def share(count: int) -> int:
    """So many of the tortures."""
    return max(1, round(count * TORTURE))


def examples(count: int) -> int:
    """That many when all are wanted, else a quarter, and at least ten if there are ten."""
    return count if THOROUGH else max(count // _SHARE, min(count, _LEAST))


Case = TypeVar("Case")


def some(cases: Iterable[Case], *, first: int = 0, each: int = _SHARE) -> list[Case]:
    """All cases when all are wanted, else one in so many, from the one of this number on: always the same ones.

    Tests of one file that begin at different numbers come by more of the cases together.
    """
    every = list(cases)
    return every if THOROUGH else every[first::each]
