"""Curves as a drawing (SVG): three panels over each other, on one axis."""

from __future__ import annotations

from html import escape
from math import ceil
from typing import NamedTuple

POINTS = 900
"""Points of a line that are drawn, at most: more than a printer shows."""
WIDTH, LEFT, RIGHT = 900, 62, 12
TOP, BOTTOM = 26, 586
PLACES = ((26.0, 300.0), (366.0, 90.0), (496.0, 90.0))
"""Top and height of each panel."""
STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)

Point = tuple[float | None, float | None]


class Line(NamedTuple):
    """A line in a panel; `style` is its class in the style sheet. It is broken where a value isn't known."""

    panel: int
    style: str
    points: tuple[Point, ...]


class Band(NamedTuple):
    """A stretch of the axis with a word at its top."""

    begins: float
    ends: float
    word: str


class Frame(NamedTuple):
    """All that is drawn: a sentence for those who can't see it, the axis in words, lines, panels by name, bands."""

    said: str
    under: str
    lines: list[Line]
    panels: tuple[str, ...]
    bands: tuple[Band, ...] = ()


class Axis(NamedTuple):
    """From a value to a place in the drawing."""

    low: float
    high: float
    begins: float
    ends: float

    def at(self, value: float) -> float:
        """The place."""
        share = (value - self.low) / (self.high - self.low)
        return self.begins + min(max(share, 0.0), 1.0) * (self.ends - self.begins)


def draw(frame: Frame) -> str:
    """The drawing."""
    along = [x for line in frame.lines for x, _ in line.points if x is not None]
    if not along or max(along) <= min(along):
        return "<p>Too little was recorded for a curve.</p>"
    across = Axis(min(along), max(along), LEFT, WIDTH - RIGHT)
    body = [band(across, place, kept) for place, kept in enumerate(frame.bands)]
    for place, name in enumerate(frame.panels):
        lines = [line for line in frame.lines if line.panel == place]
        top, height = PLACES[place]
        most = max((y for line in lines for _, y in line.points if y is not None and y > 0), default=1.0) * 1.05
        up = Axis(0.0, most, top + height, top)
        body.append(grid(across, up, name, last=place == len(frame.panels) - 1))
        body += [f'<path class="{line.style}" d="{path(across, up, line.points)}"/>' for line in lines]
    return f"""<svg viewBox="0 0 {WIDTH} 624" role="img" aria-label="{escape(frame.said)}">{"".join(body)}
<text x="{WIDTH - RIGHT}" y="620" text-anchor="end">{escape(frame.under)}</text></svg>"""


def path(across: Axis, up: Axis, points: tuple[Point, ...]) -> str:
    """A line's path."""
    step = max(ceil(len(points) / POINTS), 1)
    parts, pen = [], "M"
    for x, y in (*points[::step], *points[-1:]):
        if x is None or y is None:
            pen = "M"
            continue
        parts.append(f"{pen}{across.at(x):.1f} {up.at(y):.1f}")
        pen = "L"
    return "".join(parts)


def step_for(span: float, most: int) -> float:
    """The finest round step that makes at most so many."""
    return next((step for step in STEPS if span / step <= most), span)


def grid(across: Axis, up: Axis, name: str, last: bool) -> str:
    """Lines and figures of a panel."""
    top, end = up.ends, up.begins
    parts = [f'<text class="name" x="{LEFT}" y="{top - 8:g}">{escape(name)}</text>']
    step = step_for(up.high, 7 if end - top > 100 else 3)
    for k in range(int(up.high / step) + 1):
        y = up.at(k * step)
        parts.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
                     f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{k * step:g}</text>')  # fmt: skip
    step = step_for(across.high - across.low, 14)
    for k in range(ceil(across.low / step), int(across.high / step) + 1):
        x = across.at(k * step)
        parts.append(f'<line x1="{x:.1f}" x2="{x:.1f}" y1="{top:g}" y2="{end:g}"/>')
        if last:
            parts.append(f'<text x="{x:.1f}" y="{end + 16:g}" text-anchor="middle">{k * step:g}</text>')
    return f"<g>{''.join(parts)}</g>"


def band(across: Axis, place: int, kept: Band) -> str:
    """A stretch of the axis; every second one is shaded."""
    x, end = across.at(kept.begins), across.at(kept.ends)
    shade = f'<rect x="{x:.1f}" y="{TOP}" width="{end - x:.1f}" height="{BOTTOM - TOP}"/>' if place % 2 == 0 else ""
    word = f'<text x="{(x + end) / 2:.1f}" y="40" text-anchor="middle">{escape(kept.word)}</text>'
    return shade + (word if end - x > 12 else "")
