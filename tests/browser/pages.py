"""Which pages the commands leave, and how to look at one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PAGES = (
    "phenocast-demo/index.html",
    "phenocast-demo/forecast.html",
    "phenocast-demo/crown.html",
    "phenocast-demo/compare.html",
    "phenocast-demo/explore.html",
    "campo/report.html",
    "compare/report.html",
    "compare/explore.html",
    "compara/report.html",
    "compara/explore.html",
    "labour/report.html",
    "trial/report.html",
    "fit/report.html",
    "film/report.html",
    "rank/report.html",
    "hindcast/report.html",
)
"""Every page in the folders of `tests.answers`; a test holds the list to what lies there."""

PHONE, DESK = (360, 740), (1200, 900)
# Text width on paper at 96 pixels an inch: the sheet less two margins of 14 mm.
SHEETS = {"A4": (210 - 28) / 25.4 * 96, "Letter": (215.9 - 28) / 25.4 * 96}


@dataclass
class Seen:
    """A page that is open, and what it said and asked for since."""

    page: Page
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)


@contextmanager
def opened(
    browser: Browser, file: Path, size: tuple[int, int] = DESK, **more: Any
) -> Iterator[Seen]:
    """Open a page; `more` goes to the context, such as ``color_scheme``."""
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, reduced_motion="reduce", **more
    )
    try:
        seen = Seen(context.new_page())
        seen.page.on("console", lambda message: seen.said.append(message.text))
        seen.page.on("pageerror", lambda error: seen.said.append(str(error)))
        seen.page.on("request", lambda request: seen.asked.append(request.url))
        seen.page.goto(file.as_uri())
        yield seen
    finally:
        context.close()
