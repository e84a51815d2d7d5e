"""A drill's text with its melody inside is the whole drill."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill_file import load_drill, read_drill
from listener.drill.reading.attached import MOST_BYTES, with_attached
from listener.errors import DrillError

#: Two quarter notes, E4 and G4, format 0, division 96: written out by hand after the Standard MIDI File 1.0.
TUNE = bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B 00000014 00904064 60804000 00904364 60804300 00FF2F00")
DRILL = 'title = "T"\nkey = "C major"\n[[passage]]\nchords = "C . . ."\nkind = "close"\nmelody = "tune.mid"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "tune.mid").write_bytes(TUNE)
    (tmp_path / "drill.toml").write_text(DRILL, encoding="utf-8")
    return tmp_path


def test_the_text_alone_gives_the_same_steps(folder: Path) -> None:
    """Loaded from its folder, then read again from its text with nothing beside it."""
    drill = load_drill(str(folder / "drill.toml"))
    (folder / "tune.mid").unlink()
    again = read_drill(drill.text, drill.name)
    assert again == drill
    assert [str(step.wish.top.pitch) for step in again.steps][:2] == ["E4", "G4"]
    assert read_drill(again.text, again.name).text == again.text


def test_a_drill_without_a_melody_keeps_its_text(folder: Path) -> None:
    """Nothing is added where nothing was read."""
    plain = DRILL.replace('melody = "tune.mid"\n', "")
    (folder / "drill.toml").write_text(plain, encoding="utf-8")
    assert load_drill(str(folder / "drill.toml")).text == plain


@pytest.mark.parametrize(
    ("table", "part"),
    [
        ('[attached]\n"tune.mid" = "###"', "line 8: the attached file 'tune.mid' is damaged"),
        ('[attached]\n"tune.mid" = 5', "line 8: the attached file 'tune.mid' is damaged"),
        ('[attached]\n"other.mid" = "TVRo"', "there is no such file in this drill"),
        ('[attached]\n"tune.mid" = "TVRo"', "tune.mid"),
    ],
)
def test_damaged_attachments_are_told(table: str, part: str) -> None:
    """Each with its line; no traceback."""
    with pytest.raises(DrillError) as caught:
        read_drill(DRILL + table + "\n", "t")
    assert part in str(caught.value)


def test_attached_must_be_a_table() -> None:
    """A text in its place is a fault like any other."""
    with pytest.raises(DrillError, match="'attached' must be a table"):
        read_drill('attached = "x"\n' + DRILL, "t")


def test_what_is_too_large_stays_outside() -> None:
    """A text must remain quick to read."""
    assert with_attached(DRILL, {"tune.mid": bytes(MOST_BYTES + 1)}) == DRILL


@given(st.dictionaries(st.text(min_size=1, max_size=12), st.binary(max_size=60), max_size=3))
def test_any_name_and_content_survive(files: dict[str, bytes]) -> None:
    """Whatever a file is called, the text stays TOML and holds the same bytes."""
    import tomllib
    from base64 import b64decode

    usual = {name: data for name, data in files.items() if not any("\ud800" <= char <= "\udfff" for char in name)}
    table = tomllib.loads(with_attached("a = 1\n", usual)).get("attached", {})
    assert {name: b64decode(text) for name, text in table.items()} == usual
