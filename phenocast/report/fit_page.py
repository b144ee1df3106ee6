"""The page of a fit: what past records told of each cultivar, and what they could not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from phenocast.report.figures.caterpillar import Crawler, caterpillar_figure
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Engine, Figure, Folded, Item, Page, Section, Table, Text
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

TERMS = ("crown", "cut_off", "degree_hours", "film")
HEAT = "heat_sensitivity"
HEAT_DIGITS = 2


def fit_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a fit.

    Parameters
    ----------
    document : mapping
        What ``phenocast fit --json`` prints for records of picks; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`; fitted numbers keep the unit of their prior, so that
        they are the ones of the parameter file.

    Returns
    -------
    str
        One self-contained HTML file.

    Raises
    ------
    InputError
        For another language or system of units.
    """
    reader = Reader(language, units)
    say = reader.say
    found = document["identifiability"]
    return render(
        Page(
            kind="fit",
            title=say("fit.title"),
            place=say("fit.place", file=reader.name(document["records_file"])),
            issue_date=None,
            answer=_answer(document, reader),
            sure=[Bullets(_sure(document, reader))],
            change=[Bullets(_change(found, reader))],
            next_steps=[Bullets(
                [say("fit.next_forecast"), say("fit.next_rank" if found["rankable"] else
                                               "fit.next_records"), say("fit.next_hindcast")]
            )],
            cautions=[*engine(document["warnings"]), say("fit.not_the_model")],
            assumed=[],
            sections=_sections(document, reader),
            terms=TERMS,
            sources=[_source(document, reader)],
            engine_version=document["engine_version"],
        ),
        reader,
    )  # fmt: skip


def _source(document: Document, reader: Reader) -> str:
    records = document["records"]
    return reader.say(
        "fit.source", records=reader.number(records["used"]),
        file=reader.name(document["records_file"]), seasons=reader.number(len(records["seasons"])),
    )  # fmt: skip


def _answer(document: Document, reader: Reader) -> list[str]:
    records = document["records"]
    first = reader.say(
        "fit.answer", cultivars=reader.number(len(document["cultivars"])),
        records=reader.number(records["used"]), blocks=reader.number(records["block_seasons"]),
        seasons=reader.number(len(records["seasons"])),
    )  # fmt: skip
    rankable = document["identifiability"]["rankable"]
    return [first, reader.say("fit.rankable" if rankable else "fit.not_rankable")]


def _sure(document: Document, reader: Reader) -> list[str]:
    say, found = reader.say, document["convergence"]
    told = [
        say("fit.converged" if found["converged"] else "fit.not_converged"),
        say("fit.starts_agree" if found["starts_agree"] else "fit.starts_differ",
            starts=reader.number(len(found["starts"]))),
    ]  # fmt: skip
    bound = [
        f"{one.get('cultivar', one.get('transplant', ''))}: {one['name']}"
        if isinstance(one, Mapping) else str(one)
        for one in found["at_bound"]
    ]  # fmt: skip
    if bound:
        told.append(say("fit.at_bound", numbers=", ".join(map(reader.name, bound))))
    every = [number for one in document["cultivars"] for number in one["numbers"]]
    sharp = sum(number["contraction"] < 0.5 for number in every)
    told.append(say("fit.learned", sharp=reader.number(sharp), all=reader.number(len(every))))
    return told


def _change(found: Document, reader: Reader) -> list[Text]:
    if found["rankable"]:
        return [reader.say("fit.more_seasons")]
    return [
        *(Engine(why) for why in found["why_not"]),
        *(Engine(one) for one in found["records_that_would_settle_it"]),
    ]


def _sections(document: Document, reader: Reader) -> list[Section]:
    say = reader.say
    items: list[Item] = []
    drawn = _heat_figure(document, reader)
    if drawn is not None:
        items.append(drawn)
    items.append(_heat_table(document, reader))
    sections = [Section(say("fit.heat"), items)]
    for cultivar in document["cultivars"]:
        parts: list[Item] = [_numbers(cultivar["numbers"], reader, say("fit.numbers"))]
        if cultivar["note"]:
            parts.insert(0, Engine(cultivar["note"]))
        sections.append(
            Section(
                say("fit.cultivar", cultivar=reader.name(cultivar["cultivar"]),
                    records=reader.number(cultivar["records"]),
                    blocks=reader.number(cultivar["block_seasons"])),
                parts,
            )
        )  # fmt: skip
    shared: list[Item] = [_ladder(document["ladder"], reader), _seasons(document, reader)]
    if document["transplants"]:
        shared.append(_numbers(document["transplants"], reader, say("fit.transplants")))
    shared.append(_records(document["records"], reader))
    return [*sections, Section(say("fit.shared"), shared)]


def _heat_rows(document: Document) -> list[tuple[str, Document]]:
    return [
        (one["cultivar"], number)
        for one in document["cultivars"]
        for number in one["numbers"]
        if number["name"] == HEAT
    ]


