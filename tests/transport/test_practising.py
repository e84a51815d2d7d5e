"""People who practise, over real MIDI: whatever a script has them do, the program says what the script meant.

Strumming and picking to the click are simulated with their truth (tests/lab); what happens at the player's own pace is
written out here stroke by stroke. Each on a pickup that tells strings apart and on one that does not.
"""

from __future__ import annotations

import subprocess
import time
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from calm import no_longer_than, patient
from jack_server import sender
from lab.people import patterns
from lab.people.scene import Prepared, prepare
from lab.people.take import Way, practise
from lab.people.truth import HIT_TRUTH, NO_HIT, NOT_PLAYED
from lab.people.ways import WithClick
from lab.proving.performing import FIRST_BEAT_S
from port_player import Row, click_ear, from_now_s, printed, report, wait_for_line, widehand

from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.planning.planner import plan_drill

pytestmark = pytest.mark.jack

PICKUPS = ("single", "per-string")
#: One of them takes its turn where the quick tests are run.
PER_STRING_FIRST = ("per-string", pytest.param("single", marks=pytest.mark.slow))
HEAD = 'title = "Landing stage"\nkey = "G major"\nmeter = "4/4"\n'
#: Seven chords in four bars, four in two bars for who is in a hurry, and eight chords of a bar each.
VERSE = f'{HEAD}tempo = 160\n[[passage]]\nnumerals = "I IV | V vi | ii V | I"\nkind = "close"\nfrets = [0, 9]\n'
SHORT = f'{HEAD}tempo = 160\n[[passage]]\nnumerals = "I IV | V vi"\nkind = "close"\nfrets = [0, 9]\n'
BARS = (
    f'{HEAD}tempo = 160\n[[passage]]\nnumerals = "I | IV | V | vi | ii | V | IV | I"\nkind = "close"\nfrets = [0, 9]\n'
)
#: Between two chords that are played at own pace, and how long each rings.
APART_S, RING_S = 0.5, 0.35
#: By how much the strings of a strum are apart.
STRING_S = 0.003


@cache
def prepared(text: str) -> Prepared:
    return prepare(plan_drill(read_drill(text, "stage"), make_instrument(), make_hand("medium")))


def written(folder: Path, text: str) -> Path:
    path = folder / "stage.toml"
    path.write_text(text, encoding="utf-8")
    return path


def listening(drill: Path, port: str, pickup: str, *words: str) -> subprocess.Popen[str]:
    """The program, about to hear this port."""
    store = str(drill.with_name("history.sqlite3"))
    return widehand("play", str(drill), "--port", port, "--pickup", pickup, "--store", store, *words)


def again(drill: Path) -> dict[str, Any]:
    """What is said of the kept take."""
    (take,) = drill.parent.glob("takes/*.mid")
    return printed("hear", str(take), "--drill", str(drill))


def said(attempts: Sequence[dict[str, Any]]) -> list[tuple[int, str]]:
    """Step and outcome of each verdict, in the words of the truth."""
    not_played = {"nothing", "left_out"}
    found = []
    for one in attempts:
        silent = not one["heard"] or any(fault["code"] in not_played for fault in one["faults"])
        outcome = NOT_PLAYED if silent else HIT_TRUTH if one["grade"] == "hit" else NO_HIT
        found.append((one["step"], outcome))
    return found


# With the click --------------------------------------------------------------------------------------------------

STRUMMED = Way("strummed", WithClick(patterns.Eighths(), slip_share=0.25, tempo_share=(1.0, 1.0)))
PICKED = Way("picked", WithClick(patterns.Ringing(), slip_share=0.25, tempo_share=(1.0, 1.0), least_note_s=0.13))


