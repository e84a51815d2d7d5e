"""From nothing to the first chord on a (pseudo) terminal, the guitar on a real port; and the ways out of a question."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")

from in_terminal import SHORT_DRILL, Terminal, kept_grades, widehand
from jack_server import Sender, sender

from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.planning.planner import plan_drill
from listener.settings import Settings, load_settings

OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}
#: Of the ways out of the four questions, these are tried each time.
QUICK = (("\x04", 0), ("\x03", 1))
#: No MIDI system answers.
BARE = {"JACK_DEFAULT_SERVER": "nobody-there", "JACK_NO_START_SERVER": "1"}


def pluck(guitar: Sender, string: int, pitch: int | None = None) -> None:
    """One open string, on its own channel."""
    on = (0x90 | string - 1, OPEN[string] if pitch is None else pitch, 90)
    guitar.play([(0.0, on), (0.25, (0x80 | on[0] & 0x0F, on[1], 0))])
    guitar.wait()


def pluck_all(terminal: Terminal, guitar: Sender) -> None:
    """Each string when it is asked for."""
    for string in range(6, 0, -1):
        terminal.wait_for(f"Pluck string {string}")
        pluck(guitar, string)


def answer(terminal: Terminal, question: str, text: str = "") -> None:
    """Type an answer when the question stands there."""
    terminal.wait_for(question)
    terminal.until(lambda: terminal.text.rstrip().endswith("]:"), "the place for an answer")
    terminal.press(text + "\n")


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
def test_from_nothing_to_the_first_chord(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The first play asks, hears the strings, keeps everything and goes on to the drill; the second asks nothing."""
    place, store, drill = tmp_path / "settings.toml", tmp_path / "h.sqlite3", tmp_path / "landing-stage.toml"
    drill.write_text(SHORT_DRILL, encoding="utf-8")
    plan = plan_drill(load_drill(str(drill)), make_instrument(), make_hand())
    chord = [
        (0x90 | make_pickup("per-string").channel_of(string) - 1, pitch, 90)
        for string, pitch in zip(plan.steps[0].fingering.strings, plan.steps[0].fingering.pitches, strict=True)
    ]
    rows = [(0.0, one) for one in chord] + [(0.6, (0x80 | one[0] & 0x0F, one[1], 0)) for one in chord]
    with sender("keys"), sender("guitar") as guitar:
        play = widehand("play", str(drill), store=store, WIDEHAND_SETTINGS=str(place))
        answer(play, "Set it up now?")
        answer(play, "How is it tuned?")
        play.wait_for("Which is your guitar?")
        play.press("\n")
        play.wait_for("Pluck any string")
        pluck(guitar, 4)
        play.wait_for("heard on 'guitar")
        play.wait_for("Pluck string 6")
        pluck(guitar, 5)
        play.wait_for("That was A2, string 5. Pluck string 6.")
        pluck_all(play, guitar)
        answer(play, "Measure how late", "n")
        answer(play, "How far does your hand reach?", "small")
        answer(play, "Left-handed?")
        play.wait_for_step(1)
        guitar.play(rows)
        play.wait_for_step(2)
        play.press("q")
        assert play.wait() == 0
        monkeypatch.setenv("WIDEHAND_SETTINGS", str(place))
        kept = load_settings()
        assert (kept.pickup, kept.hand, kept.left_handed) == ("per-string", "small", False)
        assert kept.port is not None
        assert kept.port.startswith("guitar")
        assert kept_grades(store) == ["hit"]
        again = widehand("play", str(drill), store=store, WIDEHAND_SETTINGS=str(place))
        again.wait_for_step(1)
        assert b"Set it up" not in again.raw
        again.press("q")
        assert again.wait() == 0


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
@pytest.mark.parametrize("way_out", ["q", "Ctrl-C"])
def test_leaving_while_strings_are_plucked(tmp_path: Path, way_out: str) -> None:
    """q goes on with the questions, and says that too few strings were heard; Ctrl-C ends it, the tuning is kept, and
    the terminal echoes again."""
    place = tmp_path / "settings.toml"
    with sender("guitar") as guitar:
        setup = widehand("setup", "--port", "guitar", store=tmp_path / "h", WIDEHAND_SETTINGS=str(place))
        answer(setup, "How is it tuned?", "drop d")
        setup.wait_for("Pluck string 6, the lowest (D2)")
        pluck(guitar, 6, 38)
        setup.wait_for("Pluck string 5")
        setup.press("\x03" if way_out == "Ctrl-C" else "q")
        if way_out == "q":
            setup.wait_for("Too few strings were heard")
            answer(setup, "How far does your hand reach?")
            answer(setup, "Left-handed?", "y")
        assert setup.wait() == (130 if way_out == "Ctrl-C" else 0)
    assert ("widehand: interrupted" in setup.text) == (way_out == "Ctrl-C")
    text = place.read_text(encoding="utf-8")
    assert 'tuning = "drop d"' in text
    assert ("left_handed = true" in text) == (way_out == "q")
    assert Settings.pickup in text


