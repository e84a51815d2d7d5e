"""A private PostgreSQL server for tests, made in a temporary folder and reached through a socket in it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class Unavailable(Exception):
    """Why there can be no server here."""


def _programs() -> Path:
    """Where initdb and pg_ctl lie: on the path, or where Debian puts them."""
    found = shutil.which("initdb")
    places = [Path(found).parent] if found else sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    for place in places:
        if (place / "initdb").exists() and (place / "pg_ctl").exists():
            return place
    raise Unavailable("PostgreSQL is not installed (Debian: apt-get install postgresql)")


@contextmanager
def running_postgres() -> Iterator[str]:
    """The address of a running server; :class:`Unavailable` says why there is none."""
    try:
        import psycopg  # noqa: F401
        import sqlalchemy  # noqa: F401
    except ImportError as error:
        raise Unavailable(f"{error.name} is not installed (the extra 'studio')") from None
    if os.name == "nt":
        raise Unavailable("the server is only started on POSIX systems")
    programs = _programs()
    folder = Path(tempfile.mkdtemp(prefix="wh-pg-"))
    # The server refuses to run as root; Debian's package brings a user for it.
    who: dict[str, str] = {}
    if os.geteuid() == 0:
        who = {"user": "postgres", "group": "postgres"}
        shutil.chown(folder, "postgres", "postgres")

    def run(*command: str | Path) -> None:
        done = subprocess.run(
            [str(word) for word in command],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            cwd=folder,
            env={**os.environ, "LC_ALL": "C.UTF-8"},
            **who,  # type: ignore[call-overload]
        )
        if done.returncode:
            raise Unavailable(f"{command[0]} failed: {done.stderr.strip()}")

    data = folder / "data"
    try:
        run(programs / "initdb", "-D", data, "-U", "widehand", "-A", "trust", "-E", "UTF8", "--no-sync")
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c max_connections=40"
        run(programs / "pg_ctl", "-D", data, "-w", "-t", "30", "-l", folder / "log", "-o", options, "start")
        try:
            yield f"postgresql://widehand@/postgres?host={folder}"
        finally:
            run(programs / "pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
