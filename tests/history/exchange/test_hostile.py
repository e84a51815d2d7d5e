"""Bundles from people who mean harm, and from disks that fail: one clear line each, nothing written, no traceback."""

from __future__ import annotations

import io
import json
import stat
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.cli import main
from listener.errors import SourceError
from listener.history.exchange import archive
from listener.history.exchange.bundle import MOST_ENTRIES, Bundle
from listener.history.exchange.students import judged_again, students_of
from listener.history.exchange.unpacking import unpack

Entries = dict[str, bytes]
INDEX = "index.json"
ABOUT = "takes/0001-mill-verse.json"
MIDI = "takes/0001-mill-verse.mid"
ROUTE = "routes/0001-mill-verse.json"
DRILL = "drills/quay-steps.toml"


def edited(name: str, *path: str | int, value: object) -> Callable[[Entries], Entries]:
    """Another value at a place of a JSON entry."""

    def change(entries: Entries) -> Entries:
        document = json.loads(entries[name])
        part = document
        for key in path[:-1]:
            part = part[key]
        part[path[-1]] = value
        return {**entries, name: json.dumps(document).encode()}

    return change


def replaced(name: str, old: bytes, new: bytes) -> Callable[[Entries], Entries]:
    """Other bytes in an entry."""

    def change(entries: Entries) -> Entries:
        assert old in entries[name]
        return {**entries, name: entries[name].replace(old, new, 1)}

    return change


def put(name: str, data: bytes) -> Callable[[Entries], Entries]:
    """Another entry, or another content."""
    return lambda entries: {**entries, name: data}


def without(name: str) -> Callable[[Entries], Entries]:
    """One entry less."""
    return lambda entries: {key: data for key, data in entries.items() if key != name}


def midi(events: bytes, division: int = 480) -> bytes:
    """A Standard MIDI File of one track with these events."""
    return b"MThd" + struct.pack(">IHHH", 6, 0, 1, division) + b"MTrk" + struct.pack(">I", len(events)) + events


def headed(**changes: Any) -> bytes:
    """A take whose header has these values."""
    row = {"take_format": 1, "drill": "mill-verse", "pace": "click", "tempo": 60.0}
    row |= {"first_beat_s": 1.0, "pickup": "single"}
    text = json.dumps({**row, **changes}).encode()
    length = bytes([0x80 | len(text) >> 7, len(text) & 0x7F])
    return midi(b"\x00\xff\x01" + length + text + b"\x00\x90\x3c\x40\x60\x80\x3c\x00\x00\xff\x2f\x00")


LONG_TAKE = midi(b"\x00\xff\x51\x03\xff\xff\xff" + b"\x00\x90\x3c\x40" + b"\xff\xff\xff\x7f\x80\x3c\x00" * 9, 1)
DEEP = b'{"format":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
STEPS = 'exercise = "progression"\nchords = "C | F"\nkind = "spread"\n'
PASSAGE = '[[passage]]\nname = "p"\n' + STEPS
HEAD = 'title = "T"\nabout = "A"\ntopic = "t"\ndifficulty = 1\nkey = "C major"\ntempo = 60\n'

