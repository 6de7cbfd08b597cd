"""One daemon for one channel and one record: a second one is refused before it can do harm.

The lock is the kernel's (flock). It goes with the process that holds it, however that ends, so none is left behind.
"""

from __future__ import annotations

import errno
import fcntl
import os
from pathlib import Path


class Taken(OSError):
    """Another daemon holds it. Says what to look at."""


def hold(path: Path, what: str) -> int:
    """Hold a folder or a file of our own for as long as the returned descriptor is open. Raises Taken, OSError."""
    flags = os.O_RDONLY if path.is_dir() else os.O_RDWR | os.O_CREAT
    held = os.open(path, flags | os.O_CLOEXEC, 0o660)
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as fault:
        os.close(held)
        if fault.errno in (errno.EWOULDBLOCK, errno.EACCES):
            raise Taken(f"another daemon runs and has {what}. Stop it first, or give this one another.") from fault
        raise
    return held
