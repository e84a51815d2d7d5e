"""The offer of ``widehand today``: a sentence, a drill that plays at once, and when there is none."""

from __future__ import annotations

import json
import shlex
from argparse import Namespace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from free_playing import C_FULL, C_SPREAD, F_SPREAD, keep_free, strummed

from listener.cli import main
from listener.commands.today.step import NAME, Offer, offer_of
from listener.commands.today.today import today_of
from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.skills.reviews import PLAYER
from listener.history.store.store import Store
from listener.history.vocabulary.vocabulary import root_name
from listener.options.whole import build_parser
from listener.planning.planner import plan_drill
from listener.planning.shapes.cells import ROOMY, Cell, step_between
from listener.session.day.day import DUE, Day, Piece, Slot
from listener.session.day.one_step import DAYS, ROOT
from listener.session.rest import USUAL_S

GUITAR = make_instrument()
#: The day on which she plays, three days before the first that is asked about.
PLAYED = datetime(2031, 5, 3, 18, 0, tzinfo=UTC)
NOW = datetime(2031, 5, 6, 18, 0, tzinfo=UTC)
#: Wide C and F on 5-4-2, again and again, and an everyday C now and then.
LINE = [C_SPREAD, F_SPREAD] * 6 + [C_FULL]


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    path = tmp_path / "my history" / "history.sqlite3"
    with Store.open(path) as store:
        keep_free(store, strummed(LINE), PLAYED)
    return path


def offers(store: Store, days: int = DAYS, hand: str = "medium") -> list[Offer | None]:
    return [
        offer_of(store, PLAYER, Day(()), NOW + timedelta(days=number), USUAL_S, GUITAR, make_hand(hand))
        for number in range(days)
    ]


@pytest.mark.parametrize("hand", ["small", "medium", "large"])
def test_offers_of_a_fortnight(store_path: Path, hand: str) -> None:
    """Some, each of them once, one step from the wide shape on 5-4-2; the next fortnight has the same again. Each comes
    with a drill that is played in that very cell, with room for the hand."""
    with Store.open(store_path, read_only=True) as store:
        found = offers(store, 2 * DAYS, hand)
    assert found[:DAYS] == found[DAYS:]
    told = [one for one in found[:DAYS] if one is not None]
    assert len(told) == len({(one.step.cell, one.step.root) for one in told}) > 2
    home = Cell("spread", 0, (5, 4, 2))
    for one in told:
        step = one.step
        assert step.source == home
        assert (step.cell == home) if step.differs == ROOT else (step_between(home, step.cell) == step.differs)
        assert "12 chords" in one.why
        plan = plan_drill(read_drill(one.text, NAME), GUITAR, make_hand(hand))
        assert len({str(planned.voicing.chord) for planned in plan.steps}) > 1
        for planned in plan.steps:
            assert Cell.of(planned.voicing.kind, planned.voicing.inversion, planned.fingering.strings) == step.cell
            assert planned.fingering.strain <= ROOMY
        if step.root is not None:
            assert one.why.endswith(f"never on {root_name(step.root)}")
            assert step.root in {planned.voicing.chord.root.pitch_class for planned in plan.steps}


def first_offer(store: Store) -> tuple[datetime, Offer]:
    """The first day that has one."""
    for number, found in enumerate(offers(store)):
        if found is not None:
            return NOW + timedelta(days=number), found
    raise AssertionError("no offer in a fortnight")


def test_what_was_taken_comes_no_more(store_path: Path) -> None:
    """Once it was played there is none that day, however much else was played, and never this one again."""
    with Store.open(store_path) as store:
        day, offer = first_offer(store)
        keep_free(store, strummed([C_FULL]), day - timedelta(hours=8))
        assert offer_of(store, PLAYER, Day(()), day, USUAL_S, GUITAR, make_hand()) == offer
        plan = plan_drill(read_drill(offer.text, NAME), GUITAR, make_hand())
        shapes = [tuple(zip(one.fingering.strings, one.fingering.frets, strict=True)) for one in plan.steps]
        keep_free(store, strummed(shapes), day - timedelta(hours=7))
        assert offer_of(store, PLAYER, Day(()), day, USUAL_S, GUITAR, make_hand()) is None
        later = [offer_of(store, PLAYER, Day(()), day + timedelta(days=number), USUAL_S, GUITAR, make_hand())
                 for number in range(1, DAYS + 1)]  # fmt: skip
    assert offer.step.cell not in {one.step.cell for one in later if one is not None and one.step.differs != ROOT}


