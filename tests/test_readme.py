"""Every example of the README runs, in the order of the page, and prints what the page shows.

`console` blocks: a line with `$ ` is a command that must succeed; the lines under it must appear in
this order in its output, where `...` stands for anything. `python` blocks run as they are. A `toml`
block is written to the file that its first line names. The two set-up commands build a virtual
environment and are compared with `.ci/run` instead.
"""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from phenocast.cli.group import COMMANDS

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
BLOCKS = [(kind, body) for kind, body in FENCE.findall(README)]
RUN = ("console", "python", "toml")
LONGEST_S = 300


def steps():
    """Yield (kind, what to run, what to expect) of every example, one command a step."""
    for kind, body in BLOCKS:
        if kind == "console":
            for part in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
                command, _, shown = part.partition("\n")
                yield kind, command, shown
        elif kind in RUN:
            yield kind, body, ""


STEPS = list(steps())
# what four past seasons of the demo are needed for; the tests of these commands run fewer
LONG = ("phenocast fit calibration/records/low_quay_records.csv", "phenocast rank",
        "phenocast hindcast")  # fmt: skip


def named(step):
    kind, text, _ = step
    return f"{kind}: {text.splitlines()[0][:60]}"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    root = tmp_path_factory.mktemp("readme")
    shutil.copytree(ROOT / "demo_weather", root / "demo_weather")
    shutil.copytree(ROOT / "calibration" / "records", root / "calibration" / "records")
    return root


def pattern(shown):
    """Regular expression for the output shown, `...` for anything."""
    return r"\s*".join(
        ".*".join(re.escape(piece) for piece in line.split("..."))
        for line in shown.strip().splitlines()
    )


@pytest.mark.parametrize(
    "step",
    [
        pytest.param(step, id=named(step), marks=[pytest.mark.slow] * step[1].startswith(LONG))
        for step in STEPS
    ],
)
def test_example_runs(step, folder):
    kind, text, shown = step
    if kind == "toml":
        first, _, rest = text.partition("\n")
        name = re.fullmatch(r"# file: (\S+)", first)
        assert name, "a toml example starts with '# file: NAME'"
        (folder / name.group(1)).write_text(rest, encoding="utf-8")
        return
    if kind == "python":
        arguments = [sys.executable, "-c", text]
    else:
        program, *rest = shlex.split(text)
        assert program == "phenocast", "a console example runs phenocast"
        arguments = [sys.executable, "-m", "phenocast.cli", *rest]
    done = subprocess.run(
        arguments, cwd=folder, capture_output=True, text=True, timeout=LONGEST_S, check=False
    )
    assert done.returncode == 0, f"{text}\n{done.stderr}"
    assert re.search(pattern(shown), done.stdout, re.DOTALL), f"{shown}\nnot in\n{done.stdout}"


def set_up_commands():
    return [body.strip() for kind, body in BLOCKS if kind == "" and "-m venv" in body]


def test_there_are_two_set_up_commands_of_one_line_each():
    demo, tests = set_up_commands()
    assert len(demo.splitlines()) == len(tests.splitlines()) == 1
    assert "phenocast demo" in demo
    assert "pytest" in tests
    environments = [re.search(r"-m venv (\S+)", line).group(1) for line in (demo, tests)]
    assert len(set(environments)) == 2


def test_the_test_command_is_the_one_of_ci():
    _, tests = set_up_commands()
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert tests in [line.strip() for line in lines]


def test_every_block_is_an_example_or_a_set_up_command():
    unknown = {kind for kind, _ in BLOCKS} - {*RUN, ""}
    assert not unknown
    assert sum(kind == "" for kind, _ in BLOCKS) == 2


def test_the_tour_shows_every_command():
    shown = {shlex.split(text)[1] for kind, text, _ in STEPS if kind == "console"}
    assert shown == set(COMMANDS)


def test_shipped_names_of_the_readme_are_the_shipped_names():
    from phenocast.parameters import cultivars, films, soils, transplants

    section = README.partition("**Season**")[2].partition("**`crown`**")[0]
    named_there = set(re.findall(r"`([^`]+)`", section)) - {"season.toml", "[film.NAME]"}
    known = {*films(), *cultivars(), *soils(), *transplants()}
    assert named_there == known


def test_the_columns_of_crown_are_the_contract():
    section = README.partition("**`crown`**")[2].partition("**`forecast --json`**")[0]
    assert re.findall(r"`(\w+)`", section) == [
        "block", "time_utc", "air_c", "film_surface_c", "air_above_film_c", "crown_c",
        "soil_5cm_c", "soil_10cm_c", "canopy_cover", "filled",
    ]  # fmt: skip


def test_the_version_to_cite_is_the_version():
    import phenocast

    assert f"version {phenocast.__version__}" in README
