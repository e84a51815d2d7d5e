"""Measurements are asked for: ``-m bench --benchmark-enable``."""

from __future__ import annotations

from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.hookimpl(tryfirst=True)  # before -m is looked at
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a measurement."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker("bench")