@pytest.mark.parametrize(
    ("way", "text", "pickup"),
    [
        pytest.param(STRUMMED, SHORT, "single", id="strummed, single, two bars"),
        *(
            pytest.param(way, VERSE, pickup, id=f"{way.name}, {pickup}", marks=pytest.mark.slow)
            for way in (STRUMMED, PICKED)
            for pickup in PICKUPS
        ),
    ],
)
@patient
def test_eighths_to_the_click(jack_server: str, tmp_path: Path, way: Way, text: str, pickup: str) -> None:
    """Chords strummed down and up, or picked from the bass, some of them wrong: the first attempt at each step is told
    as it was played, and the kept take says the same."""
    drill, name = written(tmp_path, text), f"{way.name}-{pickup}"
    take = practise(way, prepared(text), 3, pickup=make_pickup(pickup))
    assert take.tempo is not None
    assert NO_HIT in take.truth.first
    with click_ear(f"ear-{name}") as ear, sender(name) as guitar:
        program = listening(drill, name, pickup, "--tempo", f"{take.tempo:g}", "--click", f"ear-{name}", "--json")
        lead_s = from_now_s(ear.first_beat_s() + 4 * 60 / take.tempo - FIRST_BEAT_S)
        guitar.play([(message.time_s + lead_s, message.data) for message in take.messages])
        live = report(program, 60)
    first: dict[int, str] = {}
    for step, outcome in said(live["attempts"]):
        first.setdefault(step, outcome)
    assert [first.get(step, NOT_PLAYED) for step in range(len(take.truth.first))] == list(take.truth.first)
    assert again(drill) == live


@pytest.mark.slow
@pytest.mark.parametrize("pickup", PICKUPS)
@patient
def test_the_click_waits_for_who_is_away(jack_server: str, tmp_path: Path, pickup: str) -> None:
    """Two chords, then nothing: after four bars the click stops. The third chord wakes it, is not judged, and after a
    bar of count-in all the others are played in time."""
    drill, name, beat_s = written(tmp_path, BARS), f"away-{pickup}", 60 / 320
    hand = Hand(BARS, pickup)
    with click_ear(f"ear-{name}") as ear, sender(name) as guitar:
        program = listening(drill, name, pickup, "--tempo", "320", "--click", f"ear-{name}", "--json")
        lead_s = from_now_s(ear.first_beat_s() + 4 * beat_s)
        guitar.play(hand.strums([(lead_s, 0), (lead_s + 4 * beat_s, 1)]))
        time.sleep(lead_s + 6 * beat_s)
        ear.wait_for_silence(0.6)
        guitar.play(hand.strums([(0.05, 2)]))
        lead_s = from_now_s(ear.first_beat_s() + 4 * beat_s)
        guitar.play(hand.strums([(lead_s + 4 * number * beat_s, number + 2) for number in range(6)]))
        live = report(program, 60)
    assert said(live["attempts"]) == [(step, HIT_TRUTH) for step in range(8)]
    assert max(abs(one["offset_ms"]) for one in live["attempts"]) < 40
    assert again(drill) == live


# At the player's own pace ----------------------------------------------------------------------------------------


class Hand:
    """Plays chords of a drill as a pickup sends them: a channel for each string, or one for all."""

    def __init__(self, text: str, pickup: str) -> None:
        self._chords = prepared(text).chords
        self._apart = pickup == "per-string"

    def strums(self, chords: Sequence[tuple[float, int]]) -> list[Row]:
        """Each step's chord at its time, as it is planned."""
        return sorted(row for at_s, step in chords for row in self.strum(at_s, step))

    def strum(self, at_s: float, step: int, *, too_high: int = 0) -> list[Row]:
        """All of a chord; its top note so many semitones too high."""
        places = [(string, pitch) for string, _, pitch in sorted(self._chords[step], reverse=True)]
        places[-1] = (places[-1][0], places[-1][1] + too_high)
        return self.strings(at_s, places, STRING_S)

    def one_by_one(self, at_s: float, step: int) -> list[Row]:
        """The grip tried string by string."""
        places = [(string, pitch) for string, _, pitch in sorted(self._chords[step], reverse=True)]
        return self.strings(at_s, places, 0.3)

    def strings(self, at_s: float, places: Sequence[tuple[int, int]], apart_s: float) -> list[Row]:
        """These strings with these notes (MIDI), one after the other."""
        rows: list[Row] = []
        for number, (string, pitch) in enumerate(places):
            channel, begins_s = string - 1 if self._apart else 0, at_s + apart_s * number
            ends_s = begins_s + (RING_S if apart_s == STRING_S else 0.8 * apart_s)
            rows += [(begins_s, (0x90 | channel, pitch, 90)), (ends_s, (0x80 | channel, pitch, 0))]
        return rows


def own_pace(drill: Path, pickup: str, rows: Sequence[Row], *words: str) -> dict[str, Any]:
    """What is said about it."""
    name = f"own-pace-{pickup}"
    with sender(name) as guitar:
        program = listening(drill, name, pickup, "--own-pace", "--json", *words)
        wait_for_line(program)
        guitar.play(sorted(rows))
        return report(program, 90)


