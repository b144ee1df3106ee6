"""Run a command and see how much memory it held at most."""

import subprocess
import sys
from pathlib import Path

# A child starts with the peak of whoever forked it, so a bare Python stands between.
BETWEEN = """
import resource, subprocess, sys
with open(sys.argv[1], "wb") as answer:
    subprocess.run(sys.argv[2:], stdout=answer, stderr=subprocess.DEVNULL, check=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def run_and_see_peak(command: list[str], answer: Path) -> float:
    """Run a command, keep what it prints in ``answer``, and return its peak memory [MB]."""
    done = subprocess.run(
        [sys.executable, "-c", BETWEEN, str(answer), *command],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return int(done.stdout) / 1e3