#: What is done to the entries of a good bundle, and a part of the line that must come.
HOSTILE: dict[str, tuple[Callable[[Entries], Entries], str]] = {
    "a path that leads up": (put("../evil.toml", b"x"), "leads out of the bundle"),
    "a path that leads up inside": (put("drills/../../evil.toml", b"x"), "leads out of the bundle"),
    "a path that leads up the other way": (put("drills\\..\\..\\evil.toml", b"x"), "leads out of the bundle"),
    "an absolute path": (put("/etc/widehand.toml", b"x"), "leads out of the bundle"),
    "a drive": (put("C:evil.toml", b"x"), "leads out of the bundle"),
    "a drive with a folder": (put("C:\\evil.toml", b"x"), "leads out of the bundle"),
    "a server": (put("\\\\server\\evil.toml", b"x"), "leads out of the bundle"),
    "a program": (put("drills/run.exe", b"MZ"), "is none that a bundle has"),
    "a zip in the zip": (put("takes/more.zip", b"PK\x03\x04"), "is none that a bundle has"),
    "an entry that steers the terminal": (put("drills/\x1b[2Jx.toml", b"x"), "is none that a bundle has"),
    "a folder of its own": (put("secret/", b""), "is a folder that no bundle has"),
    "an entry that the index does not name": (put("drills/other.toml", b"x = 1"), "is not in the index"),
    "an entry that is not there": (without(MIDI), "is not there"),
    "no index": (without(INDEX), "'index.json' is not there"),
    "an index in another encoding": (put(INDEX, b"\xff\xfe{\x00}\x00"), "is not UTF-8"),
    "an index that is no JSON": (put(INDEX, b"{'format': 1}"), "is not JSON"),
    "an index that is a list": (put(INDEX, b"[]"), "must hold a table"),
    "nesting without end": (put(INDEX, DEEP), "nested"),
    "the same field twice": (put(INDEX, b'{"format": 1, "format": 2}'), "same field stands there twice"),
    "another format": (edited(INDEX, "format", value="something else"), "'format' must be"),
    "a version in words": (edited(INDEX, "version", value="one"), "'version' must be"),
    "a name without end": (edited(INDEX, "student", value="M" * 5000), "'student' must be"),
    "a name that is none": (edited(INDEX, "student", value=["Mara"]), "'student' must be"),
    "takes that are none": (edited(INDEX, "takes", value={"a": 1}), "'takes' must be"),
    "a take that is none": (edited(INDEX, "takes", 0, value=7), "takes 1 must be a table"),
    "the same take twice": (edited(INDEX, "takes", 1, "midi", value=MIDI), "is named twice"),
    "a take's file that is the index": (edited(INDEX, "takes", 0, "midi", value=INDEX), "'midi' must be"),
    "a take's file elsewhere": (edited(INDEX, "takes", 0, "midi", value="../../x.mid"), "'midi' must be"),
    "no number": (replaced(ABOUT, b'"tempo": 63.0', b'"tempo": NaN'), "NaN is not a number"),
    "no end": (replaced(ABOUT, b'"tempo": 63.0', b'"tempo": -Infinity'), "-Infinity is not a number"),
    "a number beyond all bounds": (replaced(ABOUT, b'"tempo": 63.0', b'"tempo": 1e999'), "beyond all bounds"),
    "a number of thousand digits": (replaced(ABOUT, b'"tempo": 63.0', b'"tempo": ' + b"9" * 1000), "1000 digits"),
    "a tempo of a thousand million": (edited(ABOUT, "tempo", value=1e9), "'tempo' must be a number from"),
    "true instead of a number": (edited(ABOUT, "capo", value=True), "'capo' must be a whole number"),
    "a step beyond the drill": (edited(ABOUT, "verdicts", 0, "step", value=10**15), "'step' must be"),
    "a grade that is none": (edited(ABOUT, "verdicts", 0, "grade", value="great"), "'grade' must be one of"),
    "notes beyond MIDI": (edited(ABOUT, "verdicts", 0, "heard", value=[60, 200]), "'heard' must be"),
    "notes without end": (edited(ABOUT, "verdicts", 0, "heard", value=[60] * 100_000), "'heard' must be"),
    "a movement in words": (edited(ABOUT, "verdicts", 1, "movement", value="far"), "movement must be a table"),
    "verdicts without end": (edited(ABOUT, "verdicts", value=[{}] * 50_000), "'verdicts' must be a list of up to"),
    "a date that is none": (edited(ABOUT, "started_at", value="yesterday"), "'started_at' must be a date"),
    "a date without a zone": (edited(ABOUT, "started_at", value="2031-05-06T07:08:09"), "'started_at' must be"),
    "a date before all dates": (
        edited(ABOUT, "sitting", value="0001-01-01T00:00:00+23:59"),
        "'sitting' must be a date",
    ),
    "a scale length beyond the room": (edited(ABOUT, "instrument", "scale_mm", value=1e300), "'scale_mm' must be"),
    "a string that is none": (
        edited(ABOUT, "instrument", "open_pitches", value=["H9"] * 6),
        "H9",
    ),
    "a hand with a million fingers": (edited(ABOUT, "hand_model", "reach_mm", value=[80] * 10**5), "'reach_mm'"),
    "a pickup on channel 99": (edited(ABOUT, "pickup_profile", "channels", value=[99]), "'channels' must be"),
    "a plan of ten thousand steps": (edited(ROUTE, "steps", value=[{}] * 10_000), "'steps' must be a list of up to"),
    "a plan out of order": (edited(ROUTE, "steps", 0, "index", value=5), "'index' must be 0"),
    "pitches in a plan that are words": (edited(ROUTE, "steps", 0, "pitches", value=["C4"]), "'pitches' must be"),
    "a plan without a fret for a note": (edited(ROUTE, "steps", 0, "frets", value=[]), "as many as strings"),
    "a barre of something else": (
        edited(ROUTE, "steps", 0, "barre", value={"finger": 1, "fret": 2, "from_string": 6, "to_string": 1, "x": 0}),
        "that no barre has",
    ),
    "a plan whose tempo is a text": (edited(ROUTE, "tempo", value="fast"), "'tempo' must be a number"),
    "a plan without end to its beats": (edited(ROUTE, "steps", 0, "beats", value=1e300), "'beats' must be a number"),
    "a plan whose beats are null": (edited(ROUTE, "steps", 0, "beats", value=None), "'beats' must be a number"),
    "a plan in bars of nothing": (edited(ROUTE, "meter", value=[0, 4]), "'meter' must be a whole number"),
    "a plan on no string": (edited(ROUTE, "tuning", value=[None]), "'tuning' must be a list of texts"),
    "a plan on strings that are lists": (edited(ROUTE, "tuning", value=[[], []]), "'tuning' must be a list of texts"),
    "a plan whose title is a table": (edited(ROUTE, "title", value={}), "'title' must be a text"),
    "a plan's way back in words": (edited(ROUTE, "way_back", value="home"), "way_back must be a table"),
    "a pattern that is a list": (edited(ROUTE, "steps", 0, "pattern", value=[1]), "pattern must be a table"),
    "a chord without a kind": (edited(ROUTE, "steps", 0, "kind", value=""), "'kind' must be a text of 1"),
    "a take of the year 3000": (
        edited(ABOUT, "finished_at", value="3000-01-01T00:00:00+00:00"),
        "'finished_at' must be a date",
    ),
    "MIDI that is none": (put(MIDI, b"RIFF"), "not a Standard MIDI File"),
    "MIDI with a track longer than the file": (
        put(MIDI, b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk\xff\xff\xff\xff"),
        "is cut off in track 1",
    ),
    "MIDI with an event longer than the track": (put(MIDI, midi(b"\x00\xff\x01\xff\xff\xff\x7f")), "is cut off in"),
    "MIDI that lasts for years": (put(MIDI, LONG_TAKE), "lasts longer than a day"),
    "a marker that steers the terminal": (
        put(MIDI, midi(b"\x00\xff\x06\x05\x1b[31m\x00\x90\x3c\x40\x60\x80\x3c\x00\x00\xff\x2f\x00")),
        "has a marker that no take has",
    ),
    "a take's header beyond all bounds": (put(MIDI, headed(tempo=10**400)), "header is damaged"),
    "a take's header of another type": (put(MIDI, headed(capo=[1])), "capo must be"),
    "a take's header that steers the terminal": (
        put(MIDI, headed(pickup="\x1b]0;x\x07")),
        "'pickup' must be a text without control",
    ),
    "a drill in another encoding": (put(DRILL, "Häuser".encode("latin-1")), "is not UTF-8"),
    "a drill that is no TOML": (put(DRILL, b"= = ="), "is not TOML"),
    "a drill that is no drill": (put(DRILL, b"x = 1\n"), "drills/quay-steps.toml"),
    "a drill of a million steps": (put(DRILL, (HEAD + PASSAGE * 12_000).encode()), "more than"),
    "a drill with a number of a million digits": (put(DRILL, b"x = " + b"9" * 900_000), "is not TOML"),
    "a drill nested without end": (put(DRILL, b"x = " + b"[" * 100_000), "is not TOML"),
    "a drill whose title steers the terminal": (
        put(DRILL, (HEAD.replace('"T"', '"\\u001b[2J"') + PASSAGE).encode()),
        "control characters",
    ),
    "a drill whose title is turned round": (
        put(DRILL, (HEAD.replace('"T"', '"\u202egnp.exe"') + PASSAGE).encode()),
        "control characters",
    ),
    "a drill without a name": (edited(INDEX, "drills", 1, "name", value=""), "'name' must be"),
    "a drill that is a take": (edited(INDEX, "drills", 1, "file", value=MIDI), "'file' must be"),
    "a route to nowhere": (edited(INDEX, "takes", 0, "route", value="routes/none.json"), "'route' must be"),
    "a plan's drill from nowhere": (edited(INDEX, "routes", 0, "drill", value="drills/no.toml"), "'drill' must be"),
}


@pytest.mark.parametrize("story", HOSTILE)
def test_hostile_entries_are_refused_in_one_line(
    story: str, mara: bytes, entries: Callable[[bytes], Entries], zipped: Callable[[Entries], bytes]
) -> None:
    """Whatever an entry holds, the line says which entry it is and what is wrong with it."""
    change, part = HOSTILE[story]
    with pytest.raises(SourceError) as caught:
        unpack(zipped(change(entries(mara))), "b.zip")
    line = str(caught.value)
    assert part in line
    assert line.startswith("b.zip")
    assert line.isprintable()
    assert len(line) < 400


def bomb(size: int) -> bytes:
    """An entry that unpacks to a thousand times its size."""
    return b" " * size


def zip_of(data: bytes, **fields: Any) -> bytes:
    """A zip of an index whose entry has these fields."""
    out = io.BytesIO()
    info = zipfile.ZipInfo(INDEX)
    info.compress_type = zipfile.ZIP_DEFLATED
    for name, value in fields.items():
        setattr(info, name, value)
    with zipfile.ZipFile(out, "w") as file:
        file.writestr(info, data)
    return out.getvalue()


def patched(data: bytes, place: int, value: bytes) -> bytes:
    """The zip's central entry with other bytes at an offset (APPNOTE 4.3.12)."""
    start = data.rindex(b"PK\x01\x02") + place
    return data[:start] + value + data[start + len(value) :]


def many(count: int) -> bytes:
    """A zip of so many empty entries."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        for number in range(count):
            file.writestr(f"takes/{number:06d}-x.mid", b"")
    return out.getvalue()


def twice() -> bytes:
    """A zip with two entries of one name."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as file:
        file.writestr(INDEX, b"{}")
        with pytest.warns(UserWarning, match="Duplicate"):
            file.writestr(INDEX, b"{}")
    return out.getvalue()


def test_hostile_zips_are_refused_in_one_line(mara: bytes) -> None:
    """Bombs by ratio, size and count, links, locks, unknown methods, lies about sizes, doubled and cut entries."""
    link = (stat.S_IFLNK | 0o777) << 16
    device = (stat.S_IFCHR | 0o666) << 16
    stories = [
        (b"", "is not a zip file"),
        (b"PK\x03\x04", "damaged or cut off"),
        (b"not a zip at all", "is not a zip file"),
        (mara[:-30], "damaged or cut off"),
        (mara[: len(mara) // 2], "damaged or cut off"),
        (b"#!/bin/sh\n" + mara, "is not a zip file"),
        (zip_of(bomb(7_000_000)), "more than 200 times its size"),
        (zip_of(bomb(20_000_000)), "unpacks to more than 8 MB"),
        (patched(zip_of(b"{}"), 24, struct.pack("<I", 0xFFFFFFF0)), "unpacks to more than"),
        (patched(zip_of(b"{}" * 100), 24, struct.pack("<I", 7)), "damaged or cut off"),
        (patched(zip_of(b"{}"), 24, struct.pack("<I", 5000)), "b.zip"),
        (patched(zip_of(b"{}"), 16, b"\0\0\0\0"), "damaged"),
        (patched(zip_of(b"{}"), 8, b"\x01\x00"), "locked with a password"),
        (patched(zip_of(b"{}"), 10, b"\x0e\x00"), "packed in a way"),
        (patched(zip_of(b"{}"), 42, struct.pack("<I", 10**9)), "damaged or cut off"),
        (zip_of(b"/etc/passwd", create_system=3, external_attr=link), "is a link or a device"),
        (zip_of(b"{}", create_system=3, external_attr=device), "is a link or a device"),
        (many(MOST_ENTRIES + 1), "more than 12,000 entries"),
        (many(2 * MOST_ENTRIES + 1), "more than 12,000 entries"),
        (twice(), "has two entries called 'index.json'"),
    ]
    for number, (data, part) in enumerate(stories):
        with pytest.raises(SourceError) as caught:
            unpack(data, "b.zip")
        assert part in str(caught.value), (number, str(caught.value))
        assert str(caught.value).startswith("b.zip")


def test_a_bomb_of_many_entries_is_refused(monkeypatch: pytest.MonkeyPatch, mara: bytes) -> None:
    """Each entry within its bounds, all together beyond them."""
    monkeypatch.setattr(archive, "MOST_TOTAL_BYTES", 20_000)
    with pytest.raises(SourceError, match="unpacks to more than"):
        unpack(mara, "b.zip")


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch, mara: bytes) -> None:
    """Before it is looked at."""
    monkeypatch.setattr(archive, "MOST_FILE_BYTES", 100)
    with pytest.raises(SourceError, match="is larger than"):
        unpack(mara, "b.zip")


def test_bits_that_fell_over_are_found(mara: bytes) -> None:
    """A byte changed anywhere in the packed entries is noticed (CRC), or changes nothing."""
    good = unpack(mara, "b.zip")
    end = mara.index(b"PK\x01\x02")
    for place in range(0, end, 97):
        damaged = mara[:place] + bytes([mara[place] ^ 0x10]) + mara[place + 1 :]
        assert read_fully(damaged) in (None, good)


def read_fully(data: bytes) -> Bundle | None:
    """As import and students do it: read, sum up, judge again."""
    refused = ""
    try:
        bundle = unpack(data, "b.zip")
    except SourceError as error:
        refused = str(error)
    if refused:
        assert refused.isprintable()
        assert refused.startswith("b.zip")
        return None
    for student in students_of([("b.zip", bundle)]):
        assert student.account.judged >= 0
        assert student.progress.as_json()
        assert student.minutes >= 0
        judged_again(student)
    return bundle


@settings(max_examples=150)
@given(data=st.data())
def test_mutated_bytes_never_crash(data: st.DataObject, mara: bytes) -> None:
    """Bytes of the file overwritten, cut out, doubled: refused in a line, or read."""
    mutated = bytearray(mara)
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, max(0, len(mutated) - 1)))
        piece = data.draw(st.binary(max_size=12))
        mutated[place : place + data.draw(st.integers(0, 12))] = piece
    read_fully(bytes(mutated))


LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.sampled_from([0, 1, 2, 15, 16, 127, 128, -1, 60, 1e9, 0.5]),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=20),
    st.lists(st.integers(-200, 200), max_size=4),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=2),
)


def mutated_values(data: st.DataObject, found: Entries) -> Entries:
    """One or two values of a JSON entry replaced or taken away."""
    name = data.draw(st.sampled_from([INDEX, ABOUT, ROUTE]))
    document = json.loads(found[name])
    for _ in range(data.draw(st.integers(1, 2))):
        part = document
        while True:
            keys = list(part) if isinstance(part, dict) else list(range(len(part)))
            if not keys:
                break
            key = data.draw(st.sampled_from(keys))
            if isinstance(part[key], dict | list) and part[key] and data.draw(st.booleans()):
                part = part[key]
                continue
            if data.draw(st.booleans()):
                part[key] = data.draw(LEAVES)
            else:
                del part[key]
            break
    return {**found, name: json.dumps(document).encode()}


@settings(max_examples=60)
@given(data=st.data())
def test_mutated_values_never_crash(
    data: st.DataObject, mara: bytes, entries: Callable[[bytes], Entries], zipped: Callable[[Entries], bytes]
) -> None:
    """Any value of any JSON entry replaced or taken away: refused in a line, or read, summed up and judged again."""
    read_fully(zipped(mutated_values(data, entries(mara))))


