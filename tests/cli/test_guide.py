"""The guides are listed, printed as they are, and paged on a terminal."""

import click
import pytest

from phenocast.cli.commands import guide


def test_without_a_name_the_guides_are_listed(call):
    done = call("guide")
    assert done.exit_code == 0
    assert [line.split()[0] for line in done.stdout.splitlines()] == list(guide.GUIDES)


@pytest.mark.parametrize("name", guide.GUIDES)
def test_a_guide_is_printed_as_it_is(program, tmp_path, name):
    done = program("guide", name, cwd=tmp_path)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout == guide.text_of(name)
    assert done.stdout.startswith(f"# {name.capitalize()}")


def test_on_a_terminal_it_goes_through_the_pager(monkeypatch):
    paged = []
    monkeypatch.setattr(guide, "on_terminal", lambda: True)
    monkeypatch.setattr(click, "echo_via_pager", paged.append)
    guide.command.main(["users"], standalone_mode=False)
    assert paged == [guide.text_of("users")]


def test_another_name_is_wrong_usage_and_the_names_are_told(call):
    done = call("guide", "growers")
    assert done.exit_code == 2
    assert all(f"'{name}'" in done.stderr for name in guide.GUIDES)
