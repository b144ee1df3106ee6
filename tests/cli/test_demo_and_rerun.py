"""The demo from end to end, the lines that help pages offer, and runs made again."""

import importlib
import json
import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from contextlib import chdir
from dataclasses import dataclass

import pytest
from click.testing import CliRunner

from phenocast.cli.commands.demo import PAGES
from phenocast.cli.group import COMMANDS, cli
from phenocast.parameters.library import shipped
from tests.cli.conftest import ONE_BLOCK

DEMO_LINE, FORECAST_LINE = cli.paste
# Four past seasons of the demo, and the demo again: the tests of these commands take fewer seasons,
# and folders of one command.
LONG = ("fit", "rank", "hindcast", "rerun")
TAKES_LONG = "takes long, run with the slow tests"
FEW = (("draws", "4"), ("scenarios", "5"))


def command_of(name):
    return importlib.import_module(f"phenocast.cli.commands.{name}").command


def paste_lines():
    """Lines that the help of the group and of each command offers, each once, in order."""
    lines = [DEMO_LINE, FORECAST_LINE]
    for name in COMMANDS:
        lines += command_of(name).paste
    return list(dict.fromkeys(lines))


@dataclass(frozen=True)
class Done:
    """What a line of the help pages came to."""

    exit_code: int
    stdout: str
    stderr: str


def with_few(arguments):
    """The arguments with few draws and scenarios, where the command knows such."""
    known = {one.name for one in command_of(arguments[0]).params}
    return [*arguments, *(word for name, n in FEW if name in known for word in (f"--{name}", n))]


def as_program(arguments, folder):
    done = subprocess.run(
        [sys.executable, "-m", "phenocast.cli", *arguments],
        cwd=folder, capture_output=True, text=True, encoding="utf-8", timeout=600, check=False,
    )  # fmt: skip
    return Done(done.returncode, done.stdout, done.stderr)


def in_this_process(arguments, folder):
    with chdir(folder):
        done = CliRunner().invoke(cli, arguments, prog_name="phenocast")
    return Done(done.exit_code, done.stdout, done.stderr)


@pytest.fixture(
    scope="module", params=["few draws", pytest.param("word for word", marks=pytest.mark.slow)]
)
def pasted(tmp_path_factory, request, answer):
    """Every line of the help pages, pasted in one folder one after the other.

    Word for word as programs; with few draws in this process, after the demo of the session.
    """
    few = request.param == "few draws"
    folder = tmp_path_factory.mktemp("pasted")
    done = {}
    for line in paste_lines():
        program, *arguments = shlex.split(line)
        assert program == "phenocast"
        if not few:
            done[line] = as_program(arguments, folder)
        elif line == DEMO_LINE:
            made = answer("phenocast-demo")
            shutil.copytree(made.folder, folder / "phenocast-demo")
            done[line] = Done(0, made.stdout, made.stderr)
        elif arguments[0] not in LONG:
            done[line] = in_this_process(with_few(arguments), folder)
    return folder, done


@pytest.mark.parametrize("line", paste_lines())
def test_every_line_that_help_offers_runs(pasted, line):
    _, done = pasted
    if line not in done:
        pytest.skip(TAKES_LONG)
    if line.startswith("phenocast labour") and "labour" in done[line].stderr:
        # the season of the demo need not state a crew; then the command says what to state
        assert done[line].exit_code in (0, 3)
        return
    assert done[line].exit_code == 0, done[line].stderr


def test_the_demo_leaves_its_season_its_weather_and_its_answer(pasted):
    folder, done = pasted
    out = folder / "phenocast-demo"
    for name in PAGES:
        assert (out / name).is_file()
        assert os.path.join("phenocast-demo", name) in done[DEMO_LINE].stdout
    for name in ("low_quay_observed.csv", "low_quay_outlook.csv", "tamarind_coast.parquet"):
        assert (out / name).read_bytes() == shipped("demo_weather", name).read_bytes()
    document = json.loads((out / "forecast.json").read_text(encoding="utf-8"))
    assert len(document["blocks"]) == 6
    assert (out / "season.toml").read_text(encoding="utf-8").count("low_quay.toml") == 0


