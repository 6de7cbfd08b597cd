"""Every interlock, each a small pure function and a row of one table."""

from daemon.interlocks.interlock import LESS_AIR, Evidence, Interlock, Safe, SafeDamper, SafeFan, SafeHorn
from daemon.interlocks.table import INTERLOCKS, resumes

__all__ = ["INTERLOCKS", "LESS_AIR", "Evidence", "Interlock", "Safe", "SafeDamper", "SafeFan", "SafeHorn", "resumes"]
