"""The record's file: opened, or put aside unharmed where it can't be used, and a fresh one begun."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from daemon.record.found import Found, find_last
from daemon.record.schema import TABLE_NAMES, VERSION, columns_of, prepare

DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
BESIDE = ("", "-wal", "-shm")
"""An SQLite file and what belongs to it."""


class RecordNewer(OSError):
    """The file was written by a newer program. It is left as it is."""


class TornShort(sqlite3.DatabaseError):
    """The file ends before its own last page."""


class OpenFile(NamedTuple):
    """The connection, how the record ended, and what was put aside, in a sentence."""

    db: sqlite3.Connection
    found: Found | None
    aside: str | None = None
    damaged: bool = False


def open_file(path: Path, synchronous: str) -> OpenFile:
    """Open the record or make it. A damaged or foreign file is renamed, and a fresh one begun.

    Raises RecordNewer, OSError or sqlite3.Error: nothing can be written there at all.
    """
    try:
        foreign, damaged = is_foreign(path), False
        if not foreign:
            return opened_file(path, synchronous)
    except sqlite3.DatabaseError as fault:
        if not is_damage(fault):
            raise
        foreign, damaged = False, True
    moved = put_aside(path, "foreign" if foreign else "damaged")
    words = "is not a record of firings" if foreign else "is damaged"
    aside = f"the file {path} {words}; it was put aside as {moved.name}, and a fresh record begun"
    return opened_file(path, synchronous)._replace(aside=aside, damaged=damaged)


def opened_file(path: Path, synchronous: str) -> OpenFile:
    """Open and prepare the file as it is. Raises RecordNewer and sqlite3.Error."""
    db = sqlite3.connect(path, check_same_thread=False, isolation_level=None)
    try:
        check_version(db, path)
        db.execute("PRAGMA journal_mode=WAL")
        db.execute(f"PRAGMA synchronous={synchronous}")
        prepare(db)
        return OpenFile(db, find_last(db))
    except BaseException:
        db.close()
        raise


def check_version(db: sqlite3.Connection, path: Path) -> None:
    """Raises RecordNewer for a file that a newer program wrote, before anything is written to it."""
    (version,) = db.execute("PRAGMA user_version").fetchone()
    if version > VERSION:
        raise RecordNewer(
            f"The record {path} is of version {version}, and this program knows versions up to {VERSION}. "
            "It was not touched. Install the newer program, or name another record in the configuration."
        )


def is_foreign(path: Path) -> bool:
    """Whether the file is an SQLite file of something else. A file that isn't there is not.

    Nothing is written. Raises sqlite3.Error; TornShort for a file that ends before its own last page.
    """
    if not path.exists() or path.stat().st_size == 0:
        return False
    if is_short(path):
        raise TornShort("it ends before its own last page")
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as db:
        tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        known = tables & TABLE_NAMES
        return bool(tables) and not (known and all({"id", "now_s"} & columns_of(db, table) for table in known))


def is_short(path: Path) -> bool:
    """Whether the file has fewer pages than its header says. With a log beside it nobody can say: pages may be there.

    Page size and number of pages are at bytes 16 and 28, valid where 24 and 92 agree (SQLite's file format).
    """
    if path.with_name(f"{path.name}-wal").exists():
        return False
    with path.open("rb") as file:
        head = file.read(100)
    if len(head) < 100:
        return True
    size = int.from_bytes(head[16:18], "big")
    pages = int.from_bytes(head[28:32], "big")
    return head[24:28] == head[92:96] and pages * (65536 if size == 1 else size) > path.stat().st_size


def is_damage(fault: sqlite3.DatabaseError) -> bool:
    """Whether the file itself is damaged, and not only busy, full or read-only."""
    code = getattr(fault, "sqlite_errorcode", None)
    return isinstance(fault, TornShort) or (code is not None and code & 0xFF in DAMAGED)


def put_aside(path: Path, why: str) -> Path:
    """Rename the file, and what belongs to it, to the first free name. Raises OSError."""
    number = 1
    while (moved := path.with_name(f"{path.stem}.{why}-{number}{path.suffix}")).exists():
        number += 1
    for end in BESIDE:
        part = path.with_name(path.name + end)
        if part.exists():
            part.rename(moved.with_name(moved.name + end))
    return moved
