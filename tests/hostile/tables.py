"""Sound files of every kind of table, small, and the readers they belong to."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd

from phenocast.io import read_season, read_weather
from phenocast.io.planning_files import read_prices, read_tallies, read_trial_records
from phenocast.io.records import read_chamber_trials, read_harvest_records
from phenocast.io.season_records import read_season_records
from phenocast.io.tables import read_table
from phenocast.io.weather.clock import Stated
from phenocast.io.weather.read import read_weather_members
from phenocast.parameters.library import shipped
from phenocast.season import Season, Site
from phenocast.tables import CONTRACTS

DATA = Path(__file__).parent.parent / "data"
COAST = Site("Tamarind Coast", 29.3, -15.6, 35.0, "Atlantic/Canary")


def first_lines(path: Path, count: int) -> bytes:
    return b"".join(path.read_bytes().splitlines(keepends=True)[:count])


def rows(header: str, line: Callable[[int], str], count: int) -> bytes:
    return "".join(f"{one}\n" for one in (header, *map(line, range(count)))).encode()


def parquet(frame: pd.DataFrame, **options: Any) -> bytes:
    stream = io.BytesIO()
    frame.to_parquet(stream, **options)
    return stream.getvalue()


@cache
def season() -> Season:
    """The season of the shipped demo, whose blocks the records name."""
    return read_season(shipped("demo_weather", "low_quay.toml"))


def weather(**stated: Any) -> Callable[[Path], object]:
    return lambda path: read_weather(path, site=COAST, **stated)


def members(path: Path) -> object:
    return read_weather_members(path, Stated(stamp="start", site=COAST))


def table(name: str) -> Callable[[Path], object]:
    return lambda path: read_table(path, CONTRACTS[name])


def records(path: Path) -> object:
    return read_harvest_records(path, {"low_quay": season()})


def season_records(path: Path) -> object:
    return read_season_records(path, season(), date(2027, 4, 1))


def trial(path: Path) -> object:
    return read_trial_records(path, "yield", ("replicate", "film", "cultivar"))


def chamber(path: Path) -> object:
    return read_chamber_trials(path, ["Marl", "Basalt"])


def prices(path: Path) -> object:
    """The price curve of a season that names the file."""
    stated = SimpleNamespace(
        file=path.name, currency="EUR", season_sd=None, week_memory=None, supply_correlation=0.0
    )
    return read_prices(SimpleNamespace(prices=stated), path.parent, ["2027-W01"])


def tallies(path: Path) -> object:
    """The picking line of a season that names the file."""
    stated = SimpleNamespace(labour=SimpleNamespace(tallies=path.name), blocks=season().blocks)
    return read_tallies(stated, path.parent, SimpleNamespace(fruit_kg=4.0))


def block() -> str:
    return season().blocks[0].name


def hourly_csv() -> bytes:
    return first_lines(shipped("demo_weather", "low_quay_observed.csv"), 48)


def ensemble() -> bytes:
    return rows("member,time,air [degC]",
                lambda i: f"{i // 12},2026-10-05 {i % 12:02d}:00,{15 + i % 12}", 36)  # fmt: skip


def hours(count: int = 30, **columns: Any) -> pd.DataFrame:
    time = pd.date_range("2026-10-05", periods=count, freq="h", tz="UTC")
    return pd.DataFrame({"time": time, "air_c": [20.0 + i % 7 for i in range(count)], **columns})


def picks() -> bytes:
    return rows("block,date,plot,marketable [kg],marketable_g_per_plant,fruit_mass_g,event",
                lambda i: f"{block()},2026-12-{i + 1:02d},A,{i + 1},,20,", 20)  # fmt: skip


def visits() -> bytes:
    return rows(
        "block,date,plot,plants_seen,plants_in_bloom,green_fruit_per_plant,marketable [kg],"
        "not_picked,plants_lost_pct,lost_to,event",
        lambda i: f"{block()},2026-12-{i + 1:02d},A,40,{2 * i},{i}.5,{i},,1,hail,first pick",
        20,
    )


def plots() -> bytes:
    return rows(
        "season,replicate,film,cultivar,planting_date,sub_plot,yield [g]",
        lambda i: (
            f"2026,{1 + i % 4},{'black' if i // 4 % 2 else 'white'},"
            f"{'Marl' if i // 8 else 'Basalt'},2026-09-28,{i // 8},{400 + i}"
        ),
        16,
    )


SOUND: dict[str, tuple[Callable[[Path], object], Callable[[], bytes]]] = {
    "hourly CSV": (weather(stamp="start"), hourly_csv),
    "logger, units in the header": (
        weather(),
        lambda: first_lines(shipped("demo_weather", "low_quay_logger.csv"), 48),
    ),
    "clock of a zone": (
        weather(time_zone="Atlantic/Canary"),
        lambda: rows("when,air [degC]", lambda i: f"2026-10-{24 + i // 24} {i % 24}:00,20", 24),
    ),
    "time_format": (
        weather(time_format="%d/%m/%Y %H:%M", time_zone="UTC"),
        lambda: rows("time,air [degC]", lambda i: f"05/10/2026 {i:02d}:00,{10 + i}.5", 24),
    ),
    "clock of twelve hours": (
        weather(),
        lambda: rows(
            "time,air [degF],rain [in]",
            lambda i: f"25/10/2026 {i % 12 or 12}:00 {'AM' if i < 12 else 'PM'},{50 + i}.5,0.1",
            24,
        ),
    ),
    "columns of year, month, day and hour": (
        weather(), lambda: rows("year,month,day,hour,air [degC]", lambda i: f"2026,10,5,{i},20", 24)
    ),
    "daily CSV": (
        weather(),
        lambda: rows("date,air max [degC],air min [degC]",
                     lambda i: f"2026-10-{i + 1:02d},{20 + i},{10 + i}", 30),
    ),
    "ensemble": (members, ensemble),
    "EPW": (weather(), lambda: first_lines(shipped("demo_weather", "san_francisco_tmy3.epw"), 40)),
    "TMY3": (weather(), lambda: first_lines(DATA / "greensboro_february_tmy3.csv", 40)),
    "TMY2": (weather(), lambda: first_lines(DATA / "miami_january_tmy2.tm2", 40)),
    "GHCN fixed width": (weather(), (DATA / "ghcn_invented.dly").read_bytes),
    "GHCN by station": (weather(), (DATA / "ghcn_by_station_invented.csv").read_bytes),
    "GHCN access": (weather(), (DATA / "ghcn_access_invented.csv").read_bytes),
    "USCRN hourly": (weather(), (DATA / "uscrn_hourly_invented.txt").read_bytes),
    "USCRN daily": (weather(), (DATA / "uscrn_daily_invented.txt").read_bytes),
    "USCRN of five minutes": (
        weather(), lambda: first_lines(DATA / "uscrn_subhourly_tucson.txt", 40)
    ),
    "canopy cover": (
        table("canopy cover"),
        lambda: rows("date,cover [%]", lambda i: f"2026-10-{i + 1:02d},{i}", 30),
    ),
    "sensors": (
        table("sensor readings"),
        lambda: rows("block,time_utc,crown_c,soil_5cm_c [degF]",
                     lambda i: f"East,2026-10-05T{i:02d}:00Z,{20 + i},60", 24),
    ),
    "prices": (
        prices,
        lambda: rows("week,price_per_kg,low_per_kg,high_per_kg,currency",
                     lambda i: f"2027-W{i + 1:02d},3.{i},2,6,EUR", 20),
    ),
    "tallies": (
        tallies,
        lambda: rows("block,date,trays,picker_hours,pickers",
                     lambda i: f"{block()},2027-01-{i + 1:02d},{100 + 40 * i},{40 + 8 * i},8", 20),
    ),
    "picks": (records, picks),
    "records of the season": (season_records, visits),
    "trial": (trial, plots),
    "chamber": (
        chamber,
        lambda: rows("cultivar,temperature_c,photoperiod_h,days,plants,flowering,flowering_pct",
                     lambda i: f"Marl,{10 + i},10,21,12,{i},", 12),
    ),
}  # fmt: skip
SOUND_PARQUET: dict[str, tuple[Callable[[Path], object], Callable[[], bytes]]] = {
    "weather": (weather(), lambda: parquet(hours(note=["a text"] * 30))),
    "picks": (
        records,
        lambda: parquet(
            pd.DataFrame({"block": [block()] * 9,
                          "date": pd.date_range("2026-12-01", periods=9),
                          "marketable_g_per_plant": [10.0] * 9})
        ),
    ),
}  # fmt: skip


def changed(name: str, old: str | bytes, new: str | bytes) -> bytes:
    """A sound file with a text changed once."""
    content = SOUND[name][1]()
    old, new = (one if isinstance(one, bytes) else one.encode() for one in (old, new))
    assert old in content
    return content.replace(old, new, 1)


def with_line(name: str, number: int, line: str) -> bytes:
    """A sound file with a line, counted from 1, replaced."""
    lines = SOUND[name][1]().split(b"\n")
    lines[number - 1] = line.encode()
    return b"\n".join(lines)


def with_cell(name: str, row: int, column: int, text: str, mark: str | None = ",") -> bytes:
    """A sound file with a cell replaced, row from 1 and column from 0."""
    lines = SOUND[name][1]().decode().split("\n")
    cells = lines[row - 1].split(mark) if mark else lines[row - 1].split()
    cells[column] = text
    lines[row - 1] = (mark or " ").join(cells)
    return "\n".join(lines).encode()


def written(folder: Path, content: bytes) -> Path:
    """The file that a test reads."""
    place = folder / "file"
    place.write_bytes(content)
    return place
