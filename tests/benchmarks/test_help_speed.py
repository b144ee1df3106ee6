"""`phenocast --help` as a program of its own, against Python that starts and ends (bar: 150 ms)."""

import subprocess
import sys


def run(*arguments):
    subprocess.run([sys.executable, *arguments], capture_output=True, check=True)


def test_python_alone(benchmark):
    benchmark(run, "-c", "pass")


def test_help(benchmark):
    benchmark(run, "-m", "phenocast.cli", "--help")
