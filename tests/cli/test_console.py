"""What is said on standard error, and when it is not."""

import io
import subprocess
import sys

import pytest

from phenocast.cli import console


class Terminal(io.StringIO):
    def isatty(self):
        return True


class Clock:
    def __init__(self):
        self.now = 0.0

    def __call__(self):
        return self.now


def test_no_progress_where_nobody_looks():
    stream, clock = io.StringIO(), Clock()
    with console.Progress(stream, clock) as progress:
        clock.now = 100.0
        progress(1, 2, "east")
    assert stream.getvalue() == ""


def test_short_work_shows_no_progress():
    stream, clock = Terminal(), Clock()
    with console.Progress(stream, clock) as progress:
        clock.now = 0.4
        progress(1, 2, "east")
    assert stream.getvalue() == ""


def test_long_work_shows_one_line_and_takes_it_away():
    stream, clock = Terminal(), Clock()
    with console.Progress(stream, clock) as progress:
        clock.now = 1.0
        progress(1, 2, "east")
        progress(2, 2, "east")  # too soon after the first to be shown
    text = stream.getvalue()
    assert text.count("%") == 1
    assert "50 %" in text
    assert "\n" not in text
    assert text.endswith("\r")
    assert text.split("\r")[-2].strip() == ""


def test_progress_is_taken_away_when_the_work_fails():
    stream, clock = Terminal(), Clock()

    def fail():
        with console.Progress(stream, clock) as progress:
            clock.now = 1.0
            progress(1, 2, "east")
            raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        fail()
    assert stream.getvalue().endswith("\r")


def test_progress_fits_a_narrow_terminal(monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    stream, clock = Terminal(), Clock()
    with console.Progress(stream, clock) as progress:
        clock.now = 1.0
        progress(1, 2, "a block with a very long name that does not fit")
    assert max(len(part) for part in stream.getvalue().split("\r")) < 40


def test_a_name_cannot_steer_the_terminal():
    assert "\x1b" not in console.progress_line(1, 2, "east\x1b[2J")


@pytest.mark.parametrize(
    ("stream", "environment", "coloured"),
    [
        (Terminal(), {}, True),
        (Terminal(), {"NO_COLOR": "1"}, False),
        (Terminal(), {"TERM": "dumb"}, False),
        (io.StringIO(), {}, False),
    ],
)
def test_colour_only_on_a_terminal_and_never_with_no_color(
    stream, environment, coloured, monkeypatch
):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(console.sys, "stderr", stream)
    console.problem("refused")
    assert ("\x1b[" in stream.getvalue()) == coloured
    assert "refused" in stream.getvalue()


def test_what_a_library_prints_by_itself_stays_out_of_the_answer():
    # In a process of its own, with standard output in a pipe, where libraries hold lines back.
    program = (
        "import ctypes\n"
        "from phenocast.cli.console import without_library_output\n"
        "with without_library_output():\n"
        "    ctypes.CDLL(None).printf(b'noise of a library\\n')\n"
        "print('the answer')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=600
    )
    assert done.stdout == "the answer\n"


def test_what_nobody_takes_on_standard_error_does_not_end_the_work(monkeypatch):
    class Gone(io.StringIO):
        def write(self, text):
            raise BrokenPipeError(32, "Broken pipe")

    monkeypatch.setattr(sys, "stderr", Gone())
    console.note("still working")
    console.warn("look at this")
    console.problems(["one", "two"], 2)
