"""The README's picture is what the program draws today."""

from __future__ import annotations

from pathlib import Path

from listener.cli import main

DOCS = Path(__file__).parents[3] / "docs"


def test_the_picture_is_current(tmp_path: Path) -> None:
    """``widehand demo --picture docs/dashboard.svg`` would change nothing."""
    fresh = tmp_path / "dashboard.svg"
    assert main(["demo", "--picture", str(fresh)]) == 0
    assert fresh.read_text(encoding="utf-8") == (DOCS / "dashboard.svg").read_text(encoding="utf-8")


def test_the_picture_needs_nothing_from_elsewhere() -> None:
    """No address but the SVG namespace, so it shows offline and fetches nothing."""
    text = (DOCS / "dashboard.svg").read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
    assert "http" not in text
    assert "url(" not in text.replace("url(#", "")
