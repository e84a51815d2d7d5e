"""What is checked before a release: the changelog against the version, the tags and the calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from release import Changelog, first_command

from listener import __version__

ROOT = Path(__file__).parents[1]
TODAY = date(2031, 5, 6)
GOOD = "# Changelog\n\n## Unreleased\n\n## 0.2.0 - 2031-05-06\n\n- Two.\n\n## 0.1.0 - 2031-04-01\n\n- One.\n"
WAITING = GOOD.replace("## Unreleased\n", "## Unreleased\n\n- Three.\n- Four.\n")


def faults(text: str, version: str = "0.2.0", *tags: str) -> list[str]:
    return list(Changelog.of(text).faults(version, tags, TODAY))


def test_our_own_is_good() -> None:
    """Every day: the newest release is the version of the program, and 'Unreleased' is on top."""
    found = Changelog.of((ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    assert list(found.faults(__version__, (), datetime.now(UTC).date())) == []


def test_between_releases_entries_may_wait() -> None:
    """They are counted; a tag that is no version's says nothing."""
    assert (
        faults(GOOD) == faults(GOOD, "0.2.0", "v0.2.0") == faults(WAITING) == faults(WAITING, "0.2.0", "vacation") == []
    )
    assert (Changelog.of(GOOD).unreleased, Changelog.of(WAITING).unreleased) == (0, 2)


@pytest.mark.parametrize(
    ("text", "version", "tags", "said"),
    [
        (GOOD, "0.3.0", (), "the program is 0.3.0, the newest release in CHANGELOG.md 0.2.0"),
        ("# Changelog\n\n## Unreleased\n", "0.1.0", (), "the newest release in CHANGELOG.md none"),
        ("", "0.1.0", (), "'## Unreleased' does not come first"),
        (GOOD, "0.2.0", ("v0.1.9",), "this commit is tagged v0.1.9, the program is 0.2.0"),
        (WAITING, "0.2.0", ("v0.2.0",), "this commit is tagged, but 2 entries of CHANGELOG.md are unreleased"),
        (GOOD.replace("2031-05-06", "2031-05-07"), "0.2.0", (), "2031-05-07 has not come yet"),
        (GOOD.replace("2031-05-06", "2031-13-01"), "0.2.0", (), "'0.2.0 - 2031-13-01' is not a version and a day"),
        (GOOD.replace("0.1.0", "first"), "0.2.0", (), "'first - 2031-04-01' is not a version and a day"),
        (GOOD.replace("2031-04-01", "2032-04-01"), "0.2.0", (), "has not come yet"),
        (GOOD.replace("0.1.0", "0.10.0"), "0.2.0", (), "the newest release does not come first"),
        (GOOD.replace("## 0.1.0 - 2031-04-01", "## 0.1.0"), "0.2.0", (), "CHANGELOG.md: ## 0.1.0"),
        (GOOD.replace("## Unreleased\n\n", ""), "0.2.0", (), "'## Unreleased' does not come first"),
    ],
)
def test_what_does_not_agree_is_told(text: str, version: str, tags: tuple[str, ...], said: str) -> None:
    """In words that say what to mend."""
    assert any(said in fault for fault in faults(text, version, *tags))


def test_the_first_command_of_the_readme() -> None:
    """It makes an environment, installs the program into it, and runs the demo."""
    command = first_command((ROOT / "README.md").read_text(encoding="utf-8"))
    assert command.startswith("python3 -m venv .venv && ")
    assert command.endswith("widehand demo")
