"""Every shipped number has a birth certificate that holds together."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pytest

from phenocast.errors import InputError
from phenocast.parameters import (
    Parameter,
    ParameterSet,
    parameter_from_mapping,
    read_toml,
    references,
    shipped,
)

REFERENCES = references()
FILES = ("films.toml", "soils.toml", "cultivars.toml", "packing.toml")
FIELDS = {
    "value", "unit", "lower", "upper", "sd", "basis", "conditions", "source", "where", "read",
}  # fmt: skip
READ = {"full", "abstract", "transcription", "code", "memory"}


def numbers_of(table: dict[str, object], path: str) -> Iterator[tuple[str, object]]:
    """Everything in a file that is a parameter or a bare number."""
    for key, entry in table.items():
        if isinstance(entry, dict) and "value" not in entry:
            yield from numbers_of(entry, f"{path}.{key}")
        elif not isinstance(entry, str):
            yield f"{path}.{key}", entry


ALL = [
    (path, entry)
    for name in FILES
    for path, entry in numbers_of(read_toml(shipped("calibration", name)), name)
]


def test_the_files_hold_numbers_at_all() -> None:
    assert len(ALL) > 60


@pytest.mark.parametrize(("path", "entry"), ALL, ids=[path for path, _ in ALL])
def test_every_shipped_number_has_a_birth_certificate(path: str, entry: object) -> None:
    assert isinstance(entry, dict), f"{path} is a bare number"
    assert set(entry) == FIELDS
    parameter = parameter_from_mapping(entry, path)
    assert all(map(math.isfinite, (parameter.value, parameter.lower, parameter.upper)))
    assert parameter.source in REFERENCES
    assert parameter.unit
    assert parameter.conditions
    assert parameter.where
    assert isinstance(parameter.read, bool)
    if parameter.sd > 0.0:
        assert parameter.lower < parameter.upper


@pytest.mark.parametrize("key", REFERENCES)
def test_every_source_is_cited_and_says_what_was_read(key: str) -> None:
    source = REFERENCES[key]
    assert set(source) <= {"citation", "read", "note"}
    assert len(source["citation"]) > 20
    assert source["read"] in READ


def test_a_number_is_not_called_read_where_its_source_was_only_recalled() -> None:
    recalled = {key for key, source in REFERENCES.items() if source["read"] == "memory"}
    claimed = [
        path
        for path, entry in ALL
        if isinstance(entry, dict) and entry["read"] and entry["source"] in recalled
    ]
    assert claimed == []


def certificate(**changed: object) -> dict[str, object]:
    whole = {
        "value": 1.0, "unit": "1", "lower": 0.0, "upper": 2.0, "sd": 0.1, "basis": "assumed",
        "conditions": "none", "source": "own_assumption", "where": "judgement", "read": False,
    }  # fmt: skip
    return whole | changed


@pytest.mark.parametrize("missing", sorted(FIELDS))
def test_a_certificate_without_one_field_is_refused(missing: str) -> None:
    entry = certificate()
    del entry[missing]
    with pytest.raises(InputError, match=f"lacks {missing}"):
        parameter_from_mapping(entry, "film.black.x")


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("value", 3.0, "outside its bounds"),
        ("value", math.nan, "not a finite number"),
        ("value", "1.0", "not a number"),
        ("value", True, "not a number"),
        ("lower", 1.5, "outside its bounds"),
        ("sd", -0.1, "negative"),
        ("basis", "guessed", "measured, fitted, assumed"),
        ("read", "yes", "true or false"),
        ("source", 7, "not a text"),
        ("colour", "red", "unknown field"),
    ],
)
def test_a_certificate_that_does_not_hold_together_is_refused(
    field: str, value: object, words: str
) -> None:
    with pytest.raises(InputError) as told:
        parameter_from_mapping(certificate(**{field: value}), "film.black.x")
    assert words in str(told.value)
    assert all(fault.where == "film.black.x" for fault in told.value.faults)


def test_changing_a_value_leaves_the_set_it_came_from_alone() -> None:
    before = ParameterSet("x", {"a": parameter_from_mapping(certificate(), "a")})
    after = before.with_values({"a": 1.5})
    assert (before.value("a"), after.value("a")) == (1.0, 1.5)
    with pytest.raises(InputError, match="unknown parameter"):
        before.with_values({"b": 1.0})
    assert isinstance(after["a"], Parameter)
