"""A real browser for the tests of pictures, and the texts of a drawing as the browser lays them out."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
NO_CHROMIUM = "no chromium on this machine (apt-get install chromium)"
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SLACK_PX: Final = 0.5

# Letters leave room above and below in their box: 16 % and 12 % of its height are nobody's. Of upright words, which
# read upwards, above is left. A text can be cut by the drawing's edge and by the clip of its view.
TEXTS: Final = """() => {
  const root = document.querySelector('svg').getBoundingClientRect();
  const clipOf = node => {
    const clipped = node.closest('[clip-path^="url"]');
    if (!clipped) return root;
    const shape = document.querySelector(clipped.getAttribute('clip-path').match(/#[^")]+/)[0]).firstElementChild;
    const box = shape.getBBox(), to = clipped.getScreenCTM();
    const [one, other] = [[box.x, box.y], [box.x + box.width, box.y + box.height]]
      .map(([x, y]) => new DOMPoint(x, y).matrixTransform(to));
    return { left: one.x, top: one.y, right: other.x, bottom: other.y };
  };
  return [...document.querySelectorAll('svg text')]
    .filter(node => node.textContent.trim() && getComputedStyle(node).opacity !== '0')
    .map(node => {
      const box = node.getBoundingClientRect(), turn = node.getScreenCTM(), clip = clipOf(node);
      const upright = Math.abs(turn.b) > Math.abs(turn.a);
      const [across, down] = upright ? [box.width, 0] : [0, box.height];
      const room = {
        left: Math.max(clip.left, root.left), top: Math.max(clip.top, root.top),
        right: Math.min(clip.right, root.right), bottom: Math.min(clip.bottom, root.bottom),
      };
      return {
        words: node.textContent,
        left: box.left + 0.16 * across, top: box.top + 0.16 * down,
        right: box.right - 0.12 * across, bottom: box.bottom - 0.12 * down,
        room: [room.left, room.top, room.right, room.bottom],
      };
    });
}"""


@dataclass(frozen=True)
class Measured:
    """A text of a drawing.

    Parameters
    ----------
    words : its letters
    left, top, right, bottom : of the letters' own box. [px]
    room : left, top, right and bottom of what may be seen of it. [px]
    """

    words: str
    left: float
    top: float
    right: float
    bottom: float
    room: tuple[float, float, float, float]

    def overlaps(self, other: Measured) -> bool:
        """Whether both stand on one spot."""
        beside = self.left >= other.right - SLACK_PX or other.left >= self.right - SLACK_PX
        return not (beside or self.top >= other.bottom - SLACK_PX or other.top >= self.bottom - SLACK_PX)

    @property
    def is_cut(self) -> bool:
        """Whether an edge takes some of it away."""
        left, top, right, bottom = self.room
        beyond = (left - self.left, top - self.top, self.right - right, self.bottom - bottom)
        return max(beyond) > 2.0 * SLACK_PX


@contextmanager
def chromium() -> Iterator[Any]:
    """The browser of the machine."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield browser
        browser.close()


def texts_of(browser: Any, svg: str) -> list[Measured]:
    """Every text of an SVG, as the browser draws it."""
    page = browser.new_page(viewport={"width": 1600, "height": 1200})
    page.set_content(f"<body style='margin:0'>{svg}</body>")
    found = page.evaluate(TEXTS)
    page.close()
    return [Measured(**{**one, "room": tuple(one["room"])}) for one in found]


def faults_of(texts: Sequence[Measured]) -> list[str]:
    """What a reader could not read: words over words, and words that are cut."""
    pairs = itertools.combinations(texts, 2)
    over = [f"{one.words!r} and {other.words!r} overlap: {one} {other}" for one, other in pairs if one.overlaps(other)]
    return [*over, *(f"{one.words!r} is cut: {one}" for one in texts if one.is_cut)]
