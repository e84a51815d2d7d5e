"""A private PostgreSQL server for tests, made in a temporary folder and reached through a socket in it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self


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


class Postgres:
    """A server in a folder of its own, to be used in a ``with`` block; :class:`Unavailable` says why there is none."""

    def __init__(self) -> None:
        try:
            import psycopg  # noqa: F401
            import sqlalchemy  # noqa: F401
        except ImportError as error:
            raise Unavailable(f"{error.name} is not installed (the extra 'studio')") from None
        if os.name == "nt":
            raise Unavailable("the server is only started on POSIX systems")
        self._programs = _programs()
        self._folder = Path(tempfile.mkdtemp(prefix="wh-pg-"))
        self._data = self._folder / "data"
        # The server refuses to run as root; Debian's package brings a user for it.
        self._who: dict[str, str] = {}
        if os.geteuid() == 0:
            self._who = {"user": "postgres", "group": "postgres"}
            shutil.chown(self._folder, "postgres", "postgres")
        self._runs = False

    def __enter__(self) -> Self:
        try:
            self._run("initdb", "-D", self._data, "-U", "widehand", "-A", "trust", "-E", "UTF8", "--no-sync")
        except BaseException:
            shutil.rmtree(self._folder, ignore_errors=True)
            raise
        return self

    def __exit__(self, *_: object) -> None:
        try:
            self.stop()
        finally:
            shutil.rmtree(self._folder, ignore_errors=True)

    @property
    def address(self) -> str:
        """Of its database."""
        return f"postgresql://widehand@/postgres?host={self._folder}"

    def fresh(self, name: str) -> str:
        """The address of an empty history on it, in a schema of that name."""
        import psycopg

        with psycopg.connect(self.address, autocommit=True) as connection:
            connection.execute(f"CREATE SCHEMA {name}")
        return f"{self.address}&options=-csearch_path%3D{name}"

    def start(self) -> None:
        """Unless it runs."""
        if not self._runs:
            options = f"-c listen_addresses='' -c unix_socket_directories='{self._folder}' -c max_connections=40"
            log = self._folder / "log"
            self._run("pg_ctl", "-D", self._data, "-w", "-t", "30", "-l", log, "-o", options, "start")
            self._runs = True

    def stop(self) -> None:
        """At once, as when its machine goes away; unless it has gone already."""
        if self._runs:
            self._run("pg_ctl", "-D", self._data, "-m", "immediate", "-w", "stop")
            self._runs = False

    @property
    def number(self) -> int:
        """Of its process; SIGQUIT ends it at once."""
        return int((self._data / "postmaster.pid").read_text().split()[0])

    def wait_until_gone(self) -> None:
        """Somebody else has ended it."""
        until_s = time.monotonic() + 30
        while (self._data / "postmaster.pid").exists() and time.monotonic() < until_s:
            time.sleep(0.01)
        self._runs = False

    def _run(self, program: str, *words: str | Path) -> None:
        done = subprocess.run(
            [str(word) for word in (self._programs / program, *words)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            cwd=self._folder,
            env={**os.environ, "LC_ALL": "C.UTF-8"},
            **self._who,  # type: ignore[call-overload]
        )
        if done.returncode:
            raise Unavailable(f"{program} failed: {done.stderr.strip()}")


@contextmanager
def running_postgres() -> Iterator[str]:
    """The address of a running server; :class:`Unavailable` says why there is none."""
    with Postgres() as server:
        server.start()
        yield server.address
