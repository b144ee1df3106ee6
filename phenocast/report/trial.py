"""The answer of a designed trial: what differs, means with their errors, variance, residuals."""

import math
from collections.abc import Sequence
from functools import partial

from phenocast.report.figures.scores import means_figure, residual_figure
from phenocast.report.parts import Bullets, Figure, Item, Page, Section, Stack, Table, Text, engine
from phenocast.report.reader import Document, Reader

TERMS = ("film", "whole_plot", "trial_block", "sed", "p")
SMALLEST_P = 0.001
MOST_DECIMALS = 8
ERRORS = {"whole-plot error": "whole_error", "sub-plot error": "sub_error"}


def trial_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a trial.

    Parameters
    ----------
    document : mapping
        What ``phenocast trial --json`` prints; nothing else is used.
    reader : Reader
        The response keeps the unit of its file.
    """
    say, trials = reader.say, document["trials"]
    named = _factors(document, reader)
    sensitivity = [say("trial.one_season"), say("trial.more_blocks", **named)]
    if len(trials) == 1:
        cv = {f"{part}_cv": reader.percent(trials[0]["cv"][f"{part}_plot"])
              for part in ("whole", "sub")}  # fmt: skip
        sensitivity.append(say("trial.spread", **cv))
    return Page(
        kind="trial",
        title=say("trial.title"),
        place=say("trial.place", **named),
        summary=[told for trial in trials for told in _summary(trial, document, reader)],
        uncertainty=[Bullets([
            *(told for trial in trials for told in _tests(trial, document, reader)),
            say("trial.intervals", level=reader.percent(document["level"])),
        ])],
        sensitivity=[Bullets(sensitivity)],
        next_steps=[Bullets([say(f"trial.next_{one}") for one in ("repeat", "size", "residuals")])],
        cautions=[
            *([say("trial.apart")] if len(trials) > 1 else []),
            *engine([*(note for trial in trials for note in trial["notes"]),
                     *document["warnings"]]),
        ],
        sections=[
            _section(trial, number, document, reader) for number, trial in enumerate(trials, 1)
        ],
        sources=[say("trial.source", **named), say("trial.made_of")],
        terms=TERMS,
        engine_version=document["engine_version"],
    )  # fmt: skip


def _factors(document: Document, reader: Reader) -> dict[str, str]:
    """Names of the factors, the response and the file as a sentence says them."""
    names = document["factors"]
    unit = f" [{document['unit']}]" if document["unit"] else ""
    return {
        "whole": reader.name(names["whole_plot"], 40),
        "sub": reader.name(names["sub_plot"], 40),
        "response": reader.name(f"{document['response']}{unit}", 60),
        "file": reader.name(document["file"]),
        "records": reader.number(document["records"]),
    }


def _decimals(values: Sequence[float], digits: int = 4) -> int:
    """Decimals that give the largest value a number of digits.

    Examples
    --------
    >>> _decimals([485.25, 605.5]), _decimals([0.0213])
    (1, 5)
    """
    largest = max((abs(value) for value in values), default=0.0)
    if largest == 0.0 or not math.isfinite(largest):
        return 0
    return min(max(digits - 1 - math.floor(math.log10(largest)), 0), MOST_DECIMALS)


def _p_value(value: float | None, reader: Reader) -> str:
    """Probability of a test; very small ones only as below a bound."""
    if value is not None and value < SMALLEST_P / 2.0:
        return reader.say("trial.p_below", p=reader.number(SMALLEST_P, 3))
    return reader.number(value, 3)


def _of_variation(name: str, reader: Reader) -> str:
    """Name of a source of variation: the errors in words, factors as the file calls them."""
    return reader.say(f"trial.part.{ERRORS[name]}") if name in ERRORS else reader.name(name)


def _name(trial: Document, reader: Reader) -> str:
    """Season and site of a trial in words."""
    season, site = reader.name(trial["season"]), reader.name(trial["site"])
    if trial["season"]:
        kind = "trial" if trial["site"] else "season"
        return reader.say(f"trial.{kind}_named", season=season, site=site)
    return site if trial["site"] else reader.say("trial.trial_alone")


def _spoken_of(trial: Document) -> list[Document]:
    """Pairs of the kinds that the interaction lets one speak of."""
    return [one for one in trial["differences"] if one["between"] in trial["compared"]]


def _summary(trial: Document, document: Document, reader: Reader) -> list[str]:
    """What the treatment of whole plots did, and the largest difference."""
    say, named = reader.say, _factors(document, reader)
    if "whole within sub" in trial["compared"]:
        key, kind = "depends", "whole within sub"
    else:
        line = next(
            one for one in trial["table"] if one["source"] == document["factors"]["whole_plot"]
        )
        shown = line["p"] is not None and line["p"] < 1.0 - document["level"]
        key, kind = "effect" if shown else "no_effect", "whole"
    apart = [one for one in _spoken_of(trial) if one["between"] == kind and one["told_apart"]]
    second = _largest(apart, reader) if apart else say("trial.none_apart")
    told = [say(f"trial.{key}", **named), second]
    if len(document["trials"]) == 1:
        return told
    return [say("trial.of_trial", trial=_name(trial, reader), sentence=" ".join(told))]


def _largest(apart: list[Document], reader: Reader) -> str:
    """The largest difference, told with the higher level first."""
    one = max(apart, key=lambda pair: abs(float(pair["estimate"])))
    digits = _decimals([one["estimate"]], 3)
    names = [reader.name(one["first"], 40), reader.name(one["second"], 40)]
    ends = [one["lower"], one["upper"]]
    if one["estimate"] < 0.0:
        names.reverse()
        ends = [-one["upper"], -one["lower"]]
    low, high = (reader.number(end, digits) for end in ends)
    return reader.say(
        "trial.largest", first=names[0], second=names[1], at=_at(one, reader),
        estimate=reader.number(abs(one["estimate"]), digits), low=low, high=high,
    )  # fmt: skip


def _at(pair: Document, reader: Reader) -> str:
    return reader.say("trial.at", level=reader.name(pair["at"], 40)) if pair["at"] else ""


def _tests(trial: Document, document: Document, reader: Reader) -> list[str]:
    """Tests with their degrees of freedom, and missing plots."""
    say = reader.say
    told = [
        say(
            "trial.test", source=_of_variation(line["source"], reader),
            f=reader.number(line["f"], 2), df=reader.plain_value(line["df"]),
            error_df=reader.number(line["error_df"], 0 if line["error_df"] % 1 == 0 else 1),
            p=_p_value(line["p"], reader),
        )
        for line in trial["table"]
        if line["f"] is not None and line["error"]
    ]  # fmt: skip
    if trial["missing_plots"]:
        missing, plots = (reader.number(trial[key]) for key in ("missing_plots", "plots"))
        told.append(say("trial.missing", missing=missing, plots=plots))
    lead = f"{_name(trial, reader)}: " if len(document["trials"]) > 1 else ""
    return [lead + one for one in told]


def _section(trial: Document, number: int, document: Document, reader: Reader) -> Section:
    heading = reader.say(
        "trial.heading", trial=_name(trial, reader),
        plots=reader.number(trial["plots"] - trial["missing_plots"]),
        blocks=reader.number(len(trial["blocks"])),
    )  # fmt: skip
    items: list[Item] = [
        _means(trial, number, document, reader),
        Stack([_standard_errors(trial, document, reader), _components(trial, reader)]),
        _differences(trial, document, reader),
        _variance(trial, reader),
        *_residuals(trial, number, document, reader),
    ]
    return Section(heading[:1].upper() + heading[1:], items)


def _means(trial: Document, number: int, document: Document, reader: Reader) -> Figure:
    """Means of the cells; a table with a column a film would not fit a phone."""
    say, named = reader.say, _factors(document, reader)
    cells, subs = trial["means"]["cells"], trial["means"]["sub"]
    digits = _decimals([cell["mean"] for cell in cells])
    error = next(
        one["value"] for one in trial["standard_errors"] if one["between"] == "whole within sub"
    )
    groups = {sub["level"]: [one for one in cells if one["sub"] == sub["level"]] for sub in subs}
    ends: dict[str, str] = {}
    for name, pick in (("high", max), ("low", min)):
        one = pick(cells, key=lambda cell: float(cell["mean"]))
        ends |= {name: reader.number(one["mean"], digits), f"{name}_sub": reader.name(one["sub"]),
                 f"{name}_whole": reader.name(one["whole"])}  # fmt: skip
    svg = partial(
        means_figure, f"means-{number}",
        [(reader.name(sub), [(reader.name(one["whole"]), one["mean"]) for one in members])
         for sub, members in groups.items()],
        error, digits, reader, title=say("trial.means_title", **named),
        alt=say("trial.means_alt", **named, **ends), response=named["response"],
        scale=say("trial.scale"),
    )  # fmt: skip
    every = say("trial.all")
    rows = [
        *((one["sub"], one["whole"], one) for members in groups.values() for one in members),
        *((every, one["level"], one) for one in trial["means"]["whole"]),
        *((one["level"], every, one) for one in subs),
    ]
    table = Table(
        say("trial.adjusted" if trial["missing_plots"] else "trial.means_table", **named),
        [named["sub"], named["whole"], named["response"]],
        [[reader.name(sub), reader.name(whole), reader.number(one["mean"], digits)]
         for sub, whole, one in rows],
        "<<>",
    )  # fmt: skip
    caption, source = say("trial.means_caption", **named), say("trial.source", **named)
    return Figure(svg, caption, table, source, in_text=True)


def _standard_errors(trial: Document, document: Document, reader: Reader) -> Table:
    """All standard errors of difference with their degrees of freedom."""
    named, say = _factors(document, reader), reader.say
    digits = _decimals([one["value"] for one in trial["standard_errors"]])
    rows = [
        [say(f"trial.between.{one['between'].replace(' ', '_')}", **named),
         reader.number(one["value"], digits), reader.number(one["df"], 1)]
        for one in trial["standard_errors"]
    ]  # fmt: skip
    key = "trial.seds_typical" if trial["missing_plots"] else "trial.seds"
    return Table(say(key), reader.heads("trial.column", "between", "sed", "df"), rows, "<>>")


def _variance(trial: Document, reader: Reader) -> Table:
    """Analysis of variance; tests alone where plots are missing."""
    sums = ("ss", "ms") if any(line["ss"] is not None for line in trial["table"]) else ()
    names = ["source", "df", *sums, "f", "p", "against"]
    rows = [
        [
            _of_variation(line["source"], reader),
            *(reader.plain_value(line[name]) for name in ("df", *sums)),
            reader.number(line["f"], 2),
            _p_value(line["p"], reader),
            _of_variation(line["error"], reader) if line["error"] else "",
        ]
        for line in trial["table"]
    ]
    caption = reader.say("trial.anova" if sums else "trial.tests")
    return Table(
        caption, reader.heads("trial.column", *names), rows, "<" + ">" * (len(names) - 2) + "<"
    )


def _components(trial: Document, reader: Reader) -> Table:
    """Variance components from blocks down to sub-plots."""
    parts = trial["components"]
    digits = _decimals(list(parts.values()))
    rows = [
        [reader.say(f"trial.part.{key}"), reader.number(parts[key], digits)]
        for key in ("block", "whole_plot", "sub_plot")
    ]
    header = reader.heads("trial.column", "component", "variance")
    return Table(reader.say("trial.components"), header, rows, "<>")


def _differences(trial: Document, document: Document, reader: Reader) -> Table:
    """Every pair that can be spoken of, with its interval and whether it is significant."""
    pairs = _spoken_of(trial)
    digits = _decimals([one["estimate"] for one in pairs], 3)
    rows = [
        [
            f"{reader.name(one['first'])} − {reader.name(one['second'])}{_at(one, reader)}",
            reader.interval(*(reader.number(one[key], digits)
                              for key in ("estimate", "lower", "upper"))),
            _p_value(one["p"], reader),
            reader.say("common.yes" if one["told_apart"] else "common.no"),
        ]
        for one in pairs
    ]  # fmt: skip
    header = reader.heads("trial.column", "pair", "estimate", "p", "verdict")
    level, alpha = (reader.percent(one) for one in (document["level"], 1.0 - document["level"]))
    caption = reader.say("trial.differences_caption", level=level, alpha=alpha)
    return Table(caption, header, rows, "<>><")


def _residuals(trial: Document, number: int, document: Document, reader: Reader) -> list[Item]:
    """Residuals of both strata, and what the engine says of their spread."""
    say, named = reader.say, _factors(document, reader)
    names = [say(f"trial.residual.{one}") for one in ("fitted", "scaled", "score")]
    drawn: list[Item] = []
    told: list[Text] = []
    for one in trial["strata"]:
        if len(one["residual"]) < 2:
            continue
        stratum = say(f"trial.{one['stratum']}s", **named)
        largest = reader.number(max(one["scaled_residual"], key=abs), 1)
        first = say("trial.stratum", stratum=stratum, largest=largest)
        told += [first, *engine([one["in_words"]])]
        alt = f"{first} {say('trial.residual.alt')}"
        svg = partial(
            residual_figure, f"{one['stratum'].replace('_', '-')}-{number}", one, reader,
            labels=[say("trial.residual.of", **named), *names],
            title=say("trial.residual.title", stratum=stratum), alt=alt,
        )  # fmt: skip
        drawn.append(Figure(svg, alt, _residual_table(one, reader), say("trial.source", **named)))
    return [*drawn, Bullets(told)]


def _residual_table(one: Document, reader: Reader) -> Table:
    """Residuals of one stratum in the order of their normal scores."""
    names = ("normal_score", "scaled_residual", "residual", "fitted")
    digits = (2, 2, _decimals(one["residual"], 3), _decimals(one["fitted"]))
    rows = [
        [reader.number(value, fine) for value, fine in zip(row, digits, strict=True)]
        for row in zip(*(one[name] for name in names), strict=True)
    ]
    header = [reader.say(f"trial.residual.{one}")
              for one in ("score", "scaled", "residual", "fitted")]  # fmt: skip
    return Table(reader.say("trial.residual.table"), header, rows, ">>>>")
