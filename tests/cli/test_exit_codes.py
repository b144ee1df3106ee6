"""Every way a command can end, its code and what is said."""

import errno

import click
import pytest
from click.testing import CliRunner

from phenocast.cli.console import report
from phenocast.cli.group import COMMANDS, Command
from phenocast.errors import Fault, InputError, NoAnswerError, PhenocastError


def ending_with(error):
    @click.command("ends", cls=Command, paste=("phenocast ends",))
    def command():
        raise error

    return CliRunner().invoke(command, [])


TWO = [Fault("too hot", "a.csv, row 3", 99.0, "up to 60 degC"), Fault("too cold", "a.csv, row 4")]


@pytest.mark.parametrize(
    ("error", "code", "said"),
    [
        (InputError(TWO[0]), 3, "a.csv, row 3: too hot (value 99.0; allowed: up to 60 degC)"),
        (InputError(TWO), 3, "2 faults:"),
        (NoAnswerError(Fault("no convergence")), 4, "no convergence"),
        (PhenocastError("lost"), 1, "fault of phenocast"),
        (ValueError("sum of nothing"), 1, "ValueError: sum of nothing"),
        (AssertionError(), 1, "AssertionError"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (click.Abort(), 130, "interrupted"),
        (click.UsageError("which film?"), 2, "which film?"),
        (click.BadParameter("not a day"), 2, "not a day"),
        (click.FileError("a.csv", "gone"), 3, "gone"),
        (OSError(errno.ENOSPC, "full", "out.csv"), 3, "out.csv: No space left"),
        (PermissionError(errno.EACCES, "no", "out.csv"), 3, "out.csv: Permission denied"),
        (MemoryError(), 4, "not enough memory for this run; close other programs"),
    ],
)
def test_an_error_has_its_code_and_its_message(error, code, said):
    done = ending_with(error)
    assert done.exit_code == code
    assert done.stdout == ""
    assert said in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr


def test_every_fault_is_told_on_a_line_of_its_own():
    lines = ending_with(InputError(TWO)).stderr.splitlines()
    assert [line[:4] for line in lines[1:]] == ["  - ", "  - "]
    assert "row 3" in lines[1]
    assert "row 4" in lines[2]


def test_a_fault_of_ours_says_where_to_report_it():
    said = " ".join(ending_with(KeyError("film")).stderr.split())
    assert "not of your input" in said
    assert "report it" in said
    assert "PHENOCAST_DEBUG=1" in said


def test_the_trace_is_shown_on_request(monkeypatch):
    monkeypatch.setenv("PHENOCAST_DEBUG", "1")
    done = ending_with(KeyError("film"))
    assert done.exit_code == 1
    assert "Traceback" in done.stderr
    assert "test_exit_codes.py" in done.stderr


def test_a_fault_of_ours_names_its_place(capsys):
    from phenocast.cli.console import progress_line

    with pytest.raises(TypeError) as caught:
        progress_line(1, "two", "east")
    assert report(caught.value) == 1
    said = " ".join(capsys.readouterr().err.split())
    assert "TypeError" in said
    assert "at phenocast/cli/console.py:" in said


def test_messages_are_no_wider_than_100_columns():
    long = Fault("a reason that goes on " * 20, "a.csv", do="do this or that " * 20)
    for line in ending_with(InputError([long, long])).stderr.splitlines():
        assert len(line) <= 100


@pytest.mark.parametrize(
    "arguments",
    [
        ["--no-such-option"],
        ["forecast"],
        ["check"],
        ["crown", "season.toml"],
        ["demo"],
        ["rerun", "manifest.json"],
        ["forecast", "season.toml", "--draws", "0"],
        ["forecast", "season.toml", "--draws", "many"],
        ["forecast", "season.toml", "--seed", "-1"],
        ["forecast", "season.toml", "--as-of", "20-11-2026"],
        ["forecast", "season.toml", "--as-of", "2026-13-01"],
        ["template", "seasons"],
        ["forecast", "a.toml", "b.toml"],
    ],
)
def test_a_wrong_call_is_code_2_with_the_usage(call, arguments):
    done = call(*arguments)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith("Usage: phenocast")


def test_a_misspelt_command_is_told_the_nearest(call):
    done = call("forcast")
    assert done.exit_code == 2
    assert "Did you mean 'forecast'?" in " ".join(done.stderr.split())


def test_no_command_shows_the_help_on_standard_error(program, tmp_path):
    done = program(cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    for name in COMMANDS:
        assert f"\n  {name} " in done.stderr


def test_a_reader_that_has_seen_enough_is_no_fault(tmp_path):
    import subprocess
    import sys

    command = f"{sys.executable} -m phenocast.cli template season | head -n 1"
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 1
