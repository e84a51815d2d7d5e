"""A bundle holds what was kept, is the same file every time, and is laid out as docs/bundle.md says."""

from __future__ import annotations

import dataclasses
import io
import json
import re
import tomllib
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

import listener
from listener.drill.drill_file import read_drill
from listener.errors import SourceError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import CLICK, Mark, Take, TakeHeader, read_take, take_bytes
from listener.history.exchange.bundle import (
    MOST_BYTES,
    MOST_ENTRIES,
    MOST_FILE_BYTES,
    MOST_RATIO,
    MOST_TAKES,
    MOST_TOTAL_BYTES,
    Bundle,
    BundledDrill,
    BundledTake,
)
from listener.history.exchange.packing import pack
from listener.history.exchange.selecting import bundle_of, packed, selected
from listener.history.exchange.unpacking import unpack
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement
from listener.planning.planner import plan_drill

DOCS = Path(listener.__file__).parent.parent / "docs" / "bundle.md"
TEXT = """\
title = "Quay steps"
about = "Two chords, up and down the quay."
topic = "spread triads"
difficulty = 1
key = "C major"
tempo = 60

[[passage]]
name = "up"
exercise = "progression"
chords = "C | F"
kind = "spread"
"""
BEGAN = datetime(2031, 5, 6, 18, 30, tzinfo=UTC)


def documented() -> Bundle:
    """The bundle that the page shows: Ilse Brook's only take, one chord of it."""
    plan = plan_drill(read_drill(TEXT, "quay-steps"), make_instrument(), make_hand())
    header = TakeHeader(
        drill="quay-steps", pace=CLICK, tempo=60.0, first_beat_s=4.0, pickup="single", made_by="widehand 0.1.0"
    )
    info = dataclasses.replace(
        TakeInfo.of(
            plan,
            session=1,
            pickup="single",
            pace=CLICK,
            source="guitar",
            started_at=BEGAN + timedelta(seconds=2),
            tempo=60.0,
            first_beat_s=4.0,
            header=header,
        ),
        hand_model=Hand("medium", (75.6, 90.0, 90.0, 62.1, 75.6, 62.1)),
        pickup_profile=Pickup("single", "all strings on one channel", (1,), False),
        program_version="0.1.0",
    )
    heard = (52, 60, 67)
    notes = tuple(Message(4.0, (0x90, pitch, 80)) for pitch in heard)
    verdict = Verdict(
        step=0,
        attempt=1,
        grade="near",
        faults=(Fault("late", "late by 124 ms", ms=124.0),),
        heard=heard,
        held=(),
        onset_s=4.124,
        spread_ms=12.5,
        offset_ms=124.0,
        movement=movement(heard, heard),
        least=0,
        movement_score=100.0,
    )
    take = BundledTake(
        info=info,
        sitting=BEGAN,
        finished_at=BEGAN + timedelta(seconds=14),
        recovered=False,
        judged_by="0.1.0",
        midi=take_bytes(Take(notes, (Mark(9.0, "end"),), header)),
        verdicts=(verdict,),
    )
    return Bundle("Ilse Brook", "widehand 0.1.0", (BundledDrill("quay-steps", TEXT, True),), (take,))


def blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)


def test_the_documented_example_is_what_is_written() -> None:
    """The page's list of entries, its index, its take and its drill are the program's own, letter for letter."""
    with zipfile.ZipFile(io.BytesIO(pack(documented()))) as archive:
        written = {name: archive.read(name).decode(errors="replace") for name in archive.namelist()}
    assert [line.split()[0] for line in blocks("text")[0].splitlines()] == list(written)
    index, about = blocks("json")
    assert index == written["index.json"]
    assert about == written["takes/0001-quay-steps.json"]
    assert blocks("toml") == [written["drills/quay-steps.toml"]]
    assert unpack(pack(documented()), "the page") == dataclasses.replace(
        documented(), takes=tuple(_without_session(take) for take in documented().takes)
    )


def test_every_field_is_on_the_page() -> None:
    """Whatever stands in the index or with a take is explained there by name."""
    page = DOCS.read_text(encoding="utf-8")
    index, about = map(json.loads, blocks("json"))
    names = {*index, *about, *(name for key in ("drills", "routes", "takes") for name in index[key][0])}
    missing = {name for name in names if f"`{name}`" not in page}
    assert not missing


