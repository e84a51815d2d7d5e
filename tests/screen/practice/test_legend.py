"""The page of signs and keys."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from io import StringIO

import pytest
from rich.cells import cell_len

from listener.planning.plan import Plan
from listener.screen.practice.heading import KEYS
from listener.screen.practice.legend import key_rows, legend_view, sign_rows
from listener.screen.practice.plain import PlainScreen
from listener.screen.theme import ASCII, UNICODE, Signs, Theme

#: Signs that draw lines, and those that say what they mean on the spot.
LINES = {"line", "cross", "edge", "left_edge", "nut", "bar", "to", "more", "pressed", "keys"}


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (140, 40), (81, 25), (250, 70)])
@pytest.mark.parametrize("theme", [Theme(), Theme(ascii_only=True), Theme(hues=False)])
def test_the_page_fits_and_is_whole(printed: Callable[..., list[str]], width: int, height: int, theme: Theme) -> None:
    """From 80 x 24 on every sign and every key is there, and no line is cut."""
    lines = printed(legend_view(width, height, theme), width)
    assert [cell_len(line) for line in lines] == [width] * height
    text = "\n".join(lines)
    for sign, said in (*sign_rows(theme), *key_rows(theme)):
        assert f" {sign} " in text
        assert said in text


def test_smaller_pages_leave_out_signs_before_keys(printed: Callable[..., list[str]]) -> None:
    """Who has little room still finds the way back and out."""
    text = "\n".join(printed(legend_view(60, 16, Theme()), 60))
    assert "end; everything" in text
    assert "any key goes back" in text


@pytest.mark.parametrize("signs", [UNICODE, ASCII])
def test_every_sign_is_told(signs: Signs) -> None:
    """All that the screen draws besides lines has a meaning here."""
    told = "".join(sign for sign, _ in sign_rows(Theme(ascii_only=signs is ASCII)))
    for field in fields(signs):
        if field.name not in LINES:
            assert getattr(signs, field.name) in told, field.name


@pytest.mark.parametrize("ascii_only", [False, True])
def test_no_sign_has_two_meanings(ascii_only: bool) -> None:
    """Signs that stand alone are told once, those of the neck (an open string, a silent one) among them."""
    alone = [sign for told, _ in sign_rows(Theme(ascii_only=ascii_only)) for sign in told.split() if len(sign) == 1]
    assert {"o", "x"} < set(alone)
    assert len(set(alone)) == len(alone), alone


def test_plain_lines_tell_the_keys(verse: Plan) -> None:
    """One line for each key, in ASCII."""
    stream = StringIO()
    screen = PlainScreen(stream)
    assert screen.turn("signs")
    assert screen.turn("more")
    assert not screen.turn("pause")
    assert len(stream.getvalue().splitlines()) == len(KEYS)
    assert stream.getvalue().isascii()