@pytest.mark.slow
@settings(max_examples=500)
@given(data=st.data())
def test_many_mutated_values_never_crash(
    data: st.DataObject, mara: bytes, entries: Callable[[bytes], Entries], zipped: Callable[[Entries], bytes]
) -> None:
    """The same, many times."""
    read_fully(zipped(mutated_values(data, entries(mara))))


@settings(max_examples=60)
@given(data=st.data())
def test_mutated_midi_never_crashes(
    data: st.DataObject, mara: bytes, entries: Callable[[bytes], Entries], zipped: Callable[[Entries], bytes]
) -> None:
    """A raw take with other bytes in it: refused in a line, or judged again as what it is now."""
    found = entries(mara)
    raw = bytearray(found[MIDI])
    for _ in range(data.draw(st.integers(1, 3))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    read_fully(zipped({**found, MIDI: bytes(raw)}))


def everything(folder: Path) -> dict[str, bytes]:
    return {str(file.relative_to(folder)): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


@pytest.mark.parametrize(
    "story", ["a path that leads up", "no number", "a drill of a million steps", "MIDI that is none"]
)
def test_a_refused_import_changes_nothing(
    story: str,
    mara: bytes,
    entries: Callable[[bytes], Entries],
    zipped: Callable[[Entries], bytes],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Not a file more or less, in the history, in the drills or anywhere beside; also when another file was good."""
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "home" / "drills"))
    store = tmp_path / "home" / "history.sqlite3"
    (tmp_path / "good.zip").write_bytes(mara)
    assert main(["import", "--store", str(store), str(tmp_path / "good.zip")]) == 0
    change, part = HOSTILE[story]
    (tmp_path / "bad.zip").write_bytes(zipped(change(entries(mara))))
    before = everything(tmp_path)
    capsys.readouterr()
    files = [str(tmp_path / "good.zip"), str(tmp_path / "bad.zip")]
    assert main(["import", "--mine", "--store", str(store), *files]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert part in err
    assert [line.startswith("widehand: ") for line in err.splitlines()] == [True, True]
    assert err.splitlines()[1] == "widehand: nothing was imported"
    assert everything(tmp_path) == before
