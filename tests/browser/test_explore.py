"""The page to play with: it follows its controls at once, with the numbers of the comparison."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from phenocast.report.explore import explore_parts
from phenocast.report.reader import NO_BREAK, Reader
from phenocast.report.render import to_html
from phenocast.report.stress import compared_days
from tests.browser.pages import opened
from tests.report.comparisons import FILMS, comparison
from tests.report.reading import numbers_allowed, numbers_on

AXES = ("planting_date", "film", "cultivar")
TABLE = """() => Object.fromEntries([...document.querySelectorAll("#x-figures tbody tr")]
  .map(row => [row.cells[0].textContent, [...row.cells].slice(1).map(cell => cell.textContent)]))"""
CHOOSE = """([id, value]) => { const e = document.getElementById(id); e.value = value;
  e.dispatchEvent(new Event("input", {bubbles: true})); }"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Pages of comparisons written by hand, with names that are no names."""
    folder = tmp_path_factory.mktemp("made")
    (folder / "money.html").write_text(to_html(explore_parts, comparison()), encoding="utf-8")
    (folder / "fruit.html").write_text(
        to_html(explore_parts, comparison(money=False), language="es"), encoding="utf-8"
    )
    return folder


def spread(quantiles: dict, told, reader: Reader) -> str:
    low, middle, high = (told(quantiles[level]) for level in ("p10", "p50", "p90"))
    return reader.say("common.middle_and_range", low=low, middle=middle, high=high)


def expected(one: dict, money: dict, over: str, reader: Reader) -> dict[str, str]:
    """What the table of figures must show of an option, from the document alone."""
    pick = one["first_pick"]

    def fruit(value: float) -> str:
        return reader.figure("fruit", value)

    g, heat = reader.unit("fruit"), reader.unit("heat")
    say = reader.say
    rows = {
        "row_pick": spread({"p10": pick["p10"], "p50": pick["median"], "p90": pick["p90"]},
                           reader.day, reader),
        "row_never": reader.percent(pick["not_reached_probability"]),
        "row_early": spread(one["early_g_per_plant"], fruit, reader),
        "row_season": spread(one["season_g_per_plant"], fruit, reader),
        "row_heat": spread(one["crown_degree_hours_above_30c"],
                           lambda value: reader.figure("heat", value), reader),
        "row_alive": spread(one["plants_alive_share"], reader.percent, reader),
        "row_revenue": spread({**money["revenue"], "p50": money["revenue"]["mean"]},
                              reader.number, reader),
        "row_cost": reader.number(one["cost"]),
        "row_margin": spread({**money["margin"], "p50": money["margin"]["mean"]},
                             reader.number, reader),
        "row_mean": reader.number(money["expected"]),
        "row_worst": reader.number(money["worst_tenth"]),
    }  # fmt: skip
    return {
        say(
            f"explore.script.{key}", fruit=g, heat=heat, currency="EUR", judged="EUR", over=over
        ): text
        for key, text in rows.items()
    }


@pytest.mark.parametrize(
    ("name", "language", "units"), [("compare", "en", "metric"), ("compara", "es", "us")]
)
def test_it_shows_what_the_comparison_says(browser, folders, name, language, units) -> None:
    document = json.loads((folders / name / "compare.json").read_text(encoding="utf-8"))
    reader = Reader(language, units)
    axes = {axis: list(dict.fromkeys(one[axis] for one in document["options"])) for axis in AXES}
    tilts = [one["tilt"] for one in document["price_tilt"]["tilts"]]
    with opened(browser, folders / name / "explore.html") as seen:
        for number, one in enumerate(document["options"]):
            for axis in AXES:
                seen.page.evaluate(CHOOSE, [f"x-{axis}", str(axes[axis].index(one[axis]))])
            assert seen.page.evaluate("document.body.dataset.option") == str(number)
            told = seen.page.evaluate(TABLE)
            for row, text in expected(one, one, compared_days(document, reader), reader).items():
                assert told[row][0] == text, (number, row)
            for tilt in (0, len(tilts) - 1):
                seen.page.evaluate(CHOOSE, ["x-tilt", str(tilt)])
                told = seen.page.evaluate(TABLE)
                for row, text in expected(
                    one, one["tilted"][tilt], compared_days(document, reader), reader
                ).items():
                    assert told[row][0] == text, (number, row, tilts[tilt])
            seen.page.evaluate(CHOOSE, ["x-tilt", str(tilts.index(0.0))])
        assert seen.said == []


