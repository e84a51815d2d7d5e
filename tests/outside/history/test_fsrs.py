"""When a skill is due: the published FSRS algorithm against its own test sequences and forgetting curve
(tables/SOURCES.md). What it was fitted to is flash cards; that is said to the player."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, timedelta

import pytest
from outside.tables.reading import table_rows

from listener.history.skills.memory import HONEST_NOTE, LEARNING, RELEARNING, REVIEW, Memory, recall, reviewed

STAGES = {"Learning": LEARNING, "Review": REVIEW, "Relearning": RELEARNING}


def sequences() -> dict[str, list[dict[str, str]]]:
    found = defaultdict(list)
    for row in table_rows("fsrs_vectors.csv"):
        found[row["sequence"]].append(row)
    return found


@pytest.mark.parametrize("name", sequences())
def test_the_published_sequences(name: str) -> None:
    """Stability, difficulty, stage and interval after every review are the published ones (py-fsrs, test_basic.py)."""
    memory: Memory | None = None
    wanted = sequences()[name]
    assert len(wanted) >= 6
    for row in wanted:
        at = datetime.fromisoformat(row["review_time"])
        memory = reviewed(memory, int(row["rating(1Again..4Easy)"]), at)
        assert memory.stability_days == pytest.approx(float(row["stability"]), abs=1e-6)
        assert memory.difficulty == pytest.approx(float(row["difficulty"]), abs=1e-6)
        assert memory.stage == STAGES[row["state"]]
        interval = timedelta(days=int(row["interval_days"]), seconds=int(row["interval_extra_s"]))
        assert memory.due_at - at == interval
        assert memory.reviewed_at == at


def test_the_forgetting_curve() -> None:
    """The chance of recall is that of FSRS-6 to eight places, and not that of the older versions."""
    curve = table_rows("fsrs_forgetting_curve.csv")
    ours = [row for row in curve if row["version"] == "FSRS-6"]
    older = [row for row in curve if row["version"] != "FSRS-6" and row["elapsed_days"] == "30"]
    assert len(ours) == 40
    assert older
    for row in ours:
        chance = recall(float(row["stability_days"]), float(row["elapsed_days"]))
        assert chance == pytest.approx(float(row["retrievability"]), abs=1e-8)
    for row in older:
        chance = recall(float(row["stability_days"]), float(row["elapsed_days"]))
        assert abs(chance - float(row["retrievability"])) > 0.01


def test_the_curve_is_the_librarys() -> None:
    """On whole days the library says the same for a card."""
    from fsrs import Card, Scheduler, State

    at = datetime(2031, 5, 6, tzinfo=UTC)
    card = Card(card_id=1, state=State.Review, stability=7.5, difficulty=5.0, due=at, last_review=at)
    for days in (0, 1, 5, 40, 400):
        theirs = Scheduler(enable_fuzzing=False).get_card_retrievability(card, at + timedelta(days=days))
        assert recall(7.5, days) == pytest.approx(theirs, abs=1e-12)


def test_the_same_reviews_give_the_same_dates() -> None:
    """Nothing is drawn by lot: the library's variation of intervals is off."""

    def dates() -> list[datetime]:
        memory, found = None, []
        for day in range(20):
            memory = reviewed(memory, 3, datetime(2031, 5, 6, tzinfo=UTC) + timedelta(days=9 * day))
            found.append(memory.due_at)
        return found

    assert dates() == dates()


def test_a_review_in_the_past_is_refused() -> None:
    """The order of reviews is the caller's business."""
    at = datetime(2031, 5, 6, tzinfo=UTC)
    with pytest.raises(ValueError, match="a review at"):
        reviewed(reviewed(None, 3, at), 3, at - timedelta(seconds=1))


def test_the_player_is_told_what_it_was_fitted_to() -> None:
    """Flash cards, not hands."""
    assert "flash cards" in HONEST_NOTE
    assert "not to hands" in HONEST_NOTE
