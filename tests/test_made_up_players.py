"""What the program says to three players in weeks 1, 3 and 12, read as they would; their takes are really judged."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from made_up_players import LIVES, Played, endings, keep, monday_of, takes_of

from listener.cli import main
from listener.history.store.store import Store

pytestmark = pytest.mark.slow
#: Nobody who plays for an evening, or comes back after weeks, is to read one of these.
BLAME = ("worse", "lost", "fell", "unfortunately", "at last", "too long", "should have", "rusty", "forgot")
TREND = re.compile(r"easier|steadier|land|steady:|Since last time")


def told(
    played: Sequence[Played], place: Path, capsys: pytest.CaptureFixture[str], *command: str, away: int = 0
) -> str:
    """What a command says to somebody whose last take was so many days ago, in one line; a history is made once."""
    path = place / f"{len(played)} {away}.sqlite3"
    if not path.exists():
        with Store.open(path) as store:
            keep(store, played, monday_of(played, datetime.now(UTC) - timedelta(days=away)))
    assert main([*command, "--store", str(path)]) == 0
    return " ".join(capsys.readouterr().out.split())


def lead(text: str) -> str:
    """The words of ``progress`` before the first picture."""
    return text[: text.index("Hits, ")]


@pytest.mark.parametrize("name", LIVES)
def test_one_week_is_no_trend(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What to look at next, and from when on a trend can be seen; nothing got better yet, whatever the days were."""
    said = lead(told(takes_of(name, 1), tmp_path, capsys, "progress"))
    assert said.startswith("Look at ")
    assert "lately" not in said
    assert "A trend can be seen once there are takes in 3 different weeks" in said
    assert not TREND.search(said)


@pytest.mark.parametrize("name", LIVES)
@pytest.mark.parametrize("weeks", [1, 3, 12])
def test_nobody_is_blamed_and_nothing_compared(
    name: str, weeks: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In all four places where the program talks about what was played."""
    played = takes_of(name, weeks)
    said = [told(played, tmp_path, capsys, *words) for words in (["progress"], ["today", "--plain"], ["drills"])]
    said += [" ".join(lines) for _, lines in endings(played)]
    for text in said:
        assert not [word for word in BLAME if word in text.lower()]
        assert "soprano" not in text
        assert "longest" not in text


@pytest.mark.parametrize("name", LIVES)
def test_praise_is_rare_and_has_its_reason(name: str) -> None:
    """Whoever gets slowly better is not told so after every other take: it needs a number that chance does not make."""
    said = [line for _, lines in endings(takes_of(name, 12)) for line in lines if line.startswith("Since last time")]
    assert len(said) <= len(takes_of(name, 12)) / 20
    assert all(re.search(r"\d+ more hits \(\d+ of \d+\)|\d+ of \d+ hits", line) for line in said)


def test_what_was_played_a_minute_ago_is_not_longest_ago(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drill of this evening comes once more; one of another day says which."""
    played = takes_of("busy", 12)
    said = told(played, tmp_path, capsys, "today", "--plain", "--minutes", "40")
    again = [part for part in re.split(r" \d+\. [\d.]+ min, ", said) if part.startswith("again: ")]
    assert len(again) >= 2
    newest = {take.drill for take in played if take.at >= played[-1].at - timedelta(hours=2)}
    for part in again:
        today = any(f"play {drill} " in part for drill in newest)
        assert "Once more." in part or (not today and re.search(r"Last played (\d+ days ago|yesterday)\.", part))
    assert any("Last played" in part for part in again)


def test_three_weeks_away(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Who comes back finds something to play, and the first evening after it is set beside nothing it could lose to."""
    for played, away in ((takes_of("busy", 3), 22), (takes_of("busy", 7), 0)):
        text = told(played, tmp_path, capsys, "today", "--plain", away=away)
        assert text.count("widehand play ") >= 3
        said = lead(told(played, tmp_path, capsys, "progress", away=away))
        assert not [word for word in BLAME if word in f"{text} {said}".lower()]
        assert "jump" not in said


def test_a_beginner_who_stands_still(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After weeks at the same place: no gain is made up, and if there is a word, it is that things hold."""
    said = lead(told(takes_of("beginner", 8), tmp_path, capsys, "progress"))
    assert not re.search(r"easier|steadier|land", said)
    assert said.count(". ") <= 2


def test_whole_takes_and_broken_off_ones_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The counts of both, and the share of hits of the whole ones alone."""
    played = takes_of("beginner", 1)
    whole = [take for take in played if len({one.step for one in take.verdicts}) == 16]
    text = told(played, tmp_path, capsys, "progress")
    assert f"paddock-gate {len(whole)} + {len(played) - len(whole)} " in text
    assert 0 < len(whole) < len(played)
