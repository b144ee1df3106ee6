"""What every test shares: Hypothesis without deadlines, and kernels that are compiled once."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile

import pytest
from hypothesis import HealthCheck, settings

import phenocast
from phenocast.cache import kernel_folder

# No deadline and no complaint of a slow example: both would tell of the machine's load. The same
# examples every time, so that a check fails for a change and not by chance; "searching" takes new
# ones, by hand, and what it finds becomes an example of its test.
settings.register_profile(
    "usual",
    deadline=None,
    max_examples=25,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("thorough", settings.get_profile("usual"), max_examples=200)
settings.register_profile("searching", settings.get_profile("thorough"), derandomize=False)
settings.load_profile("usual")


@pytest.hookimpl(tryfirst=True)
def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the kernels before the workers start, each of which would compile them for itself."""
    option = session.config.option
    kernels = kernel_folder(os.path.dirname(phenocast.__file__))
    if getattr(option, "numprocesses", None) and not any(kernels.rglob("*.nbi")):
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run(
                [sys.executable, "-m", "phenocast.cli", "demo", "--draws", "2", "--out", "demo"],
                cwd=folder, stdout=subprocess.DEVNULL, check=False,
            )  # fmt: skip
