"""What is looked for in an open page; every check returns the faults that it finds, in words.

Checks of one page may follow one another without loading it again, in the order of this module.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

from tests.browser.pages import PHONE, SHEETS, Seen

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
FOLDS = "open => document.querySelectorAll('details').forEach(e => { e.open = open; })"
HEADS = """[...document.querySelectorAll('h1, h2, h3')].filter(e => e.checkVisibility())
  .map(e => Number(e.tagName[1]))"""
DRAWINGS = """[...document.querySelectorAll('svg')].map(e => [e.getAttribute('role'),
  (e.getAttribute('aria-labelledby') || '').split(' ')
    .map(id => document.getElementById(id)?.textContent.trim() ?? '')])"""
KEPT = "document.cookie + Object.keys(localStorage).join()"


def disorder(seen: Seen) -> list[str]:
    """Headings out of order, and drawings without words."""
    heads = seen.page.evaluate(HEADS)
    drawings = seen.page.evaluate(DRAWINGS)
    faults = [f"a drawing without words: {one}" for one in drawings
              if one[0] != "img" or not all(one[1])]  # fmt: skip
    if heads[:1] != [1] or heads.count(1) != 1:
        faults.append(f"the first heading is not the only one of its rank: {heads}")
    if any(after - before > 1 for before, after in pairwise(heads)):
        faults.append(f"a rank of heading is left out: {heads}")
    return faults


def out_of_reach(seen: Seen) -> list[str]:
    """Controls that the tabulator does not reach, or whose focus is not seen."""
    reached = []
    for _ in range(seen.page.evaluate(TO_OPERATE)):
        seen.page.keyboard.press("Tab")
        reached.append(seen.page.evaluate(FOCUS))
    lost = [f"{one[0]} {one[1]} is not a control" for one in reached if one[0] == "BODY"]
    unseen = [f"focus on {one[1]} is not seen" for one in reached
              if one[0] != "BODY" and (one[2] == "none" or one[3] < 2.0)]  # fmt: skip
    return [*lost, *unseen]


def noise(seen: Seen, file: Path) -> list[str]:
    """What the page says on the console, asks of a network or keeps, while it is used."""
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


def sideways(seen: Seen) -> list[str]:
    """Whether a phone must scroll sideways, folded or unfolded."""
    seen.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    widths = []
    for unfolded in (False, True):
        seen.page.evaluate(FOLDS, unfolded)
        widths.append(seen.page.evaluate("document.documentElement.scrollWidth"))
    return [f"{width} pixels wide" for width in widths if width > PHONE[0]]


def cut_off(seen: Seen, sheet: str) -> list[str]:
    """What stands out of a sheet of paper, or out of its cell."""
    width = int(SHEETS[sheet])
    seen.page.set_viewport_size({"width": width, "height": 1000})
    seen.page.emulate_media(media="print")
    seen.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    found = [*seen.page.evaluate(OUTSIDE, width), *seen.page.evaluate(CUT)]
    wide = seen.page.evaluate("document.documentElement.scrollWidth")
    seen.page.emulate_media(media="screen")
    assert seen.page.pdf(format=sheet).startswith(b"%PDF")
    return [*found, *([f"the sheet is {wide} pixels wide"] if wide > width else [])]


def folds_stuck(seen: Seen) -> list[str]:
    """Folded parts that do not open by mouse, close by Enter and open by the space bar."""
    stuck = []
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


def barriers(seen: Seen, axe: str, scheme: str) -> list[str]:
    """Serious faults of accessibility that axe-core finds, with everything unfolded.

    In the dark only the contrast is looked at: nothing else changes with the colours. The page
    must be open with ``bypass_csp``.
    """
    seen.page.evaluate(FOLDS, True)
    seen.page.evaluate(axe)
    found = seen.page.evaluate("options => axe.run(options)", AXE_OPTIONS[scheme])
    assert len(found["passes"]) >= FEWEST_RULES[scheme], "axe-core has not looked"
    return [
        f"{one['impact']} {one['id']}: {[node['target'] for node in one['nodes'][:3]]}"
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
