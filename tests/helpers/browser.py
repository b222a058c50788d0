"""A real browser for the tests of pages: the system's Chromium, without a screen or the net."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

NEEDED = os.environ.get("BEDTIDE_BROWSER") == "needed"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
]


def missing(why: str) -> None:
    """Skip, or fail where the browser was promised."""
    text = (
        f"{why}, so pages were not opened: apt-get install chromium, pip install bedtide[browser]"
    )
    pytest.fail(text) if NEEDED else pytest.skip(text)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Headless Chromium through playwright."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed")
    names = ("chromium", "chromium-browser", "google-chrome")
    program = next(filter(None, map(shutil.which, names)), None)
    if program is None:
        missing("there is no Chromium here")
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=program, args=QUIET)
        yield opened
        opened.close()


class Opened:
    """A page that was opened from the disk, and all that it said and asked for."""

    def __init__(self, browser: Any, path: Path, *, width: int = 360, **how: Any) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 800}, **how)
        self.page = self.context.new_page()
        self.said: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda line: self.said.append(line.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", lambda box: self.said.append(box.message) or box.dismiss())
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())
        assert self.asked.pop(0) == path.as_uri()

    def __enter__(self) -> "Opened":
        return self

    def __exit__(self, *trouble: object) -> None:
        self.context.close()
