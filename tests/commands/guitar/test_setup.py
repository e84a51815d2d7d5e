"""``widehand setup`` with somebody who answers and plucks as asked: simulated here, over a real port further down."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from printed import run

from listener.cli import main
from listener.commands.guitar import setting_up
from listener.commands.guitar.open_strings import OpenStrings
from listener.commands.guitar.setting_up import SettingUp
from listener.errors import SourceError
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.session.take.run import Interrupt
from listener.settings import Settings, load_settings

#: The strings of standard tuning by their number.
OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}
_ASKED = re.compile(r"(?:Pluck|Once more.*:) string (\d+)")

#: Channel, pitch and velocity of what comes together.
Plucked = list[tuple[int, int, int]]


class Soon(Plucked):
    """Notes that come a third of a second after those before, not a whole one."""


class Guitarist:
    """A port, and somebody at it who plucks what is asked for, unless ``instead`` has something else to do first.

    ``instead`` gives for a string what is done each time it is waited for: notes to play, the word for a key, or None
    for nothing at all. ``channel_of`` is how the pickup sends.
    """

    name, missing, lost, finished, one_by_one = "guitar:1", False, 0, False, False

    def __init__(
        self, channel_of: Callable[[int], int], instead: dict[int, list[Plucked | str | None]] | None = None
    ) -> None:
        self._channel_of = channel_of
        self._instead = {string: list(acts) for string, acts in (instead or {}).items()}
        self._waiting: list[Message] = []
        self._keys: list[str] = []
        self.said: list[str] = []
        self._now_s = time.perf_counter()

    def say(self, text: str) -> None:
        self.said.append(text)
        asked = _ASKED.search(text)
        if asked:
            self.asked = int(asked[1])
            self._act()
        elif text.startswith("  That was") or "Nothing" in text:
            self._act()

    def _act(self) -> None:
        string = self.asked
        acts = self._instead.get(string, [])
        act = acts.pop(0) if acts else [(self._channel_of(string), OPEN[string], 90)]
        if isinstance(act, str):
            self._keys.append(act)
        elif act:
            self._now_s += 0.3 if isinstance(act, Soon) else 1.0
            self._waiting += [
                Message(self._now_s + 0.01 * late, (0x90 | channel - 1, pitch, velocity))
                for late, (channel, pitch, velocity) in enumerate(act)
            ]

    def read(self) -> list[str]:
        keys, self._keys = self._keys, []
        return keys

    def poll(self) -> list[Message]:
        count = 1 if self.one_by_one else len(self._waiting)
        messages, self._waiting = self._waiting[:count], self._waiting[count:]
        return messages

    def wait(self, timeout_s: float) -> None:
        time.sleep(0.002)

    def close(self) -> None: ...


def plucked(channel_of: Callable[[int], int], instead: dict[int, list[Any]] | None = None, tuning: str = "standard"):  # type: ignore[no-untyped-def]
    guitarist = Guitarist(channel_of, instead)
    strings = OpenStrings(guitarist, make_instrument(tuning), guitarist.say, silent_s=0.3)
    through = strings.run(guitarist, Interrupt())
    return strings.found(), guitarist.said, through


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Notes of one pluck come at once here."""
    monkeypatch.setattr("listener.commands.guitar.open_strings.PLUCK_S", 0.02)


@pytest.mark.parametrize(
    ("channel_of", "profile"),
    [
        (lambda _: 1, "single"),
        (lambda string: string, "per-string"),
        (lambda string: 7 - string, "per-string low first"),
        (lambda string: 10 + string, "per-string from 11"),
    ],
)
def test_every_string_once_tells_the_profile(channel_of: Callable[[int], int], profile: str) -> None:
    """All on one channel, or each on its own, whichever way round; only what is unsure asks for the lowest again."""
    found, said, through = plucked(channel_of)
    assert through
    assert (found.proposal.profile, found.proposal.sure, found.silent) == (profile, True, ())
    assert found.pitches == OPEN
    assert "Pluck string 6, the lowest (E2)." in said
    assert sum("Once more" in line for line in said) == (1 if profile == "per-string low first" else 0)


def test_channels_that_are_handed_out_in_turn_are_found_out() -> None:
    """The lowest string, plucked again, comes on another channel."""
    turns = iter(range(2, 16))
    found, _, _ = plucked(lambda _: next(turns))
    assert (found.proposal.profile, found.proposal.sure) == ("zone", True)


