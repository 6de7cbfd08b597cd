"""A copy of the record, also while the daemon writes it; and the way back, which checks before it replaces."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from daemon.outside.only_one import hold
from daemon.record.file import BESIDE, check_version, put_aside
from daemon.record.firings import FiringUnreadable, opened


def back_up(record: Path, to: Path) -> int:
    """Copy the record and check the copy; how many firings it has. Raises FiringUnreadable and OSError.

    SQLite's own backup reads one state of the file. The daemon goes on writing meanwhile.
    """
    if to.exists():
        raise FileExistsError(f"{to} is there already, and is left as it is. Give another name.")
    firings = copy_whole(record, to)
    flush(to.parent)
    return firings


def copy_whole(source: Path, to: Path) -> int:
    """Copy beside, check, and put in place; how many firings there are. Raises FiringUnreadable and OSError."""
    beside = to.with_name(f"{to.name}.new")
    beside.unlink(missing_ok=True)
    try:
        with opened(source) as db:
            try:
                with closing(sqlite3.connect(beside)) as copy:
                    db.backup(copy)
                    copy.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it
            except sqlite3.Error as fault:
                raise OSError(f"{source} can't be copied to {to}: {fault}.") from fault
        firings = check(beside)
        flush(beside)
        as_folder(beside)
        os.replace(beside, to)
    finally:
        beside.unlink(missing_ok=True)
    return firings


def restore(copy: Path, record: Path) -> Path | None:
    """Put a copy in the record's place; where the present record was put aside. Raises FiringUnreadable, OSError.

    It is refused while a daemon has the record. The lock-out file stays: a lock-out is never undone by a copy.
    """
    lock = record.with_name(f"{record.stem}.lock")
    held = hold(lock, f"the record {record}")
    try:
        as_folder(lock)
        staged = record.with_name(f"{record.name}.restored")
        copy_whole(copy, staged)
        there = any(record.with_name(record.name + end).exists() for end in BESIDE)
        aside = put_aside(record, "before-restore") if there else None
        os.replace(staged, record)
        flush(record.parent)
    finally:
        os.close(held)
    return aside


def check(path: Path) -> int:
    """How many firings the file has. Raises FiringUnreadable when it isn't whole, and RecordNewer."""
    with opened(path) as db:
        check_version(db, path)
        (found,) = db.execute("PRAGMA integrity_check(1)").fetchone()
        if found != "ok":
            raise FiringUnreadable(f"{path} is damaged ({found}). Nothing was replaced.")
        (firings,) = db.execute("SELECT count(*) FROM firings").fetchone()
    return int(firings)


def flush(path: Path) -> None:
    """Wait until the disk has it. Raises OSError."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def as_folder(path: Path) -> None:
    """Give a file that root made to the owner of its folder, so that the daemon can write it."""
    if os.geteuid() == 0:
        owner = path.parent.stat()
        os.chown(path, owner.st_uid, owner.st_gid)
