"""Names of the spreads that a fit finds between seasons and between blocks, and a forecast draws.

No shipped cultivar has them: how far apart the seasons of a field are is told by its own records.

Parameter sets as the text of a parameter file, in the form that the readers take.

Parameter files that a user brings: cultivars and films in the form of the shipped ones.
"""

import json
import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from phenocast.errors import (
    Fault,
    Gathering,
    InputError,
    broken,
    named,
    nearest,
    raise_any,
    refuse,
    unknown_name,
)
from phenocast.parameters.library import (
    bed,
    cultivars,
    films,
    parameter_set,
    species,
    transplants,
)
from phenocast.parameters.sets import ParameterSet, merged

SEASON_SHIFT_SD = "season_shift_sd"

SEASON_LEVEL_SD = "season_level_sd"

PLOT_LEVEL_SD = "plot_level_sd"


FIELD_SPREADS = (SEASON_SHIFT_SD, SEASON_LEVEL_SD, PLOT_LEVEL_SD)

"""Of what makes all blocks of a season late [d], of the logarithm of supply of a season [1], and of
that of one block in a season [1]. A cultivar's parameter file may state them; none need."""


_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def parameter_toml(kind: str, sets: Sequence[ParameterSet], remarks: Sequence[str] = ()) -> str:
    r"""Text of a parameter file: labels and birth certificates of some sets of one kind.

    Parameters
    ----------
    kind : str
        "film", "cultivar", "soil": the first part of each table's name.
    sets : sequence of ParameterSet
    remarks : sequence of str
        Lines that stand as comments at the head.

    Returns
    -------
    str
        TOML. What it says is read back exactly.

    Raises
    ------
    InputError
        When a number is not finite, for which a certificate has no place.

    Examples
    --------
    >>> print(parameter_toml("film", [ParameterSet("south", {}, {"description": "my film"})]))
    [film.south]
    description = "my film"
    <BLANKLINE>
    """
    lines = [f"# {line}" for remark in remarks for line in remark.splitlines()]
    for one in sets:
        if lines:
            lines.append("")
        lines.append(f"[{kind}.{_key(one.name)}]")
        lines += [f"{_key(label)} = {_value(text, label)}" for label, text in one.labels.items()]
        for name, parameter in one.parameters.items():
            where = f"{kind}.{one.name}.{name}"
            entries = ", ".join(
                f"{key} = {_value(value, where)}" for key, value in parameter.to_dict().items()
            )
            lines.append(f"{_key(name)} = {{ {entries} }}")
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else _quoted(name)


def _quoted(text: str) -> str:
    # JSON escapes what TOML wants escaped, but for one control character.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: object, where: str) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int | float) and math.isfinite(value):
        return repr(float(value))
    raise InputError(Fault("a number of a certificate is not finite", where=where, value=value))


FLOWERING = ("short-day", "day-neutral")

OPTICS = (
    "solar_reflectance",
    "solar_transmittance",
    "longwave_emittance",
    "longwave_transmittance",
)

FARTHEST = 3.0

"""Times that a user's bounds may lie beyond those of the shipped sets."""


def cultivars_from(tables: Mapping[str, Any], source_name: str) -> dict[str, ParameterSet]:
    """Cultivars of a user's file, ``[cultivar.NAME]`` tables of certified numbers.

    A cultivar states what differs from the species, or from the shipped or earlier cultivar that
    its text ``like = "NAME"`` names. Beyond the numbers of the species it may state
    `phenocast.parameters.FIELD_SPREADS`, as a fit does.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    dict of str to ParameterSet

    Raises
    ------
    InputError
        With every fault: no cultivar, a number without a certificate, a parameter that the species
        does not have, a type of flowering that does not exist.

    Examples
    --------
    >>> own = cultivars_from({"cultivar": {"Slate": {"like": "Marl"}}}, "own.toml")
    >>> own["Slate"].labels["flowering"], own["Slate"].name
    ('short-day', 'Slate')
    """
    own = _tables_of(tables, "cultivar", source_name)
    known = dict(cultivars())
    reach = _reach(known.values())
    found: dict[str, ParameterSet] = {}
    faults = Gathering()
    for name, table in own.items():
        where = f"{source_name}: cultivar.{name}"
        with faults.of_step():
            stated = parameter_set(name, table, where)
            like = stated.labels.get("like")
            kin = species() if like is None else named("cultivar", like, known, f"{where}.like")
            whole = merged(name, kin, stated)
            flowering = whole.labels.get("flowering")
            faults += _strange(stated, reach, where, FIELD_SPREADS)
            faults += broken(
                (
                    flowering not in FLOWERING,
                    Fault("the type of flowering", f"{where}.flowering", flowering, str(FLOWERING)),
                )
            )
            found[name] = known[name] = whole
    raise_any(faults)
    return found