@pytest.mark.parametrize(
    ("way_out", "at"),
    [
        pytest.param(way_out, at, id=f"{name}-{at}", marks=() if (way_out, at) in QUICK else pytest.mark.slow)
        for name, way_out in (("end of input", "\x04"), ("Ctrl-C", "\x03"))
        for at in range(4)
    ],
)
def test_every_question_can_be_left(tmp_path: Path, way_out: str, at: int) -> None:
    """In the middle of each, after nonsense that is no text: exit code 130, one line, no traceback."""
    setup = widehand("setup", store=tmp_path / "h", WIDEHAND_SETTINGS=str(tmp_path / "s.toml"), **BARE)
    for number, (question, text) in enumerate(
        (("How is it tuned?", ""), ("without a guitar?", "without"), ("hand reach?", ""), ("Left-handed?", ""))
    ):
        if number == at:
            break
        answer(setup, question, text)
    setup.wait_for(question)
    os.write(setup.master, b"\xff\xfe\xc0\n")
    setup.until(lambda: setup.text.count(question) >= 2, "the question again")
    setup.press(way_out)
    assert setup.wait() == 130
    assert "Traceback" not in setup.text
    assert "widehand: interrupted" in setup.text
    assert (tmp_path / "s.toml").exists() == (at > 0)


@pytest.mark.parametrize("words", [("--port", "guitar"), ("--json",)])
def test_play_does_not_ask_who_said_where(tmp_path: Path, words: tuple[str, ...]) -> None:
    """Nor a program; then it goes on as ever, here to no MIDI system."""
    play = widehand(
        "play", "ferry-landing", *words, store=tmp_path / "h", WIDEHAND_SETTINGS=str(tmp_path / "s.toml"), **BARE
    )
    assert play.wait() == 1
    assert "Set it up" not in play.text


@pytest.mark.slow
def test_who_does_not_want_to_is_asked_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No is kept, as a settings file with every field at its default. A drill that is not there is told first."""
    place = tmp_path / "s.toml"
    monkeypatch.delenv("WIDEHAND_SETTINGS")
    for drill, code, asked in (("no-such-drill", 1, False), ("ferry-landing", 1, True), ("ferry-landing", 1, False)):
        play = widehand("play", drill, store=tmp_path / "h", HOME=str(tmp_path), XDG_CONFIG_HOME=str(tmp_path), **BARE)
        if asked:
            answer(play, "Set it up now?", "n")
        assert play.wait() == code
        assert ("Set it up now?" in play.text) == asked
    place = tmp_path / "widehand" / "settings.toml"
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(place))
    assert load_settings() == Settings(path=place)


def test_a_signal_ends_it(tmp_path: Path) -> None:
    """Told to end at a question, it ends, and nothing hangs."""
    setup = widehand("setup", store=tmp_path / "h", WIDEHAND_SETTINGS=str(tmp_path / "s.toml"), **BARE)
    setup.wait_for("How is it tuned?")
    os.kill(setup.pid, signal.SIGTERM)
    assert setup.wait() == -signal.SIGTERM
