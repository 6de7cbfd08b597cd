"""The README's first command, as a person meets it: the firing on the page while it runs, on a phone and on a laptop.

It runs in real time, at sixty times the kiln's, so the waits have room for a slow machine.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.api.browser import PHONE, Watcher, chromium, launched, watching

pytestmark = pytest.mark.alone

STOKEHAND = Path(sys.executable).with_name("stokehand")
LAPTOP = (1366, 768)
PATIENCE_S = 60.0
PATIENCE_MS = PATIENCE_S * 1000

# The words of README.md, "What it does, step by step".
COURSE = ["cold", "made ready", "purge", "lit by hand", "fire proving", "warm-up", "climbing"]

KEEP_STATES = """() => {
  window.states = [];
  const state = document.getElementById("state");
  const keep = () => {
    const words = state.textContent.toLowerCase();
    if (words !== window.states.at(-1) && !words.startsWith("listening")) window.states.push(words);
  };
  keep();
  new MutationObserver(keep).observe(state, { childList: true, characterData: true, subtree: true });
}"""
CHAMBER_ABOVE = "(c) => Number.parseInt(document.getElementById('chamber').textContent, 10) > c"
A_LINE_IN_THE_CHAMBER_S_COLOUR = """() => {
  const canvas = document.querySelector("#chart canvas");
  const colour = getComputedStyle(document.querySelector(".k-chamber")).stroke.match(/\\d+/g).map(Number);
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let drawn = 0;
  for (let k = 0; k < data.length; k += 4) {
    if (data[k + 3] === 255 && colour.every((part, n) => data[k + n] === part)) drawn += 1;
  }
  return drawn > 20;
}"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def somebody_listens(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def heed_ctrl_c() -> None:
    """As in a terminal: what a shell starts in the background is told to ignore Ctrl-C, and hands that on."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@contextmanager
def rehearsing(port: int) -> Iterator[subprocess.Popen[str]]:
    """The command as in a terminal of its own, without a screen for it to open a browser on."""
    command = [str(STOKEHAND), "rehearse", "--speed", "60", "--page", "--port", str(port)]
    env = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    running = subprocess.Popen(
        command, env=env, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        preexec_fn=heed_ctrl_c,
    )  # fmt: skip
    try:
        yield running
    finally:
        if running.poll() is None:
            os.killpg(running.pid, signal.SIGKILL)
            running.communicate()


def wait_for_the_page(port: int) -> str:
    until_s = time.monotonic() + PATIENCE_S
    while not somebody_listens(port):
        assert time.monotonic() < until_s, "the page never came up"
        time.sleep(0.05)
    return f"http://127.0.0.1:{port}/"


def see_the_firing_go_on(seen: Watcher) -> None:
    """One state after another, in the README's order, and a chamber that warms up."""
    seen.page.evaluate(KEEP_STATES)
    seen.page.wait_for_function("() => window.states.length > 1", timeout=PATIENCE_MS)
    states: list[str] = seen.page.evaluate("window.states")
    assert [words for words in COURSE if words in states] == states
    seen.page.wait_for_function(CHAMBER_ABOVE, arg=40, timeout=PATIENCE_MS)  # it began at 15 °C
    assert seen.text("#chamber").endswith(" °C")
    expect(seen.page.locator("#rehearsal")).to_contain_text("simulated kiln")


def see_the_curve(seen: Watcher) -> None:
    """The chamber's line on the canvas, and its legend; nothing beside the screen, no complaint of the browser."""
    expect(seen.page.locator("#chart canvas")).to_be_visible(timeout=PATIENCE_MS)
    seen.page.wait_for_function(A_LINE_IN_THE_CHAMBER_S_COLOUR, timeout=PATIENCE_MS)
    expect(seen.page.locator("#key")).to_be_visible()
    expect(seen.page.locator("#curve-note")).to_have_text("")
    assert seen.too_wide_by() <= 0
    assert seen.complaints == []


def test_the_readme_s_first_command_shows_a_firing_on_phone_and_laptop_until_ctrl_c() -> None:
    port = free_port()
    with launched(chromium()) as browser, rehearsing(port) as running:
        url = wait_for_the_page(port)
        with watching(browser, url, PHONE) as phone, watching(browser, url, LAPTOP) as laptop:
            see_the_firing_go_on(phone)
            for seen in (phone, laptop):
                see_the_curve(seen)
            os.killpg(running.pid, signal.SIGINT)  # a terminal's Ctrl-C goes to everything that it runs
            said, _ = running.communicate(timeout=PATIENCE_S)
    assert running.returncode == 130
    assert "Stopped by hand. Everything is off." in said
    assert "Traceback" not in said
    assert [words for words in COURSE[:6] if words not in said] == []  # the terminal had them all
    assert not somebody_listens(port)
    with pytest.raises(ProcessLookupError):
        os.killpg(running.pid, 0)  # none of its processes has outlived it
