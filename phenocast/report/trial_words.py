"""The sentences of a trial's page: the answer, how sure it is, what would change it, what next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.parts import Bullets, Item
from phenocast.report.reader import Reader
from phenocast.report.trial_tables import decimals, factors, p_value, source_name, spoken_of

Document = Mapping[str, Any]


def name_of(trial: Document, reader: Reader) -> str:
    """Season and site of a trial in words."""
    season, site = reader.name(trial["season"]), reader.name(trial["site"])
    if trial["season"] and trial["site"]:
        return reader.say("trial.trial_named", season=season, site=site)
    if trial["season"]:
        return reader.say("trial.season_named", season=season)
    return site if trial["site"] else reader.say("trial.trial_alone")


def answer(document: Document, reader: Reader) -> list[str]:
    """Two sentences; with several trials, as many for each of them."""
    told = []
    for trial in document["trials"]:
        sentences = _answer(trial, document, reader)
        if len(document["trials"]) > 1:
            joined = " ".join(sentences)
            sentences = [
                reader.say("trial.of_trial", trial=name_of(trial, reader), sentence=joined)
            ]
        told += sentences
    return told


def _answer(trial: Document, document: Document, reader: Reader) -> list[str]:
    say, named = reader.say, factors(document, reader)
    words = {key: named[key] for key in ("whole", "sub", "response")}
    if "whole within sub" in trial["compared"]:
        first, kind = say("trial.depends", **words), "whole within sub"
    else:
        line = next(
            one for one in trial["table"] if one["source"] == document["factors"]["whole_plot"]
        )
        shown = line["p"] is not None and line["p"] < 1.0 - document["level"]
        first, kind = say("trial.effect" if shown else "trial.no_effect", **words), "whole"
    apart = [one for one in spoken_of(trial) if one["between"] == kind and one["told_apart"]]
    if not apart:
        return [first, say("trial.none_apart")]
    return [first, _largest(apart, reader)]


def _largest(apart: list[Document], reader: Reader) -> str:
    """The largest difference, told with the higher level first."""
    say = reader.say
    one = max(apart, key=lambda pair: abs(float(pair["estimate"])))
    digits = decimals([one["estimate"]], 3)
    names = [reader.name(one["first"], 40), reader.name(one["second"], 40)]
    ends = [one["lower"], one["upper"]]
    if one["estimate"] < 0.0:
        names.reverse()
        ends = [-one["upper"], -one["lower"]]
    low, high = (reader.number(end, digits) for end in ends)
    at = say("trial.at", level=reader.name(one["at"], 40)) if one["at"] else ""
    return say(
        "trial.largest", first=names[0], second=names[1], at=at,
        estimate=reader.number(abs(one["estimate"]), digits), low=low, high=high,
    )  # fmt: skip


def sure(document: Document, reader: Reader) -> list[Item]:
    """Tests with their degrees of freedom, missing plots, what the intervals hold."""
    say = reader.say
    told = []
    for trial in document["trials"]:
        lead = f"{name_of(trial, reader)}: " if len(document["trials"]) > 1 else ""
        told += [
            lead + _test(line, document, reader)
            for line in trial["table"]
            if line["f"] is not None and line["error"]
        ]
        if trial["missing_plots"]:
            told.append(
                lead
                + say("trial.missing", missing=reader.number(trial["missing_plots"]),
                      plots=reader.number(trial["plots"]))
            )  # fmt: skip
    told.append(say("trial.intervals", level=reader.percent(document["level"])))
    return [Bullets(told)]


def _test(line: Document, document: Document, reader: Reader) -> str:
    return reader.say(
        "trial.test", source=source_name(line["source"], document, reader),
        f=reader.number(line["f"], 2), df=reader.plain_value(line["df"]),
        error_df=reader.number(line["error_df"], 0 if line["error_df"] % 1 == 0 else 1),
        p=p_value(line["p"], reader),
    )  # fmt: skip


def change(document: Document, reader: Reader) -> list[Item]:
    """Other seasons, more blocks, and how much plots scatter."""
    say, named = reader.say, factors(document, reader)
    told = [say("trial.one_season"), say("trial.more_blocks", whole=named["whole"],
                                         sub=named["sub"])]  # fmt: skip
    if len(document["trials"]) == 1:
        cv = document["trials"][0]["cv"]
        told.append(
            say("trial.spread", whole_cv=reader.percent(cv["whole_plot"]),
                sub_cv=reader.percent(cv["sub_plot"]))
        )  # fmt: skip
    return [Bullets(told)]


def next_steps(reader: Reader) -> list[Item]:
    """What to do with the trial."""
    return [Bullets([reader.say(f"trial.next_{name}") for name in ("repeat", "size", "residuals")])]
