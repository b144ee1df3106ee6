"""What is looked for in a page; every check returns the faults that it finds, in words."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from tests.browser.pages import DESK, PHONE, SHEETS, opened

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# A box may stand out of its sheet by a pixel: rounding of the layout.
OUTSIDE = """width => [...document.querySelectorAll("table, svg, p, li, h1, h2, dd, summary")]
  .filter(e => e.checkVisibility({checkVisibilityCSS: true}))
  .map(e => [e, e.getBoundingClientRect()])
  .filter(([e, box]) => box.width > 1 && (box.right > width + 1 || box.left < -1))
  .map(([e, box]) => `${e.tagName} ${Math.round(box.left)} to ${Math.round(box.right)}: ` +
    e.textContent.trim().slice(0, 60))"""
CUT = """() => [...document.querySelectorAll(".table, th, td")]
  .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth + 1)
  .map(e => `${e.tagName} is cut: ` + e.textContent.trim().slice(0, 60))"""
FOCUS = """() => { const e = document.activeElement, style = getComputedStyle(e);
  return [e.tagName, e.id || e.textContent.trim().slice(0, 40), style.outlineStyle,
          parseFloat(style.outlineWidth)]; }"""
TO_OPERATE = """() => [...document.querySelectorAll(
    "a[href], button, select, input, summary, .table")]
  .filter(e => e.checkVisibility()).length"""
AXE_OPTIONS = {
    "light": {"resultTypes": ["violations"]},
    "dark": {"resultTypes": ["violations"], "runOnly": ["color-contrast"]},
}
FEWEST_RULES = {"light": 10, "dark": 1}
UNFOLD = "document.querySelectorAll('details').forEach(e => { e.open = true; })"
HEADS = """[...document.querySelectorAll('h1, h2, h3')].filter(e => e.checkVisibility())
  .map(e => Number(e.tagName[1]))"""
DRAWINGS = """[...document.querySelectorAll('svg')].map(e => [e.getAttribute('role'),
  (e.getAttribute('aria-labelledby') || '').split(' ')
    .map(id => document.getElementById(id)?.textContent.trim() ?? '')])"""
KEPT = "document.cookie + Object.keys(localStorage).join()"


def noise(browser: Browser, file: Path) -> list[str]:
    """What the page says on the console, asks of a network or keeps, while it is used."""
    with opened(browser, file) as seen:
        for fold in seen.page.query_selector_all("summary"):
            fold.click()
        seen.page.mouse.wheel(0, 5000)
        seen.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
        seen.page.wait_for_timeout(50)
        kept = seen.page.evaluate(KEPT)
        return [
            *seen.said,
            *(f"asked for {url}" for url in seen.asked if url != file.as_uri()),
            *([f"kept {kept}"] if kept else []),
        ]


def barriers(browser: Browser, file: Path, axe: str, scheme: str) -> list[str]:
    """Serious faults of accessibility that axe-core finds, with everything unfolded.

    In the dark only the contrast is looked at: nothing else changes with the colours.
    """
    with opened(browser, file, color_scheme=scheme, bypass_csp=True) as seen:
        seen.page.evaluate(UNFOLD)
        seen.page.evaluate(axe)
        found = seen.page.evaluate("options => axe.run(options)", AXE_OPTIONS[scheme])
    assert len(found["passes"]) >= FEWEST_RULES[scheme], "axe-core has not looked"
    return [
        f"{one['impact']} {one['id']}: {[node['target'] for node in one['nodes'][:3]]}"
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]


def sideways(browser: Browser, file: Path) -> list[str]:
    """Whether a phone must scroll sideways, folded or unfolded."""
    with opened(browser, file, PHONE, device_scale_factor=2) as seen:
        folded = seen.page.evaluate("document.documentElement.scrollWidth")
        seen.page.evaluate(UNFOLD)
        unfolded = seen.page.evaluate("document.documentElement.scrollWidth")
    return [f"{width} pixels wide" for width in (folded, unfolded) if width > PHONE[0]]


def cut_off(browser: Browser, file: Path, sheet: str) -> list[str]:
    """What stands out of a sheet of paper, or out of its cell."""
    width = int(SHEETS[sheet])
    with opened(browser, file, (width, 1000)) as seen:
        seen.page.emulate_media(media="print")
        seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        found = [*seen.page.evaluate(OUTSIDE, width), *seen.page.evaluate(CUT)]
        wide = seen.page.evaluate("document.documentElement.scrollWidth")
        seen.page.emulate_media(media="screen")
        assert seen.page.pdf(format=sheet).startswith(b"%PDF")
    return [*found, *([f"the sheet is {wide} pixels wide"] if wide > width else [])]


def out_of_reach(browser: Browser, file: Path) -> list[str]:
    """Controls that the tabulator does not reach, or whose focus is not seen."""
    with opened(browser, file, DESK) as seen:
        reached = []
        for _ in range(seen.page.evaluate(TO_OPERATE)):
            seen.page.keyboard.press("Tab")
            reached.append(seen.page.evaluate(FOCUS))
    lost = [f"{one[0]} {one[1]} is not a control" for one in reached if one[0] == "BODY"]
    unseen = [f"focus on {one[1]} is not seen" for one in reached
              if one[0] != "BODY" and (one[2] == "none" or one[3] < 2.0)]  # fmt: skip
    return [*lost, *unseen]


def folds_stuck(browser: Browser, file: Path) -> list[str]:
    """Folded parts that do not open by mouse, close by Enter and open by the space bar."""
    stuck = []
    with opened(browser, file) as seen:
        folds = seen.page.locator("details:visible")
        for number in range(folds.count()):
            fold = folds.nth(number)
            head = fold.locator("summary").first
            states = []
            for act in (head.click, lambda: head.press("Enter"), lambda: head.press("Space")):  # noqa: B023
                act()
                states.append(fold.evaluate("e => e.open"))
            if states != [True, False, True]:
                stuck.append(f"{head.text_content()}: {states}")
            head.click()
    return stuck


def disorder(browser: Browser, file: Path) -> list[str]:
    """Headings out of order, and drawings without words."""
    with opened(browser, file) as seen:
        heads = seen.page.evaluate(HEADS)
        drawings = seen.page.evaluate(DRAWINGS)
    faults = [f"a drawing without words: {one}" for one in drawings
              if one[0] != "img" or not all(one[1])]  # fmt: skip
    if heads[:1] != [1] or heads.count(1) != 1:
        faults.append(f"the first heading is not the only one of its rank: {heads}")
    if any(after - before > 1 for before, after in pairwise(heads)):
        faults.append(f"a rank of heading is left out: {heads}")
    return faults
