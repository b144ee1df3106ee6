"""Templates are printed or written, and are themselves accepted."""

import pytest

from phenocast.cli.commands.template import KINDS
from phenocast.io.templates import TEMPLATE_NAMES, template


def test_the_kinds_are_those_that_are_shipped():
    assert set(KINDS) == set(TEMPLATE_NAMES)


@pytest.mark.parametrize("kind", KINDS)
def test_printed_and_written_are_the_same_bytes(call, program, kind, tmp_path):
    printed = call("template", kind)
    assert printed.exit_code == 0
    assert printed.stdout == template(kind)
    written = call("template", kind, "--out", tmp_path / "file")
    assert written.exit_code == 0
    assert (tmp_path / "file").read_bytes() == template(kind).encode()


def test_a_file_that_exists_stays_unless_forced(call, tmp_path, entries):
    mine = tmp_path / "season.toml"
    mine.write_text("mine", encoding="utf-8")
    done = call("template", "season", "--out", mine)
    assert done.exit_code == 3
    assert "not overwritten" in " ".join(done.stderr.split())
    assert mine.read_text(encoding="utf-8") == "mine"
    # what somebody has written is never taken for a template
    assert call("template", "season", "--out", mine, "--force").exit_code == 3
    assert mine.read_text(encoding="utf-8") == "mine"
    mine.unlink()
    for force in ((), ("--force",)):
        assert call("template", "season", "--out", mine, *force).exit_code == 0
    assert mine.read_text(encoding="utf-8") == template("season")
    assert entries(tmp_path) == ["season.toml"]


def test_the_templates_of_season_and_weather_pass_the_check_together(call, tmp_path):
    call("template", "season", "--out", tmp_path / "season.toml")
    call("template", "weather", "--out", tmp_path / "weather.csv")
    done = call("check", tmp_path / "season.toml")
    assert done.exit_code in (0, 4)  # a starter of a few rows is no season of weather
    assert "REFUSED" not in done.stdout or "ends before the season" in done.stderr
    assert call("check", tmp_path / "weather.csv").exit_code == 0