def test_the_bounds_are_on_the_page() -> None:
    """The numbers that readers refuse beyond are those of the program."""
    page = " ".join(DOCS.read_text(encoding="utf-8").split())
    assert f"more than {MOST_ENTRIES:,} of them" in page
    assert f"a file over {MOST_FILE_BYTES >> 20} MB or {MOST_TOTAL_BYTES >> 20} MB unpacked" in page
    json_mb, toml_mb, midi_mb = (MOST_BYTES[ending] // 1_000_000 for ending in ("json", "toml", "mid"))
    sizes = f"an entry over {json_mb} MB (MIDI: {midi_mb} MB, drills: {toml_mb} MB)"
    assert f"{sizes} or over {MOST_RATIO} times its packed size" in page
    assert f"more than {MOST_TAKES:,} takes" in page


def _without_session(take: BundledTake) -> BundledTake:
    info = dataclasses.replace(take.info, session=0, plan=json.loads(json.dumps(take.info.plan)))
    return dataclasses.replace(take, info=info)


def test_what_is_read_is_what_was_kept(mara_store: Path, mara: bytes) -> None:
    """Every verdict, every byte of MIDI, drill, plan, instrument, hand and profile, field for field."""
    bundle = unpack(mara, "mara.zip")
    assert (bundle.student, [drill.name for drill in bundle.drills]) == ("Mara Lind", ["mill-verse", "quay-steps"])
    with Store.open(mara_store, read_only=True) as store:
        kept = store.takes()
        assert len(bundle.takes) == len(kept) == 2
        for one, take in zip(bundle.takes, kept, strict=True):
            assert dataclasses.replace(one.info, session=take.info.session) == take.info
            assert one.verdicts == store.verdicts(take.id)
            assert one.midi == store.take_file(take.id)
            assert (one.sha256, one.judged_by, one.finished_at) == (take.sha256, take.judged_by, take.finished_at)


def test_the_same_content_is_the_same_file(mara_store: Path, mara: bytes) -> None:
    """Exported twice, or read and packed again: not a byte differs."""
    bundle = unpack(mara, "mara.zip")
    assert pack(bundle) == mara
    assert pack(dataclasses.replace(bundle, takes=bundle.takes[::-1], drills=bundle.drills[::-1])) == mara


def test_every_entry_is_an_open_format(mara: bytes, entries: Callable[[bytes], dict[str, bytes]]) -> None:
    """TOML that tomllib reads (drills), Standard MIDI Files with their markers, JSON; nothing else."""
    for name, data in entries(mara).items():
        if name.endswith(".toml"):
            tomllib.loads(data.decode())
        elif name.endswith(".mid"):
            assert data.startswith(b"MThd")
            assert read_take(data, name).header is not None
        else:
            assert json.loads(data)


def test_a_drill_brings_its_melody(tmp_path: Path) -> None:
    """The text as it is kept, melodies attached, arrives as it left."""
    text = TEXT + '\n[attached]\n"tune.mid" = "TVRoZA=="\n'
    bundle = Bundle("", "widehand", (BundledDrill("quay-steps", text, True),), ())
    assert unpack(pack(bundle), "b.zip").drills[0].text == text


def test_drills_of_one_name_are_kept_apart() -> None:
    """Two texts under one name get entries of their own; the same text is there once."""
    other = TEXT.replace("C | F", "C | G")
    drills = tuple(BundledDrill("quay-steps", text, True) for text in (TEXT, other, TEXT))
    assert {drill.text for drill in unpack(pack(Bundle("", "w", drills, ())), "b.zip").drills} == {TEXT, other}
    assert len(unpack(pack(Bundle("", "w", drills, ())), "b.zip").drills) == 2


def test_what_would_be_refused_is_not_handed_over(mara_store: Path) -> None:
    """A take whose own header is beyond all bounds is told when it is exported, not when it arrives."""
    with Store.open(mara_store, read_only=True) as store:
        bundle = bundle_of(store, selected(store, (), None, None, every=True), [], "Mara Lind")
    long_name: dict[str, Any] = {"drill": "x" * 300}
    takes = tuple(dataclasses.replace(take, info=dataclasses.replace(take.info, **long_name)) for take in bundle.takes)
    with pytest.raises(SourceError, match=r"cannot be put into a bundle: the bundle, .* to 255 characters"):
        packed(dataclasses.replace(bundle, takes=takes))


def test_a_newer_bundle_is_refused_politely(
    mara: bytes, entries: Callable[[bytes], dict[str, bytes]], zipped: Callable[[Any], bytes]
) -> None:
    """The line says which version it is, which are read, and what to do."""
    found = entries(mara)
    found["index.json"] = found["index.json"].replace(b'"version": 1', b'"version": 2')
    with pytest.raises(SourceError, match="of version 2, this program reads up to 1; update"):
        unpack(zipped(found), "b.zip")


def test_fields_of_later_programs_are_let_through(
    mara: bytes, entries: Callable[[bytes], dict[str, bytes]], zipped: Callable[[Any], bytes]
) -> None:
    """A field more, in the index and with a take, changes nothing."""
    found = entries(mara)
    for name in ("index.json", "takes/0001-mill-verse.json"):
        found[name] = json.dumps({**json.loads(found[name]), "weather": ["rain"]}).encode()
    assert unpack(zipped(found), "b.zip") == unpack(mara, "mara.zip")
