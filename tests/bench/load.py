"""A crowd at the page: so many requests a second, and watchers of every stream that the api offers.

    python -m tests.bench.load --port N --rate 200

runs until its standard input ends, then prints one JSON object.
"""

from __future__ import annotations

import argparse
import json
import sys
import threading
import time
from contextlib import suppress
from http.client import HTTPConnection, HTTPException

PATHS = ("/status", "/status", "/", "/status", "/curve", "/status", "/events", "/static/page.js")
THREADS = 4
WATCHERS = 4


class Crowd:
    """People at the page of one kiln."""

    def __init__(self, port: int, rate_per_s: float) -> None:
        self._port = port
        self._gap_s = THREADS / rate_per_s
        self._lock = threading.Lock()
        self._began_s = time.monotonic()
        self._took_s: list[float] = []
        self._failed = 0
        self._streamed = 0
        self.over = threading.Event()

    def ask(self, number: int) -> None:
        """One of the threads that ask again and again, evenly in time."""
        line = HTTPConnection("127.0.0.1", self._port, timeout=10)
        due_s, place = time.monotonic() + number * self._gap_s / THREADS, number
        while not self.over.is_set():
            due_s += self._gap_s
            time.sleep(max(0.0, due_s - time.monotonic()))
            began_s, place = time.monotonic(), place + 1
            due_s = max(due_s, began_s - 1.0)  # what a busy server left undone is made up for, up to a second of it
            try:
                line.request("GET", PATHS[place % len(PATHS)])
                answer = line.getresponse()
                answer.read()
                sound = answer.status == 200
            except (OSError, HTTPException):
                line.close()
                sound = False
            with self._lock:
                self._took_s.append(time.monotonic() - began_s)
                self._failed += not sound

    def watch(self, path: str) -> None:
        """One watcher of a stream, who comes back when it ends."""
        while not self.over.is_set():
            line = HTTPConnection("127.0.0.1", self._port, timeout=5)
            with suppress(OSError, HTTPException):
                line.request("GET", path)
                answer = line.getresponse()
                while not self.over.is_set() and (part := answer.read1(65536)):
                    with self._lock:
                        self._streamed += len(part)
            line.close()
            time.sleep(0.2)

    def streams(self) -> list[str]:
        """The addresses that the api itself describes as event streams."""
        line = HTTPConnection("127.0.0.1", self._port, timeout=10)
        line.request("GET", "/openapi.json")
        paths = json.loads(line.getresponse().read())["paths"]
        line.close()
        return [
            path
            for path, verbs in paths.items()
            if "text/event-stream" in json.dumps(verbs.get("get", {}).get("responses", {}))
        ]

    def figures(self) -> dict[str, float]:
        """What was asked and answered."""
        gone_s, took_s = time.monotonic() - self._began_s, sorted(self._took_s)
        return {
            "requests": len(took_s),
            "failed": self._failed,
            "per_s": round(len(took_s) / gone_s, 1),
            "median_ms": round(1000 * took_s[len(took_s) // 2], 2) if took_s else 0.0,
            "worst_ms": round(1000 * took_s[-1], 2) if took_s else 0.0,
            "streamed_bytes": self._streamed,
        }


def main() -> None:
    """Ask until the input ends."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--rate", type=float, default=200.0, help="requests a second")
    given = parser.parse_args()
    crowd = Crowd(given.port, given.rate)
    threads = [threading.Thread(target=crowd.ask, args=(n,), daemon=True) for n in range(THREADS)]
    for path in crowd.streams():
        threads += [threading.Thread(target=crowd.watch, args=(path,), daemon=True) for _ in range(WATCHERS)]
    for thread in threads:
        thread.start()
    sys.stdin.read()
    crowd.over.set()
    for thread in threads:
        thread.join(timeout=6)
    print(json.dumps(crowd.figures()))


if __name__ == "__main__":
    main()
