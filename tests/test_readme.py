"""Every example of the README and the guides runs, in order, and prints what the page shows.

`console` blocks: a line with `$ ` is a command that must succeed; the lines under it must appear in
this order in its output, where `...` stands for anything. `python` blocks run as they are. A `toml`
block is written to the file that its first line names. A `text` block is what the demo prints. The
two set-up commands build a virtual environment and are compared with `.ci/run` instead.

The examples share a folder with the demo of few draws of the session, and run in this process; the
demo of the README runs once as it is, as a program.
"""

import json
import re
import shlex
import shutil
import subprocess
import sys
from contextlib import chdir, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest
from click.testing import CliRunner

from phenocast.cli.commands.guide import GUIDES
from phenocast.cli.group import COMMANDS, cli
from tests.guides import make

ROOT = Path(__file__).resolve().parents[1]
PAGES = {
    "README": (ROOT / "README.md").read_text(encoding="utf-8"),
    **{name: (make.GUIDES / f"{name}.md").read_text(encoding="utf-8") for name in GUIDES},
}
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
RUN = ("console", "python", "toml")
DEMO = "phenocast demo --out phenocast-demo"
SLOW = ("phenocast demo ", "phenocast fit ", "phenocast rank ", "phenocast hindcast ")
LONGEST_S = 300


def blocks(page):
    return FENCE.findall(PAGES[page])


def steps():
    """Yield (page, kind, what to run, what to expect) of every example, one command a step."""
    for page in PAGES:
        for kind, body in blocks(page):
            if kind == "console":
                for part in re.split(r"^\$ ", body, flags=re.MULTILINE)[1:]:
                    command, _, shown = part.partition("\n")
                    yield page, kind, command, shown
            elif kind == "text":
                yield page, "console", DEMO, body
            elif kind in RUN:
                yield page, kind, body, ""


STEPS = list(steps())
# what four past seasons of the demo are needed for; the tests of these commands run fewer
LONG = ("phenocast fit calibration/records/low_quay_records.csv", "phenocast rank",
        "phenocast hindcast")  # fmt: skip


def case(step):
    page, kind, text, _ = step
    marks = [pytest.mark.slow] if text.startswith(SLOW) else []
    return pytest.param(step, id=f"{page} {kind}: {text.splitlines()[0][:60]}", marks=marks)


def phenocast(command, folder):
    program, *rest = shlex.split(command)
    assert program == "phenocast", "a console example runs phenocast"
    with chdir(folder):
        done = CliRunner().invoke(cli, rest, prog_name="phenocast")
    assert done.exit_code == 0, f"{command}\n{done.stderr}"
    return done.stdout


def python(source, folder):
    printed = StringIO()
    with chdir(folder), redirect_stdout(printed):
        exec(compile(source, "example", "exec"), {"__name__": "__main__"})
    return printed.getvalue()