def transplants_from(tables: Mapping[str, Any], source_name: str) -> dict[str, ParameterSet]:
    """Types of transplant of a user's file, ``[transplant.NAME]`` tables of certified numbers.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it; a type states what differs from the shipped one of its name.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    dict of str to ParameterSet
        Empty where the table of transplants is.

    Raises
    ------
    InputError
        With every fault: a type or a number that is not shipped, a number without a certificate.

    Examples
    --------
    >>> own = transplants_from({"transplant": {"plug": {"draws": "own.parquet"}}}, "own.toml")
    >>> own["plug"].name, own["plug"].value("trusses_at_planting")
    ('plug', 0.0)
    """
    known = transplants()
    found: dict[str, ParameterSet] = {}
    faults = Gathering()
    own = _tables_of(tables, "transplant", source_name) if tables.get("transplant") != {} else {}
    for name, table in own.items():
        where = f"{source_name}: transplant.{name}"
        with faults.of_step():
            shipped = named("transplant", name, known, where)
            stated = parameter_set(name, table, where)
            faults += _strange(stated, _reach([shipped]), where)
            found[name] = merged(name, shipped, stated)
    raise_any(faults)
    return found


def film_from(tables: Mapping[str, Any], name: str, source_name: str) -> ParameterSet:
    """Film of a user's file under the name that the season gives it.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it: a table ``[film.NAME]``; where there is but one its name in
        the file does not matter.
    name : str
        Name in the season.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    ParameterSet

    Raises
    ------
    InputError
        With every fault: no film, several of other names, optics missing, a number that no film
        has.

    Examples
    --------
    >>> black = films()["black"].to_dict()
    >>> film_from({"film": {"fit 3": black}}, "south", "fit.toml").name
    'south'
    """
    own = _tables_of(tables, "film", source_name)
    refuse((name not in own and len(own) > 1, unknown_name("film", name, own, source_name)))
    key = name if name in own else next(iter(own))
    where = f"{source_name}: film.{key}"
    film = parameter_set(name, own[key], where)
    faults = _strange(film, _reach([*films().values(), bed()]), where)
    faults += [
        Fault("this number is required", f"{where}.{key}") for key in OPTICS if key not in film
    ]
    if not faults:
        faults = sum_faults({key: film.value(key) for key in OPTICS}, where)
    shoulder = film.labels.get("shoulder")
    plain = [key for key, one in films().items() if "shoulder" not in one.labels]
    faults += broken(
        (
            shoulder is not None and shoulder not in plain,
            unknown_name("film", str(shoulder), plain, f"{where}.shoulder"),
        ),
        (
            (shoulder is None) != ("stripe_width" not in film),
            Fault(
                "a striped film needs both shoulder and stripe_width", where,
                do="state the film beside the stripe and the width of the stripe",
            ),
        ),
    )  # fmt: skip
    raise_any(faults)
    return film


def sum_faults(optics: Mapping[str, float], where: str) -> list[Fault]:
    """Return the faults of optics that reflect and let through more than there is.

    Parameters
    ----------
    optics : mapping of str to float
        The four of `OPTICS`.
    where : str

    Examples
    --------
    >>> sum_faults(dict(zip(OPTICS, (0.7, 0.4, 0.9, 0.1))), "film.x")[0].value
    1.1
    """
    return [
        Fault(f"{first} and {second} add to more than 1", where, round(total, 4),
              "at most 1 together")
        for first, second in (OPTICS[:2], OPTICS[2:])
        if (total := optics[first] + optics[second]) > 1.0 + 1e-9
    ]  # fmt: skip


def _reach(sets: Iterable[ParameterSet]) -> dict[str, tuple[str, float, float]]:
    """Return unit, lowest and highest bound of each number that some sets have."""
    found: dict[str, tuple[str, float, float]] = {}
    for key, one in (item for each in sets for item in each.items()):
        _, low, high = found.get(key, ("", one.lower, one.upper))
        found[key] = (one.unit, min(low, one.lower), max(high, one.upper))
    return found


def _strange(
    stated: ParameterSet,
    reach: Mapping[str, tuple[str, float, float]],
    where: str,
    free: Collection[str] = (),
) -> list[Fault]:
    """Return a fault for each number that is not known, in another unit, or beyond belief."""
    faults: list[Fault] = []
    for key, one in stated.items():
        place = f"{where}.{key}"
        if key in free:
            continue
        if key not in reach:
            faults.append(unknown_name("parameter", key, [*reach, *free], place))
            continue
        unit, low, high = reach[key]
        low = low * FARTHEST if low < 0.0 else low / FARTHEST
        high = high / FARTHEST if high < 0.0 else high * FARTHEST
        faults += broken(
            (
                one.unit != unit,
                Fault("in another unit", place, one.unit, unit, "convert the number"),
            ),
            (
                not low <= one.lower <= one.upper <= high,
                Fault(
                    "its bounds lie far from every shipped set", place, [one.lower, one.upper],
                    f"{low:g} to {high:g} {unit}", "look at the decimal point and the unit",
                ),
            ),
        )  # fmt: skip
    return faults


def _tables_of(tables: Mapping[str, Any], kind: str, source_name: str) -> Mapping[str, Any]:
    """Return the tables of one kind, refused where there is none or another kind besides."""
    own = tables.get(kind)
    faults = [
        Fault(
            "unknown table",
            f"{source_name}: {key}",
            allowed=f"[{kind}.NAME]",
            do=f"did you mean '{kind}'?" if nearest(key, [kind]) else "take it out",
        )
        for key in tables
        if key != kind
    ]
    if not isinstance(own, Mapping) or not own:
        faults.append(Fault(f"the file holds no {kind}", source_name, allowed=f"[{kind}.NAME]"))
        own = {}
    faults += [
        Fault("the wrong kind of value", f"{source_name}: {kind}.{name}", table, "a table")
        for name, table in own.items()
        if not isinstance(table, Mapping)
    ]
    raise_any(faults)
    return own
