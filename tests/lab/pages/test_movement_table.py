"""The page about movement is what the program measures today."""

from __future__ import annotations

from pathlib import Path

import pytest

from lab.pages.movement_table import Progression, page, reports
from listener.planning.report import PlanReport

Measured = list[tuple[Progression, PlanReport]]
PAGE = Path(__file__).parents[3] / "docs" / "movement.md"


@pytest.fixture(scope="module")
def measured() -> Measured:
    return reports()


def test_the_page_is_current(measured: Measured) -> None:
    """``PYTHONPATH=tests python -m lab.pages.movement_table > docs/movement.md`` would change nothing."""
    assert page(measured) == PAGE.read_text(encoding="utf-8")


def test_our_routes_are_the_least(measured: Measured) -> None:
    """What the page says in words holds in numbers: no greedy choice moves less, and the least possible is met."""
    for _, told in measured:
        assert told.plan.cost == told.least
        assert told.greedy is not None
        assert told.greedy.cost >= told.plan.cost
