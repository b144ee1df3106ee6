"""The real station year is what its README says, and the main job runs on it.

Source: NREL, National Solar Radiation Data Base, TMY3, San Francisco Intl Ap (724940), public
domain; S. Wilcox and W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008.
"""

import hashlib
import json
import subprocess
import sys

import numpy as np
import pvlib
import pytest

from phenocast.parameters.library import shipped

FOLDER = shipped("demo_weather")
EPW = FOLDER / "san_francisco_tmy3.epw"
# of the 8760 data rows as shipped with EnergyPlus, lines ended by "\n"
ROWS_SHA256 = "ac49a43ff5c8eed004b7978b71d390d5bdb1a408282b3dca919bfe3f520ba1e0"


def test_the_data_rows_are_those_of_the_origin():
    lines = EPW.read_text(encoding="ascii").splitlines()
    assert len(lines) == 8 + 8760
    rows = "\n".join(lines[8:]) + "\n"
    assert hashlib.sha256(rows.encode("ascii")).hexdigest() == ROWS_SHA256


def test_the_place_of_the_season_is_the_place_of_the_file():
    import tomllib

    site = tomllib.loads((FOLDER / "san_francisco.toml").read_text(encoding="utf-8"))["site"]
    _, head = pvlib.iotools.read_epw(EPW)
    for key, name in [
        ("latitude", "latitude"),
        ("longitude", "longitude"),
        ("elevation_m", "altitude"),
    ]:
        assert site[key] == pytest.approx(head[name])


def test_the_package_reads_what_pvlib_reads():
    """Row by row, after the turn to UTC and to the start of the hour (end of hour, UTC-8)."""
    from phenocast.io.weather.read import read_weather

    table = read_weather(EPW).table
    other, _ = pvlib.iotools.read_epw(EPW, coerce_year=2001)
    assert len(table) == 8760
    pairs = {
        "air_c": "temp_air",
        "dew_point_c": "temp_dew",
        "wind_m_s": "wind_speed",
        "solar_w_m2": "ghi",
    }
    for ours, theirs in pairs.items():
        assert np.allclose(table[ours], other[theirs]), ours
    # the first row closes at 01:00 local standard time: 00:00 local is 08:00 UTC
    assert table["time_utc"].iloc[0].hour == 8


def test_the_main_job_runs_on_it():
    done = subprocess.run(
        [sys.executable, "-m", "phenocast.cli", "forecast", str(FOLDER / "san_francisco.toml"),
         "--draws", "20", "--json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    blocks = document["blocks"]
    assert [block["block"] for block in blocks] == ["Bayside black", "Bayside white"]
    for block in blocks:
        pick = block["first_pick"]
        total = sum(week["probability"] for week in pick["week_probabilities"])
        assert total + pick["not_reached_probability"] == pytest.approx(1.0, abs=0.005)
        # cool winter: picked in spring, not before the new year
        assert "2027-01-01" < pick["median"] < "2027-07-01"
    # The one year behind every block's interval is told once, for the season.
    assert any("typical" in warning for warning in document["warnings"])
    black, white = blocks
    black, white = (block["crown"]["compared"]["max_c"] for block in (black, white))
    assert black > white
