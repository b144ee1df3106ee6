"""What holds for every page that a command leaves, in a real browser."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.answers import COMMANDS
from tests.browser import checks
from tests.browser.pages import PAGES, SHEETS

every = pytest.mark.parametrize("name", PAGES)

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
def test_no_error_is_said_and_nothing_is_asked_of_any_network(browser, folders, name) -> None:
    assert checks.noise(browser, folders / name) == []


@every
@pytest.mark.parametrize("scheme", ["light", pytest.param("dark", marks=pytest.mark.slow)])
def test_no_serious_fault_of_accessibility(browser, folders, axe, name, scheme) -> None:
    assert checks.barriers(browser, folders / name, axe, scheme) == []


@every
def test_a_phone_need_not_scroll_sideways(browser, folders, name) -> None:
    assert checks.sideways(browser, folders / name) == []


@every
@pytest.mark.parametrize("sheet", SHEETS)
def test_nothing_is_cut_off_on_paper(browser, folders, name, sheet) -> None:
    assert checks.cut_off(browser, folders / name, sheet) == []


@every
def test_every_control_is_reached_and_seen_by_keyboard(browser, folders, name) -> None:
    assert checks.out_of_reach(browser, folders / name) == []


@pytest.mark.slow
@every
def test_what_is_folded_opens_by_mouse_and_by_keyboard(browser, folders, name) -> None:
    assert checks.folds_stuck(browser, folders / name) == []


@every
def test_a_page_is_read_in_order(browser, folders, name) -> None:
    assert checks.disorder(browser, folders / name) == []


@pytest.fixture(scope="module")
def bad(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page with every fault that is looked for."""
    file = tmp_path_factory.mktemp("bad") / "bad.html"
    file.write_text(BAD, encoding="utf-8")
    return file


def test_the_checks_find_the_faults_of_a_bad_page(browser, bad) -> None:
    said = " ".join(checks.noise(browser, bad))
    assert "ouch" in said
    assert "asked for https://example.invalid/x" in said
    assert checks.sideways(browser, bad)
    cut = " ".join(checks.cut_off(browser, bad, "A4"))
    assert "TD is cut" in cut
    assert "P 8 to 1508" in cut
    assert "focus on Link is not seen" in checks.out_of_reach(browser, bad)
    assert "Stuck" in checks.folds_stuck(browser, bad)[0]
    assert len(checks.disorder(browser, bad)) == 3


def test_the_check_of_accessibility_finds_pale_words_and_nameless_buttons(
    browser, bad, axe
) -> None:
    found = " ".join(checks.barriers(browser, bad, axe, "light"))
    assert "color-contrast" in found
    assert "button-name" in found
