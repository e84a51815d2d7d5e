"""What tests against other programs share."""

from __future__ import annotations

import warnings
from typing import Any

import pytest


@pytest.fixture(scope="session")
def music21() -> Any:
    """The library, which takes a while to load; what it warns of while it does is not ours."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import music21
        import music21.harmony
    return music21
