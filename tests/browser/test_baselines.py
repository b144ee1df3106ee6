"""What the pages look like, held to pictures of them in tests/baselines/.

The pages are made of documents that stand in the tests, so that a change of the model changes no
picture. Pictures are taken at half size. A picture fails when more than one pixel in a hundred
differs by more than 48 of 255 in any colour: text is smoothed a little otherwise from one release
of Chromium to the next, while a block that moves by a line or a figure that is lost changes far
more. Where the fonts of the machine are others than those of the baselines the tests skip.

``PHENOCAST_NEW_BASELINES=1`` takes new pictures instead; look at them before they are committed.
"""

from __future__ import annotations

import io
import json
import os
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread

from phenocast.cli.commands.trial import answer
from phenocast.io import template
from phenocast.report.explore import explore_parts
from phenocast.report.labour import labour_parts
from phenocast.report.render import to_html
from phenocast.report.trial import trial_parts
from tests.browser.pages import opened
from tests.report.comparisons import comparison
from tests.report.plans import plan

BASELINES = Path(__file__).resolve().parents[1] / "baselines"
FONTS = BASELINES / "fonts.json"
NEW = os.environ.get("PHENOCAST_NEW_BASELINES") == "1"
MOST_DIFFERENT, DIFFERENCE = 0.01, 48.0 / 255.0
HEIGHT = 1500

WIDTHS = """() => Object.fromEntries(["system-ui", "Georgia, serif"].map(family => {
  const e = document.createElement("span");
  e.style.cssText = `font: 100px ${family}; position: absolute; white-space: pre`;
  e.textContent = "Hamburgefonstiv 0123456789 ★";
  document.body.append(e);
  const width = Math.round(e.getBoundingClientRect().width * 10) / 10;
  e.remove();
  return [family, width];
}))"""

PICTURES = {
    "explore": ("explore", 1000, "light"),
    "explore-phone-dark": ("explore", 380, "dark"),
    "labour": ("labour", 1000, "light"),
    "trial-dark": ("trial", 1000, "dark"),
}


@pytest.fixture(scope="module")
def fixed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Pages of documents that do not depend on the model."""
    folder = tmp_path_factory.mktemp("fixed")
    (folder / "trial.csv").write_text(template("trial"), encoding="utf-8")
    columns = ("marketable_g_per_plant", "replicate", "film", "cultivar", False)
    trial = answer(folder / "trial.csv", *columns).document
    plain = comparison(films=("black", "silver"), block="Quay East")
    for document in (trial, plain):
        document["engine_version"] = "0"  # a new version changes no picture
    pages = {
        "explore": to_html(explore_parts, plain),
        "labour": to_html(labour_parts, plan(), language="es"),
        "trial": to_html(trial_parts, trial),
    }
    for name, html in pages.items():
        (folder / f"{name}.html").write_text(html, encoding="utf-8")
    return {name: folder / f"{name}.html" for name in pages}


@pytest.fixture(scope="module")
def fonts(browser, fixed) -> dict[str, float]:
    """Widths of one line in the fonts of this machine; the tests skip where they are others."""
    with opened(browser, fixed["trial"]) as seen:
        here = seen.page.evaluate(WIDTHS)
    if NEW:
        FONTS.write_text(json.dumps(here, indent=1) + "\n", encoding="utf-8")
    kept = json.loads(FONTS.read_text(encoding="utf-8"))
    if any(abs(here[family] - kept[family]) > 1.0 for family in kept):
        pytest.skip(f"other fonts than those of the baselines: {here}, not {kept}")
    return here


def picture(browser, file: Path, width: int, scheme: str) -> bytes:
    with opened(
        browser, file, (width, HEIGHT), color_scheme=scheme, device_scale_factor=0.5
    ) as seen:
        seen.page.evaluate("document.fonts.ready")
        shot = seen.page.screenshot(animations="disabled", caret="hide")
        assert isinstance(shot, bytes)
        return shot


def different(one: np.ndarray, other: np.ndarray) -> float:
    """Share of pixels that differ by more than the tolerance in any colour; sizes must agree."""
    assert one.shape[:2] == other.shape[:2]
    return float((np.abs(one[..., :3] - other[..., :3]).max(axis=-1) > DIFFERENCE).mean())


@pytest.mark.parametrize("name", PICTURES)
def test_a_page_looks_as_it_did(browser, fixed, fonts, name, tmp_path) -> None:
    page, width, scheme = PICTURES[name]
    shot = picture(browser, fixed[page], width, scheme)
    kept = BASELINES / f"{name}.png"
    if NEW:
        kept.write_bytes(shot)
    share = different(imread(io.BytesIO(shot)), imread(kept))
    if share > MOST_DIFFERENT:
        (tmp_path / kept.name).write_bytes(shot)
    assert share <= MOST_DIFFERENT, f"{tmp_path / kept.name} against {kept}"
    assert fonts


def test_a_page_that_lost_its_figures_would_be_seen(browser, fixed, fonts, tmp_path) -> None:
    html = fixed["trial"].read_text(encoding="utf-8")
    file = tmp_path / "lost.html"
    file.write_text(html.replace("<svg", '<svg style="display: none"', 1), encoding="utf-8")
    shot = picture(browser, file, 1000, "dark")
    kept = imread(BASELINES / "trial-dark.png")
    assert different(imread(io.BytesIO(shot)), kept) > MOST_DIFFERENT
    assert fonts
