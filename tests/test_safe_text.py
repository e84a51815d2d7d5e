"""What comes from files and command lines never steers a terminal, and never hides what a message says."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from printed import run

from listener.errors import DrillError, InstrumentError, MusicError, PlanError, Problem, StoreError, WidehandError
from listener.safe_text import CUT, clean, echo, escaped, fitted, printable, toml_text

#: Orders to a terminal (ECMA-48: CSI, OSC, bell, the 8-bit CSI), marks of direction and line ends (Unicode 15, UAX 9
#: and chapter 5.8), half a pair of surrogates, a private character.
NASTY = (
    "\x1b[2J",
    "\x1b]0;title\x07",
    "\x9b31m",
    "\u202eabc",
    "\u2028",
    "\r\n",
    "\x00",
    "\x7f",
    "\ud800",
    "\ue000",
    "\x85",
)
#: Names that are as long as nobody's.
LONG = ("Q" * 5000, "word " * 1000, "Cmaj7#11/" * 600, "it's " * 800, '"' * 3000, "é\u0301" * 2000, "夜" * 3000)


@pytest.mark.parametrize("nasty", NASTY)
def test_nothing_steers_the_terminal(nasty: str) -> None:
    """Whichever way a text goes to a terminal, what is in it cannot order anything."""
    text = f"before{nasty}after"
    assert printable(text).isprintable()
    assert echo(text).isprintable()
    assert clean(text).isprintable()
    assert toml_text(text).isprintable()
    assert escaped(text).isprintable()
    assert all(line.isprintable() for line in fitted(text).split("\n"))
    for error in (StoreError(text), MusicError(text, text=text), PlanError(text, step=1), InstrumentError(text)):
        assert all(line.isprintable() for line in str(error).split("\n"))
        assert str(error).startswith("before")
        assert str(error).endswith("after")
    faults = DrillError(nasty, [Problem(1, text), Problem(2, text)])
    assert all(line.isprintable() for line in str(faults).split("\n"))


@given(st.text())
@example("\x1b" * 300)
def test_printable_changes_nothing_else(text: str) -> None:
    """Character by character: places in the text stay what they are, and what can be shown is shown."""
    shown = printable(text, keep="\n")
    assert len(shown) == len(text)
    assert all(new == old or not (old.isprintable() or old == "\n") for new, old in zip(shown, text, strict=True))


@given(st.text(), st.integers(4, 60))
@example("a" * 401, 40)
@example(" " * 500 + "b", 40)
def test_an_echo_is_short_and_says_when_it_was_cut(text: str, longest: int) -> None:
    """At most so many characters on one line; whole texts are whole, and what was cut ends with the sign of it."""
    words = " ".join(printable(text).split())
    shown = echo(text, longest)
    assert len(shown) <= longest
    assert shown.isprintable()
    if len(text) <= 10 * longest and len(words) <= longest:
        assert shown == words
    else:
        assert shown.endswith(CUT)
        assert words.startswith(shown.removesuffix(CUT)) or len(text) > 10 * longest


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_toml_texts_are_read_back(text: str) -> None:
    """By Python's own reader of TOML, character for character, and on one line."""
    written = toml_text(text)
    assert tomllib.loads(f"a = {written}") == {"a": text}
    assert written.isprintable()


@given(st.text())
@example("the player's hand and the players' hands, " * 3)
@example("'" + "x" * 5000)
def test_a_fitted_message_is_fitted(message: str) -> None:
    """Once is enough, no line is endless, and lines stay lines."""
    once = fitted(message)
    assert fitted(once) == once
    assert once.count("\n") == message.count("\n")
    assert max(map(len, once.split("\n"))) <= 1500


@pytest.mark.parametrize("name", LONG)
@pytest.mark.parametrize("quote", ["'", '"', ""])
def test_what_to_try_can_be_found(name: str, quote: str) -> None:
    """Beginning and end of a message stand whatever is quoted in the middle, and the whole fits a small screen."""
    error = WidehandError(f"there is no hand {quote}{name}{quote}; name one of large, medium, small")
    assert str(error).startswith("there is no hand ")
    assert str(error).endswith("; name one of large, medium, small")
    assert CUT in str(error)
    assert len(str(error)) <= 1500


@pytest.mark.parametrize(
    "message",
    [
        "the players' hands are too small for the singers' song, the drill's shapes and its wishes; try another",
        "/home/player/lessons/of a very long year/with many words in it/and a file called/my drill.toml cannot be read",
        "line 3: 'key' cannot be read: 'H major' does not begin with a tonic; a key is written like G major",
        "there is no tuning 'x'; name one of 'standard', 'drop d', 'double drop d', 'open d', 'open g', 'fourths'",
    ],
)
def test_ordinary_messages_are_left_alone(message: str) -> None:
    """Apostrophes, paths and lists of names are no long quotations."""
    assert fitted(message) == message


@pytest.mark.parametrize("text", [*LONG, *NASTY[:4]])
@pytest.mark.parametrize(
    "words",
    [
        ["name"], ["plan"], ["drills", "show"], ["drills", "from"], ["drills", "from", "V | I", "--key"],
        ["plan", "mill-verse", "--tuning"], ["plan", "mill-verse", "--hand"], ["hear"], ["progress", "--drill"],
        ["progress", "--since"], ["rejudge", "--drill"], ["rejudge", "--student"], ["export", "--json", "--drill"],
        ["today", "--minutes"], ["no-such-command"], [],
    ],
    ids=" ".join,
)  # fmt: skip
def test_on_the_command_line(words: list[str], text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is typed where a name is wanted: the answer is short, printable, and no traceback."""
    code, out, err = run(capsys, *words, text)
    told = out + err
    assert told
    assert code in (0, 1, 2)
    assert all(line.isprintable() for line in told.split("\n"))
    assert max(map(len, told.split("\n"))) <= 1600
