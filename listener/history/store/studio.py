"""A studio's history on a PostgreSQL server, through SQLAlchemy Core: many machines, one place.

Needs the extra ``studio``. The statements are those of the embedded file (:mod:`listener.history.store.backend`). What
differs is here: a lock that the server holds for a program tells whether that program still plays, and the takes' files
lie in the database. A connection that was lost is taken up again with the next statement, and the lock with it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

from listener.errors import PlaceError, StoreError
from listener.history.store import schema, studio_schema
from listener.history.store.address import EXAMPLE
from listener.history.store.backend import Backend
from listener.history.store.connection import empty_history
from listener.history.store.embedded import Embedded
from listener.history.store.folders import TAKES
from listener.history.store.owner import new_token
from listener.places import kept_folder, temporary_folder

try:
    import psycopg
    from sqlalchemy import Connection, create_engine, event, exc, text
    from sqlalchemy.engine import URL, make_url
    from sqlalchemy.pool import NullPool
except ImportError as missing:  # pragma: no cover - tried out in an environment without them
    raise StoreError(
        f"a history on a server needs two more packages ({missing.name} is not there); "
        "install them with: pip install 'widehand[studio]'"
    ) from None

#: Seconds to wait for a server that does not answer, and for another program that holds a row.
_CONNECT_S: Final = 10
_LOCK_S: Final = 5
#: What of an address's options says where the server is, and what lets somebody in.
_WHERE: Final = ("host", "hostaddr", "port", "user", "dbname", "service")
_SECRET: Final = ("password", "sslpassword")
_ELSEWHERE: Final = "or keep the history in a file"


def open_studio(address: str, *, read_only: bool) -> Backend:
    """Connect, and make the tables when there are none; only to read, a server without them is an empty history."""
    studio = Studio(address, read_only=read_only)
    try:
        if studio.prepare(make=not read_only):
            return studio
    except BaseException:
        studio.close()
        raise
    studio.close()
    return Embedded(Path(studio.place), empty_history(), read_only=True)


class StudioRows:
    """Statements on a connection."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def rows(self, statement: str, **values: object) -> Sequence[Sequence[Any]]:
        """All rows of one statement."""
        result = self._connection.execute(text(statement), values)
        return result.fetchall() if result.returns_rows else []

    def many(self, statement: str, values: Sequence[Mapping[str, object]]) -> None:
        """One statement, many times."""
        if values:
            self._connection.execute(text(statement), list(values))


