"""What holds for every page that a command leaves, in a real browser."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.answers import COMMANDS
from tests.browser import checks
from tests.browser.pages import PAGES, PHONE, SHEETS, opened

every = pytest.mark.parametrize("name", PAGES)
# One page of each kind; the demo's forecast, comparisons and their pages to play with have twins.
AT_ONCE = {
    ("light", name)
    for name in PAGES
    if name not in {"phenocast-demo/forecast.html", "phenocast-demo/compare.html",
                    "phenocast-demo/explore.html", "compara/report.html", "compare/explore.html"}
} | {("dark", "compare/explore.html"), ("dark", "trial/report.html")}  # fmt: skip

BAD = """<!doctype html><html lang="en"><head><title>Bad</title>
<style>a:focus { outline: none } td { white-space: nowrap; max-width: 20px; overflow: hidden }
</style></head><body><h1>One</h1><h1>Two</h1><h3>Three</h3>
<p style="color: #aaa; background: #fff">Pale words.</p><a href="#x">Link</a><button></button>
<div style="width: 1500px; height: 1px"><p>Wide.</p></div>
<table><tr><td>A cell that is cut off at its side.</td></tr></table>
<svg width="10" height="10"></svg>
<details onclick="event.preventDefault()"><summary>Stuck</summary>Words.</details>
<script>console.error("ouch"); fetch("https://example.invalid/x").catch(() => 0);
document.cookie = "a=b"; localStorage.setItem("kept", "1");</script></body></html>"""


def test_the_list_of_pages_is_whole(folders: Path) -> None:
    made = [file for name in COMMANDS for file in (folders / name).rglob("*.html")]
    found = [str(file.relative_to(folders)) for file in made]
    assert sorted(found) == sorted(PAGES)


@every
def test_a_page_is_in_order_and_quiet_and_fits_desk_phone_and_paper(browser, folders, name) -> None:
    file = folders / name
    with opened(browser, file) as seen:
        faults = {
            "order": checks.disorder(seen),
            "keyboard": checks.out_of_reach(seen),
            "noise": checks.noise(seen, file),
            "phone": checks.sideways(seen),
            "paper": checks.cut_off(seen, "A4"),  # the narrower sheet
        }
    assert {look: found for look, found in faults.items() if found} == {}


@pytest.mark.slow
@every
def test_a_page_fits_a_phone_that_opens_it_and_letter_paper(browser, folders, name) -> None:
    with opened(browser, folders / name, PHONE, device_scale_factor=2) as seen:
        assert checks.sideways(seen) == []
    with opened(browser, folders / name, (int(SHEETS["Letter"]), 1000)) as seen:
        assert checks.cut_off(seen, "Letter") == []


@pytest.mark.parametrize(
    ("scheme", "name"),
    [
        pytest.param(scheme, name, marks=() if (scheme, name) in AT_ONCE else pytest.mark.slow)
        for scheme in ("light", "dark")
        for name in PAGES
    ],
)
def test_no_serious_fault_of_accessibility(browser, folders, axe, name, scheme) -> None:
    with opened(browser, folders / name, color_scheme=scheme, bypass_csp=True) as seen:
        assert checks.barriers(seen, axe, scheme) == []


@pytest.mark.slow
@every
def test_what_is_folded_opens_by_mouse_and_by_keyboard(browser, folders, name) -> None:
    with opened(browser, folders / name) as seen:
        assert checks.folds_stuck(seen) == []


@pytest.fixture(scope="module")
def bad(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with every fault that is looked for."""
    file = tmp_path_factory.mktemp("bad") / "bad.html"
    file.write_text(BAD, encoding="utf-8")
    return file


def test_the_checks_find_the_faults_of_a_bad_page(browser, bad) -> None:
    with opened(browser, bad) as seen:
        assert len(checks.disorder(seen)) == 3
        assert "focus on Link is not seen" in checks.out_of_reach(seen)
        said = " ".join(checks.noise(seen, bad))
        assert "ouch" in said
        assert "asked for https://example.invalid/x" in said
        assert checks.sideways(seen)
        cut = " ".join(checks.cut_off(seen, "A4"))
        assert "TD is cut" in cut
        assert "P 8 to 1508" in cut
    with opened(browser, bad) as seen:
        assert "Stuck" in checks.folds_stuck(seen)[0]


def test_the_check_of_accessibility_finds_pale_words_and_nameless_buttons(
    browser, bad, axe
) -> None:
    with opened(browser, bad, bypass_csp=True) as seen:
        found = " ".join(checks.barriers(seen, axe, "light"))
    assert "color-contrast" in found
    assert "button-name" in found
