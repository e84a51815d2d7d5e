"""What was measured is kept for each port and profile, and is in the profile that a take is played with."""

from __future__ import annotations

from pathlib import Path

import pytest

from listener.errors import StoreError
from listener.hearing.pickup import make_pickup
from listener.history.calibration import KnownDelay, calibration_place, keep_delay, known_delay, with_known_delay

PORT, OTHER = "Guitar:Guitar MIDI 1 20:0", "Keys:Keys 24:0"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "calibration.json"


def test_what_is_kept_is_found_again(place: Path) -> None:
    """By port and profile; the port's numbers and what the profile's name had of older measurements do not matter."""
    delay = KnownDelay(PORT, "per-string delay 1 lag 2", 2.31, 2.0, 2.6, measured="2031-05-01T10:00:00+00:00")
    assert known_delay(PORT, "per-string", place) is None
    assert keep_delay(delay, place) == place
    found = known_delay("Guitar:Guitar MIDI 1 28:0", "Per-String", place)
    assert found is not None
    assert (found.delay_periods, found.profile) == (2.31, "per-string")
    assert known_delay(OTHER, "per-string", place) is None
    assert known_delay(PORT, "per-string from 3", place) is None


def test_measurements_add_up(place: Path) -> None:
    """The round trip and the plucks are measured apart; a new one replaces its own kind only."""
    keep_delay(KnownDelay(PORT, "single", round_trip_ms=7.5, jitter_ms=0.2, measured="a"), place)
    keep_delay(KnownDelay(OTHER, "single", round_trip_ms=1.0, measured="a"), place)
    keep_delay(KnownDelay(PORT, "single", 2.3, 2.0, 2.5, measured="b"), place)
    assert known_delay(PORT, "single", place) == KnownDelay(PORT, "single", 2.3, 2.0, 2.5, 7.5, 0.2, "b")
    keep_delay(KnownDelay(PORT, "single", round_trip_ms=8.0, jitter_ms=0.3, measured="c"), place)
    assert known_delay(PORT, "single", place) == KnownDelay(PORT, "single", 2.3, 2.0, 2.5, 8.0, 0.3, "c")
    other = known_delay(OTHER, "single", place)
    assert other is not None
    assert other.round_trip_ms == 1.0
    assert [path.name for path in place.parent.iterdir()] == ["calibration.json"]


def test_a_take_is_played_with_what_was_measured(place: Path) -> None:
    """The whole round trip when the click goes out by MIDI, half without; and the name says it all."""
    pickup = make_pickup("per-string")
    assert with_known_delay(pickup, PORT, click=True, place=place) is pickup
    keep_delay(KnownDelay(PORT, "per-string", 2.31, 2.0, 2.6, 8.0, 0.2), place)
    found = with_known_delay(pickup, PORT, click=True, place=place)
    assert found.name == "per-string delay 2.31 lag 8"
    assert with_known_delay(pickup, PORT, click=False, place=place).name == "per-string delay 2.31 lag 4"
    assert make_pickup(found.name) == found
    stated = make_pickup("per-string delay 1")
    assert with_known_delay(stated, PORT, click=True, place=place) is stated


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "is damaged; delete it"),
        ("[]", "is damaged"),
        ('{"format": 1}', "is damaged"),
        ('{"format": 1, "delays": [{"port": 3, "profile": "single"}]}', "is damaged"),
        ('{"format": 1, "delays": [{"port": "a"}]}', "is damaged"),
        ('{"format": 1, "delays": [{"port": "a", "profile": "single", "delay_periods": "x"}]}', "is damaged"),
        ('{"format": 2, "delays": []}', "newer version"),
    ],
)
def test_a_damaged_file_is_one_clear_line(place: Path, text: str, said: str) -> None:
    """It is not overwritten either."""
    place.parent.mkdir()
    place.write_text(text)
    for ask in (lambda: known_delay(PORT, "single", place), lambda: keep_delay(KnownDelay(PORT, "single"), place)):
        with pytest.raises(StoreError, match=said) as caught:
            ask()
        assert "\n" not in str(caught.value)
    assert place.read_text() == text


def test_a_file_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """The folder's name is taken by a file."""
    (tmp_path / "taken").write_text("")
    with pytest.raises(StoreError):
        keep_delay(KnownDelay(PORT, "single"), tmp_path / "taken" / "calibration.json")


def test_fields_of_later_versions_are_passed_over(place: Path) -> None:
    """As long as the format is known."""
    place.parent.mkdir()
    place.write_text('{"format": 1, "delays": [{"port": "a", "profile": "single", "colour": 3}]}')
    assert known_delay("a", "single", place) == KnownDelay("a", "single")


def test_the_file_lies_beside_the_history(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where WIDEHAND_STORE says, or in the platform's folder; a server's address is no folder."""
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "h.sqlite3"))
    assert calibration_place() == tmp_path / "calibration.json"
    monkeypatch.setenv("WIDEHAND_STORE", "postgresql://studio/widehand")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert calibration_place().name == "calibration.json"
    assert "studio" not in str(calibration_place())
