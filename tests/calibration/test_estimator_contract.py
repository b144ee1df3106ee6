"""Scikit-learn's contract, as its own checks hold it, on every estimator.

`check_estimator` runs whole. The tags say that X is no table of any numbers (it is windows in
blocks, hours of a record or days of weather, and no estimator can be fitted without its blocks or
weather), so it leaves out every check that makes up numbers to fit; what cannot be is refused with
an `InputError`, not a ValueError. Of those that it leaves out with them, the ones on construction,
parameters, copies and words fit nothing; they are run here by name, and none is exempt.
"""

import inspect

import numpy as np
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.utils import estimator_checks

from phenocast.calibration import CrownSensorCalibrator, CultivarCalibrator, EventModel
from phenocast.errors import InputError

ESTIMATORS = (CrownSensorCalibrator, CultivarCalibrator, EventModel)
APPLY = (
    "check_no_attributes_set_in_init",
    "check_parameters_default_constructible",
    "check_get_params_invariance",
    "check_set_params",
    "check_estimator_cloneable",
    "check_estimator_repr",
    "check_mixin_order",
    "check_valid_tag_types",
    "check_estimators_unfitted",
)
# Not in the oldest scikit-learn that is allowed.
NEWER = {*APPLY[4:]}


@pytest.mark.filterwarnings("ignore:Can't test estimator")
@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_check_estimator(estimator):
    estimator_checks.check_estimator(estimator())


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
