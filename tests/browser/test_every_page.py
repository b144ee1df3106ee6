"""What holds for every page that a command leaves, in a real browser."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from tests.browser.pages import DESK, PAGES, PHONE, SHEETS, opened

# A box may stand out of its sheet by a pixel: rounding of the layout.
OUTSIDE = """width => [...document.querySelectorAll("table, svg, p, li, h1, h2, dd, summary")]
  .filter(e => e.checkVisibility({checkVisibilityCSS: true}))
  .map(e => [e, e.getBoundingClientRect()])
  .filter(([e, box]) => box.width > 1 && (box.right > width + 1 || box.left < -1))
  .map(([e, box]) => `${e.tagName} ${Math.round(box.left)} to ${Math.round(box.right)}: ` +
    e.textContent.trim().slice(0, 60))"""
CUT = """() => [...document.querySelectorAll(".table, th, td")]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1)
  .map(e => `${e.tagName}: ` + e.textContent.trim().slice(0, 60))"""
FOCUS = """() => { const e = document.activeElement, style = getComputedStyle(e);
  return [e.tagName, e.id || e.textContent.trim().slice(0, 40), style.outlineStyle,
          parseFloat(style.outlineWidth)]; }"""
TO_OPERATE = """() => [...document.querySelectorAll(
    "a[href], button, select, input, summary, .table")]
  .filter(e => e.checkVisibility()).length"""

every = pytest.mark.parametrize("name", PAGES)


def test_the_list_of_pages_is_whole(folders: Path) -> None:
    found = [str(file.relative_to(folders)) for file in folders.rglob("*.html")]
    assert sorted(found) == sorted(PAGES)


@every
def test_no_error_is_said_and_nothing_is_asked_of_any_network(browser, folders, name) -> None:
    file = folders / name
    with opened(browser, file) as seen:
        for fold in seen.page.query_selector_all("summary"):
            fold.click()
        seen.page.mouse.wheel(0, 5000)
        seen.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
        seen.page.wait_for_timeout(50)
        assert seen.said == []
        assert seen.asked == [file.as_uri()]
        assert seen.page.evaluate("document.cookie + Object.keys(localStorage).join()") == ""


@every
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_fault_of_accessibility(browser, folders, axe, name, scheme) -> None:
    with opened(browser, folders / name, color_scheme=scheme, bypass_csp=True) as seen:
        seen.page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
        seen.page.evaluate(axe)
        found = seen.page.evaluate("axe.run()")
    assert len(found["passes"]) > 15  # it has looked
    faults = [
        (one["impact"], one["id"], [node["target"] for node in one["nodes"][:3]])
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
    assert faults == []


@every
def test_a_phone_need_not_scroll_sideways(browser, folders, name) -> None:
    with opened(browser, folders / name, PHONE, device_scale_factor=2) as seen:
        width = seen.page.evaluate("document.documentElement.scrollWidth")
        seen.page.evaluate("document.querySelectorAll('details').forEach(e => { e.open = true; })")
        unfolded = seen.page.evaluate("document.documentElement.scrollWidth")
    assert (width, unfolded) == (PHONE[0], PHONE[0])


@every
@pytest.mark.parametrize("sheet", SHEETS)
def test_nothing_is_cut_off_on_paper(browser, folders, name, sheet) -> None:
    width = int(SHEETS[sheet])
    with opened(browser, folders / name, (width, 1000)) as seen:
        seen.page.emulate_media(media="print")
        seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
        assert seen.page.evaluate(OUTSIDE, width) == []
        assert seen.page.evaluate(CUT) == []
        seen.page.emulate_media(media="screen")
        assert seen.page.pdf(format=sheet).startswith(b"%PDF")


@every
def test_every_control_is_reached_and_seen_by_keyboard(browser, folders, name) -> None:
    with opened(browser, folders / name, DESK) as seen:
        wanted = seen.page.evaluate(TO_OPERATE)
        reached = []
        for _ in range(wanted):
            seen.page.keyboard.press("Tab")
            reached.append(seen.page.evaluate(FOCUS))
    assert len({tuple(one[:2]) for one in reached}) >= 1
    assert [one for one in reached if one[0] == "BODY"] == []
    assert [one for one in reached if one[2] == "none" or one[3] < 2.0] == []


@every
def test_what_is_folded_opens_by_mouse_and_by_keyboard(browser, folders, name) -> None:
    with opened(browser, folders / name) as seen:
        folds = seen.page.locator("details:visible")
        for number in range(folds.count()):
            fold = folds.nth(number)
            head = fold.locator("summary").first
            head.click()
            assert fold.evaluate("e => e.open")
            head.press("Enter")
            assert not fold.evaluate("e => e.open")
            head.press("Space")
            assert fold.evaluate("e => e.open")
            head.click()


@every
def test_a_page_is_read_in_order(browser, folders, name) -> None:
    with opened(browser, folders / name) as seen:
        heads = seen.page.evaluate(
            "[...document.querySelectorAll('h1, h2, h3')].filter(e => e.checkVisibility())"
            ".map(e => Number(e.tagName[1]))"
        )
        named = seen.page.evaluate(
            "[...document.querySelectorAll('svg')].map(e => [e.getAttribute('role'), "
            "(e.getAttribute('aria-labelledby') || '').split(' ')"
            ".map(id => document.getElementById(id)?.textContent.trim() ?? '')])"
        )
    assert heads[0] == 1
    assert heads.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(heads))
    assert [one for one in named if one[0] != "img" or not all(one[1])] == []