def test_when_it_is_quiet(store_path: Path) -> None:
    """While more is due than there is room for, while the day has something at the limit of the hand, while the hand
    ought to rest, and for who has hardly played."""
    with Store.open(store_path) as store:
        day, _ = first_offer(store)

        def asked(plan: Day) -> Offer | None:
            return offer_of(store, PLAYER, plan, day, USUAL_S, GUITAR, make_hand())

        assert asked(Day((), waiting=1)) is None
        hard = Slot(DUE, 3.0, Piece("quay", "Quay", 3.0, 60.0, strain=0.7))
        easy = Slot(DUE, 3.0, Piece("quay", "Quay", 3.0, 60.0, strain=0.6))
        assert asked(Day((hard,))) is None
        assert asked(Day((easy,))) is not None
        keep_free(store, strummed([C_FULL] * 2, start_s=26 * 60.0), day - timedelta(minutes=27))
        assert asked(Day(())) is None
    with Store.open(store_path.parent / "other.sqlite3") as store:
        assert offers(store) == [None] * DAYS
        keep_free(store, strummed([C_SPREAD, F_SPREAD]), PLAYED)
        assert offers(store) == [None] * DAYS


def today(path: Path, day: datetime, *words: str) -> Any:
    arguments: Namespace = build_parser().parse_args(["today", "--store", str(path), *words])
    with Store.open(path) as store:
        return today_of(arguments, store, day)


def test_it_can_be_played_at_once(store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command names a drill that lies there and is sound; the items of the day are what they would be without it;
    on a day without an offer the drill of another day is gone."""
    with Store.open(store_path) as store:
        day, offer = first_offer(store)
        quiet = next(NOW + timedelta(days=number) for number, one in enumerate(offers(store)) if one is None)
    found = today(store_path, day)
    assert (found.offer.why, found.offer.text) == (offer.why, offer.text)
    assert found.notes[0].startswith("So far you have played freely")
    assert today(store_path, quiet).notes[0].startswith("Welcome")
    found = today(store_path, day)
    assert found.planned == sum(item.slot.minutes for item in found.items)
    program, verb, drill, *options = shlex.split(found.offer.command)
    assert (program, verb, options) == ("widehand", "play", ["--store", str(store_path)])
    assert Path(drill) == store_path.parent / "today" / f"{NAME}.toml"
    assert main(["drills", "check", drill]) == 0
    assert main(["plan", drill]) == 0
    document = found.as_json()["one_step"]
    assert document["why"] == offer.why
    assert json.loads(json.dumps(document)) == document
    assert today(store_path, quiet).offer is None
    assert not Path(drill).exists()
    capsys.readouterr()


def test_how_it_is_told(store_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A sentence after the plan, and its command whole on a line of its own, in the table and in plain lines."""
    with Store.open(store_path) as store:
        day, offer = first_offer(store)
    monkeypatch.setattr("listener.commands.today.today.datetime", _Clock(day))
    for words in ([], ["--plain"]):
        assert main(["today", "--store", str(store_path), *words]) == 0
        out = capsys.readouterr().out
        assert "One step further, if you like. Spread, " in " ".join(out.split())
        (line,) = (line for line in out.splitlines() if f"{NAME}.toml" in line)
        assert line.strip().startswith("widehand play ")
        assert line.strip().endswith(str(store_path) + "'") or line.strip().endswith(str(store_path))
    assert main(["today", "--json", "--store", str(store_path)]) == 0
    found = json.loads(capsys.readouterr().out)["one_step"]
    assert found["why"] == offer.why
    assert found["from"] == {"kind": "spread", "inversion": 0, "strings": [5, 4, 2], "chords": 12}


def test_the_first_day_of_who_played_freely(store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody is told of a demo that was not seen."""
    assert main(["today", "--store", str(store_path), "--plain"]) == 0
    out = capsys.readouterr().out
    assert "where the course" in out
    assert "simulated" not in out


class _Clock:
    """A time of day that stands still."""

    def __init__(self, now: datetime) -> None:
        self._now = now

    def now(self, zone: object = None) -> datetime:
        return self._now
