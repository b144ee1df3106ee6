"""What tests share: Hypothesis without deadlines, kernels compiled once, answers made once."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Generator
from pathlib import Path

import pytest
from _pytest.doctest import DoctestModule
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

ANSWERS = "PHENOCAST_TEST_ANSWERS"  # where tests/answers.py keeps the answers of this session


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder of answers; workers are started later and find it in their environment."""
    if not hasattr(config, "workerinput"):
        os.environ[ANSWERS] = tempfile.mkdtemp(prefix="phenocast-answers-")


def pytest_unconfigure(config: pytest.Config) -> None:
    """Take the folder of answers away."""
    if not hasattr(config, "workerinput"):
        shutil.rmtree(os.environ.pop(ANSWERS), ignore_errors=True)


@pytest.hookimpl(tryfirst=True)
def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile the kernels before the workers start, each of which would compile them for itself."""
    option = session.config.option
    kernels = kernel_folder(os.path.dirname(phenocast.__file__))
    if getattr(option, "numprocesses", None) and not any(kernels.rglob("*.nbi")):
        subprocess.run(
            [sys.executable, "-c", "from tests.answers import answer; answer('phenocast-demo')"],
            cwd=session.config.rootpath, stdout=subprocess.DEVNULL, check=False,
        )  # fmt: skip


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(
    file_path: Path,
) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Look for examples in the package and in helpers of the tests, not in each file of tests."""
    found = yield
    if not file_path.name.startswith("test_"):
        return found
    return [one for one in found if not isinstance(one, DoctestModule)]


@pytest.fixture(scope="session")
def answer():
    """Folder of a command's answer, made once for all tests that read it (`tests/answers.py`)."""
    from tests.answers import answer

    return answer
