"""What a command reads in a copy of its process, and what becomes of its faults there."""

import os
import subprocess
import sys

import pytest

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or len(os.sched_getaffinity(0)) < 2,
    reason="no copy is made here",
)

START = """
import os, sys, time
from phenocast.cli.beside import Beside
from phenocast.errors import Fault, InputError
here = os.getpid()
os.getloadavg = lambda: (0.5, 0.5, 0.5)

def told(work, ready=lambda: None, asked=None):
    with Beside(ready, work) as copy:
        copy.ask(asked)
        return copy.answer()
"""


def started(code, **env):
    """Run lines in a fresh Python, where nothing heavy is loaded yet."""
    return subprocess.run(
        [sys.executable, "-c", START + code], env={**os.environ, **env}, capture_output=True,
        text=True, timeout=600, check=False,
    )  # fmt: skip


def test_work_is_done_in_a_copy_that_was_made_ready():
    done = started(
        "met = []\n"
        "pid, ready, asked = told(lambda asked: (os.getpid(), met, asked), "
        "lambda: met.append(os.getpid()), 'weather')\n"
        "print(pid != here, ready == [pid], met, asked)\n"
    )
    assert done.stdout.strip() == "True True [] weather", done.stderr


def test_more_than_a_pipe_holds_goes_and_comes_whole():
    done = started("print(len(told(lambda text: text + text, asked=b'x' * 5_000_000)))")
    assert done.stdout.strip() == "10000000"


@pytest.mark.parametrize(
    "unsafe",
    [
        "import numpy\n",
        "from threading import Timer\nTimer(2.0, print).start()\n",
        "os.environ['PHENOCAST_DEBUG'] = '1'\n",
        "os.sched_setaffinity(0, list(os.sched_getaffinity(0))[:1])\n",
        "os.getloadavg = lambda: (99.0, 99.0, 99.0)\n",
    ],
    ids=["library with threads", "thread", "debug", "one core", "busy cores"],
)
def test_no_copy_where_it_is_unsafe_or_gains_nothing(unsafe):
    done = started(unsafe + "print(told(lambda _: os.getpid()) == here)")
    assert done.stdout.split()[0] == "True", done.stderr


def test_a_refusal_comes_back_with_all_its_faults():
    done = started(
        "def refuse(asked):\n"
        "    raise InputError([Fault('wrong', 'a.csv', 1), Fault('also wrong')])\n"
        "try:\n"
        "    told(refuse)\n"
        "except InputError as error:\n"
        "    print(len(error.faults), error.faults[0])\n"
    )
    assert done.stdout.strip() == "2 a.csv: wrong (value 1)"


@pytest.mark.parametrize("when", ["ready", "work"])
@pytest.mark.parametrize(
    "end", ["os.kill(os.getpid(), 9)", "raise ValueError('odd')", "sys.exit(5)"],
    ids=["killed", "fault of ours", "exit"],
)  # fmt: skip
def test_a_copy_that_fails_otherwise_has_no_say(end, when):
    done = started(
        "def fail():\n"
        "    if os.getpid() != here:\n"
        f"        {end}\n"
        "def work(asked):\n"
        f"    if {when == 'work'}: fail()\n"
        "    return asked[:9]\n"
        f"ready = fail if {when == 'ready'} else lambda: None\n"
        "print(told(work, ready, 'done here' * 100_000))\n"
    )
    assert done.stdout.strip() == "done here", done.stderr
    assert done.stderr == ""


@pytest.mark.parametrize("where", ["before", "after"])
def test_a_fault_meanwhile_leaves_no_copy_behind(where):
    done = started(
        "try:\n"
        "    with Beside(lambda: None, lambda asked: time.sleep(60)) as copy:\n"
        f"        if {where == 'after'}: copy.ask(None)\n"
        "        1 / 0\n"
        "except ZeroDivisionError:\n"
        "    try:\n"
        "        os.waitpid(-1, os.WNOHANG)\n"
        "    except ChildProcessError:\n"
        "        print('none left')\n"
    )
    assert done.stdout.strip() == "none left", done.stderr


def test_a_forecast_is_the_same_either_way(season, program, tmp_path):
    path = season()
    apart, whole = (
        program("forecast", path, "--draws", 2, "--json", cwd=tmp_path, env={**os.environ, **env})
        for env in ({}, {"PHENOCAST_DEBUG": "1"})
    )
    assert apart.returncode == whole.returncode == 0
    assert apart.stdout == whole.stdout


def test_a_refused_file_is_told_in_the_same_words(season, program, tmp_path):
    path = season("low_quay_observed.csv", "gone.csv")
    apart = program("forecast", path, cwd=tmp_path)
    whole = program("check", path, cwd=tmp_path)  # reads in its own process
    assert apart.returncode == whole.returncode == 3
    assert apart.stderr == whole.stderr
    assert "gone.csv: no such file" in apart.stderr


def test_a_forecast_loads_no_reader_beside_its_kernels(season, tmp_path):
    path = season()
    done = started(
        "import sys\n"
        "from pathlib import Path\n"
        "from phenocast.cli import running\n"
        f"loaded = running.load_to_forecast(Path({str(path)!r}))\n"
        "running.forecast_document(loaded, running.issue_date(loaded, None), 2, 0)\n"
        "print([name for name in ('pandas', 'pyarrow') if name in sys.modules])\n"
    )
    assert done.stdout.strip() == "[]", done.stderr


def test_kernels_are_loaded_without_linear_algebra_which_is_there_afterwards():
    done = started(
        "import sys\n"
        "from phenocast.cli.ready import ready_to_forecast\n"
        "ready_to_forecast()\n"
        "print('numba' in sys.modules, 'scipy.linalg' in sys.modules)\n"
        "import numpy as np\n"
        "import scipy.linalg\n"
        "from numba import njit\n"
        "print(scipy.linalg.det(2.0 * np.eye(3)))\n"
        "print(njit(lambda a: np.dot(a, np.linalg.inv(a))[0, 0])(2.0 * np.eye(3)))\n"
    )
    assert done.stdout.split() == ["True", "False", "8.0", "1.0"], done.stderr
