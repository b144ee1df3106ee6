"""A real browser for the tests of the pages, and the pages that the commands leave.

Debian's Chromium driven by Playwright. `.ci/browser` installs it, and axe-core beside it; where
either is missing the tests skip and say so.
"""

from __future__ import annotations

import os
import shutil
import tarfile
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.answers import COMMANDS, answer, place

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

NAMES = ("chromium", "chromium-browser")
AXE = "axe-core-4.14.1.tgz"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("no Chromium on this machine: run .ci/browser")
    driver = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    arguments = ["--font-render-hinting=none", "--disable-lcd-text", "--force-color-profile=srgb",
                 "--disable-dev-shm-usage"]  # fmt: skip
    if os.geteuid() == 0:  # the sandbox of Chromium does not start for root
        arguments.append("--no-sandbox")
    with driver.sync_playwright() as playwright:
        try:
            started = playwright.chromium.launch(executable_path=path, args=arguments)
        except driver.Error as error:
            pytest.skip(f"{path} does not start: {str(error).splitlines()[0]}")
        yield started
        started.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """Source of axe-core, which looks for faults that keep people from using a page."""
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache", "phenocast-tests", AXE)
    if not cache.is_file():
        pytest.skip(f"no {AXE} in {cache.parent}: run .ci/browser, which asks the npm registry")
    with tarfile.open(cache) as packed:
        source = packed.extractfile("package/axe.min.js")
        assert source is not None
        return source.read().decode("utf-8")


@pytest.fixture(scope="session")
def folders(browser: Browser) -> Path:
    """Folders of answers as the commands leave them, each with its pages."""
    assert browser.is_connected()  # without a browser nothing is made for it
    for name in COMMANDS:
        answer(name)
    return place()
