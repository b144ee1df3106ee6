"""Scikit-learn's generic checks on both estimators, where they apply.

Those that fit numbers of their own making do not: X are windows in block-seasons, or hours of a
weather record, and neither estimator can be fitted without blocks or weather; what cannot be is
refused with an `InputError`, not a ValueError. What is left are the checks of construction,
parameters, copies and words, and the state before a fit.
"""

import inspect

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.utils import estimator_checks

from phenocast.calibration import CrownSensorCalibrator, CultivarCalibrator
from phenocast.errors import InputError

ESTIMATORS = (CrownSensorCalibrator, CultivarCalibrator)
APPLY = (
    "check_no_attributes_set_in_init",
    "check_parameters_default_constructible",
    "check_get_params_invariance",
    "check_set_params",
    "check_estimator_cloneable",
    "check_estimator_repr",
    "check_mixin_order",
)
# Not in the oldest scikit-learn that is allowed.
NEWER = {"check_estimator_cloneable", "check_estimator_repr", "check_mixin_order"}


@pytest.mark.parametrize("estimator", ESTIMATORS)
@pytest.mark.parametrize("name", APPLY)
def test_generic_check(name, estimator):
    check = getattr(estimator_checks, name, None)
    if check is None:
        assert name in NEWER
        pytest.skip(f"this scikit-learn has no {name}")
    check(estimator.__name__, estimator())


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_nothing_is_known_before_a_fit_and_nothing_checked_before_it(estimator):
    model = clone(estimator())
    assert not [name for name in vars(model) if name.endswith("_")]
    with pytest.raises(NotFittedError):
        model.predict(np.zeros((1, 4)))
    assert [*inspect.signature(estimator).parameters] == sorted(
        model.get_params(), key=[*inspect.signature(estimator).parameters].index
    )
    with pytest.raises(InputError):
        model.fit(np.zeros((1, 4)), np.zeros(1))