WRONG = {
    "another string": ([(5, 45, 90)], "That was A2, string 5. Pluck string 6."),
    "two strings": ([(6, 40, 90), (5, 45, 88)], "That was several strings at once. Pluck string 6 alone."),
    "out of tune": ([(6, 41, 90)], "That was F2; E2 was expected."),
    "an octave up": ([(6, 52, 90)], "That was E3, an octave higher."),
    "silence": (None, "Nothing has come from 'guitar:1' yet."),
}


@pytest.mark.parametrize("story", WRONG)
def test_a_wrong_or_silent_string_is_said_and_waited_for(story: str) -> None:
    """What came instead, and then the string as asked: nothing of the first stays."""
    act, fault = WRONG[story]
    found, said, _ = plucked(lambda string: string, {6: [act]})
    assert sum(fault in line for line in said) == 1
    assert (found.proposal.profile, found.pitches) == ("per-string", OPEN)


def test_a_string_that_is_silent_later_says_how_to_go_on_without() -> None:
    """And n does; the channel between its neighbours is taken for it, and nothing is called sure."""
    found, said, through = plucked(lambda string: string, {3: [None, "next"]})
    assert through
    assert any("Nothing came. Pluck string 3 (G3) again, a little harder; n goes on without it." in s for s in said)
    assert (found.proposal.profile, found.proposal.sure, found.silent) == ("per-string", False, (3,))


def test_what_comes_twice_just_so_is_believed() -> None:
    """A pickup that hears an octave up, or a guitar that is tuned otherwise: but never another of its open strings."""
    found, _, _ = plucked(lambda string: string, {6: [[(6, 38, 90)], [(6, 38, 90)]], 2: [[(1, 64, 90)]] * 3})
    assert found.pitches == {**OPEN, 6: 38}
    assert found.proposal.profile == "per-string"


def test_what_rings_on_or_is_far_softer_is_no_pluck() -> None:
    """A ghost between two strings, and the string before triggering twice, are not taken for the next."""
    ghost: Plucked = [(4, 45, 20)]
    guitarist = Guitarist(lambda string: string, {4: [ghost]})
    strings = OpenStrings(guitarist, make_instrument(), guitarist.say, silent_s=0.3)
    assert strings.run(guitarist, Interrupt())
    assert strings.found().pitches == OPEN
    assert not any("That was" in line for line in guitarist.said)


def test_the_string_before_triggering_twice_is_no_pluck() -> None:
    """It is passed over without a word; the same note a second later would be the wrong string."""
    found, said, _ = plucked(lambda string: string, {5: [Soon([(6, 40, 90)]), None]})
    assert found.pitches == OPEN
    assert not any("That was" in line for line in said)


def test_what_comes_with_a_pluck_belongs_to_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Heard an octave up at first and put right at once by the pickup: the loudest of them is the string."""
    monkeypatch.setattr("listener.commands.guitar.open_strings.PLUCK_S", 0.3)
    guitarist = Guitarist(lambda string: string, {6: [[(6, 52, 60), (6, 40, 95)]]})
    guitarist.one_by_one = True
    strings = OpenStrings(guitarist, make_instrument(), guitarist.say)
    assert strings.run(guitarist, Interrupt())
    assert strings.found().pitches == OPEN
    assert not any("That was" in line for line in guitarist.said)


def test_one_back_and_leaving() -> None:
    """The key for again goes one string back; q leaves, and too few strings say nothing."""
    found, said, _ = plucked(lambda string: string, {5: ["again"]})
    assert [line for line in said if "Pluck string 6" in line] == ["Pluck string 6, the lowest (E2)."] * 2
    assert found.pitches == OPEN
    found, _, through = plucked(lambda string: string, {4: ["quit"]})
    assert not through
    assert (found.proposal.profile, set(found.pitches)) == (None, {6, 5})


def test_ctrl_c_while_a_string_is_waited_for() -> None:
    """It leaves at once."""
    guitarist = Guitarist(lambda string: string, {6: [None]})
    with pytest.raises(KeyboardInterrupt):
        OpenStrings(guitarist, make_instrument(), guitarist.say).run(guitarist, Interrupt(raised=True))


class Sitting:
    """The whole of it, with answers for the questions in turn."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, guitarist: Guitarist, ports: Sequence[list[str]]) -> None:
        self.guitarist = guitarist
        self._ports: Iterator[list[str]] = iter(ports)
        self._there = ports[-1]
        self.prompts: list[str] = []
        monkeypatch.setattr(setting_up, "input_ports", lambda: next(self._ports, self._there))
        monkeypatch.setattr(setting_up, "open_input", lambda name: guitarist)
        monkeypatch.setattr(setting_up, "Keyboard", lambda: _Here(guitarist))

    def run(self, *answers: str) -> list[str]:
        """What was said and asked, in order."""
        waiting = iter(answers)
        talk: list[str] = []

        def ask(prompt: str) -> str:
            talk.append(prompt)
            answer = next(waiting, None)
            if answer is None:
                raise KeyboardInterrupt
            return answer

        def say(text: str) -> None:
            talk.append(text)
            self.guitarist.say(text)

        SettingUp(None, ask, say).run()
        assert next(waiting, None) is None, "not everything was asked"
        return talk


