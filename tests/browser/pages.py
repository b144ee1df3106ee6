"""Which pages the commands leave, and how to look at one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast.parameters import shipped

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SEASON = str(shipped("demo_weather", "low_quay.toml"))
RECORDS = f"{shipped('calibration', 'records')}/"
DATES = ("--plant-from", "2026-09-20", "--plant-to", "2026-10-20", "--every", "10")

COMMANDS: dict[str, list[str]] = {
    "demo": ["demo", "--draws", "4"],
    "campo": ["forecast", SEASON, "--draws", "4", "--language", "es", "--units", "us"],
    "compare": ["compare", SEASON, *DATES, "--films", "black,silver", "--cultivars",
                "Marl,Gneiss", "--draws", "4"],
    "compara": ["compare", SEASON, *DATES, "--films", "black,silver", "--draws", "4",
                "--language", "es", "--units", "us"],
    "labour": ["labour", SEASON, "--draws", "3", "--scenarios", "6"],
    "trial": ["trial", "{root}/trial.csv", "--response", "marketable_g_per_plant",
              "--language", "es"],
    "fit": ["fit", "{root}/picks.csv", RECORDS + "low_quay_2021.toml",
            RECORDS + "low_quay_2022.toml"],
    "film": ["fit", RECORDS + "low_quay_sensors.csv", RECORDS + "low_quay_2023.toml",
             "--language", "es"],
    "rank": ["rank", "{root}/past/fit"],
    "hindcast": ["hindcast", "{root}/past/picks.csv", "{root}/past/2014.toml",
                 "{root}/past/2016.toml", "--draws", "5"],
}  # fmt: skip
"""Folder by folder, what is run to fill it (``--out`` is added)."""

PAGES = (
    "demo/index.html",
    "demo/forecast.html",
    "demo/crown.html",
    "demo/compare.html",
    "demo/explore.html",
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
"""Every page in those folders; a test holds the list to what lies there."""

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
