"""Skills follow from takes: what each take says, in whatever order they come, however often it is worked out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import StoreError
from listener.history.skills import reviews
from listener.history.skills.grading import AGAIN, EASY, GOOD, HARD, Showing
from listener.history.skills.reviews import SIMULATED
from listener.history.skills.skills import Played, Review, Standing, change_key, kind_of, showings, standing_of
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict
from listener.simulation.simulated import SimulatedSource

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
NOW = datetime(2031, 5, 6, 12, 0, tzinfo=UTC)
C, F, G = (f"spread maj 0 5-4-2 {letter}" for letter in "cfg")
SKILL = "spread maj 0 5-4-2"  # C, F and G of the made-up plan are the same shape


def play(
    store: Store, info: TakeInfo, verdict: MakeVerdict, grades: str, day: float = 0.0, *, finish: bool = True
) -> int:
    """A take of three steps; ``h``, ``n`` and ``m`` are hits, nears and misses, ``-`` was not played."""
    words = {"h": "hit", "n": "near", "m": "miss"}
    take = store.begin_take(info)
    for step, letter in enumerate(grades):
        if letter in words:
            store.keep(take, verdict(step, words[letter], attempt=1), [])
    if finish:
        store.finish_take(take, b"take %d" % take, NOW + timedelta(days=day))
    return take


def anew(store: Store) -> dict[str, Standing]:
    """All reviews made out anew from the first take."""
    store.review_again([take.id for take in store.takes()])
    return store.standings()


@pytest.fixture
def make(info: Info) -> Callable[..., TakeInfo]:
    """A take's description with a session of its own in this store."""

    def build(store: Store, **changes: Any) -> TakeInfo:
        return info(session=store.begin_session(NOW), **changes)

    return build


def test_a_take_shows_shapes_and_changes() -> None:
    """First attempts count, by shape; a change when it comes straight after a stroke that sounded."""
    strokes = [
        Played(0, 1, "hit", 64, None),
        Played(1, 1, "miss", None, None),
        Played(1, 2, "hit", 65, 80.0),
        Played(2, 1, "near", 59, 90.0),
        Played(0, 1, "hit", 64, 50.0),  # begun anew: no change of the drill
    ]
    shown = showings(strokes, {0: C, 1: F, 2: G}, 1.0)
    assert shown == {
        C: (Showing(2, tempo_share=1.0), 0),
        F: (Showing(0, 0, 1, tempo_share=1.0), 1),
        G: (Showing(0, 1, tempo_share=1.0), 2),
        change_key(C, F): (Showing(0, 0, 1, None, 1.0), 1),
        change_key(F, G): (Showing(0, 1, 0, 90.0, 1.0), 2),
    }
    after_silence = [Played(0, 1, "miss", None, None), Played(1, 1, "hit", 65, None)]
    assert change_key(C, F) not in showings(after_silence, {0: C, 1: F}, None)
    assert showings(strokes, {0: None, 1: None, 2: None}, None) == {}


@pytest.mark.parametrize(
    ("key", "kind"),
    [
        ("spread m7b5 1 6-4-3-2", "spread"),
        ("drop 2 & 4 m7 0 5-4-2-1", "drop 2 & 4"),
        (f"{SKILL} -> close m 1 3-2-1", "close"),
    ],
)
def test_the_kind_of_a_skill(key: str, kind: str) -> None:
    """Kinds have blanks in them; a change is of the kind that it leads to."""
    assert kind_of(key) == kind


LOGS = st.lists(
    st.tuples(st.integers(1, 4), st.integers(1, 6), st.integers(0, 6), st.integers(0, 40)), min_size=1, max_size=12
)


@given(LOGS, st.randoms())
def test_the_order_in_which_reviews_come_does_not_matter(log: list[tuple[int, int, int, int]], chance: Any) -> None:
    """They are gone through in the order of time, so whoever tells them last has no advantage."""
    found = [
        Review(grade, tries, min(hits, tries), take, 1, 0, NOW + timedelta(days=day))
        for take, (grade, tries, hits, day) in enumerate(log)
    ]
    mixed = list(found)
    chance.shuffle(mixed)
    standing = standing_of(found)
    assert standing == standing_of(mixed)
    assert standing is not None
    assert standing.reviews == len(found)
    assert standing.tries == sum(review.tries for review in found)
    assert 0.0 <= standing.recent <= 1.0
    assert standing.memory.due_at > standing.memory.reviewed_at


