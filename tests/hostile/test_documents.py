"""Mutants of every document that is read: nothing but an answer or a refusal comes of them."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from phenocast.cli import running
from phenocast.cli.commands.rerun import options_of
from phenocast.io import read_cultivars, read_film, read_season, season_inputs
from phenocast.io.output.fit_folder import checkpoint, read_fit
from phenocast.io.output.manifest import check_outputs, check_rerun, read_manifest
from phenocast.io.season_file import read_transplants
from phenocast.simulation import block_setup
from tests.hostile import sound
from tests.hostile.mutations import attack, outcome, rounds
from tests.hostile.trees import OF_JSON, OF_TOML, grafts, toml_of

Mutants = Iterator[tuple[str, Any]]


def tried(read: Callable[[], object], place: Path, mutants: Mutants, text_of: Any) -> Counter[str]:
    """Outcomes of a reader on mutants of a tree, each written to a place; every failure at once."""
    seen: Counter[str] = Counter()
    failed = []
    for label, tree in mutants:
        place.write_text(text_of(tree), encoding="utf-8", errors="surrogatepass")
        try:
            seen[outcome(read)] += 1
        except AssertionError as error:
            failed.append(f"{label}: {error}")
    assert not failed, f"{len(failed)} mutants:\n" + "\n".join(failed[:20])
    return seen


def season_of(place: Path) -> None:
    """Read a season, and what every command asks of it before its weather."""
    season = read_season(place)
    season_inputs(place, season)
    for block in season.blocks:
        assert block_setup(season, block).n_days > 0
    running.season_weeks(season)


@rounds(60, 600)
def test_mutants_of_a_season(tmp_path, seed, count):
    place = sound.write_season(tmp_path)
    assert outcome(lambda: season_of(place)) == "answer"
    tree = sound.season_tree()
    seen = tried(lambda: season_of(place), place, grafts(tree, seed, count, OF_TOML), toml_of)
    assert 0 < seen["answer"] < count / 2
    attack(season_of, sound.SEASON.encode(), place, seed=seed, count=count // 2)


def cultivars_of(place: Path) -> None:
    read_cultivars(place)
    read_transplants(place)


@rounds(60, 800)
def test_mutants_of_a_cultivar_file(tmp_path, seed, count):
    place = tmp_path / "own.toml"
    mutants = grafts(sound.OWN, seed, count, OF_TOML)
    seen = tried(lambda: cultivars_of(place), place, mutants, toml_of)
    assert seen["InputError"] > count / 2
    attack(cultivars_of, toml_of(sound.OWN).encode(), place, seed=seed, count=count // 2)


@rounds(60, 800)
def test_mutants_of_a_film_file(tmp_path, seed, count):
    place = tmp_path / "film.toml"
    mutants = grafts(sound.film_tree(), seed, count, OF_TOML)
    seen = tried(lambda: read_film(place, "mine"), place, mutants, toml_of)
    assert 0 < seen["answer"] < count
    attack(lambda path: read_film(path, "mine"), toml_of(sound.film_tree()).encode(), place,
           seed=seed, count=count // 2)  # fmt: skip


def manifest_of(place: Path) -> None:
    """Read a manifest as `rerun` does, up to the work itself."""
    first = read_manifest(place)
    options_of(first, place)
    check_outputs(first, place.parent)
    check_rerun(first, place.parent)


@rounds(25, 250)
def test_mutants_of_a_manifest(tmp_path, seed, count):
    place = sound.write_fit(tmp_path) / "manifest.json"
    tree = sound.manifest_tree(place.parent)
    assert outcome(lambda: manifest_of(place)) == "answer"
    mutants = grafts(tree, seed, count, OF_JSON)
    tried(lambda: manifest_of(place), place, mutants, json.dumps)
    attack(manifest_of, json.dumps(tree).encode(), place, seed=seed, count=count // 2)


@rounds(15, 150)
def test_mutants_of_the_document_of_a_fit(tmp_path, seed, count):
    fit = sound.write_fit(tmp_path)
    assert outcome(lambda: read_fit(fit)) == "answer"
    mutants = grafts(sound.fit_document(), seed, count, OF_JSON)
    tried(lambda: read_fit(fit), fit / "fit.json", mutants, json.dumps)


@rounds(15, 100)
def test_mutants_of_the_draws_of_a_fit(tmp_path, seed, count):
    fit = sound.write_fit(tmp_path)
    place = fit / "draws.parquet"
    attack(lambda path: read_fit(path.parent), place.read_bytes(), place, seed=seed, count=count)


@pytest.fixture
def half_done(tmp_path):
    """A checkpoint of three steps, and what reads it again."""

    def steps() -> dict[str, Any]:
        with checkpoint(tmp_path / "fit", [], {"seed": 1}) as ledger:
            return ledger.found

    with suppress(KeyboardInterrupt), checkpoint(tmp_path / "fit", [], {"seed": 1}) as ledger:
        for name in ("one", "two", "three"):
            ledger.step(name, lambda: {"vector": [1.5, 2.5], "cost": 3.0})
        raise KeyboardInterrupt
    return tmp_path / ".fit.checkpoint.jsonl", steps


@rounds(40, 400)
def test_mutants_of_a_checkpoint(half_done, seed, count):
    place, steps = half_done
    whole = {name: {"vector": [1.5, 2.5], "cost": 3.0} for name in ("one", "two", "three")}

    def read(_place: Path) -> None:
        found = steps()
        assert all(found[name] == whole[name] for name in found)

    content = place.read_bytes()
    assert steps() == whole
    seen = attack(read, content, place, seed=seed, count=count)
    assert seen["answer"] == count
