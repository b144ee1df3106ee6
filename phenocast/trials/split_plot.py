"""Split-plot analysis: each effect against the error of the plots it was given to; differences.

The whole-plot factor (such as film) was given to whole plots, so it is judged by how whole plots of
a film differ between blocks; the sub-plot factor (such as cultivar) and the interaction by how sub-
plots differ within whole plots. Judging a film by sub-plots makes it look far surer than it is. Few
films in few blocks leave few degrees of freedom: they are always given.

Letters that join means "not different" hide how large a difference may be. Here every pair gets its
difference, an interval that holds for all pairs of its kind at once (Tukey and Kramer), and one of
two verdicts: which is larger, or that they are not significantly different and how large the
difference may still be.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import Literal, get_args

import numpy as np
from scipy.stats import f as f_distribution
from scipy.stats import studentized_range

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse
from phenocast.trials.layout import SplitPlots
from phenocast.trials.results import (
    Components,
    Residuals,
    Source,
    SplitPlotAnalysis,
    StandardError,
    fit_reml,
)


def analyse_split_plots(plots: SplitPlots) -> SplitPlotAnalysis:
    """Analysis of a split-plot trial in randomised blocks.

    Parameters
    ----------
    plots : one value per plot (see `split_plots`).

    Returns
    -------
    SplitPlotAnalysis : by analysis of variance where all plots are present, by REML where some are
        missing (then with the degrees of freedom of the stratum that contains each effect).

    Raises
    ------
    InputError : no degree of freedom for an error; values that are all alike.
    NoAnswerError : REML found no maximum.

    Notes
    -----
    Yates (1935), J. R. Stat. Soc. Suppl. 2:181-247; standard errors of difference after Cochran and
    Cox (1957), Experimental Designs, 2nd ed., ch. 7; Satterthwaite's degrees of freedom for the
    difference that mixes both errors.

    Examples
    --------
    >>> y = np.array([[[4, 5], [6, 9]], [[5, 5.5], [6.5, 10]], [[3, 5], [7, 9]]])
    >>> plots = SplitPlots("yield", "block", "film", "cultivar", ("1", "2", "3"),
    ...                    ("black", "silver"), ("Marl", "Tuff"), y)
    >>> result = analyse_split_plots(plots)
    >>> [(line.name, line.df) for line in result.table][:3]
    [('block', 2.0), ('film', 1.0), ('whole-plot error', 2.0)]
    """
    values = plots.values
    refuse(
        (
            np.nanmax(values) == np.nanmin(values),
            Fault("all plots have the same value", where=plots.response, do="check the column"),
        )
    )
    return _balanced(plots) if plots.complete else _with_gaps(plots)


def _balanced(plots: SplitPlots) -> SplitPlotAnalysis:
    y = plots.values
    r, a, b = y.shape
    grand = float(y.mean())
    cell = y.mean(axis=0)
    film, sub, block = cell.mean(axis=1), cell.mean(axis=0), y.mean(axis=(1, 2))
    whole_plot = y.mean(axis=2)
    whole_residual = whole_plot - block[:, np.newaxis] - film + grand
    sub_residual = y - whole_plot[:, :, np.newaxis] - cell + film[:, np.newaxis]
    ss = {
        plots.block: a * b * float(np.sum((block - grand) ** 2)),
        plots.whole: r * b * float(np.sum((film - grand) ** 2)),
        "whole-plot error": b * float(np.sum(whole_residual**2)),
        plots.sub: r * a * float(np.sum((sub - grand) ** 2)),
        f"{plots.whole} x {plots.sub}": r
        * float(np.sum((cell - film[:, np.newaxis] - sub + grand) ** 2)),
        "sub-plot error": float(np.sum(sub_residual**2)),
    }
    df = [r - 1, a - 1, (r - 1) * (a - 1), b - 1, (a - 1) * (b - 1), a * (r - 1) * (b - 1)]
    lines = [Source(name, float(d), value) for (name, value), d in zip(ss.items(), df, strict=True)]
    whole_error, sub_error = lines[2], lines[5]
    for i, error in ((1, whole_error), (3, sub_error), (4, sub_error)):
        lines[i] = _tested(lines[i], error)
    ea, eb = whole_error.ms, sub_error.ms
    mixed = ((b - 1) * eb + ea) ** 2 / (((b - 1) * eb) ** 2 / sub_error.df + ea**2 / whole_error.df)
    covariance = np.kron(np.eye(a), np.full((b, b), (ea - eb) / (b * r))) + np.eye(a * b) * eb / r
    components = Components((lines[0].ms - ea) / (a * b), (ea - eb) / b, eb)
    notes = list(plots.notes)
    if components.whole_plot < 0.0:
        notes.append(
            "whole plots of one film differ less than sub-plots within them: the estimate of their "
            "variance is below 0"
        )
    return SplitPlotAnalysis(
        method="analysis of variance",
        response=plots.response,
        whole=plots.whole,
        sub=plots.sub,
        wholes=plots.wholes,
        subs=plots.subs,
        table=tuple(lines),
        cell_means=cell,
        cell_covariance=covariance,
        components=components,
        whole_error=StandardError(float(np.sqrt(2 * ea / (r * b))), whole_error.df),
        sub_error=StandardError(float(np.sqrt(2 * eb / (r * a))), sub_error.df),
        sub_within_whole=StandardError(float(np.sqrt(2 * eb / r)), sub_error.df),
        whole_within_sub=StandardError(
            float(np.sqrt(2 * ((b - 1) * eb + ea) / (r * b))), float(mixed)
        ),
        cv_whole=float(np.sqrt(ea) / abs(grand)),
        cv_sub=float(np.sqrt(eb) / abs(grand)),
        residuals=Residuals(y - sub_residual, sub_residual, whole_residual),
        notes=tuple(notes),
    )


def _with_gaps(plots: SplitPlots) -> SplitPlotAnalysis:
    r, a, b = plots.values.shape
    present = np.isfinite(plots.values)
    block, film, sub = np.nonzero(present)
    y = plots.values[present]
    design = np.eye(a * b)[film * b + sub]
    fit = fit_reml(y, design, block, film)
    whole_df = float(present.any(axis=2).sum() - present.any(axis=(1, 2)).sum() - (a - 1))
    sub_df = float(y.size - present.any(axis=2).sum() - a * (b - 1))
    refuse(
        (
            min(whole_df, sub_df) < 1,
            Fault(
                "too few plots are left to estimate both errors",
                where=plots.response,
                value=f"{whole_df:g} and {sub_df:g} degrees of freedom",
                allowed="1 or more of each",
            ),
        )
    )
    v = fit.components
    ea, eb = v.sub_plot + b * v.whole_plot, v.sub_plot
    mixed = ((b - 1) * eb + ea) ** 2 / (((b - 1) * eb) ** 2 / sub_df + ea**2 / whole_df)
    whole_rows = _kron(np.eye(a)[:-1] - np.eye(a)[1:], np.full((1, b), 1.0 / b))
    sub_rows = _kron(np.full((1, a), 1.0 / a), np.eye(b)[:-1] - np.eye(b)[1:])
    both_rows = _kron(np.eye(a)[:-1] - np.eye(a)[1:], np.eye(b)[:-1] - np.eye(b)[1:])
    lines = (
        _wald(plots.whole, whole_rows, fit.effects, fit.covariance, "whole-plot error", whole_df),
        _wald(plots.sub, sub_rows, fit.effects, fit.covariance, "sub-plot error", sub_df),
        _wald(
            f"{plots.whole} x {plots.sub}",
            both_rows,
            fit.effects,
            fit.covariance,
            "sub-plot error",
            sub_df,
        ),
    )
    residual = np.full((r, a, b), np.nan)
    residual[present] = fit.residual
    whole_residual = np.full((r, a), np.nan)
    whole_residual[block, film] = fit.whole_plot_effect
    cell = fit.effects.reshape(a, b)
    pairs = pair_rows(a, b)
    return SplitPlotAnalysis(
        method="REML",
        response=plots.response,
        whole=plots.whole,
        sub=plots.sub,
        wholes=plots.wholes,
        subs=plots.subs,
        table=lines,
        cell_means=cell,
        cell_covariance=fit.covariance,
        components=v,
        whole_error=_typical(pairs["whole"], fit.covariance, whole_df),
        sub_error=_typical(pairs["sub"], fit.covariance, sub_df),
        sub_within_whole=_typical(pairs["sub within whole"], fit.covariance, sub_df),
        whole_within_sub=_typical(pairs["whole within sub"], fit.covariance, float(mixed)),
        cv_whole=float(np.sqrt(ea) / abs(cell.mean())),
        cv_sub=float(np.sqrt(eb) / abs(cell.mean())),
        residuals=Residuals(plots.values - residual, residual, whole_residual),
        notes=(*plots.notes, *fit.notes, "degrees of freedom are those of the containing stratum"),
    )


def pair_rows(a: int, b: int) -> dict[str, FloatArray]:
    """Contrasts of the cell means for every pair, by kind of difference.

    Parameters
    ----------
    a, b : number of whole-plot and of sub-plot levels.

    Returns
    -------
    dict of arrays ``[pairs, a * b]`` with the keys "whole", "sub", "sub within whole" and "whole
    within sub"; pairs run over first < second, within the outer level where there is one.

    Examples
    --------
    >>> {kind: rows.shape for kind, rows in pair_rows(3, 2).items()}["whole within sub"]
    (6, 6)
    """

    def pairs(n: int) -> FloatArray:
        first, second = np.triu_indices(n, 1)
        return np.eye(n)[first] - np.eye(n)[second]

    return {
        "whole": np.kron(pairs(a), np.full((1, b), 1.0 / b)),
        "sub": np.kron(np.full((1, a), 1.0 / a), pairs(b)),
        "sub within whole": np.kron(np.eye(a), pairs(b)),
        "whole within sub": np.concatenate(
            [np.kron(pairs(a), np.eye(b)[j : j + 1]) for j in range(b)]
        ),
    }


def _kron(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(np.kron(one, other), dtype=np.float64)


def _tested(line: Source, error: Source) -> Source:
    refuse(
        (
            error.ss <= 0.0,
            Fault(
                f"no variation is left for the {error.name}",
                do="check that replicates were not copied from one another",
            ),
        )
    )
    ratio = line.ms / error.ms
    p = float(f_distribution.sf(ratio, line.df, error.df))
    return Source(line.name, line.df, line.ss, error.name, error.df, ratio, p)


def _wald(
    name: str,
    rows: FloatArray,
    effects: FloatArray,
    covariance: FloatArray,
    error: str,
    error_df: float,
) -> Source:
    difference = rows @ effects
    ratio = float(difference @ np.linalg.solve(rows @ covariance @ rows.T, difference)) / len(rows)
    p = float(f_distribution.sf(ratio, len(rows), error_df))
    return Source(name, float(len(rows)), error=error, error_df=error_df, f=ratio, p=p)


def _typical(rows: FloatArray, covariance: FloatArray, df: float) -> StandardError:
    variance = np.einsum("ij,jk,ik->i", rows, covariance, rows)
    return StandardError(float(np.sqrt(variance.mean())), df)


Kind = Literal["whole", "sub", "sub within whole", "whole within sub"]
KINDS: tuple[str, ...] = get_args(Kind)


@dataclass(frozen=True)
class Difference:
    """Difference ``first - second`` with its simultaneous interval, in the unit of the response.

    ``at`` names the level of the other factor at which the two are compared; empty for means over
    it. ``p`` is adjusted for all pairs of the kind at the same level.
    """

    first: str
    second: str
    at: str
    estimate: float
    standard_error: float
    df: float
    lower: float
    upper: float
    p: float

    @property
    def told_apart(self) -> bool:
        """Whether the interval leaves 0 out."""
        return self.lower > 0.0 or self.upper < 0.0

    def __str__(self) -> str:
        where = f" ({self.at})" if self.at else ""
        if self.told_apart:
            more, less = (
                (self.first, self.second) if self.estimate > 0.0 else (self.second, self.first)
            )
            low, high = sorted((abs(self.lower), abs(self.upper)))
            size = f"{abs(self.estimate):.3g} ({low:.3g} to {high:.3g})"
            return f"{more} more than {less}{where} by {size}"
        return (
            f"{self.first} and {self.second}{where} not told apart: "
            f"difference {self.estimate:.3g}, between {self.lower:.3g} and {self.upper:.3g}"
        )


@lru_cache(maxsize=256)
def _critical_range(level: float, n_levels: int, df: float) -> float:
    """Quantile of the studentised range; a document asks for each several times, 0.5 s a time."""
    return float(studentized_range.ppf(level, n_levels, df))


def differences(
    analysis: SplitPlotAnalysis, kind: Kind, *, level: float = 0.95
) -> tuple[Difference, ...]:
    """All pairs of one kind.

    Parameters
    ----------
    analysis : result of `analyse_split_plots`.
    kind : "whole" or "sub" compares means over the other factor; "sub within whole" compares
        sub-plot levels at each whole-plot level, "whole within sub" whole-plot levels at each
        sub-plot level.
    level : coverage of the intervals, for all pairs at one level together.

    Returns
    -------
    tuple of Difference

    Raises
    ------
    InputError : an unknown kind; a level outside 0 to 1.

    Notes
    -----
    Tukey and Kramer's studentised range with the error degrees of freedom of the kind; for "whole
    within sub", which mixes two errors, it is approximate.

    Examples
    --------
    >>> from phenocast.trials.layout import SplitPlots
    >>> from phenocast.trials.split_plot import analyse_split_plots
    >>> y = np.array([[[4, 5], [6, 9]], [[5, 5.5], [6.5, 10]], [[3, 5], [7, 9]]])
    >>> plots = SplitPlots("yield", "block", "film", "cultivar", ("1", "2", "3"),
    ...                    ("black", "silver"), ("Marl", "Tuff"), y)
    >>> print(differences(analyse_split_plots(plots), "whole")[0])
    silver more than black by 3.33 (1.9 to 4.77)
    """
    refuse(
        (
            kind not in KINDS,
            Fault("unknown kind of difference", value=kind, allowed=", ".join(KINDS)),
        )
    )
    refuse(
        (not 0.0 < level < 1.0, Fault("level is not between 0 and 1", where="level", value=level))
    )
    a, b = analysis.cell_means.shape
    rows = pair_rows(a, b)[kind]
    estimates = rows @ analysis.cell_means.ravel()
    errors = np.sqrt(np.einsum("ij,jk,ik->i", rows, analysis.cell_covariance, rows))
    names, others = (
        (analysis.wholes, analysis.subs)
        if kind.startswith("whole")
        else (analysis.subs, analysis.wholes)
    )
    places = others if "within" in kind else ("",)
    labels = [(one, other, place) for place in places for one, other in combinations(names, 2)]
    df = {
        "whole": analysis.whole_error.df,
        "sub": analysis.sub_error.df,
        "sub within whole": analysis.sub_within_whole.df,
        "whole within sub": analysis.whole_within_sub.df,
    }[kind]
    reach = _critical_range(level, len(names), df) / np.sqrt(2.0)
    p = studentized_range.sf(np.abs(estimates) / errors * np.sqrt(2.0), len(names), df)
    return tuple(
        Difference(
            *label,
            estimate=float(estimate),
            standard_error=float(error),
            df=df,
            lower=float(estimate - reach * error),
            upper=float(estimate + reach * error),
            p=float(chance),
        )
        for label, estimate, error, chance in zip(
            labels, estimates, errors, np.atleast_1d(p), strict=True
        )
    )


def compared(analysis: SplitPlotAnalysis, *, level: float = 0.95) -> tuple[Kind, ...]:
    """Kinds of pairs that can be spoken of: within levels where the effects depend on each other.

    Parameters
    ----------
    analysis : result of `analyse_split_plots`.
    level : its complement is the level at which the interaction decides.
    """
    interaction = analysis.source(f"{analysis.whole} x {analysis.sub}")
    if interaction.p < 1.0 - level:
        return ("whole within sub", "sub within whole")
    return ("whole", "sub")


def what_differs(analysis: SplitPlotAnalysis, *, level: float = 0.95) -> tuple[str, ...]:
    """Sentences that say what the trial showed, and what it could not.

    Parameters
    ----------
    analysis : result of `analyse_split_plots`.
    level : coverage of the intervals; its complement is also the level at which the interaction
        decides whether means over the other factor can be spoken of at all.

    Returns
    -------
    tuple of str : the tests with their degrees of freedom first, then one line per pair: means over
        the other factor, or within its levels where the effects depend on it.

    Raises
    ------
    InputError : a level outside 0 to 1.

    Examples
    --------
    >>> from phenocast.trials.layout import SplitPlots
    >>> from phenocast.trials.split_plot import analyse_split_plots
    >>> y = np.array([[[4, 5], [6, 9]], [[5, 5.5], [6.5, 10]], [[3, 5], [7, 9]]])
    >>> plots = SplitPlots("yield", "block", "film", "cultivar", ("1", "2", "3"),
    ...                    ("black", "silver"), ("Marl", "Tuff"), y)
    >>> what_differs(analyse_split_plots(plots))[0]
    'film: F 100.00 on 1 and 2 degrees of freedom, p 0.010'
    """
    kinds = compared(analysis, level=level)
    interaction = analysis.source(f"{analysis.whole} x {analysis.sub}")
    lines = [
        f"{line.name}: F {line.f:.2f} on {line.df:g} and {line.error_df:g} degrees of freedom, "
        f"p {_p(line.p)}"
        for line in (analysis.source(analysis.whole), analysis.source(analysis.sub), interaction)
    ]
    if "whole within sub" in kinds:
        lines.append(
            f"the effect of {analysis.whole} depends on {analysis.sub}: compared at each level"
        )
    for kind in kinds:
        lines += [str(pair) for pair in differences(analysis, kind, level=level)]
    return (*lines, *analysis.notes)


def _p(value: float) -> str:
    return f"{value:.3f}" if value >= 0.0005 else "below 0.001"