def test_a_finished_take_is_reviewed(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """The shape and the changes of the plan are there with the grades of the take; a running take says nothing yet."""
    play(any_store, make(any_store), verdict, "hhh", finish=False)
    assert any_store.standings() == {}
    play(any_store, make(any_store), verdict, "hhm")
    found = any_store.standings()
    assert set(found) == {SKILL, change_key(SKILL, SKILL)}
    assert (found[SKILL].tries, found[SKILL].hits, found[SKILL].reviews) == (3, 2, 1)
    assert found[change_key(SKILL, SKILL)].tries == 2
    assert found[SKILL].memory.reviewed_at == NOW


def test_well_played_comes_back_later(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """A take that went well is due later than one that did not; the simulated guitarist's skills are kept apart."""
    play(any_store, make(any_store), verdict, "hhh")
    play(any_store, make(any_store, source=SIMULATED), verdict, "mmm")
    assert SimulatedSource.name == SIMULATED
    assert reviews.player_of(f"from a friend: {SIMULATED}") == SIMULATED
    mine, theirs = any_store.standings()[SKILL], any_store.standings(SIMULATED)[SKILL]
    assert mine.memory.due_at > theirs.memory.due_at
    assert (mine.hits, theirs.hits) == (3, 0)


def test_in_any_order_and_as_often_as_one_likes(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """Takes that end out of order, and all of them gone through again, give the same standings to the last digit."""
    for grades, day in (("hhh", 3), ("hmh", 0), ("mnn", 9), ("hhh", 1), ("h--", 12), ("hhh", 12)):
        play(any_store, make(any_store), verdict, grades, day)
    found = any_store.standings()
    assert found[SKILL].reviews == 6
    assert found == anew(any_store)


def test_killed_before_the_review(
    open_any: Callable[[], Store], make: Info, verdict: MakeVerdict, monkeypatch: Any
) -> None:
    """A take that ended without its review gets it at the next start; so does one that was cut off."""
    with open_any() as store:
        play(store, make(store), verdict, "hhh", -9)

        def killed(_backend: object) -> None:
            raise StoreError("as if the program had ended here")

        with monkeypatch.context() as patch:
            patch.setattr(reviews, "bring_up_to_date", killed)
            play(store, make(store), verdict, "hmh", 1)
            play(store, make(store), verdict, "nhh", finish=False)
        assert store.standings()[SKILL].reviews == 1
    with open_any() as store:
        assert len(store.notes) == 1
        assert store.standings()[SKILL].reviews == 3
        assert store.standings() == anew(store)


def test_half_way_through_a_review(any_store: Store, make: Info, verdict: MakeVerdict, monkeypatch: Any) -> None:
    """When writing fails in the middle nothing of it is there, the take is kept, and the next take brings both."""

    def fails(*_rest: object) -> None:
        raise StoreError("the disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(reviews, "_write", fails)
        take = play(any_store, make(any_store), verdict, "hhh")
    assert any_store.standings() == {}
    assert any_store.take_file(take) == b"take %d" % take
    play(any_store, make(any_store), verdict, "hhh", 1)
    assert any_store.standings()[SKILL].reviews == 2


def test_rejudging_brings_reviews_up_to_date(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """Other verdicts for an old take change what followed from it, as if it had been so from the first."""
    first = play(any_store, make(any_store), verdict, "mmm", 0)
    play(any_store, make(any_store), verdict, "hhh", 4)
    before = any_store.standings()[SKILL]
    any_store.rewrite(first, [verdict(step, attempt=1) for step in range(3)], NOW)
    any_store.review_again([])
    after = any_store.standings()[SKILL]
    assert (before.hits, after.hits) == (3, 6)
    assert after.memory.stability_days > before.memory.stability_days
    assert any_store.standings() == anew(any_store)


def test_a_skill_that_no_take_shows_any_more(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """When the only take that showed it is judged otherwise, it is gone."""
    take = play(any_store, make(any_store), verdict, "hh-")
    any_store.rewrite(take, [verdict(0, attempt=1)], NOW)
    any_store.review_again([])
    assert set(any_store.standings()) == {SKILL}


@pytest.mark.parametrize(("tempo", "grade"), [(80.0, EASY), (60.0, GOOD), (None, GOOD)])
def test_tempo_is_that_of_the_drill(
    store: Store, make: Info, verdict: MakeVerdict, tempo: float | None, grade: int
) -> None:
    """At the drill's tempo all hits are easy, below it and at the own pace good."""
    plan = {**make(store).plan, "tempo": 80.0}
    play(store, make(store, plan=plan, tempo=tempo), verdict, "hhh")
    with store.backend.reading() as db:
        found = db.rows(
            "SELECT DISTINCT grade FROM review JOIN skill ON skill.id = review.skill WHERE key = :key", key=SKILL
        )
    assert found == [(grade,)]


def test_a_changed_rule_reaches_old_takes(store: Store, make: Info, verdict: MakeVerdict, monkeypatch: Any) -> None:
    """The rule lies in one place; going through the takes again grades them by today's."""
    from listener.history.skills import skills

    play(store, make(store), verdict, "hhh")
    before = store.standings()[SKILL].memory.stability_days
    monkeypatch.setattr(skills, "grade_of", lambda _showing: AGAIN)
    assert anew(store)[SKILL].memory.stability_days < before


def test_years_at_once(store_path: Path, make: Info, verdict: MakeVerdict) -> None:
    """More takes and skills than go into one transaction: the same as one by one."""
    with Store.open(store_path) as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")
        for number in range(30):
            play(store, make(store), verdict, ("hhh", "hmh", "nnh")[number % 3], number)
        found = store.standings()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(reviews, "_TAKES_AT_ONCE", 7)
            patch.setattr(reviews, "_SKILLS_AT_ONCE", 1)
            assert anew(store) == found


@pytest.mark.parametrize(("grades", "grade"), [("hhh", EASY), ("hh-", GOOD), ("-hh", GOOD), ("hn-", HARD)])
def test_only_a_whole_take_goes_with_ease(
    any_store: Store, make: Info, verdict: MakeVerdict, grades: str, grade: int
) -> None:
    """At the drill's tempo, every chord a hit: broken off, or with a chord left out, it is no more than good."""
    plan = {**make(any_store).plan, "tempo": 80.0}
    play(any_store, make(any_store, plan=plan, tempo=80.0), verdict, grades)
    with any_store.backend.reading() as db:
        found = db.rows(
            "SELECT DISTINCT grade FROM review JOIN skill ON skill.id = review.skill WHERE key = :key", key=SKILL
        )
    assert [tuple(row) for row in found] == [(grade,)]


def drill_of(store: Store) -> tuple[float | None, str, datetime]:
    """Tempo of the take that speaks for the one drill, how far it went, and when the drill was played last."""
    (drill,) = store.standpoint(reviews.PLAYER, NOW).drills
    return drill.tempo, drill.account.how_far, drill.played_at


def test_which_take_speaks_for_a_drill(any_store: Store, make: Info, verdict: MakeVerdict) -> None:
    """The newest of the whole drill, in whatever order takes end; until there is one, the newest. What is only broken
    off later changes nothing but the day."""
    day = timedelta(days=1)
    play(any_store, make(any_store, tempo=90.0), verdict, "hh-", 2)
    assert drill_of(any_store) == (90.0, "2 of 3 steps", NOW + 2 * day)
    play(any_store, make(any_store, tempo=80.0), verdict, "h--", 1)
    assert drill_of(any_store) == (90.0, "2 of 3 steps", NOW + 2 * day)
    play(any_store, make(any_store, tempo=60.0, source=SIMULATED), verdict, "hhh", 9)
    assert drill_of(any_store) == (90.0, "2 of 3 steps", NOW + 2 * day)
    whole = play(any_store, make(any_store, tempo=70.0), verdict, "hmh", 0)
    assert drill_of(any_store) == (70.0, "", NOW + 2 * day)
    play(any_store, make(any_store, tempo=120.0), verdict, "h--", 5)
    assert drill_of(any_store) == (70.0, "", NOW + 5 * day)
    any_store.rewrite(whole, [verdict(0, attempt=1)], NOW)
    any_store.review_again([])
    assert drill_of(any_store) == (120.0, "1 of 3 steps", NOW + 5 * day)
    for take in any_store.takes():
        any_store.rewrite(take.id, [], NOW)
    any_store.review_again([])
    assert any_store.standpoint(reviews.PLAYER, NOW).drills == ()


def test_a_change_is_weak_from_four_tries_on(store: Store, make: Info, verdict: MakeVerdict) -> None:
    """Two misses may be a bad moment; after two more the change is to be practised, until it mostly goes well."""

    def weak(grades: str, day: int) -> list[tuple[str, int]]:
        play(store, make(store), verdict, grades, day)
        return [(one.key, one.tries) for one in store.standpoint(reviews.PLAYER, NOW).weak]

    change = change_key(SKILL, SKILL)
    assert weak("hmm", 0) == []
    assert weak("hmm", 1) == [(change, 4)]
    assert [weak("hhh", day) for day in range(2, 6)][-1] == []
