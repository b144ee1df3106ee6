"""Cautions of films: water, stiffness, glare, cool season, disposal, and the fallback."""

import pytest

from phenocast.parameters import films
from phenocast.planning.comparison.cautions import film_cautions


def told(name, **more):
    return " ".join(film_cautions(films()[name], **more))


@pytest.mark.parametrize(
    ("ph", "words"),
    [(None, "state the water's pH"), (7.0, "chloride"), (7.8, "common practice, no source"),
     (8.7, "outside about pH 4 to 8.5"), (3.5, "outside"), (9.4, "STRONG CAUTION")],
)  # fmt: skip
def test_water_on_metallised_film(ph, words):
    text = told("metallised", water_ph=ph)
    assert words in text
    if ph == 7.0:
        assert "pH 7" not in text.replace("at any pH", "")


def test_each_caution_of_metallised_film_is_there_with_the_fallback():
    text = told("metallised")
    for word in ("stiffer", "glare", "cooler in winter", "disposed", "white-on-black"):
        assert word in text


def test_white_film_has_glare_and_the_cool_season_but_no_aluminium():
    text = told("white-on-black", water_ph=9.5)
    assert "glare" in text
    assert "cooler in winter" in text
    assert "aluminium" not in text


def test_black_film_burns_and_clear_film_grows_weeds():
    assert "girdle" in told("black")
    assert "glare" not in told("black")
    assert "weeds" in told("clear")


def test_bare_soil_has_nothing_to_lay():
    assert film_cautions(films()["bare-soil"]) == ()


@pytest.mark.parametrize("name", films())
def test_every_film_has_plain_texts(name):
    for text in film_cautions(films()[name], water_ph=8.0):
        assert text == text.strip()
        assert len(text) > 20
