"""With how many examples a law is tried: all of them before a change lands, a quarter while somebody is at work."""

from __future__ import annotations

import os
from typing import Final

#: Set by .ci/run, and by whoever wants to know.
THOROUGH: Final = bool(os.environ.get("THOROUGH"))
#: What Hypothesis tries of a law that says nothing.
USUAL: Final = 100
_SHARE: Final = 4
_LEAST: Final = 10


def examples(count: int) -> int:
    """That many when all are wanted, else a quarter, and at least ten if there are ten."""
    return count if THOROUGH else max(count // _SHARE, min(count, _LEAST))
