"""What people type who know other programs: help in words, -V, and slips of the finger that are understood."""

from __future__ import annotations

import pytest
from printed import run

from listener import __version__
from listener.options.whole import build_parser, parsers_of


@pytest.mark.parametrize("command", parsers_of(build_parser()))
def test_help_says_what_the_option_says(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """``help COMMAND`` is ``COMMAND --help``, and it has an example."""
    asked = run(capsys, "help", command)
    assert asked == run(capsys, command, "--help")
    assert f"example:\n  widehand {command}" in asked[1]


def test_help_alone_lists_the_commands(capsys: pytest.CaptureFixture[str]) -> None:
    """As ``--help`` and no word at all do; every command is there, and none is wider than a terminal."""
    code, out, err = run(capsys, "help")
    assert (code, out, err) == run(capsys, "--help") == run(capsys)
    assert (code, err) == (0, "")
    listed = {line.split()[0] for line in out.splitlines() if line.startswith("    ")}
    assert set(parsers_of(build_parser())) <= listed
    assert max(map(len, out.splitlines())) <= 88


@pytest.mark.parametrize("option", ["-V", "--version"])
def test_the_version(option: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Both say it, and nothing else."""
    assert run(capsys, option) == (0, f"widehand {__version__}\n", "")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("paly mill-verse", "there is no command 'paly'; did you mean play?"),
        ("Plan mill-verse", "did you mean plan?"),
        ("pla", "did you mean play or plan?"),
        ("", "there is no command ''"),
        ("xyzzyq", "there is no command 'xyzzyq'; all of them: widehand help"),
        ("help paln", "did you mean plan?"),
        ("help drills from", "'from' is one word too many"),
        ("plan mill-verse --hnad small", "plan has no option '--hnad'; did you mean --hand?"),
        ("plan --hnad small mill-verse", "did you mean --hand?"),
        ("plan mill-verse --jsno", "did you mean --json?"),
        ("plan mill-verse -json", "did you mean --json?"),
        ("play --tepmo=60", "did you mean --tempo?"),
        ("plan mill-verse --port x", "plan has no option '--port', but setup, play, listen and calibrate have"),
        ("plan mill-verse --bundle x.zip", "plan has no option '--bundle', but export has"),
        ("plan mill-verse --zzz", "plan has no option '--zzz'; all of them: widehand help plan"),
        ("plan mill-verse low-tide", "'low-tide' is one word too many"),
        ("--json plan mill-verse", "--json comes after the command, such as: widehand plan ... --json"),
        ("--fast", "--fast goes with a command, such as: widehand demo --fast"),
        ("--vresion", "there is no option '--vresion'; did you mean --version?"),
        ("drills shwo mill-verse", "there is no 'shwo'; did you mean show?"),
        ("completion bsh", "did you mean bash?"),
        ("demo --pickup-errors awful", "--pickup-errors: there is no 'awful'; there are none, typical and hard"),
        ("plan", "which drill? Such as: widehand plan mill-verse"),
        ("plan mill-verse --capo", "--capo wants a value after it"),
        ("plan mill-verse --json=3", "--json takes no value"),
        ("demo --tempo 60 --own-pace", "--own-pace and --tempo do not go together"),
        ("\x1b[31mplan", "there is no command '\\x1b[31mplan'"),
        ("plan mill-verse --\x1b[31mhand", "plan has no option '--\\x1b[31mhand'"),
        ("p" * 5000, "..."),
        ("plan mill-verse --" + "h" * 5000, "..."),
    ],
)
def test_what_was_meant_is_said(line: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One line that says what is wrong and what to try, exit code 2; nothing on standard output."""
    code, out, err = run(capsys, *line.split(" "))
    assert (code, out) == (2, "")
    assert said in err
    assert err.startswith("widehand")
    assert err.count("\n") == 1
    assert len(err) < 500
    assert err[:-1].isprintable()
