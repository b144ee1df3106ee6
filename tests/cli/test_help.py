"""Help is there for everything, opens with lines that run, and costs next to nothing."""

import importlib
import subprocess
import sys

import click
import pytest

from phenocast.cli.group import COMMANDS, cli

NAMES = list(COMMANDS)


def loaded(name):
    return importlib.import_module(f"phenocast.cli.commands.{name}").command


def test_the_group_opens_with_two_lines_that_call_it(call):
    done = call("--help")
    assert done.exit_code == 0
    assert done.stderr == ""
    first, second, blank = done.stdout.splitlines()[:3]
    assert first.startswith("phenocast ")
    assert second.startswith("phenocast ")
    assert (first, second) == cli.paste
    assert blank == ""


@pytest.mark.parametrize("name", NAMES)
def test_every_command_opens_with_two_lines_that_call_it(call, name):
    done = call(name, "--help")
    assert done.exit_code == 0
    first, second, blank, usage = done.stdout.splitlines()[:4]
    assert first.startswith("phenocast ")
    assert second.startswith("phenocast ")
    assert blank == ""
    assert usage.startswith(f"Usage: phenocast {name}")


@pytest.mark.parametrize("name", NAMES)
def test_every_command_and_option_has_help(name):
    command = loaded(name)
    assert command.name == name
    assert command.help
    assert len(command.help) > 60
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name
        else:  # an argument is told of in the text, by the name it has in the usage line
            assert parameter.metavar.strip(".") in command.help


@pytest.mark.parametrize("name", NAMES)
def test_the_list_of_commands_tells_what_the_commands_tell(name):
    assert loaded(name).short_help == COMMANDS[name]


def test_the_list_holds_every_command_module_and_no_other():
    import pkgutil

    import phenocast.cli.commands as package

    found = {module.name for module in pkgutil.iter_modules(package.__path__)}
    assert found == set(COMMANDS)


def test_every_command_is_listed(call):
    text = call("--help").stdout
    for name in NAMES:
        assert f"\n  {name} " in text


def test_help_names_every_exit_code(call):
    text = call("--help").stdout
    codes = text.split("Exit codes:")[1].split("Environment:")[0]
    assert [line.split()[0] for line in codes.splitlines() if line.strip()] == [
        "0", "1", "2", "3", "4", "130",
    ]  # fmt: skip


@pytest.mark.parametrize("arguments", [[], *[[name] for name in NAMES]])
def test_help_is_no_wider_than_100_columns(call, arguments, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    text = call(*arguments, "--help").stdout
    assert max(len(line) for line in text.splitlines()) <= 100


def modules_after(code):
    program = f"import sys\ntry:\n    {code}\nexcept SystemExit:\n    pass\nprint(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    return set(done.stdout.splitlines()[-1].split())


def test_help_loads_click_and_where_a_cache_lies_and_nothing_else_from_outside():
    started = modules_after("pass")
    seen = modules_after(
        "sys.argv = ['phenocast', '--help']; from phenocast.cli import main; main()"
    )
    outside = {name.split(".")[0] for name in seen - started} - set(sys.stdlib_module_names)
    loaded = {name for name in outside if not name.startswith("_")}
    assert loaded == {"click", "phenocast", "platformdirs"}
    ours = {name for name in seen if name.startswith("phenocast")}
    assert ours == {
        "phenocast", "phenocast.cli", "phenocast.cli.console", "phenocast.cli.group",
        "phenocast.cache",
    }  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_help_of_a_command_loads_no_number_library(name):
    seen = modules_after(
        f"sys.argv = ['phenocast', '{name}', '--help']; from phenocast.cli import main; main()"
    )
    assert not seen & {"numpy", "pandas", "numba", "pyarrow", "pvlib", "scipy", "pydantic"}


def test_version(call):
    from phenocast import __version__

    assert call("--version").stdout == f"phenocast {__version__}\n"


def test_a_command_object_is_the_one_that_the_group_loads():
    context = click.Context(cli)
    assert cli.get_command(context, "check") is loaded("check")
    assert cli.get_command(context, "no-such") is None