@pytest.fixture(scope="module")
def folder(tmp_path_factory, answer):
    root = tmp_path_factory.mktemp("readme")
    shutil.copytree(ROOT / "demo_weather", root / "demo_weather")
    shutil.copytree(ROOT / "calibration" / "records", root / "calibration" / "records")
    shutil.copytree(answer("phenocast-demo").folder, root / "phenocast-demo")
    return root


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Folder and standard output of the demo as the README runs it."""
    root = tmp_path_factory.mktemp("demo")
    done = subprocess.run(
        [sys.executable, "-m", "phenocast.cli", *shlex.split(DEMO)[1:]],
        cwd=root, capture_output=True, text=True, timeout=LONGEST_S, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return root / "phenocast-demo", done.stdout


def pattern(shown):
    """Regular expression for the output shown, `...` for anything."""
    return r"\s*".join(
        ".*".join(re.escape(piece) for piece in line.split("..."))
        for line in shown.strip().splitlines()
    )


@pytest.mark.parametrize("step", [case(one) for one in STEPS])
def test_example_runs(step, request):
    _, kind, text, shown = step
    if text == DEMO:
        printed = request.getfixturevalue("demo")[1]
    else:
        folder = request.getfixturevalue("folder")
        if kind == "toml":
            first, _, rest = text.partition("\n")
            name = re.fullmatch(r"# file: (\S+)", first)
            assert name, "a toml example starts with '# file: NAME'"
            (folder / name.group(1)).write_text(rest, encoding="utf-8")
            return
        printed = (python if kind == "python" else phenocast)(text, folder)
    assert re.search(pattern(shown), printed, re.DOTALL), f"{shown}\nnot in\n{printed}"


@pytest.mark.slow
def test_the_picture_is_that_of_the_demo(demo):
    page = (demo[0] / "forecast.html").read_text(encoding="utf-8")
    committed = make.PICTURE.read_text(encoding="utf-8")
    assert make.description(committed) == make.description(make.drawing(page)), (
        "python -m tests.guides.make DEMO draws it anew"
    )


@pytest.mark.parametrize("command", ["forecast", "compare"])
def test_keys_of_the_documents_are_in_them(folder, command):
    document = json.loads((folder / "phenocast-demo" / f"{command}.json").read_text("utf-8"))
    part = document["blocks" if command == "forecast" else "options"][0]
    _, _, section = PAGES["tables"].partition(f"`{command} --json`")
    section = section.partition("\n## ")[0]
    rows = [line.split("|")[1] for line in section.splitlines() if line.startswith("| `")]
    keys = re.findall(r"`([\w.]+)`", " ".join(rows))
    assert len(keys) > 10
    for key in keys:
        held = part
        for name in key.split("."):
            assert name in held, key
            held = held[name]
    beside = re.findall(r"`([a-z_]+)`", section.partition("\n| ")[0])
    assert set(beside) <= set(document)


def set_up_commands():
    return [body.strip() for kind, body in blocks("README") if kind == "" and "-m venv" in body]


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


@pytest.mark.parametrize("page", PAGES)
def test_every_block_is_an_example_or_a_set_up_command(page):
    kinds = [kind for kind, _ in blocks(page)]
    readme = page == "README"
    assert set(kinds) <= {*RUN, *(["", "text"] if readme else [])}
    assert kinds.count("") == (2 if readme else 0)


def test_the_users_guide_shows_every_command():
    shown = {shlex.split(text)[1] for page, kind, text, _ in STEPS if kind == "console"
             and page == "users"}  # fmt: skip
    assert shown == set(COMMANDS)


def test_shipped_names_of_the_guide_are_the_shipped_names():
    from phenocast.parameters import cultivars, films, soils, transplants

    section = PAGES["tables"].partition("| key | names |")[2].partition("\n\n")[0]
    rows = dict(re.findall(r"^\| `(\w+)` \| (.*) \|$", section, re.MULTILINE))
    shipped = {"film": films, "cultivar": cultivars, "soil": soils, "transplant": transplants}
    for key, known in shipped.items():
        assert set(re.findall(r"`([^`\[]+)`", rows[key])) == set(known()), key


def test_the_columns_of_crown_are_the_contract():
    from phenocast.tables import CROWN_TEMPERATURES

    section = PAGES["tables"].partition("## Written: `crown`")[2].partition("\n## ")[0]
    assert re.findall(r"`(\w+)`", section) == [one.name for one in CROWN_TEMPERATURES.columns]


def test_the_version_to_cite_is_the_version():
    import phenocast

    assert f"version {phenocast.__version__}" in PAGES["README"]


def test_the_readme_and_the_guides_are_short():
    words = {page: len(text.split()) for page, text in PAGES.items()}
    assert words.pop("README") <= 1000
    assert sum(words.values()) <= 8000, words


def anchors(page):
    """Anchors of the headings of a page, as code hosts make them."""
    headings = re.findall(r"^#+ (.*)$", FENCE.sub("", page), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", one.lower()).replace(" ", "-") for one in headings}


def test_links_of_the_readme_lead_somewhere():
    links = re.findall(r"\]\(([^)]+)\)", PAGES["README"])
    assert {f"phenocast/guides/{name}.md" for name in GUIDES} <= {
        link.partition("#")[0] for link in links
    }
    for link in links:
        path, _, anchor = link.partition("#")
        assert (ROOT / path).is_file(), link
        if anchor:
            assert anchor in anchors((ROOT / path).read_text(encoding="utf-8")), link


def test_the_picture_is_small_and_whole():
    assert make.PICTURE.stat().st_size < 100_000
    assert "crown" in make.description(make.PICTURE.read_text(encoding="utf-8")).lower()


def test_the_tables_of_the_guide_are_the_contracts():
    assert make.tables(PAGES["tables"]) == PAGES["tables"], "python -m tests.guides.make"


def test_the_methods_name_parameters_and_sources_that_there_are():
    from phenocast import parameters as shelf

    groups = (shelf.films, shelf.cultivars, shelf.soils, shelf.transplants)
    known = {*shelf.species(), *shelf.bed(), *shelf.references()}
    known |= {name for group in groups for one in group().values() for name in one}
    known |= {"first_pick_g_per_plant", "compare"}
    assert set(re.findall(r"`([a-z][a-z0-9_]+)`", PAGES["methods"])) <= known
