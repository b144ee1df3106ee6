"""Parameter files of a user are read like the shipped ones, or refused with every fault."""

from __future__ import annotations

import pytest

from phenocast.errors import InputError
from phenocast.parameters import cultivars, cultivars_from, film_from, films

NUMBER = {
    "value": 3.5, "unit": "degC", "lower": 0.0, "upper": 5.0, "sd": 0.2, "basis": "fitted",
    "conditions": "own records", "source": "own", "where": "fit", "read": True,
}  # fmt: skip


def test_a_cultivar_states_only_what_differs() -> None:
    tables = {"cultivar": {"Slate": {"like": "Marl", "development_base": NUMBER}}}
    slate = cultivars_from(tables, "own.toml")["Slate"]
    assert slate.value("development_base") == 3.5
    assert set(slate) == set(cultivars()["Marl"])
    assert slate.name == "Slate"


def test_a_cultivar_may_be_like_an_earlier_one_of_the_file() -> None:
    tables = {
        "cultivar": {
            "Slate": {"like": "Marl", "development_base": NUMBER},
            "Shale": {"like": "Slate"},
        }
    }
    assert cultivars_from(tables, "own.toml")["Shale"].value("development_base") == 3.5


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({}, "holds no cultivar"),
        ({"cultivar": {}}, "holds no cultivar"),
        ({"cultivars": {"Slate": {}}}, "did you mean 'cultivar'?"),
        ({"cultivar": {"Slate": 3}}, "a table"),
        ({"cultivar": {"Slate": {"like": "Marle"}}}, "did you mean 'Marl'?"),
        ({"cultivar": {"Slate": {}}}, "type of flowering"),
        ({"cultivar": {"Slate": {"flowering": "long-day"}}}, "day-neutral"),
        ({"cultivar": {"Slate": {"like": "Marl", "x": 3.5}}}, "birth certificate"),
        ({"cultivar": {"Slate": {"like": "Marl", "development_bas": NUMBER}}}, "development_base"),
    ],
)
def test_a_bad_cultivar_file_is_refused(tables: dict[str, object], words: str) -> None:
    with pytest.raises(InputError) as told:
        cultivars_from(tables, "own.toml")
    assert words in str(told.value)
    assert all(fault.where.startswith("own.toml") for fault in told.value.faults)


def test_a_film_file_of_one_film_takes_the_name_of_the_season() -> None:
    tables = {"film": {"fit 3": films()["silver"].to_dict()}}
    film = film_from(tables, "south", "fit.toml")
    assert film.name == "south"
    assert dict(film) == dict(films()["silver"])


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        ({"film": {}}, "holds no film"),
        ({"film": {"north": {}, "west": {}}}, "unknown film"),
        ({"film": {"south": {}}}, "south.longwave_emittance: this number is required"),
        ({"film": {"south": films()["black"].to_dict() | {"gloss": NUMBER}}}, "unknown parameter"),
        ({"film": {"south": films()["black"].to_dict() | {"shoulder": "blak"}}}, "'black'"),
    ],
)
def test_a_bad_film_file_is_refused(tables: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=r"fit\.toml") as told:
        film_from(tables, "south", "fit.toml")
    assert words in str(told.value)
