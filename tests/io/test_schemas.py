"""Every document that a command gives keeps to its JSON Schema, and the schemas refuse others."""

from __future__ import annotations

import copy
import json
from functools import cache
from importlib.resources import files
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from phenocast.cli.group import cli
from phenocast.parameters.library import shipped

FOLDER = files("phenocast") / "schemas"
SEASON = str(shipped("demo_weather", "san_francisco.toml"))
NAMES = ("check", "compare", "crown", "fit", "forecast", "hindcast", "labour", "manifest", "rank",
         "sensors", "trial")  # fmt: skip
SHARED = {
    "compare": ("compare", "compare.json"),
    "fit": ("fit", "fit.json"),
    "forecast": ("campo", "forecast.json"),
    "hindcast": ("hindcast", "hindcast.json"),
    "labour": ("labour", "labour.json"),
    "manifest": ("phenocast-demo", "manifest.json"),
    "rank": ("rank", "rank.json"),
    "sensors": ("film", "sensors.json"),
    "trial": ("trial", "trial.json"),
}


@cache
def schema(name: str) -> dict[str, Any]:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def faults(name: str, document: Any) -> list[str]:
    """Where a document leaves its schema."""
    found = Draft202012Validator(schema(name)).iter_errors(document)
    return [f"{one.json_path}: {one.message[:200]}" for one in found]


@pytest.fixture(scope="module")
def document(answer):
    """A document by the name of its schema."""

    @cache
    def made(name: str) -> Any:
        if name in SHARED:
            run, file = SHARED[name]
            return answer(run).document(file)
        done = CliRunner().invoke(cli, [name, SEASON, "--json"])
        assert done.exit_code == 0, done.stderr
        return json.loads(done.stdout)

    return lambda name: copy.deepcopy(made(name))


def objects(part: Any) -> list[dict[str, Any]]:
    """Every object of a schema that lists its keys, outermost first."""
    held = part.values() if isinstance(part, dict) else part if isinstance(part, list) else ()
    inner = [one for value in held for one in objects(value)]
    return [part, *inner] if isinstance(part, dict) and "properties" in part else inner


def test_there_is_a_schema_for_every_document():
    assert sorted(one.name for one in FOLDER.iterdir()) == [f"{name}.json" for name in NAMES]


@pytest.mark.parametrize("name", NAMES)
def test_a_schema_is_sound_and_lets_no_unknown_key_through(name):
    Draft202012Validator.check_schema(schema(name))
    assert schema(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    for one in objects(schema(name)):
        assert one.get("additionalProperties") is False
        assert set(one.get("required", ())) <= set(one["properties"])


@pytest.mark.parametrize("name", NAMES)
def test_a_document_keeps_to_its_schema(document, name):
    assert faults(name, document(name)) == []


@pytest.mark.parametrize("name", SHARED)
def test_manifests_keep_to_their_schema(answer, name):
    made = answer(SHARED[name][0]).document("manifest.json")
    assert faults("manifest", made) == []


def short(value):
    """The same document with two items of each list."""
    if isinstance(value, list):
        return [short(one) for one in value[:2]]
    return {key: short(one) for key, one in value.items()} if isinstance(value, dict) else value


@pytest.mark.parametrize("name", NAMES)
def test_a_key_that_is_lost_renamed_or_of_another_kind_is_refused(document, name):
    for key in schema(name)["required"]:
        lost = short(document(name))
        held = lost.pop(key)
        assert faults(name, lost), key
        assert faults(name, {**lost, f"{key}_": held}), key
        assert faults(name, {**lost, key: object}), key


def test_what_is_wrong_deep_inside_is_refused_with_its_place(document):
    forecast = document("forecast")
    forecast["blocks"][1]["first_pick"]["median"] = "5 May 2027"
    forecast["blocks"][0]["first_pick"]["not_reached_probability"] = 1.2
    forecast["blocks"][0]["weekly"][0]["week"] = "2027-18"
    told = faults("forecast", forecast)
    assert len(told) == 3
    assert {one.partition(":")[0] for one in told} == {
        "$.blocks[0].first_pick.not_reached_probability",
        "$.blocks[0].weekly[0].week",
        "$.blocks[1].first_pick.median",
    }
