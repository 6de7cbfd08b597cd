"""The lock-out file's writer killed at random moments while its disk fails: what the next start reads.

    python -m tests.bench.lockout_kills            1,000 kills of a real process (SIGKILL)
    python -m tests.bench.lockout_kills --kills N  as many as that

The writer is the shipped one, on a real file. One save in three fails before it begins, or half of the new file is
written and then it fails. After each kill the file must say what was confirmed last, or something later, whole; and a
start from it must be locked out wherever something burnt or was locked out. The exit status is 1 when one was not.
"""

from __future__ import annotations

import argparse
import errno
import multiprocessing
import sys
import tempfile
import time
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

from daemon.course.state import Course, State
from daemon.lockout import lockout_by_interruption
from daemon.memory import Memory
from daemon.record.lockout_file import LockoutFile, last_known, read_kept, save_whole, weight
from daemon.record.start import first_memory
from daemon.setup import setup_of
from tests.daemon.house import good_readings, short_plan, short_settings, with_beat

WORDS = "Something tripped."
STATES = tuple(State)


def state_of(number: int, seed: int) -> State:
    """The state that is handed over as the `number`th."""
    return Random(f"{number} {seed}").choice(STATES)


def write_on(path: Path, says: Connection, seed: int) -> None:
    """Hand over one state after the other; say the number of each that is safe on the disk. Ends by being killed."""
    chance, memory = Random(seed), Memory(setup_of(short_settings(), short_plan()))
    lockout = lockout_by_interruption(0.0, State.CLIMBING, WORDS, burns=True, may_resume=False)
    at = 0

    def save(path: Path, text: bytes) -> None:
        if chance.random() < 1 / 3:
            if chance.random() < 0.5:
                path.with_name(f"{path.name}.new").write_bytes(text[: len(text) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")
        save_whole(path, text)
        says.send(int(float(text.split(b'"utc_s": ')[1].split(b",")[0])))

    file = LockoutFile(path, save, again_s=0.0005)
    while True:
        at += 1
        state = state_of(at, seed)
        now = with_beat(memory, course=Course(state, begun_s=float(at)))
        file.offer(now._replace(lockout=lockout if state is State.LOCKED_OUT else None), float(at))
        time.sleep(chance.uniform(0.0, 0.002))


def kill_once(folder: Path, seed: int, start: str = "fork") -> tuple[State | None, list[str]]:
    """Kill one writer: the state that the file says, and what is wrong with it."""
    path, context = folder / f"{seed}.lockout.json", multiprocessing.get_context(start)
    hears, says = context.Pipe(duplex=False)
    writer = context.Process(target=write_on, args=(path, says, seed))  # type: ignore[attr-defined]
    writer.start()
    says.close()
    confirmed = hears.recv()
    time.sleep(Random(seed).uniform(0.0, 0.03))
    writer.kill()
    writer.join()
    try:
        while True:
            confirmed = hears.recv()
    except (EOFError, OSError):
        hears.close()
    kept = read_kept(path)
    if kept is None:
        return None, ["the file is gone"]
    wrong = []
    if kept.utc_s < confirmed:
        wrong.append(f"it says {kept.utc_s:g}, confirmed was {confirmed}")
    if kept.state is not state_of(int(kept.utc_s), seed):
        wrong.append(f"it says {kept.state.value} at {kept.utc_s:g}, {kept.trips}")
    again = first_memory(setup_of(short_settings(), short_plan()), last_known(None, kept), good_readings(9.0, 30.0))
    if weight(kept.state) >= 2 and (again.lockout is None or not again.beat.course.lit):
        wrong.append(f"a start from {kept.state.value} is not locked out")
    return kept.state, wrong


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=1000)
    given = parser.parse_args()
    states: Counter[str] = Counter()
    broken: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(given.kills):
            state, wrong = kill_once(Path(folder), seed)
            states[state.value if state is not None else "no file"] += 1
            broken += [f"seed {seed}: {words}" for words in wrong]
    print(f"{given.kills} kills; the file said: {dict(states)}")
    print("\n".join(f"WRONG: {words}" for words in broken) or "none wrong")
    sys.exit(1 if broken else 0)


if __name__ == "__main__":
    main()
