"""A real browser looking at the page, as a phone and as a laptop."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

PHONE = (390, 844)
LAPTOP = (1366, 900)
ARGUMENTS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip

# WCAG 2: contrast of every visible text with the ground it stands on. Returns the texts below the bound.
FAINT_TEXTS = """(bound) => {
  const light = (rgb) => {
    const [r, g, b] = rgb.map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const parts = (colour) => colour.match(/[\\d.]+/g).map(Number);
  const ground = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const [r, g, b, a = 1] = parts(getComputedStyle(e).backgroundColor);
      if (a > 0) return [r, g, b];
    }
    return [255, 255, 255];
  };
  const faint = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    if (!node.textContent.trim() || !element.checkVisibility() || element.closest("noscript")) continue;
    const one = light(parts(getComputedStyle(element).color).slice(0, 3));
    const two = light(ground(element));
    const contrast = (Math.max(one, two) + 0.05) / (Math.min(one, two) + 0.05);
    if (contrast < bound) faint.push(`${contrast.toFixed(2)}: ${node.textContent.trim()}`);
  }
  return faint;
}"""


def chromium() -> str:
    """Return where Chromium is. Without one the test is skipped, or fails where STOKEHAND_BROWSER=required."""
    found = os.environ.get("STOKEHAND_CHROMIUM") or shutil.which("chromium")
    if found is not None:
        return found
    if os.environ.get("STOKEHAND_BROWSER") == "required":
        pytest.fail("no chromium on the path, and STOKEHAND_BROWSER=required")
    pytest.skip("no chromium on the path")


@contextmanager
def launched(executable: str) -> Iterator[Browser]:
    """Start the browser, and end it."""
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=executable, args=ARGUMENTS)
        try:
            yield browser
        finally:
            browser.close()


@dataclass(frozen=True, slots=True)
class Watcher:
    """A person with the page open, and everything the browser complained about."""

    page: Page
    complaints: list[str] = field(default_factory=list)

    def text(self, selector: str) -> str:
        """Return what stands in one place, with plain spaces."""
        return self.page.locator(selector).inner_text().replace("\u00a0", " ")

    def row(self, name: str) -> str:
        """Return what stands beside a name among the readings, its lines joined by " / "."""
        place = self.page.locator("#readings > div").filter(has=self.page.get_by_text(name, exact=True))
        return " / ".join(place.locator("dd > *").all_inner_texts()).replace("\u00a0", " ")

    def faint_texts(self) -> list[str]:
        """Return every visible text with a contrast below 4.5."""
        faint: list[str] = self.page.evaluate(FAINT_TEXTS, 4.5)
        return faint

    def too_wide_by(self) -> int:
        """Return how many pixels the page is wider than the screen."""
        wide: int = self.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        return wide


@contextmanager
def watching(
    browser: Browser, url: str, size: tuple[int, int], scheme: Literal["light", "dark"] = "light"
) -> Iterator[Watcher]:
    """Open the page on a screen of this size."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    try:
        watcher = Watcher(context.new_page())

        def complain(message: ConsoleMessage) -> None:
            if message.type in ("error", "warning"):
                watcher.complaints.append(message.text)

        watcher.page.on("console", complain)
        watcher.page.on("pageerror", lambda error: watcher.complaints.append(str(error)))
        watcher.page.goto(url)
        yield watcher
    finally:
        context.close()