def _heat_figure(document: Document, reader: Reader) -> Figure | None:
    say, rows = reader.say, _heat_rows(document)
    if not rows:
        return None
    crawlers = [
        Crawler(name, one["value"], tuple(one["interval_80"]), tuple(one["interval_95"]), True)
        for name, one in rows
    ]
    values = [one["value"] for _, one in rows]
    alt = say(
        "fit.heat_alt", low=reader.number(min(values), HEAT_DIGITS),
        high=reader.number(max(values), HEAT_DIGITS),
    )  # fmt: skip
    svg = caterpillar_figure(
        "heat", crawlers, reader, unit=say("fit.heat_axis"), digits=1, title=say("fit.heat"),
        alt=alt,
    )  # fmt: skip
    table = Table(
        say("fit.heat_table"),
        [reader.say("common.cultivar"),
         *(say(f"fit.column.{key}") for key in ("fitted", "interval_80", "interval_95"))],
        [
            [reader.name(name), reader.number(one["value"], HEAT_DIGITS),
             _between(one["interval_80"], reader, HEAT_DIGITS),
             _between(one["interval_95"], reader, HEAT_DIGITS)]
            for name, one in rows
        ],
        "<>>>",
    )  # fmt: skip
    return Figure(svg, alt, table, _source(document, reader))


def _heat_table(document: Document, reader: Reader) -> Table:
    """Heat that each cultivar went through: what the sensitivity was learned from."""
    say = reader.say
    rows = [
        [
            reader.name(one["cultivar"]),
            reader.amount("temperature", one["cut_off_c"]),
            reader.say("common.between", low=reader.number(one["hours_above_cut_off"]["least"]),
                       high=reader.number(one["hours_above_cut_off"]["most"])),
            reader.say("common.between",
                       low=reader.figure("heat", one["degree_hours_above_30c"]["least"]),
                       high=reader.figure("heat", one["degree_hours_above_30c"]["most"])),
        ]
        for one in document["identifiability"]["heat_in_the_data"]
    ]  # fmt: skip
    header = [
        say("common.cultivar"), say("fit.column.cut_off"), say("fit.column.hours"),
        f"{say('fit.column.degree_hours')} [{reader.unit('heat')}]",
    ]  # fmt: skip
    return Table(say("fit.heat_in_data"), header, rows, "<>>>")


def _numbers(numbers: list[Document], reader: Reader, caption: str) -> Table:
    say = reader.say
    rows = [
        [
            reader.name(one["name"]), reader.name(one["unit"]),
            f"{_short(one['prior']['value'], reader)} ± {_short(one['prior']['sd'], reader)}",
            f"{_short(one['value'], reader)} ± {_short(one['sd'], reader)}",
            _between(one["interval_80"], reader),
            ", ".join(
                [reader.percent(one["contraction"]), *([say("fit.bound")] * one["at_bound"])]
            ),
        ]
        for one in numbers
    ]  # fmt: skip
    keys = ("number", "unit", "before", "fitted", "interval_80", "spread_left")
    return Table(caption, [say(f"fit.column.{key}") for key in keys], rows, "<<>>>>")


def _short(value: float, reader: Reader) -> str:
    return reader.plain_value(float(f"{value:.3g}"))


def _between(ends: list[float], reader: Reader, digits: int | None = None) -> str:
    low, high = (
        _short(end, reader) if digits is None else reader.number(end, digits) for end in ends
    )
    return reader.say("common.between", low=low, high=high)


def _ladder(rungs: list[Document], reader: Reader) -> Item:
    say = reader.say
    rows = [
        [reader.name(one["rung"], 80), reader.number(one["bic"], 1),
         reader.number(one["left_out_loss"], 3),
         say("fit.kept" if one["kept"] else "fit.not_kept")]
        for one in rungs
    ]  # fmt: skip
    header = [say(f"fit.column.{key}") for key in ("rung", "bic", "loss", "stays")]
    return Table(say("fit.ladder"), header, rows, "<>><")


def _seasons(document: Document, reader: Reader) -> Table:
    say = reader.say
    rows = [
        [
            reader.name(one["season"]),
            *(
                f"{reader.number(one[key]['value'], digits)} ± "
                f"{reader.number(one[key]['sd'], digits)}"
                for key, digits in (("later_d", 1), ("supply_factor", 2))
            ),
        ]
        for one in document["seasons"]
    ]
    header = [say(f"fit.column.{key}") for key in ("season", "later", "supply")]
    return Table(say("fit.seasons"), header, rows, "<>>")


def _records(records: Document, reader: Reader) -> Item:
    say = reader.say
    kinds = [
        f"{reader.name(kind)}: {reader.number(count)}"
        for kind, count in sorted(records["used_by_kind"].items())
    ]
    left = Counter(str(one.get("reason", "")) for one in records["not_used"])
    reasons: list[Text] = [Engine(f"{count}: {why}") for why, count in left.most_common()]
    title = say("fit.records", used=reader.number(records["used"]),
                left=reader.number(len(records["not_used"])))  # fmt: skip
    return Folded(title, [Bullets([*kinds, *(reasons or [say("fit.all_used")])])])