def test_it_opens_with_the_best_way_as_the_page_says_without_its_script(browser, folders) -> None:
    file = folders / "compare" / "explore.html"
    with opened(browser, file, java_script_enabled=False) as seen:
        plain = seen.page.locator("section.answer p").all_text_contents()
        assert seen.page.locator("noscript p, p.no-script").first.is_visible()
        assert seen.page.locator("#explore").is_hidden()
        assert seen.page.locator("section.part table tbody tr").count() == 10
    with opened(browser, file) as seen:
        assert seen.page.locator("section.answer p").all_text_contents() == plain
        assert seen.page.locator("p.no-script").count() == 0


def test_keys_move_the_choice_and_a_voice_tells_it(browser, folders) -> None:
    with opened(browser, folders / "compare" / "explore.html") as seen:
        page = seen.page
        first = page.locator("section.answer").text_content()
        date = page.locator("#x-planting_date")
        date.focus()
        page.keyboard.press("ArrowRight")
        assert date.get_attribute("aria-valuetext") == "30 September 2026"
        assert page.locator("#x-planting_date-told").text_content() == "30 September 2026"
        assert page.locator("section.answer").text_content() != first
        assert "30 September 2026" in page.locator("section.answer").text_content()
        page.wait_for_timeout(700)  # the voice waits until the keys rest
        assert "30 September 2026" in page.locator("#x-voice").text_content()
        page.locator("#x-film").focus()
        before = page.locator("#x-film").input_value()
        page.keyboard.press("ArrowUp" if before != "0" else "ArrowDown")
        assert page.locator("#x-film").input_value() != before
        page.locator("#x-tilt").focus()
        page.keyboard.press("End")
        told = page.locator("#x-tilt").get_attribute("aria-valuetext")
        assert told == "early fruit, 50% dearer at the first week"
        page.locator("#x-best").focus()
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "x-best"
        best = page.evaluate("JSON.parse(document.getElementById('page-data').textContent).best")
        assert page.evaluate("document.body.dataset.option") == str(best[-1])


def test_the_mouse_moves_the_choice(browser, folders) -> None:
    with opened(browser, folders / "compare" / "explore.html") as seen:
        page = seen.page
        box = page.locator("#x-planting_date").bounding_box()
        page.mouse.click(box["x"] + box["width"] - 4, box["y"] + box["height"] / 2)
        assert page.locator("#x-planting_date-told").text_content() == "20 October 2026"
        page.locator("#x-cultivar").select_option("1")
        page.locator("#x-reference").click()
        data = page.evaluate("JSON.parse(document.getElementById('page-data').textContent)")
        assert page.evaluate("document.body.dataset.option") == str(data["reference"])
        page.locator("#x-keep").click()
        page.locator("#x-best").click()
        heads = page.locator("#x-figures thead th").all_text_contents()
        assert heads == ["", "Your choice", "Best option", "Kept option"]
        page.locator("#x-forget").click()
        assert page.locator("#x-figures thead th").count() == 3
        assert page.evaluate("document.activeElement.id") == "x-keep"


