"""Every interlock, each a small pure function and a row of one table."""

from daemon.interlocks.interlock import (
    ALL,
    KEEP_AIR,
    LESS_AIR,
    MORE_AIR,
    Evidence,
    Interlock,
    Safe,
    SafeDamper,
    SafeFan,
    SafeHorn,
)
from daemon.interlocks.table import INTERLOCKS, resumes

__all__ = [
    "ALL",
    "INTERLOCKS",
    "KEEP_AIR",
    "LESS_AIR",
    "MORE_AIR",
    "Evidence",
    "Interlock",
    "Safe",
    "SafeDamper",
    "SafeFan",
    "SafeHorn",
    "resumes",
]
