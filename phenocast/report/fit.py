"""The answer of a fit: what past records told of each cultivar, and what they could not."""

from collections import Counter
from collections.abc import Mapping, Sequence
from functools import partial

from phenocast.report.figures.scores import Estimate, caterpillar_figure
from phenocast.report.parts import (
    Bullets,
    Engine,
    Figure,
    Folded,
    Item,
    Page,
    Section,
    Table,
    Text,
    engine,
)
from phenocast.report.reader import Document, Reader

TERMS = ("crown", "cut_off", "degree_hours", "film", "bic", "prior", "credible_interval")
HEAT = "heat_sensitivity"
HEAT_DIGITS = 2
SHARP = 0.5
"""Ratio of posterior to prior sd below which the records have told much of a parameter."""
LEAST_LOADING = 0.25
MOST_LOADINGS = 3
METHODS = ("laplace", "profile", "bootstrap")
MOST_ROWS = 20


def fit_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a fit of cultivars.

    Parameters
    ----------
    document : mapping
        What ``phenocast fit --json`` prints for records of picks; nothing else is used.
    reader : Reader
        Fitted parameters keep the unit of their prior: they are those of the parameter file.
    """
    say, found, records = reader.say, document["identifiability"], document["records"]
    rankable = found["rankable"]
    sensitivity: list[Text] = [say("fit.more_seasons")] if rankable else [
        *engine(found["why_not"]), *engine(found["records_that_would_settle_it"]),
    ]  # fmt: skip
    steps = ("forecast", "rank" if rankable else "records", "hindcast")
    return Page(
        kind="fit",
        title=say("fit.title"),
        place=say("fit.place", file=reader.name(document["records_file"])),
        summary=[
            say("fit.answer", cultivars=reader.number(len(document["cultivars"])),
                records=reader.number(records["used"]),
                blocks=reader.number(records["block_seasons"]),
                seasons=reader.number(len(records["seasons"]))),
            say("fit.rankable" if rankable else "fit.not_rankable"),
        ],
        uncertainty=[Bullets(_uncertainty(document, reader))],
        sensitivity=[Bullets(sensitivity)],
        next_steps=[Bullets([say(f"fit.next_{one}") for one in steps])],
        cautions=[*engine(document["warnings"]), say("fit.not_the_model")],
        sections=_sections(document, reader),
        sources=[_source(document, reader)],
        terms=TERMS,
        engine_version=document["engine_version"],
    )  # fmt: skip


def _source(document: Document, reader: Reader) -> str:
    records = document["records"]
    return reader.say(
        "fit.source", records=reader.number(records["used"]),
        file=reader.name(document["records_file"]), seasons=reader.number(len(records["seasons"])),
    )  # fmt: skip


def _uncertainty(document: Document, reader: Reader) -> list[str]:
    """Whether the search settled, what ended at a bound, and how much the records told."""
    say, found = reader.say, document["convergence"]
    starts = reader.number(len(found["starts"]))
    told = [
        say("fit.converged" if found["converged"] else "fit.not_converged"),
        say("fit.starts_agree" if found["starts_agree"] else "fit.starts_differ", starts=starts),
    ]
    bound = [
        f"{one.get('cultivar', one.get('transplant', ''))}: {one['name']}"
        if isinstance(one, Mapping) else str(one)
        for one in found["at_bound"]
    ]  # fmt: skip
    if bound:
        told.append(say("fit.at_bound", parameters=", ".join(map(reader.name, bound))))
    every = [one for cultivar in document["cultivars"] for one in cultivar["parameters"]]
    sharp = reader.number(sum(one["contraction"] < SHARP for one in every))
    return [*told, say("fit.learned", sharp=sharp, all=reader.number(len(every)))]


def _sections(document: Document, reader: Reader) -> list[Section]:
    say = reader.say
    sections = [
        Section(say("fit.heat"), [
            *_heat_figure(document, reader), _heat_table(document, reader),
            *_methods(document["uncertainty"].get(HEAT, []), reader),
        ])
    ]  # fmt: skip
    for cultivar in document["cultivars"]:
        heading = say(
            "fit.cultivar", cultivar=reader.name(cultivar["cultivar"]),
            records=reader.number(cultivar["records"]),
            blocks=reader.number(cultivar["block_seasons"]),
        )  # fmt: skip
        note: list[Item] = [Engine(cultivar["note"])] if cultivar["note"] else []
        table = _parameters(cultivar["parameters"], reader, say("fit.parameters"))
        sections.append(Section(heading, [*note, table]))
    shared: list[Item] = [_seasons(document, reader)]
    if document["transplants"]:
        shared.append(_parameters(document["transplants"], reader, say("fit.transplants")))
    return [
        *sections,
        Section(say("fit.shared"), shared),
        Section(say("fit.selection"), _selection(document, reader)),
        Section(say("fit.scatter"), _scatter(document, reader)),
        Section(say("fit.information"), [
            *_information(document, reader), _records(document["records"], reader),
        ]),
    ]  # fmt: skip


def _heat_figure(document: Document, reader: Reader) -> list[Item]:
    """Sensitivity to heat of each cultivar; nothing where it was not fitted."""
    say = reader.say
    rows = [(one["cultivar"], number) for one in document["cultivars"]
            for number in one["parameters"] if number["name"] == HEAT]  # fmt: skip
    if not rows:
        return []
    values = [one["value"] for _, one in rows]
    low, high = (reader.number(end, HEAT_DIGITS) for end in (min(values), max(values)))
    alt = say("fit.heat_alt", low=low, high=high)
    estimates = [
        Estimate(name, one["value"], tuple(one["interval_80"]), tuple(one["interval_95"]), True)
        for name, one in rows
    ]
    svg = partial(
        caterpillar_figure, "heat", estimates, reader, unit=say("fit.heat_axis"), digits=1,
        title=say("fit.heat"), alt=alt,
    )  # fmt: skip
    cells = [
        [reader.name(name), reader.number(one["value"], HEAT_DIGITS),
         *(reader.between(*(reader.number(end, HEAT_DIGITS) for end in one[key]))
           for key in ("interval_80", "interval_95"))]
        for name, one in rows
    ]  # fmt: skip
    header = [
        say("common.cultivar"),
        *reader.heads("fit.column", "fitted", "interval_80", "interval_95"),
    ]
    table = Table(say("fit.heat_table"), header, cells, "<>>>")
    return [Figure(svg, alt, table, _source(document, reader), in_text=True)]


def _heat_table(document: Document, reader: Reader) -> Table:
    """Heat that each cultivar went through: what the sensitivity was learned from."""
    say = reader.say
    rows = [
        [
            reader.name(one["cultivar"]),
            reader.amount("temperature", one["cut_off_c"]),
            reader.between(*(reader.number(one["hours_above_cut_off"][end])
                             for end in ("least", "most"))),
            reader.between(*(reader.figure("heat", one["degree_hours_above_30c"][end])
                             for end in ("least", "most"))),
        ]
        for one in document["identifiability"]["heat_in_the_data"]
    ]  # fmt: skip
    header = [
        say("common.cultivar"), *reader.heads("fit.column", "cut_off", "hours"),
        f"{say('fit.column.degree_hours')} [{reader.unit('heat')}]",
    ]  # fmt: skip
    return Table(say("fit.heat_in_data"), header, rows, "<>>>")


def _methods(found: Sequence[Document], reader: Reader) -> list[Item]:
    """Interval of the sensitivity to heat by each method that was run."""
    methods = [name for name in METHODS if any(name in one for one in found)]
    rows = []
    for one in found:
        cells = [reader.name(one["cultivar"])]
        for name in methods:
            ends = ["–" if end is None else reader.number(end, HEAT_DIGITS)
                    for end in one.get(name) or (None, None)]  # fmt: skip
            cells.append(reader.between(*ends))
        rows.append(cells)
    header = [reader.say("common.cultivar"), *reader.heads("fit.column", *methods)]
    table = Table(reader.say("fit.methods"), header, rows, "<" + ">" * len(methods))
    return [Folded(reader.say("fit.methods"), [table])] if rows and methods else []


def _parameters(numbers: Sequence[Document], reader: Reader, caption: str) -> Table:
    """Prior and posterior of some parameters."""
    rows = [
        [
            reader.name(f"{one['transplant']}: {one['name']}" if "transplant" in one
                        else one["name"]),
            reader.name(one["unit"]),
            _estimate(one["prior"], reader),
            _estimate(one, reader),
            reader.between(*(reader.short(end) for end in one["interval_80"])),
            ", ".join([reader.percent(one["contraction"]),
                       *([reader.say("fit.bound")] * one["at_bound"])]),
        ]
        for one in numbers
    ]  # fmt: skip
    names = ("parameter", "unit", "prior", "fitted", "interval_80", "sd_ratio")
    return Table(caption, reader.heads("fit.column", *names), rows, "<<>>>>")


def _estimate(one: Document, reader: Reader) -> str:
    return f"{reader.short(one['value'])} ± {reader.short(one['sd'])}"


def _seasons(document: Document, reader: Reader) -> Table:
    """What all blocks of a season share."""
    rows = [
        [
            reader.name(one["season"]),
            *(" ± ".join(reader.number(one[key][part], digits) for part in ("value", "sd"))
              for key, digits in (("later_d", 1), ("supply_factor", 2))),
        ]
        for one in document["seasons"]
    ]  # fmt: skip
    return Table(reader.say("fit.seasons"), reader.heads("fit.column", "season", "later", "supply"),
                 rows, "<>>")  # fmt: skip


def _selection(document: Document, reader: Reader) -> list[Item]:
    """Steps of the model selection, and plain rules on dates beside the process model."""
    say = reader.say
    rows = [
        [reader.name(one["step"], 80), reader.number(one["parameters"], 1),
         reader.number(one["bic"], 1), reader.number(one["left_out_loss"], 3),
         say("fit.kept" if one["kept"] else "fit.not_kept")]
        for one in document["selection"]
    ]  # fmt: skip
    header = reader.heads("fit.column", "step", "effective", "bic", "loss", "outcome")
    items: list[Item] = [Table(say("fit.steps"), header, rows, "<>>><")]
    kept = [one for one in document["selection"] if one["kept"] and one["left_out_error"]]
    for one in kept[-1:]:
        errors = ", ".join(f"{reader.name(name)} {reader.short(error)}"
                           for name, error in sorted(one["left_out_error"].items()))  # fmt: skip
        items.append(say("fit.left_out_error", step=reader.name(one["step"], 80), errors=errors))
    rules = [
        [reader.name(one["rule"], 80), reader.number(one["bic"], 1),
         reader.number(one["left_out_error_d"], 2),
         say("fit.kept" if one["kept"] else "fit.not_kept")]
        for one in document["date_rules"]["rules"]
    ]  # fmt: skip
    if rules:
        header = reader.heads("fit.column", "rule", "bic", "days_missed", "outcome")
        items.append(Table(say("fit.date_rules"), header, rules, "<>><"))
    return items


def _scatter(document: Document, reader: Reader) -> list[Item]:
    """Residual errors of the records, and the standard deviations that forecasts draw."""
    say, found = reader.say, document["scatter"]
    told = []
    for kind, one in sorted(found["kinds"].items()):
        key = "error_days" if "sd_d" in one else "error_share"
        told.append(
            say(f"fit.{key}", kind=reader.name(kind), days=reader.number(one.get("sd_d"), 1),
                share=reader.percent(one.get("relative")),
                floor=reader.short(one.get("floor", 0.0)),
                grain=reader.short(one.get("grain", 0.0)))
        )  # fmt: skip
    seasons, plots = found["between_seasons"], found["between_plots"]
    told.append(
        say("fit.between", days=reader.number(seasons["shift_d"], 1),
            seasons=reader.percent(seasons["level"]), plots=reader.percent(plots["level"]))
    )  # fmt: skip
    for one in found.get("spreads", ()):
        key = "draws_fitted" if one["told_by_records"] else "draws_assumed"
        low, high = (reader.short(end) for end in one["interval_80"])
        told.append(
            say(f"fit.{key}", name=reader.name(one["name"]), value=reader.short(one["value"]),
                low=low, high=high, unit="" if one["unit"] == "1" else f" {one['unit']}",
                units=reader.number(one["units"]))
        )  # fmt: skip
    return [Bullets(told)]


def _information(document: Document, reader: Reader) -> list[Item]:
    """Strongest and weakest direction of each cultivar, and whether curves are free to bend."""
    say, rows = reader.say, []
    for one in document["identifiability"]["directions"]:
        listed = one["directions"]
        for key, direction in (("best", listed[0]), ("least", listed[-1])):
            kept = sorted(
                direction["loadings"].items(), key=lambda one: (-abs(float(one[1])), one[0])
            )
            shown = [
                f"{reader.number(value, 2)} {reader.name(name)}"
                for name, value in kept[:MOST_LOADINGS]
                if abs(value) >= LEAST_LOADING
            ]
            rows.append([reader.name(one["cultivar"]), say(f"fit.{key}_known"), "; ".join(shown),
                         reader.short(direction["information"])])  # fmt: skip
    header = [
        say("common.cultivar"),
        *reader.heads("fit.column", "direction", "loadings", "information"),
    ]
    items: list[Item] = [Table(say("fit.directions"), header, rows, "<<<>")]
    curves = document["curves"]
    if curves["wider"]:
        wider = curves["wider"].values()
        items.append(
            say("fit.curves", gain=reader.number(curves["gain"], 1),
                chance=reader.number(curves["by_chance"]), low=reader.number(min(wider), 2),
                high=reader.number(max(wider), 2))
        )  # fmt: skip
    return items


def _records(records: Document, reader: Reader) -> Folded:
    """How many records of each kind were used, and which rows were not and why."""
    say = reader.say
    kinds = [
        f"{reader.name(kind)}: {reader.number(count)}"
        for kind, count in sorted(records["used_by_kind"].items())
    ]
    left = Counter(str(one.get("reason", "")) for one in records["not_used"])
    reasons: list[Text] = []
    for why, count in left.most_common():
        rows = [str(one["row"]) for one in records["not_used"] if one.get("reason", "") == why]
        more = ", …" if count > MOST_ROWS else ""
        reasons.append(Engine(f"{count}: {why} (rows {', '.join(rows[:MOST_ROWS])}{more})"))
    title = say("fit.records", used=reader.number(records["used"]),
                left=reader.number(len(records["not_used"])))  # fmt: skip
    return Folded(title, [Bullets([*kinds, *(reasons or [say("fit.all_used")])])])
