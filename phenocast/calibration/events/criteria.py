"""Information criteria: how much a better fit is worth once its parameters are paid for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from phenocast.errors import Fault, InputError

# an interval of 95 % by profile likelihood ends where -2 ln L has risen by this much
PROFILE_DROP = float(stats.chi2.ppf(0.95, 1))


@dataclass(frozen=True)
class Criteria:
    """Criteria of one fit; lower is better, and only fits to the same records compare.

    Parameters
    ----------
    log_likelihood : float
        At the optimum. [1]
    parameters : int
        Number of estimated parameters, spreads included. [1]
    units : int
        Independent units: seasons by planting dates, not plots. [1]
    aic, aicc, bic : float
        Akaike's criterion, the same corrected for few units (inf where there are no more units than
        parameters and one), and Schwarz's. [1]
    """

    log_likelihood: float
    parameters: int
    units: int
    aic: float
    aicc: float
    bic: float


def information_criteria(log_likelihood: float, parameters: int, units: int) -> Criteria:
    """AIC, AICc and BIC of a fit.

    Parameters
    ----------
    log_likelihood : log-likelihood at the optimum. [1]
    parameters : number of estimated parameters, spreads included, 0 or more. [1]
    units : number of independent units, 1 or more. [1]

    Returns
    -------
    Criteria

    Raises
    ------
    InputError : a log-likelihood that is not finite, counts out of range.

    Notes
    -----
    ``AIC = -2 L + 2 k``, ``AICc = AIC + 2 k (k + 1) / (n - k - 1)`` (Hurvich and Tsai 1989,
    Biometrika 76:297-307), ``BIC = -2 L + k ln n`` (Schwarz 1978, Ann. Stat. 6:461-464); recalled
    from memory.

    Examples
    --------
    >>> found = information_criteria(-50.0, 4, 20)
    >>> found.aic, round(found.aicc, 4), round(found.bic, 4)
    (108.0, 110.6667, 111.9829)
    """
    faults = []
    if not np.isfinite(log_likelihood):
        faults.append(Fault("not finite", "log_likelihood", log_likelihood))
    if parameters < 0:
        faults.append(Fault("below 0", "parameters", parameters, ">= 0"))
    if units < 1:
        faults.append(Fault("no unit", "units", units, ">= 1"))
    if faults:
        raise InputError(faults)
    aic = 2.0 * parameters - 2.0 * log_likelihood
    left = units - parameters - 1
    aicc = aic + 2.0 * parameters * (parameters + 1) / left if left > 0 else np.inf
    bic = parameters * float(np.log(units)) - 2.0 * log_likelihood
    return Criteria(log_likelihood, parameters, units, aic, aicc, bic)