def test_the_demo_says_what_it_does_and_that_it_is_invented(pasted):
    _, done = pasted
    assert "compiles the hourly kernels" in " ".join(done[DEMO_LINE].stderr.split())
    assert "invented" in done[DEMO_LINE].stdout
    for line in done[DEMO_LINE].stdout.splitlines() + done[DEMO_LINE].stderr.splitlines():
        assert len(line) <= 100


def test_a_forecast_of_the_demo_is_the_demo(pasted):
    folder, done = pasted
    page = (folder / "phenocast-demo" / "forecast.txt").read_text(encoding="utf-8")
    printed = done[FORECAST_LINE].stdout
    assert page.split("parameters behind this")[0] == printed.split("parameters behind this")[0]


def test_a_rerun_of_the_demo_is_the_same_byte_for_byte(pasted, entries):
    folder, _ = pasted
    first, again = folder / "phenocast-demo", folder / "phenocast-demo-again"
    if not again.exists():
        pytest.skip(TAKES_LONG)
    assert entries(again) == entries(first)
    for name in entries(first):
        if (first / name).is_file():
            assert (again / name).read_bytes() == (first / name).read_bytes(), name


def test_the_demo_leaves_past_seasons_that_find_their_weather(pasted):
    """Picks and season files of `calibration/records`, with the weather beside them."""
    folder, _ = pasted
    past = folder / "phenocast-demo" / "past"
    assert (past / "records.csv").read_bytes() == shipped(
        "calibration", "records", "low_quay_records.csv"
    ).read_bytes()
    for path in past.glob("*.toml"):
        assert 'file = "../tamarind_coast.parquet"' in path.read_text(encoding="utf-8")


def test_no_temporary_file_stays(pasted, entries):
    folder, _ = pasted
    assert [name for name in entries(folder) if ".part" in name or "/." in name] == []


