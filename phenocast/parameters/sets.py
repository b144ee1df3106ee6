"""One number with its birth certificate: value, unit, bounds, spread, basis and source.

Draws that lie evenly: one from each slice of probability, and the normal at such a share.

Named sets of parameters, and draws from what is not known about them.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError, broken, named, raise_any, refuse, unknown_name

BASES = ("measured", "fitted", "assumed")

_NUMBERS = ("value", "lower", "upper", "sd")


@dataclass(frozen=True)
class Parameter:
    """A number of the model, and where it comes from.

    Parameters
    ----------
    value : float
        The value, in ``unit``.
    unit : str
        Unit; "1" where there is none.
    lower, upper : float
        Bounds within which the number is believed to lie, in ``unit``.
    sd : float
        Standard deviation of what is not known about it, in ``unit``; 0 where it is held fixed.
    basis : str
        "measured", "fitted" or "assumed".
    conditions : str
        For which conditions the number holds.
    source : str
        Key of the source in ``calibration/references.toml``.
    where : str
        Where in the source.
    read : bool
        Whether the source itself was read; False where the number was recalled from memory.

    Raises
    ------
    InputError
        When the bounds, the spread or the basis make no sense.

    Examples
    --------
    >>> p = Parameter(0.66, "1", 0.4, 0.78, 0.09, "assumed", "new film", "ham1993", "p. 1", False)
    >>> p.value
    0.66
    """

    value: float
    unit: str
    lower: float
    upper: float
    sd: float
    basis: str
    conditions: str
    source: str
    where: str
    read: bool

    def __post_init__(self) -> None:
        faults = [
            Fault(f"{name} is not a finite number", value=getattr(self, name))
            for name in _NUMBERS
            if not math.isfinite(getattr(self, name))
        ]
        faults += broken(
            (
                not faults and not self.lower <= self.value <= self.upper,
                Fault(
                    "the value lies outside its bounds", value=self.value,
                    allowed=f"{self.lower} to {self.upper} {self.unit}",
                ),
            ),
            (self.sd < 0.0, Fault("a spread cannot be negative", "", self.sd, "0 or more")),
            (self.basis not in BASES, Fault("unknown basis", "", self.basis, ", ".join(BASES))),
        )  # fmt: skip
        raise_any(faults)

    def to_dict(self) -> dict[str, Any]:
        """Return the certificate as a plain mapping, in the order of the file.

        Examples
        --------
        >>> p = Parameter(1.0, "1", 0.0, 2.0, 0.1, "fitted", "", "own", "", True)
        >>> list(p.to_dict())[:3]
        ['value', 'unit', 'lower']
        """
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def with_value(self, value: float) -> Parameter:
        """Return the same certificate with another value, its bounds widened to hold it.

        Examples
        --------
        >>> Parameter(1.0, "1", 0.0, 2.0, 0.1, "fitted", "", "own", "", True).with_value(3.0).upper
        3.0
        """
        return replace(
            self, value=value, lower=min(self.lower, value), upper=max(self.upper, value)
        )


_FIELDS = tuple(f.name for f in fields(Parameter))

_TEXTS = ("unit", "basis", "conditions", "source", "where")


def parameter_from_mapping(entry: Mapping[str, Any], where: str) -> Parameter:
    """Return a parameter from a table of a file.

    Parameters
    ----------
    entry : mapping
        The table, with every field of `Parameter` and no other key.
    where : str
        Path of the table, for the message.

    Returns
    -------
    Parameter

    Raises
    ------
    InputError
        With every fault of the entry: a field that is missing, unknown or of the wrong type.

    Examples
    --------
    >>> parameter_from_mapping({"value": 1.0}, "film.black.solar_reflectance")
    Traceback (most recent call last):
    phenocast.errors.InputError: film.black.solar_reflectance: the birth certificate lacks unit...
    """
    missing = [name for name in _FIELDS if name not in entry]
    unknown = [name for name in entry if name not in _FIELDS]
    refuse(
        (
            missing,
            Fault(
                f"the birth certificate lacks {', '.join(missing)}", where,
                do="state it; see DEVELOPERS.md",
            ),
        ),
        (
            unknown,
            Fault(
                "unknown field in a birth certificate", where, ", ".join(unknown),
                ", ".join(_FIELDS),
            ),
        ),
        *(
            (
                isinstance(entry.get(name, 0.0), bool)
                or not isinstance(entry.get(name, 0.0), int | float),
                Fault(f"{name} is not a number", where, entry.get(name)),
            )
            for name in _NUMBERS
        ),
        *(
            (
                not isinstance(entry.get(name, ""), str),
                Fault(f"{name} is not a text", where, entry.get(name)),
            )
            for name in _TEXTS
        ),
        (
            not isinstance(entry.get("read", True), bool),
            Fault("read is not true or false", where, entry.get("read")),
        ),
    )  # fmt: skip
    numbers = {name: float(entry[name]) for name in _NUMBERS}
    texts = {name: entry[name] for name in _FIELDS if name not in _NUMBERS}
    try:
        return Parameter(**{**texts, **numbers})
    except InputError as told:
        raise InputError(
            [Fault(f.what, where=where, value=f.value, allowed=f.allowed) for f in told.faults]
        ) from None


NORMAL = NormalDist()


def even_shares(rng: np.random.Generator, n: int) -> NDArray[np.float64]:
    """Return one draw from each of n equal slices of probability, in random order ``[n]``.

    Mean and spread of what is read off at these shares are far closer to the stated ones than those
    of n independent draws.

    Examples
    --------
    >>> sorted((even_shares(np.random.default_rng(1), 4) * 4).astype(int).tolist())
    [0, 1, 2, 3]
    """
    return (rng.permutation(n) + rng.random(n)) / n


def normal_scores(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the scores below which these shares of a standard normal lie, ``[n]``.

    From the standard library, because the larger one takes longer to load than all draws take.

    Parameters
    ----------
    shares : array ``[n]``
        0 to 1; at the ends -inf and inf.

    Examples
    --------
    >>> normal_scores(np.array([0.0, 0.5, 0.975])).round(2).tolist()
    [-inf, 0.0, 1.96]
    """
    scores = np.where(shares <= 0.0, -np.inf, np.inf)
    inside = (shares > 0.0) & (shares < 1.0)
    scores[inside] = [NORMAL.inv_cdf(share) for share in shares[inside].tolist()]
    return scores


