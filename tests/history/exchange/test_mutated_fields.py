"""Any one field of a bundle changed: refused in one line, or taken in and harmless to every command from then on."""

from __future__ import annotations

import random
import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from faults import AFTER_IMPORT, field_changed, run_all, silent
from how_many import share

Entries = dict[str, bytes]


@pytest.mark.parametrize(("count", "commands"), [(60, False), pytest.param(share(2000), True, marks=pytest.mark.slow)])
def test_any_field(
    mara: bytes,
    entries: Callable[[bytes], Entries],
    zipped: Callable[[Entries], bytes],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    count: int,
    commands: bool,
) -> None:
    """Of every document in the bundle, however deep: another type, beyond its bounds, or gone."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", "/dev/null")
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "drills"))
    good = entries(mara)
    outcomes: Counter[str] = Counter()
    for seed in range(count):
        changed, what = field_changed(good, random.Random(seed))
        folder = tmp_path / str(seed)
        folder.mkdir()
        (folder / "b.zip").write_bytes(zipped(changed))
        store = folder / "h" / "history.sqlite3"
        code, err = silent(["import", str(folder / "b.zip"), "--mine", "--store", str(store)])
        assert code == 0 or (len(err.splitlines()) == 1 and err.startswith("widehand: b.zip")), (seed, what, err)
        assert code == 0 or not store.exists(), (seed, what)
        outcomes["refused" if code else "taken in"] += 1
        if code == 0 and commands:
            said = run_all(store, folder, AFTER_IMPORT)
            assert not any("could not be trusted" in line for line in said), (seed, what, said)
        shutil.rmtree(folder)
    print(dict(outcomes))
    assert min(outcomes["refused"], outcomes["taken in"]) > count // 10