class Studio:
    """See :class:`listener.history.store.backend.Backend`."""

    notes: tuple[str, ...] = ()

    def __init__(self, address: str, *, read_only: bool) -> None:
        self.token = new_token()
        self._signed = False
        self._read_only = read_only
        url = _url(address)
        self.place = _place(url)
        self._secrets = _secrets(url)
        # One connection for as long as the history is open: a lock of the server's belongs to it.
        engine = create_engine(url, poolclass=NullPool, connect_args={"connect_timeout": _CONNECT_S})
        event.listen(engine, "connect", self._greet)
        try:
            self._connection = engine.connect()
        except exc.DBAPIError as error:  # whatever it is: of ours nothing has been asked yet
            raise StoreError(_unusable(self._said(error), self.place)) from None
        self._rows = StudioRows(self._connection)

    def _greet(self, connection: psycopg.Connection[Any], _record: object) -> None:
        """What every new connection needs, also one that replaces a lost one."""
        connection.autocommit = True
        if self._read_only:
            connection.execute("SET default_transaction_read_only = on")
        # A server may be set up to report commits before they are on its disk; our strokes are not for that.
        connection.execute(
            "SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'"
        )
        connection.execute(f"SET lock_timeout = '{_LOCK_S}s'")
        if self._signed:
            connection.execute("SELECT pg_try_advisory_lock(%s)", (_key(self.token),))
        connection.autocommit = False

    def prepare(self, *, make: bool) -> bool:
        """Whether the tables are there, made or brought up to date if need be."""
        with self.reading() if not make else self.writing() as db:
            if make:  # two programs that come to an empty server take turns
                db.rows("SELECT pg_advisory_xact_lock(:key)", key=schema.APPLICATION_ID)
            if db.rows("SELECT to_regclass('widehand')")[0][0] is None:
                version = 0
            else:
                version = int(db.rows("SELECT schema FROM widehand")[0][0])
            if version > schema.SCHEMA:
                raise StoreError(schema.newer(self.place, version, schema.SCHEMA))
            if make:
                studio_schema.build(db, version)
        return make or version > 0

    @property
    def beside(self) -> Path:
        """In the usual place of a history on this machine."""
        try:
            usual = kept_folder()
        except PlaceError:  # nobody's home
            usual = temporary_folder()
        return usual / f"studio-{hashlib.sha256(self.place.encode()).hexdigest()[:8]}-rescued"

    @contextmanager
    def writing(self) -> Iterator[StudioRows]:
        """Durable when the block ends."""
        with self._explained(), self._connection.begin():
            yield self._rows

    @contextmanager
    def reading(self) -> Iterator[StudioRows]:
        """One view for all statements of the block."""
        with self._explained(), self._connection.begin():
            self._rows.rows("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield self._rows

    def write_file(self, take: int, name: str, data: bytes) -> str:
        """Into the database, under the name that it would have in a folder."""
        with self.writing() as db:
            db.rows(
                "INSERT INTO take_file (take, data) VALUES (:take, :data) "
                "ON CONFLICT (take) DO UPDATE SET data = excluded.data",
                take=take,
                data=data,
            )
        return f"{TAKES}/{name}.mid"

    def file_place(self, file: str) -> str:
        """The server and the name."""
        return f"{file} in {self.place}"

    def read_file(self, take: int, file: str) -> bytes | None:
        """From the database."""
        with self.reading() as db:
            found = db.rows("SELECT data FROM take_file WHERE take = :take", take=take)
        return bytes(found[0][0]) if found else None

    def sign(self) -> str:
        """A lock that the server lets go of when this program ends or cannot be reached any more."""
        if not self._signed:
            with self.writing() as db:
                db.rows("SELECT pg_try_advisory_lock(:key)", key=_key(self.token))
            self._signed = True
        return self.token

    @contextmanager
    def if_gone(self, token: str) -> Iterator[bool]:
        """Whether the server still holds that program's lock."""
        if token == self.token:
            yield False
            return
        with self.writing() as db:
            gone = bool(db.rows("SELECT pg_try_advisory_lock(:key)", key=_key(token))[0][0])
        try:
            yield gone
        finally:
            if gone:
                with self.writing() as db:
                    db.rows("SELECT pg_advisory_unlock(:key)", key=_key(token))

    def clear_signs(self) -> None:
        """Nothing is left behind on a server."""

    def check(self) -> tuple[str, ...]:
        """A server looks after its own pages, and its references are enforced."""
        return ()

    def close(self) -> None:
        """End the connection, and with it the lock."""
        with suppress(exc.SQLAlchemyError):
            self._connection.close()
        self._connection.engine.dispose()

    @contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
        except exc.DBAPIError as error:
            text_for_player = _words(error, self._said(error), self.place)
            if text_for_player is None:
                raise  # a bug of ours
            raise StoreError(text_for_player) from error

    def _said(self, error: exc.DBAPIError) -> str:
        """What the library or the server said, without what is nobody's business."""
        said = " ".join(str(error.orig).split()).rstrip(".")
        for secret in self._secrets:
            said = said.replace(secret, "***")
        return said


def _url(address: str) -> URL:
    """Nothing of an address that cannot be read is quoted: who knows which part is the password."""
    if address.count("@") > 1:
        raise StoreError(
            "the server's address has more than one @; write one that belongs to the password as %40, "
            "or leave the password out and put it into PGPASSWORD or ~/.pgpass"
        )
    try:
        url = make_url(address).set(drivername="postgresql+psycopg")
    except (exc.ArgumentError, ValueError):
        url = None
    if url is None or "@" in f"{url.host}{url.database}":
        raise StoreError(f"the server's address cannot be read; write it as {EXAMPLE}")
    return url


def _place(url: URL) -> str:
    """Who and where, for the player; nothing else that may stand in an address."""
    shown = {key: value for key, value in url.query.items() if key in _WHERE}
    return url.set(drivername="postgresql", query=shown)._replace(password=None).render_as_string()


def _secrets(url: URL) -> tuple[str, ...]:
    found = [url.password, *(url.query.get(key) for key in _SECRET)]
    return tuple(text for one in found if one for text in ([one] if isinstance(one, str) else one) if text)


def _key(token: str) -> int:
    """The token as the whole number of 64 bits that the server's locks are named by."""
    return int.from_bytes(bytes.fromhex(token), "big", signed=True)


def _unusable(said: str, place: str) -> str:
    if "password" in said:
        return f"{place} lets nobody in ({said}); put the password into PGPASSWORD or ~/.pgpass, {_ELSEWHERE}"
    return f"{place} cannot be used ({said}); check address, password and network, {_ELSEWHERE}"


def _words(error: exc.DBAPIError, said: str, place: str) -> str | None:
    """One line for the player; None when it is not about the server but about us."""
    state = getattr(error.orig, "sqlstate", None) or ""
    if state == "53100":
        return f"the disk of {place} is full; ask who looks after the server, {_ELSEWHERE}"
    if state in ("55P03", "40P01", "57014"):
        return f"{place} is held by another program; try again"
    if state in ("42501", "25006"):
        return f"{place} may not be written by you ({said}); ask who looks after the server"
    if isinstance(error, exc.OperationalError) or error.connection_invalidated:
        return _unusable(said, place)
    return None