class _Here:
    def __init__(self, guitarist: Guitarist) -> None:
        self._guitarist = guitarist

    def __enter__(self) -> Guitarist:
        return self._guitarist

    def __exit__(self, *_error: object) -> None: ...


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the settings will be kept."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "h.sqlite3"))
    return tmp_path / "settings.toml"


def test_enter_all_the_way(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """One port, each string once, the usual answers: port and profile are kept, the rest is as usual; done again,
    nothing has to be plucked."""
    sitting = Sitting(monkeypatch, Guitarist(lambda string: string), [["Midi Through Port-0 14:0", "guitar:1 20:0"]])
    sitting.run("", "", "", "")
    assert load_settings() == Settings(port="guitar:1", pickup="per-string", path=place)
    talk = sitting.run("", "", "", "", "")
    assert any("How your pickup sends is known: per-string." in line for line in talk)
    assert not any(line.startswith("Pluck") for line in talk)


def test_everything_otherwise(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """Several ports, another tuning, hand and hands; nonsense in between is explained and costs nothing."""
    guitarist = Guitarist(lambda _: 1, {6: [[(1, 38, 90)]]})
    sitting = Sitting(monkeypatch, guitarist, [["keys", "guitar:1"]])
    nonsense = ["", "9", "0", "-1", "gitarre", "1" * 5000, "\x1b[2J"]
    answers = ["drop q", "E9 A9", "H2", "drop D", *nonsense, "GUIT", "maybe", "n", "huge", "sm", "\ud800", "y"]
    monkeypatch.setattr("listener.commands.guitar.setting_up._FIND_S", 0.01)
    talk = sitting.run(*answers)
    assert load_settings() == Settings(
        tuning="drop d", port="guitar:1", pickup="single", hand="small", left_handed=True, path=place
    )
    told = "\n".join(talk)
    for part in ("no tuning 'drop q'", "MIDI's range", "'9' is none of them", "neither yes nor no", "not a size"):
        assert part in told
    assert "\x1b" not in told


def test_no_port_yet(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """It is said and looked for again; without one the rest is asked and kept all the same."""
    sitting = Sitting(monkeypatch, Guitarist(lambda string: string), [[], ["Midi Through"], ["guitar:1"]])
    talk = sitting.run("", "", "what", "ag", "", "large", "")
    assert talk.count("No MIDI port is here yet. Plug the pickup in and switch it on.") == 2
    assert load_settings() == Settings(port="guitar:1", pickup="per-string", hand="large", path=place)
    place.unlink()
    Sitting(monkeypatch, Guitarist(lambda string: string), [[]]).run("", "w", "small", "")
    assert load_settings() == Settings(hand="small", path=place)


def test_a_string_that_is_tuned_otherwise_may_be_the_tuning(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """What was heard is offered as the tuning, and kept if that is so."""
    guitarist = Guitarist(lambda string: string, {6: [[(6, 38, 90)]] * 2})
    sitting = Sitting(monkeypatch, guitarist, [["guitar:1"]])
    talk = sitting.run("", "y", "", "", "")
    assert any("Heard: D2 A2 D3 G3 B3 E4. Is that your tuning?" in line for line in talk)
    assert load_settings().tuning == "D2 A2 D3 G3 B3 E4"


def test_what_was_kept_before_leaving_stays(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """Leaving at every question in turn: what was answered and heard by then is kept, and the file can be read."""
    answers = ("drop d", "", "small", "y")
    for count in range(len(answers)):
        place.unlink(missing_ok=True)
        sitting = Sitting(monkeypatch, Guitarist(lambda _: 1, {6: [[(1, 38, 90)]] * 2}), [["guitar:1"]])
        with pytest.raises(KeyboardInterrupt):
            sitting.run(*answers[:count])
        if count:
            assert (load_settings().tuning, load_settings().pickup, load_settings().port) == (
                "drop d", "single", "guitar:1"
            )  # fmt: skip
        else:
            assert not place.exists()


def test_a_measured_hand_stays_until_a_size_is_named(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """Enter keeps the lengths; a size takes their place."""
    place.write_text("[hand]\nreach_mm = [60, 85, 90, 60, 75, 60]\n", encoding="utf-8")
    sitting = Sitting(monkeypatch, Guitarist(lambda _: 1), [[]])
    sitting.run("", "w", "", "")
    assert load_settings().hand == "60 85 90 60 75 60"
    sitting.run("", "w", "medium", "")
    assert load_settings().hand == "medium"


@pytest.mark.parametrize("kept", ["per-string strings 7", "hexa"])
def test_a_profile_of_another_guitar_is_not_offered(monkeypatch: pytest.MonkeyPatch, place: Path, kept: str) -> None:
    """Seven strings were kept, or what is no profile, and six are tuned: they are plucked anew."""
    place.write_text(f'[midi]\nport = "guitar"\npickup = "{kept}"\n', encoding="utf-8")
    talk = Sitting(monkeypatch, Guitarist(lambda string: string), [["guitar:1"]]).run("", "", "", "")
    assert any(line.startswith("Pluck string 1") for line in talk)
    assert load_settings().pickup == "per-string"


def test_nobody_is_asked_in_a_pipe(
    monkeypatch: pytest.MonkeyPatch, place: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is kept, but nobody is at a terminal: play goes on as ever."""
    monkeypatch.delenv("WIDEHAND_SETTINGS")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "none"))

    def refuse(name: str | None, **_more: object) -> None:
        raise SourceError("here is no port")

    monkeypatch.setattr("listener.commands.playing.play.open_input", refuse)
    for typed in (False, True):  # stdin alone is a terminal: the output goes elsewhere
        monkeypatch.setattr("sys.stdin", _Input(typed))
        assert main(["play", "ferry-landing"]) == 1
        assert capsys.readouterr().err == "widehand: here is no port\n"


class _Input(io.StringIO):
    def __init__(self, is_terminal: bool) -> None:
        super().__init__("\n" * 9)
        self._is_terminal = is_terminal

    def isatty(self) -> bool:
        return self._is_terminal


def test_a_port_that_cannot_be_opened(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """It is said, and the rest is asked all the same."""
    sitting = Sitting(monkeypatch, Guitarist(lambda _: 1), [["guitar:1"]])

    def refuse(name: str) -> None:
        raise SourceError(f"'{name}' is taken")

    monkeypatch.setattr(setting_up, "open_input", refuse)
    talk = sitting.run("", "small", "")
    assert any("'guitar:1' is taken" in line for line in talk)
    assert load_settings() == Settings(hand="small", path=place)


@pytest.mark.slow
def test_a_delay_that_cannot_be_measured(monkeypatch: pytest.MonkeyPatch, place: Path) -> None:
    """The same measurement as widehand calibrate; nobody plucks, that is said, and the rest is asked and kept."""
    sitting = Sitting(monkeypatch, Guitarist(lambda string: string), [["guitar:1"]])
    asked: list[str] = []

    def silent(name: str) -> Guitarist:
        asked.append(name)
        return Guitarist(lambda _: 1)

    monkeypatch.setattr("listener.commands.guitar.calibrate.open_input", silent)
    talk = sitting.run("", "y", "small", "")
    assert asked == ["guitar:1"]
    assert any("nothing came from 'guitar:1' in the whole first round" in line for line in talk)
    assert any("Nothing is lost; try again with: widehand calibrate" in line for line in talk)
    assert load_settings() == Settings(port="guitar:1", pickup="per-string", hand="small", path=place)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["setup"], 2, "nobody is here to answer questions"),
        (["setup", "--json"], 2, "--json goes with --check"),
        (["setup", "--check", "--port", "x"], 2, "leave one of them out"),
        (["setup", "guitar"], 2, "one word too many"),
    ],
)
def test_bad_options(words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One line, nothing asked."""
    got, out, err = run(capsys, *words)
    assert (got, out) == (code, "")
    assert said in err.splitlines()[-1]