ASKED = ("--draws", "3", "--seed", "7", "--out")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Folder of a small forecast run, made once; its season stays where it is."""
    home = tmp_path_factory.mktemp("made")
    for name in ("low_quay_observed.csv", "tamarind_coast.parquet"):
        shutil.copy(shipped("demo_weather", name), home / name)
    (home / "season.toml").write_text(ONE_BLOCK, encoding="utf-8")
    asked = ["forecast", str(home / "season.toml"), *ASKED, str(home / "run")]
    done = CliRunner().invoke(cli, asked)
    assert done.exit_code == 0, done.stderr
    return home / "run"


@pytest.fixture
def run(made, tmp_path):
    """A copy of that folder, to change."""
    return shutil.copytree(made, tmp_path / "run")


def test_a_rerun_of_a_forecast_is_the_same_byte_for_byte(call, run, tmp_path, entries):
    done = call("rerun", run / "manifest.json", "--out", tmp_path / "again")
    assert done.exit_code == 0
    assert entries(tmp_path / "again") == entries(run)
    for name in entries(run):
        assert (tmp_path / "again" / name).read_bytes() == (run / name).read_bytes(), name


def test_a_rerun_does_not_read_the_old_results(call, run, tmp_path):
    wanted = (run / "forecast.json").read_bytes()
    (run / "forecast.json").write_text("{}", encoding="utf-8")
    assert call("rerun", run, "--out", tmp_path / "again").exit_code == 0
    assert (tmp_path / "again" / "forecast.json").read_bytes() == wanted


def test_every_input_that_has_changed_is_named(call, season, tmp_path):
    run, path = tmp_path / "run", season()
    assert call("forecast", path, *ASKED, run).exit_code == 0
    path.write_text(path.read_text(encoding="utf-8") + "\n# later\n", encoding="utf-8")
    (tmp_path / "low_quay_observed.csv").unlink()
    done = call("rerun", run / "manifest.json", "--out", tmp_path / "again")
    told = " ".join(done.stderr.split())
    assert done.exit_code == 3
    assert "season.toml: the season file has changed" in told
    assert "low_quay_observed.csv: no such file" in told
    assert "tamarind_coast.parquet" not in told
    assert not (tmp_path / "again").exists()


def changed(run, change):
    path = run / "manifest.json"
    document = json.loads(path.read_text(encoding="utf-8"))
    change(document)
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_another_result_is_told_and_not_kept(call, run, tmp_path, entries):
    path = changed(run, lambda document: document["outputs"][0].update(sha256="0" * 64))
    before = entries(tmp_path)
    done = call("rerun", path, "--out", tmp_path / "again")
    assert done.exit_code == 4
    assert "forecast.json: the rerun wrote another content" in " ".join(done.stderr.split())
    assert entries(tmp_path) == before


def test_another_version_is_told(call, run, tmp_path):
    path = changed(run, lambda document: document["versions"].update(numpy="1.0.0"))
    done = call("rerun", path, "--out", tmp_path / "again")
    assert done.exit_code == 0
    assert "numpy was 1.0.0" in " ".join(done.stderr.split())


def test_changed_parameters_are_refused(call, run, tmp_path):
    path = changed(run, lambda document: document["parameters"][0].update(sha256="0" * 64))
    done = call("rerun", path, "--out", tmp_path / "again")
    assert done.exit_code == 3
    assert "calibration/films.toml" in done.stderr


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (lambda document: document.update(command="os.system"), "os.system"),
        (lambda document: document.update(command="check"), "check"),
        (lambda document: document["options"].update(draws="many"), "options.draws"),
        (lambda document: document["options"].update(draws=0), "options.draws"),
        (lambda document: document["options"].update(as_of="soon"), "options.as_of"),
        (lambda document: document["options"].pop("seed"), "options.seed"),
        (lambda document: document.update(inputs=[]), "season"),
        (lambda document: document.pop("command"), "manifest"),
        (lambda document: document.update(schema_version=99), "99"),
    ],
)
def test_a_manifest_that_is_none_is_refused(call, run, tmp_path, change, word):
    done = call("rerun", changed(run, change), "--out", tmp_path / "again")
    assert done.exit_code == 3
    assert word in done.stderr
    assert not (tmp_path / "again").exists()


def test_force_replaces_a_result_and_nothing_else(call, season, run, tmp_path, entries):
    before = (run / "forecast.json").read_bytes()
    again = ("forecast", season(), "--draws", "4", "--out", run)
    assert call(*again).exit_code == 3
    assert (run / "forecast.json").read_bytes() == before
    assert call(*again, "--force").exit_code == 0
    assert (run / "forecast.json").read_bytes() != before
    assert [name for name in entries(tmp_path) if "part" in name or "old" in name] == []


@pytest.mark.skipif(os.name == "nt", reason="signals of Unix")
@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_an_interrupted_run_leaves_nothing(tmp_path, entries, sent, code):
    running = subprocess.Popen(
        [sys.executable, "-m", "phenocast.cli", "demo", "--out", "out", "--draws", "3000"],
        cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
        # a shell may have started the tests with the interrupt ignored
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )  # fmt: skip
    try:
        said = ""
        while "simulating" not in said:
            line = running.stderr.readline()
            assert line, f"ended early: {said}"
            said += line
        assert any(".part" in name for name in entries(tmp_path))
        time.sleep(1.0)
        running.send_signal(sent)
        stdout, stderr = running.communicate(timeout=600)
    finally:
        running.kill()
    assert running.returncode == code
    assert stdout == ""
    assert "Traceback" not in said + stderr
    assert entries(tmp_path) == []
    if sent == signal.SIGINT:
        assert "interrupted" in stderr
