"""What differs, said in numbers and words: no letters.

Letters that join means "not different" hide how large a difference may be. Here every pair gets its
difference, an interval that holds for all pairs of its kind at once (Tukey and Kramer), and one of
two verdicts: which is larger, or that the trial could not tell them apart and how large the
difference may still be.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import Literal, get_args

import numpy as np
from scipy.stats import studentized_range

from phenocast.errors import Fault, InputError
from phenocast.trials.results import SplitPlotAnalysis
from phenocast.trials.split_plot import pair_rows

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
    if kind not in KINDS:
        raise InputError(Fault("unknown kind of difference", value=kind, allowed=", ".join(KINDS)))
    if not 0.0 < level < 1.0:
        raise InputError(Fault("level is not between 0 and 1", where="level", value=level))
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
    reach = float(studentized_range.ppf(level, len(names), df)) / np.sqrt(2.0)
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