@pytest.mark.parametrize("pickup", PER_STRING_FIRST)
@patient
def test_somebody_who_fumbles(jack_server: str, tmp_path: Path, pickup: str) -> None:
    """A slip put right, the grip tried, another slip and from the top: every attempt is told at the chord it was at,
    trying is none."""
    drill, hand = written(tmp_path, SHORT), Hand(SHORT, pickup)
    rows = [
        *hand.strums([(0.3, 0)]), *hand.strum(0.9, 1, too_high=1), *hand.strums([(1.6, 1)]),
        *hand.one_by_one(2.2, 2), *hand.strums([(3.2, 2)]), *hand.strum(3.8, 3, too_high=2),
        *hand.strums([(4.5 + APART_S * number, number) for number in range(4)]),
    ]  # fmt: skip
    live = own_pace(drill, pickup, rows)
    before = [(0, HIT_TRUTH), (1, NO_HIT), (1, HIT_TRUTH), (2, HIT_TRUTH), (3, NO_HIT)]
    assert said(live["attempts"]) == [*before, *((step, HIT_TRUTH) for step in range(4))]
    assert live["summary"]["put_right"] == 2
    assert again(drill) == live


@pytest.mark.slow
@pytest.mark.parametrize("pickup", PICKUPS)
@patient
def test_somebody_who_is_away_for_a_while(jack_server: str, tmp_path: Path, pickup: str) -> None:
    """Three seconds of noodling, later some of silence: nobody's chords. All of the drill's are hits."""
    drill, hand = written(tmp_path, VERSE), Hand(VERSE, pickup)
    noodling = [
        (2, 61),
        (2, 63),
        (1, 66),
        (1, 70),
        (1, 68),
        (2, 65),
        (2, 61),
        (3, 58),
        (3, 56),
        (2, 61),
        (1, 66),
        (1, 68),
    ]
    rows = [
        *hand.strums([(0.3, 0), (1.0, 1)]), *hand.strings(2.0, noodling, 0.25),
        *hand.strums([(5.6, 2), (6.1, 3), (9.1, 4), (9.6, 5), (10.1, 6)]),
    ]  # fmt: skip
    live = own_pace(drill, pickup, rows)
    assert said(live["attempts"]) == [(step, HIT_TRUTH) for step in range(7)]
    assert live["summary"]["complete"]
    assert again(drill) == live


@pytest.mark.slow
@pytest.mark.parametrize("pickup", PICKUPS)
@patient
def test_until_it_is_right(jack_server: str, tmp_path: Path, pickup: str) -> None:
    """A slip, then the next chords by mistake: it stays with the one that is not right yet."""
    drill, hand = written(tmp_path, VERSE), Hand(VERSE, pickup)
    rows = [
        *hand.strums([(0.3, 0)]), *hand.strum(1.0, 1, too_high=1), *hand.strums([(2.0, 2), (3.0, 3)]),
        *hand.strums([(4.0 + APART_S * number, number + 1) for number in range(6)]),
    ]  # fmt: skip
    live = own_pace(drill, pickup, rows, "--until-right")
    attempts = said(live["attempts"])
    assert attempts[:2] == [(0, HIT_TRUTH), (1, NO_HIT)]
    assert attempts[-6:] == [(step, HIT_TRUTH) for step in range(1, 7)]
    assert {attempt for attempt in attempts[2:-6]} <= {(1, NO_HIT)}
    assert again(drill) == live


@pytest.mark.slow
@patient
def test_half_a_minute_of_silence(jack_server: str, tmp_path: Path) -> None:
    """In plain lines: it says that nobody is playing and what to play, then that it goes on; that chord counts."""
    drill, hand = written(tmp_path, VERSE), Hand(VERSE, "single")
    with sender("silence") as guitar:
        program = listening(drill, "silence", "single", "--own-pace", "--plain")
        assert program.stdout is not None
        with no_longer_than(program, 120.0):
            program.stdout.readline()
            guitar.play(hand.strums([(0.3, 0), (1.0, 1), (34.0, 2), *((34.6 + 0.6 * n, 3 + n) for n in range(4))]))
            out, err = program.communicate()
    assert program.returncode == 0, err
    lines = out.splitlines()
    paused = lines.index("Paused: nobody is playing. Play D to go on.")
    assert [line[:3] for line in lines[:paused] if line.startswith(" ")] == [" 1 ", " 2 "]
    assert lines[paused + 1] == "Going on."
    assert lines[paused + 2].startswith(" 3  D close: hit.")
    assert "7 hits, 0 nears, 0 misses, of 7 chords." in lines
