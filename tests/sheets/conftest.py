"""What printing needs and a small installation does not have."""

from __future__ import annotations

import pytest

from listener.sheets.extras import MissingExtra, extra


@pytest.fixture(scope="session")
def printing() -> None:
    """The test is skipped, with the reason, where engraver or PDF writer are missing."""
    try:
        for name in ("verovio", "typst", "pypdfium2"):
            extra(name, "this test")
    except MissingExtra as reason:
        pytest.skip(str(reason))
