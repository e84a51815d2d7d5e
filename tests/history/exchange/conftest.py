"""A made-up student with a few simulated takes, the bundle of them, and ways to make bundles that no program makes."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from listener.cli import main
from listener.drill.drill_file import read_drill
from listener.history.exchange.selecting import bundle_of, packed, selected
from listener.history.store.accounts import seal_takes
from listener.history.store.store import Store

DRILL = (
    'title = "Quay steps"\nabout = "A"\ntopic = "t"\ndifficulty = 1\nkey = "C major"\ntempo = 60\n'
    '[[passage]]\nname = "p"\nexercise = "progression"\nchords = "C | F | G"\nkind = "spread"\n'
)


@pytest.fixture(scope="session")
def mara_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The history of Mara Lind: two takes with mistakes, one with the click and one without."""
    place = tmp_path_factory.mktemp("mara") / "history.sqlite3"
    patch = pytest.MonkeyPatch()
    with patch.context() as patched:
        patched.setenv("WIDEHAND_SETTINGS", "/dev/null")
        for words in (("--seed", "7"), ("--seed", "3", "--own-pace")):
            assert main(["demo", "mill-verse", "--fast", "--plain", "--store", str(place), *words]) == 0
    # As if she had played them herself: the simulated guitarist's are nobody's progress.
    with Store.open(place) as store, store.backend.writing() as rows:
        rows.rows("UPDATE take SET source = 'her guitar'")
        seal_takes(rows, (1, 2))
    return place


@pytest.fixture(scope="session")
def mara(mara_store: Path) -> bytes:
    """Mara's bundle: her two takes, and a drill to practise."""
    with Store.open(mara_store, read_only=True) as store:
        kept = selected(store, (), None, None, every=True)
        return packed(bundle_of(store, kept, [read_drill(DRILL, "quay-steps")], "Mara Lind"))


@pytest.fixture(scope="session")
def entries() -> Callable[[bytes], dict[str, bytes]]:
    """A bundle's entries by name."""

    def unzip(data: bytes) -> dict[str, bytes]:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return {name: archive.read(name) for name in archive.namelist()}

    return unzip


@pytest.fixture(scope="session")
def zipped() -> Callable[[Mapping[str, bytes]], bytes]:
    """A zip of these entries, whatever they are; digests in the index are brought up to date."""

    def zip_(entries: Mapping[str, bytes]) -> bytes:
        entries = with_digests(dict(entries))
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:  # unpacked, or bombs by size would be refused as those by ratio
            for name, data in entries.items():
                archive.writestr(zipfile.ZipInfo(name), data)
        return out.getvalue()

    return zip_


def with_digests(entries: dict[str, bytes]) -> dict[str, bytes]:
    """So that what is refused is the change itself and not its digest."""
    try:
        index: dict[str, Any] = json.loads(entries["index.json"])
        for row in (*index["drills"], *index["takes"]):
            file = row.get("file") or row.get("midi")
            row["sha256"] = hashlib.sha256(entries[file]).hexdigest()
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError):
        return entries
    return {**entries, "index.json": json.dumps(index).encode()}
