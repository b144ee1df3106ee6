"""Every language says the same things: the same keys, with the same places for values."""

from __future__ import annotations

from string import Formatter

import pytest

from phenocast.report.reader import LANGUAGES, MEASURES, SYSTEMS, MissingWordsError, Words, texts


def places(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", [name for name in LANGUAGES if name != "en"])
def test_languages_have_the_same_keys_and_places(language: str) -> None:
    english, other = texts("en"), texts(language)
    assert sorted(set(english) ^ set(other)) == []
    assert {
        key: (places(english[key]), places(other[key]))
        for key in english
        if places(english[key]) != places(other[key])
    } == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_text_is_empty_or_shouts_markup(language: str) -> None:
    bad = [key for key, text in texts(language).items() if not text.strip() or "<" in text]
    assert bad == []


def test_the_languages_differ_in_their_sentences() -> None:
    english, spanish = texts("en"), texts("es")
    same = [key for key in english if english[key] == spanish[key] and len(english[key]) > 24]
    assert same == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_unit_has_a_label(language: str) -> None:
    words = Words(language)
    absent = [
        one.unit(system)
        for one in MEASURES.values()
        for system in SYSTEMS
        if f"units.{one.unit(system)}" not in words
    ]
    assert absent == []


def test_missing_words_are_named_with_the_nearest_key() -> None:
    with pytest.raises(MissingWordsError, match=r"frame\.anser.*did you mean 'frame\.answer'"):
        Words("en")("frame.anser")
    with pytest.raises(MissingWordsError, match="no value for the place 'date'"):
        Words("en")("frame.as_of")
    with pytest.raises(MissingWordsError, match="no pages in this language"):
        Words("xx")
