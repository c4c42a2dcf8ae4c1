"""Pages in headless Chromium, without a network and with a profile of their own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
DESKTOP = {"width": 1280, "height": 800}
PHONE = {"width": 375, "height": 667}
PAPER = {"width": 718, "height": 1000}
"""An A4 page less its margins, at 96 px to the inch."""


@contextmanager
def chromium() -> Iterator[Any]:
    """A browser; skips the test, and says why, where there is none."""
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed: apt-get install chromium")
    driver = pytest.importorskip("playwright.sync_api", reason="the extra browser is not installed")
    with driver.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS), headless=True)
        yield browser
        browser.close()


@dataclass
class Opened:
    """A page, and everything it complained about or asked for."""

    page: Any
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def unfold(self) -> None:
        """Open everything that is folded away."""
        self.page.evaluate("document.querySelectorAll('details').forEach(details => details.open = true)")

    def wider_than_its_window(self) -> bool:
        """Whether one has to scroll sideways."""
        return bool(self.page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"))

    def bottom_of(self, selector: str) -> float:
        """How far down the first of some elements ends."""
        box = self.page.locator(selector).first.bounding_box()
        return float(box["y"] + box["height"])


@contextmanager
def opened(browser: Any, path: Path, size: dict[str, int] = DESKTOP, scheme: str = "light") -> Iterator[Opened]:
    """A page opened from a file."""
    context = browser.new_context(viewport=size, color_scheme=scheme)
    page = context.new_page()
    found = Opened(page)
    page.on("console", lambda message: found.complaints.append(message.text))
    page.on("pageerror", lambda error: found.complaints.append(str(error)))
    page.on("request", lambda request: found.requests.append(request.url))
    page.goto(path.as_uri())
    yield found
    context.close()


OVERPRINTED = """() => {
    const clashes = [];
    for (const drawing of document.querySelectorAll('svg')) {
        const frame = drawing.getBoundingClientRect();
        const texts = Array.from(drawing.querySelectorAll('text'))
            .map(text => [text.textContent, text.getBoundingClientRect()]);
        texts.forEach(([words, box], number) => {
            if (box.left < frame.left - 1 || box.right > frame.right + 1
                || box.top < frame.top - 2 || box.bottom > frame.bottom + 2)
                clashes.push([words, 'beyond its drawing']);
            for (const [others, other] of texts.slice(number + 1))
                if (Math.min(box.right, other.right) - Math.max(box.left, other.left) > 0.5
                    && Math.min(box.bottom, other.bottom) - Math.max(box.top, other.top) > 0.5)
                    clashes.push([words, others]);
        });
    }
    return clashes;
}"""
"""Every two words of a drawing that cover each other, and those that stick out of it."""
