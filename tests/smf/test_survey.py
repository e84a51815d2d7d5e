"""A file is looked through by the thousand messages exactly as it would be one by one."""

from __future__ import annotations

from unittest.mock import patch

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.smf.survey import Survey, _Look, read_vlq, survey
from listener.smf.writing import header_chunk, vlq


def file(body: bytes) -> bytes:
    """One track of these bytes, another chunk after it."""
    return header_chunk(0, 1, 480) + b"MTrk" + len(body).to_bytes(4) + body + b"\x81\x81\x81\x01\x90\x3c\x40"


def looked(data: bytes) -> Survey | str:
    """What is found, or what is said against it."""
    try:
        return survey(data, "x")
    except SourceError as error:
        return str(error)


#: Bytes as they stand in tracks, and such as do not belong there.
_piece = st.sampled_from(
    [bytes.fromhex(text) for text in (
        "10 90 3C 40", "00 3C 00", "81 00 80 3C 40", "10 C0 05", "00 06", "81 81 81 01 E0 00 40", "05 D1 07",
        "00 FF 01 02 41 42", "00 FF 51 03 07 A1 20", "00 F0 02 01 F7", "00 F7 01 FA", "00 FF 2F 00", "00 B0 07",
        "90", "FF", "00", "F8", "81 81 81 81 01", "00 FF 01 05 41", "00 A0 3C 90",
    )]
)  # fmt: skip


@settings(max_examples=examples(400))
@given(st.lists(_piece, max_size=12), st.integers(0, 3))
def test_runs_of_messages_are_checked_as_single_ones_are(pieces: list[bytes], repeats: int) -> None:
    """With and without the regular expressions: the same tracks, the same words against what is damaged."""
    data = file(b"".join(pieces) * (repeats + 1))
    found = looked(data)
    with patch.object(_Look, "_run", return_value=None):
        assert looked(data) == found


@given(st.binary(max_size=200))
def test_any_bytes_are_checked_alike(noise: bytes) -> None:
    """Noise as a track."""
    data = file(b"\x01" + noise)
    found = looked(data)
    with patch.object(_Look, "_run", return_value=None):
        assert looked(data) == found


def test_a_long_run_is_gone_through_to_its_end() -> None:
    """More messages than one pattern takes at once; the fault at the very end is found."""
    run = b"\x10\x90\x3c\x40" + b"\x10\x3c\x00\x81\x00\x3c\x40" * 9_000
    found = survey(file(run), "x")
    assert found.spans == ((22, 22 + len(run)),)
    with pytest.raises(SourceError, match=f"a status byte where data should be, at byte {len(run) + 2}"):
        survey(file(run + b"\x00\x90\x3c\x90"), "x")


@pytest.mark.parametrize("value", [0, 127, 128, 16_383, 16_384, 2_097_152, 0x0FFF_FFFF])
def test_numbers_end_where_the_track_ends(value: int) -> None:
    """A number is whole or cut off, whatever follows the track."""
    data = vlq(value)
    assert read_vlq(data + b"\xff", 0, len(data)) == (value, len(data))
    for end in range(len(data)):
        with pytest.raises(IndexError):
            read_vlq(data, 0, end)


def test_what_is_said_at_the_start_is_kept() -> None:
    """Texts of tick 0 are openings, later ones are not; the kinds of meta events are known."""
    body = b"\x00\xff\x01\x02hi\x00\xc0\x05\x00\xff\x01\x02ho\x01\xff\x01\x02no\x00\xff\x06\x01m"
    found = survey(file(body), "x")
    assert found.openings == (b"hi", b"ho")
    assert found.metas == {1, 6}
