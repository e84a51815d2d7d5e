"""With how many examples a law is tried: all of them before a change lands, a quarter while somebody is at work.

What tortures histories by the thousand takes an hour; a small part of it is done each time. WIDEHAND_TORTURE in the
environment says how much: 0.1 is a tenth, 1 is all of it.
"""

from __future__ import annotations

import os
from typing import Final

#: Set by .ci/run, and by whoever wants to know.
THOROUGH: Final = bool(os.environ.get("THOROUGH"))
#: What Hypothesis tries of a law that says nothing.
USUAL: Final = 100
_SHARE: Final = 4
_LEAST: Final = 10
#: The share of the tortures that is done.
TORTURE: Final = float(os.environ.get("WIDEHAND_TORTURE", "0.03"))


def share(count: int) -> int:
    """So many of the tortures."""
    return max(1, round(count * TORTURE))


def examples(count: int) -> int:
    """That many when all are wanted, else a quarter, and at least ten if there are ten."""
    return count if THOROUGH else max(count // _SHARE, min(count, _LEAST))