def test_drawings_follow_and_the_tables_behind_them_too(browser, folders) -> None:
    with opened(browser, folders / "compare" / "explore.html") as seen:
        page = seen.page
        page.locator("#x-reference").click()
        before = [drawn.inner_html() for drawn in page.locator(".drawing svg").all()]
        page.evaluate(CHOOSE, ["x-planting_date", "2"])
        after = [drawn.inner_html() for drawn in page.locator(".drawing svg").all()]
        assert len(before) == 3
        assert all(old != new for old, new in zip(before, after, strict=True))
        rows = page.locator("#x-picks tbody tr").all_text_contents()
        assert len(rows) == 4
        assert page.locator("#x-map tbody tr").count() == 2
        assert page.locator("#x-weeks tbody tr").count() > 10


def test_names_stay_text_and_a_pick_that_is_never_reached_is_told(browser, made) -> None:
    with opened(browser, made / "money.html") as seen:
        page = seen.page
        assert page.locator("#x-film option").all_text_contents() == [
            f"\u2068{name}\u2069" for name in FILMS
        ]
        assert page.locator("b").count() == 0
        assert "in 10% never" in page.locator("section.answer").text_content()
        assert "not reached" in page.locator("#x-figures").text_content()
        assert page.locator("#x-cautions li").first.get_attribute("lang") == "en"
        assert "a caution of <script>" in page.locator("#x-cautions").text_content()
        assert seen.said == []


def test_halves_are_rounded_as_on_the_other_pages(browser, made) -> None:
    # 640.5 and 642.5 go to the even neighbour, 641.5 and 643.5 too: 640, 642, 642, 644.
    shown = []
    with opened(browser, made / "money.html") as seen:
        for film in "01":
            for date in "01":
                seen.page.evaluate(CHOOSE, ["x-film", film])
                seen.page.evaluate(CHOOSE, ["x-planting_date", date])
                told = seen.page.evaluate(TABLE)
                shown.append(told["Fruit of the season [g per plant]"][0].split(" ")[0])
    assert shown == [Reader().figure("fruit", 640.5 + n) for n in range(4)]
    assert shown == ["640", "642", "642", "644"]


def test_without_prices_it_speaks_of_fruit(browser, made) -> None:
    with opened(browser, made / "fruit.html") as seen:
        assert seen.page.locator("#x-tilt").count() == 0
        text = seen.page.locator("section.answer").text_content()
        assert f"644{NO_BREAK}g por planta" in text
        assert "EUR" not in seen.page.locator("main").text_content()
        assert seen.said == []


def test_one_way_alone_that_never_bears_is_told_without_an_error(browser, tmp_path) -> None:
    document = comparison()
    one = document["options"][-1]
    one["weekly"] = []
    one["first_pick"] |= {"p10": None, "median": None, "p90": None, "week": None,
                          "not_reached_probability": 1.0}  # fmt: skip
    document["options"] = [one]
    document["reference"] = document["best"]
    document["price_tilt"] |= {"first_week": None, "last_week": None}
    file = tmp_path / "barren.html"
    file.write_text(to_html(explore_parts, document), encoding="utf-8")
    with opened(browser, file) as seen:
        assert (
            "is never picked in 100% of all cases"
            in seen.page.locator("section.answer").text_content()
        )
        assert seen.page.locator("#x-weeks tbody tr").count() == 0
        assert seen.page.locator(".drawing svg").count() == 3
        assert seen.said == []


@pytest.mark.parametrize(
    ("name", "language", "units"), [("compare", "en", "metric"), ("compara", "es", "us")]
)
def test_every_number_that_is_shown_is_in_the_comparison(
    browser, folders, name, language, units
) -> None:
    document = json.loads((folders / name / "compare.json").read_text(encoding="utf-8"))
    allowed = numbers_allowed(document, language, units)
    with opened(browser, folders / name / "explore.html") as seen:
        for date, film, tilt in (("0", "0", "5"), ("3", "1", "0"), ("1", "1", "8")):
            for control, value in (("planting_date", date), ("film", film), ("tilt", tilt)):
                seen.page.evaluate(CHOOSE, [f"x-{control}", value])
            shown = numbers_on(seen.page.content())
            assert shown - allowed == set()
            assert len(shown) > 150
