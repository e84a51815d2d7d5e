"""``widehand docs``: the pages in the terminal."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from printed import run

from listener.cli import main
from listener.commands.way_in.docs import _show, for_terminal, pages

ROOT = Path(__file__).parents[3]


def test_every_page_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """Those in docs/, the README first, the course's and what has changed; each with its title."""
    assert main(["docs"]) == 0
    lines = capsys.readouterr().out.splitlines()
    listed = [line.split()[0] for line in lines[:-1]]
    assert listed[0] == "readme"
    assert set(listed) == {path.stem for path in (ROOT / "docs").glob("*.md")} | {"readme", "drills", "changelog"}
    assert "  hand             The hand, and care for it" in lines


@pytest.mark.parametrize("name", pages())
def test_a_page_is_shown_as_it_is_written(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Piped, or when asked for."""
    assert main(["docs", name, "--plain"]) == 0
    assert capsys.readouterr().out == pages()[name].read_text(encoding="utf-8")


@pytest.mark.parametrize("name", pages())
def test_on_a_terminal_it_is_laid_out(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """No signs of the markup, no pictures, and every link to a page says how to read that."""
    text = pages()[name].read_text(encoding="utf-8")
    shown = for_terminal(text, pages())
    _show(shown)
    out = capsys.readouterr().out
    assert "](" not in out
    assert ".svg)" not in out
    assert max(map(len, out.splitlines())) <= 100
    linked = {"drills" if "drills/" in target else Path(target).stem for target in re.findall(r"\]\((\S+?\.md)", text)}
    assert {f"widehand docs {page}" for page in linked & set(pages())} <= set(
        re.findall(r"widehand docs [\w-]+", shown)
    )


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("verdict",), "there is no page verdict; did you mean verdicts?"),
        (("bundel",), "did you mean bundle?"),
        (("xyzzy",), "there is no page xyzzy; all of them: widehand docs"),
        (("../pyproject.toml",), "there is no page"),
        (("/etc/passwd",), "there is no page"),
        (("\x1b[31m",), "there is no page"),
        (("x" * 5000,), "..."),
        (("hand", "ears"), "one word too many"),
        (("hand", "--schema", "plan"), "ask for one of them"),
        (("--schema", "../parts"), "there is no schema"),
        (("--schema", "parts"), "there is no schema"),
        (("--schema", ""), "there are "),
        (("--schema",), "wants a value"),
        (("--json",), "docs has no option '--json'"),
    ],
)
def test_trouble_is_one_clear_line(words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, what is wrong, what to try."""
    code, out, err = run(capsys, "docs", *words)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
    assert err[:-1].isprintable()


@pytest.mark.parametrize("written", ["Hand", "hand.md", "docs/hand.md"])
def test_a_page_by_another_name(written: str, capsys: pytest.CaptureFixture[str]) -> None:
    """As the file is called, or with a capital."""
    assert main(["docs", written]) == 0
    assert capsys.readouterr().out.startswith("# The hand")


def test_where_only_ascii_can_be_shown(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The pages have a few signs; no terminal stumbles over them."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert main(["docs", "hand"]) == 0
    assert capsys.readouterr().out.isascii()