@dataclass(frozen=True)
class ParameterSet(Mapping[str, Parameter]):
    """Parameters of one thing (a film, a soil, a cultivar) by name.

    Parameters
    ----------
    name : str
        Name of the set, for messages and for the random stream of its draws.
    parameters : mapping of str to Parameter
    labels : mapping of str to str
        What the file says in words: description, flowering type, film of the shoulder.
    joint : mapping of str to array ``[rows]``
        Draws of some parameters that belong together, row by row, such as a fit leaves behind;
        they go before the spreads of these parameters.

    Examples
    --------
    >>> p = Parameter(3.0, "degC", 0.0, 5.0, 0.7, "assumed", "", "own", "", False)
    >>> base = ParameterSet("Basalt", {"base": p}, {"flowering": "short-day"})
    >>> base.value("base"), base.labels["flowering"], len(base)
    (3.0, 'short-day', 1)
    """

    name: str
    parameters: Mapping[str, Parameter]
    labels: Mapping[str, str] = field(default_factory=dict)
    joint: Mapping[str, NDArray[np.float64]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def __getitem__(self, key: str) -> Parameter:
        return self.parameters[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.parameters)

    def __len__(self) -> int:
        return len(self.parameters)

    def value(self, key: str) -> float:
        """Return the value of one parameter, in its unit.

        Raises
        ------
        InputError
            When the set has no such parameter; the message gives the nearest name.

        Examples
        --------
        >>> ParameterSet("Basalt", {}).value("base")
        Traceback (most recent call last):
        phenocast.errors.InputError: Basalt: unknown parameter...
        """
        return named("parameter", key, self.parameters, self.name).value

    def numbers(self) -> dict[str, float]:
        """Return every value by name.

        Examples
        --------
        >>> ParameterSet("Basalt", {}).numbers()
        {}
        """
        return {key: parameter.value for key, parameter in self.parameters.items()}

    def with_values(self, values: Mapping[str, float]) -> ParameterSet:
        """Return the set with some values replaced.

        Raises
        ------
        InputError
            When a name is not in the set.

        Examples
        --------
        >>> p = Parameter(3.0, "degC", 0.0, 5.0, 0.7, "assumed", "", "own", "", False)
        >>> ParameterSet("Basalt", {"base": p}).with_values({"base": 4.0}).value("base")
        4.0
        """
        unknown = [key for key in values if key not in self.parameters]
        if unknown:
            raise InputError(
                [unknown_name("parameter", key, self.parameters, self.name) for key in unknown]
            )
        changed = {key: self.parameters[key].with_value(v) for key, v in values.items()}
        joint = {key: rows for key, rows in self.joint.items() if key not in values}
        return ParameterSet(self.name, {**self.parameters, **changed}, self.labels, joint)

    def draw(self, seed: int, n: int) -> dict[str, NDArray[np.float64]]:
        """Draw every parameter from a normal spread cut off at its bounds.

        Each parameter has a random stream of its own, made from the seed, the name of the set and
        its own name: a block or a parameter that is added leaves the draws of the others as they
        were, and two blocks with the same film see the same draws. Parameters with joint draws take
        whole rows of them, in an order made from the seed alone, so that cultivars which were
        fitted together keep together.

        Parameters
        ----------
        seed : int
        n : int
            Number of draws, 1 or more.

        Returns
        -------
        dict of str to array of float64, shape (n,)
            In each parameter's unit. A parameter of no spread repeats its value.

        Examples
        --------
        >>> p = Parameter(3.0, "degC", 2.9, 5.0, 0.7, "assumed", "", "own", "", False)
        >>> drawn = ParameterSet("Basalt", {"base": p}).draw(seed=1, n=500)["base"]
        >>> bool(drawn.min() >= 2.9), bool(drawn.std() > 0.1)
        (True, True)
        """
        refuse((n < 1, Fault("too few draws", value=n, allowed="1 or more")))
        drawn = {
            key: np.full(n, parameter.value)
            if parameter.sd == 0.0
            else _draw_one(parameter, (seed, _key(self.name), _key(key)), n).copy()
            for key, parameter in self.parameters.items()
            if key not in self.joint
        }
        if self.joint:
            rows = _rows(seed, len(next(iter(self.joint.values()))), n)
            drawn |= {key: np.asarray(values)[rows] for key, values in self.joint.items()}
        return {key: drawn[key] for key in self.parameters}

    def to_dict(self) -> dict[str, Any]:
        """Return labels and certificates as plain mappings, for a file or a manifest.

        Examples
        --------
        >>> ParameterSet("Basalt", {}, {"flowering": "short-day"}).to_dict()
        {'flowering': 'short-day'}
        """
        return {**self.labels, **{k: p.to_dict() for k, p in self.parameters.items()}}


def merged(name: str, base: ParameterSet, over: ParameterSet) -> ParameterSet:
    """Return ``base`` with what ``over`` states on top, under a new name.

    Examples
    --------
    >>> merged("Basalt", ParameterSet("species", {}), ParameterSet("x", {}, {"a": "b"})).labels
    {'a': 'b'}
    """
    joint = {key: rows for key, rows in base.joint.items() if key not in over.parameters}
    return ParameterSet(
        name,
        {**base.parameters, **over.parameters},
        {**base.labels, **over.labels},
        {**joint, **over.joint},
    )


def _key(text: str) -> int:
    return zlib.crc32(text.encode())


def _rows(seed: int, n_rows: int, n: int) -> NDArray[np.int64]:
    """Rows of joint draws in a random order, all of them before any comes again."""
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, _key("joint")])))
    rounds = [rng.permutation(n_rows) for _ in range(-(-n // n_rows))]
    return np.concatenate(rounds)[:n]


# The blocks of a season share their bed, and most of them film or cultivar with another.
@lru_cache(maxsize=512)
def _draw_one(parameter: Parameter, entropy: tuple[int, ...], n: int) -> NDArray[np.float64]:
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(entropy)))
    share = even_shares(rng, n)
    low = NORMAL.cdf((parameter.lower - parameter.value) / parameter.sd)
    high = NORMAL.cdf((parameter.upper - parameter.value) / parameter.sd)
    drawn = parameter.value + parameter.sd * normal_scores(low + share * (high - low))
    return np.clip(drawn, parameter.lower, parameter.upper)
