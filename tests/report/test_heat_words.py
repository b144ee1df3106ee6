"""Over which days heat is told and where seasons end, in the words of comparisons."""

from phenocast.report.compare import compare_parts
from phenocast.report.explore import explore_data
from phenocast.report.reader import Reader
from phenocast.report.render import to_html, to_text
from tests.report.comparisons import comparison
from tests.report.test_compare_page import words_of


def opened():
    """A comparison whose seasons are open: one way still bears on the last day."""
    document = comparison(films=("black", "silver"), block="East")
    for number, one in enumerate(document["options"]):
        rule = "still-bearing" if number == 0 else "fruit"
        one["season_end"] = {**one["season_end"], "rule": rule}
        one["last_day"] = f"2027-07-{11 - 7 * (number > 0):02d}"
        one["undominated"] = one["mean_not_told_from_best"] = one["not_clearly_beaten"] = False
        one["behind_best"] = {"mean": 1.0, "standard_error": 0.5, "margin_95": 1.0}
    return document


def test_the_days_of_heat_and_the_end_of_open_seasons_are_told() -> None:
    text = " ".join(to_text(compare_parts, opened()).split())
    assert "above the cut-off over the first 31 days after planting, the same for all" in text
    assert "half of the cases give 5.0 g per plant, from 4 July 2027 to 11 July 2027 by" in text
    assert "One option still bears when the simulated days run out on 11 July 2027." in text
    page = words_of(to_html(compare_parts, opened()))
    assert "from 4 July 2027 to 11 July 2027 by the option" in page
    assert "One option still bears when the simulated days run out on 11 July 2027." in page
    assert "Fruit counts up to 11 July 2027" in words_of(to_html(compare_parts, comparison()))


def test_the_page_to_play_with_names_the_days_of_its_heat() -> None:
    document = comparison()
    words = explore_data(document, Reader())["words"]
    assert "over the first 31 days after planting" in words["row_heat"]
    document["heat_compared"] = {"days": 90, "from": "2027-05-01", "to": "2027-07-29"}
    words = explore_data(document, Reader())["words"]
    assert "from 1 May 2027 to 29 July 2027" in words["row_heat"]
