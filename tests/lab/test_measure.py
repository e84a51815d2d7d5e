"""``lab.measure`` says the same whatever the number of processes, and one line when it is asked for what is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from lab.measure import main
from lab.page import REPORT_SEED, TUNING_SEEDS

_FEW = ("--ways", "own pace: clean; click: one", "--drills", "far-shore; boat-builders")


def test_workers_change_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    main((*_FEW, "--seeds", "2", "--list", "9"))
    alone = capsys.readouterr().out
    main((*_FEW, "--seeds", "2", "--list", "9", "--workers", "2"))
    assert capsys.readouterr().out == alone
    assert "| own pace: clean | 4 | 40 |" in alone
    assert "| click: one stroke a chord | 4 | 40 |" in alone
    assert "| **all** | 8 | 80 |" in alone


def test_rows_by_drill(capsys: pytest.CaptureFixture[str]) -> None:
    main((*_FEW, "--by", "drill", "--errors", "typical"))
    out = capsys.readouterr().out
    assert "| far-shore | 2 | 16 |" in out
    assert "| boat-builders | 2 | 24 |" in out
    assert "right, told" in out


def test_the_page_says_which_seeds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "page.md"
    main((*_FEW, "--first-seed", str(REPORT_SEED), "--page", str(page)))
    text = page.read_text(encoding="utf-8")
    assert f"seeds {REPORT_SEED} to {REPORT_SEED}" in " ".join(text.split())
    assert "no report" not in text
    main((*_FEW, "--first-seed", "7", "--page", str(page)))
    assert "tuning seeds: no report" in page.read_text(encoding="utf-8")
    assert REPORT_SEED not in TUNING_SEEDS
    capsys.readouterr()


def test_one_take_is_shown_note_by_note(capsys: pytest.CaptureFixture[str]) -> None:
    main(("--show", "own pace: clean", "far-shore", "3"))
    out = capsys.readouterr().out
    assert out.count("-- step") == out.count("=> step") == 8
    assert "chord (7)" in out


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("--ways", "sideways"), "there is no way 'sideways'"),
        (("--drills", "no-such-drill"), "there is no drill 'no-such-drill'"),
        (("--ways", ""), "there is no way ''"),
        (("--seeds", "0"), "--seeds and --workers take a number above 0"),
        (("--workers", "-1"), "--seeds and --workers take a number above 0"),
        (("--list", "-1"), "--list and --first-seed one from 0"),
        (("--first-seed", "-3"), "--list and --first-seed one from 0"),
        (("--pickup", "telepathy"), "there is no pickup profile 'telepathy'"),
        (("--show", "own pace: clean", "far-shore", "x"), "a seed is a number, not 'x'"),
        (("--show", "nothing", "far-shore", "1"), "there is no way 'nothing'"),
        (("--errors", "awful"), "invalid choice: 'awful'"),
        (("--page", "/", *_FEW), "cannot be written"),
        (("--page", "/no/such/folder/page.md", *_FEW), "cannot be written"),
    ],
)
def test_what_is_not_there_is_said(arguments: tuple[str, ...], line: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert line in capsys.readouterr().err
