"""One record has one writer."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from daemon.outside.only_one import Taken
from daemon.record.journal import Record

HOLDER = """
import sys, time
from pathlib import Path
from daemon.record.journal import Record
record = Record(Path(sys.argv[1]), "fake")
print("open", flush=True)
time.sleep(600)
"""


def test_a_second_daemon_is_refused_on_the_same_record(tmp_path: Path) -> None:
    first = Record(tmp_path / "f.sqlite", "fake")
    with pytest.raises(Taken, match=r"another daemon runs and has the record .*f\.sqlite"):
        Record(tmp_path / "f.sqlite", "fake")
    other = Record(tmp_path / "another.sqlite", "fake")
    other.close()
    first.close()
    Record(tmp_path / "f.sqlite", "fake").close()


def test_a_daemon_that_was_killed_holds_no_record(tmp_path: Path) -> None:
    path = tmp_path / "f.sqlite"
    with subprocess.Popen([sys.executable, "-c", HOLDER, str(path)], stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "open\n"
        with pytest.raises(Taken):
            Record(path, "fake")
        os.kill(holder.pid, signal.SIGKILL)
    Record(path, "fake").close()
