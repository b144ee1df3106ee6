"""What several commands do alike: read a season with its weather, forecast it, write the files.

Every heavy import stands inside a function, so that naming a command costs nothing.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import KERNELS_KEPT, cache, io
from phenocast.cli.console import Progress, note, warn
from phenocast.errors import CAUTION, Fault, raise_any, refuse

if TYPE_CHECKING:
    from phenocast._typing import Progress as Tell
    from phenocast.forecast import SeasonForecast
    from phenocast.io import HarvestRecords
    from phenocast.season import Season, SeasonRecords
    from phenocast.weather import SeasonWeather

FIRST_RUN_NOTE = (
    "the first run on a machine compiles the hourly kernels, which takes up to a minute; "
    "later runs take seconds"
)
PATIENCE_S = 4.0
# Endings of weather files, which are at times given where the season file should be.
OF_WEATHER = (".csv", ".parquet", ".epw", ".tm2", ".dly")


def load(path: Path, records: Path | None = None) -> io.Loaded:
    """Season of a file, with its weather; ``records`` go before those that the file names.

    Raises
    ------
    InputError
        With every fault of the season and of the files it names.
    NoAnswerError
        Where more weather is missing than may be filled.
    """
    refuse(
        (
            path.suffix.lower() in OF_WEATHER and path.is_file(),
            Fault(
                "not a season file",
                where=str(path),
                value=path.suffix,
                allowed=".toml",
                do="a weather file is named inside a season file, under [weather]; "
                "`phenocast template season` shows one",
            ),
        )
    )
    loaded = io.load_season(path)
    if records is None:
        return loaded
    inputs = [one for one in loaded.inputs if one.role != "records"]
    inputs.append(io.InputFile("records", records))
    return replace(loaded, records=records, inputs=tuple(inputs))


def picks_of(records: Path, loaded: Mapping[str, io.Loaded]) -> HarvestRecords:
    """Records of picks, put to the seasons they are of; cautions about them are told at once."""
    read = io.read_harvest_records(records, {label: one.season for label, one in loaded.items()})
    for text in read.notes:
        if text.startswith(CAUTION):
            warn(text)
    return read


def season_records(loaded: io.Loaded, issued: date) -> SeasonRecords | None:
    """What was seen in a season up to the day of issue; None where no records are named."""
    if loaded.records is None:
        return None
    return io.read_season_records(loaded.records, loaded.season, issued)


def season_files(given: Sequence[Path]) -> tuple[Path, ...]:
    """Season files, a folder standing for every ``.toml`` file in it.

    Parameters
    ----------
    given : files and folders, in order.

    Raises
    ------
    InputError
        A folder without a season file.
    """
    found = [(path, sorted(path.glob("*.toml")) if path.is_dir() else [path]) for path in given]
    raise_any(
        [
            Fault("the folder holds no season file", str(path), allowed="*.toml")
            for path, inside in found
            if not inside
        ]
    )
    return tuple(file for _, inside in found for file in inside)


def default_issue_date(season: Season, weather: SeasonWeather) -> date:
    """Day that a forecast is issued as of where the user states none; no clock is read.

    Returns
    -------
    date
        The last complete local standard day of the observed weather; without observed weather,
        the day before the first planting.
    """
    from phenocast.weather.hourly import local_midnight_utc

    zone = season.site.time_zone
    if weather.observed is not None and len(weather.observed):
        last = weather.observed.time_utc[-1]
        day = date.fromisoformat(str(last)[:10]) + timedelta(days=1)  # a zone may be ahead of UTC
        while local_midnight_utc(day + timedelta(days=1), zone) > last + 1:
            day -= timedelta(days=1)
        if local_midnight_utc(day, zone) >= weather.observed.time_utc[0]:
            return day
    return min(block.planting_date for block in season.blocks) - timedelta(days=1)


def issue_date(loaded: io.Loaded, as_of: date | None) -> date:
    """Issue date of a run; one outside season or observed weather is told to the user."""
    from phenocast.forecast.advice import issue_doubts

    default = default_issue_date(loaded.season, loaded.weather)
    if as_of is None:
        return default
    for doubt in issue_doubts(loaded.season, loaded.weather, as_of):
        warn(doubt)
    if loaded.weather.observed is not None and as_of > default:
        warn(
            f"--as-of {as_of} is later than the observed weather, which ends with {default}; the "
            "days between are taken from the outlook and from past years"
        )
    return as_of


def season_weeks(season: Season) -> list[str]:
    """ISO weeks from the first planting to the last day of any block."""
    from phenocast.harvest.weeks import week_labels
    from phenocast.simulation.setup import block_setup

    start = min(block.planting_date for block in season.blocks)
    stop = max(block_setup(season, block).last_day for block in season.blocks)
    return week_labels(start, (stop - start).days + 1)[0]


@contextmanager
def patient_note() -> Iterator[Callable[[], None]]:
    """Say why it takes so long, if it does; the value is called when the first step is done."""
    text = FIRST_RUN_NOTE
    if not KERNELS_KEPT:
        text = (
            f"nothing can be written to the cache folder {cache.folder()}, so the kernels are "
            f"compiled in every run, up to a minute; name another folder by {cache.VARIABLE}"
        )
    timer = threading.Timer(PATIENCE_S, note, args=(f"still working: {text}",))
    timer.daemon = True
    timer.start()
    try:
        yield timer.cancel
    finally:
        timer.cancel()


@contextmanager
def watched(*, explain: bool = True) -> Iterator[Tell]:
    """Progress of long work on a terminal, and the note on why its first step takes so long.

    Parameters
    ----------
    explain : bool
        Say on standard error that kernels are compiled, where the first step takes long.
    """
    with Progress() as progress, patient_note() as started:
        if not explain:
            started()

        def tell(done: int, total: int, what: str) -> None:
            started()
            progress(done, total, what)

        yield tell


def season_forecast(
    loaded: io.Loaded, issued: date, draws: int, seed: int, *, explain: bool = True
) -> SeasonForecast:
    """Forecast of a season, with progress on a terminal; ``explain`` as in `watched`."""
    from phenocast.forecast import run_forecast

    records = season_records(loaded, issued)
    with watched(explain=explain) as tell:
        return run_forecast(
            loaded.told,
            loaded.weather,
            issue_date=issued,
            draws=draws,
            seed=seed,
            records=records,
            past=loaded.past,
            progress=tell,
        )


def forecast_document(
    loaded: io.Loaded, issued: date, draws: int, seed: int, *, explain: bool = True
) -> dict[str, Any]:
    """Forecast document of a season; see `season_forecast`."""
    result = season_forecast(loaded, issued, draws, seed, explain=explain)
    return io.plain_document(result.to_dict())


def document_warnings(document: dict[str, Any]) -> list[str]:
    """Warnings of a forecast: those of the season, then those of each block under its name."""
    told = list(document["warnings"])
    for block in document["blocks"]:
        told += [f"{block['block']}: {warning}" for warning in block["warnings"]]
    return told


def crown_rows(loaded: io.Loaded, issued: date) -> Any:
    """Hourly crown table of a season, a DataFrame; its course of weather stands in ``attrs``."""
    from phenocast.forecast import crown_table

    with patient_note():
        return crown_table(loaded.told, loaded.weather, issue_date=issued)


def crown_beds(loaded: io.Loaded, issued: date, table: Any) -> dict[str, Any]:
    """Crown document of a season: mean day and weeks of every bed, from its hourly table."""
    from phenocast.forecast.advice import issue_doubts
    from phenocast.forecast.crown_summary import crown_document

    told = loaded.told
    doubts = issue_doubts(told, loaded.weather, issued)
    told = replace(told, warnings=(*doubts, *told.warnings))
    until = _observed_until(loaded, issued)
    return io.plain_document(crown_document(told, table, issue_date=issued, observed_until=until))


def course_in_words(loaded: io.Loaded, issued: date, table: Any) -> str:
    """Weather that a crown table was made under."""
    course = str(table.attrs["course"])
    until = _observed_until(loaded, issued)
    if course == "observed" or until is None:
        return course
    return f"observed to {until}, then {course}"


def _observed_until(loaded: io.Loaded, issued: date) -> date | None:
    """Last observed day that a run may use; None where it is issued before all of them."""
    observed = loaded.weather.observed
    if observed is None or issued.isoformat() < str(observed.time_utc[0])[:10]:
        return None
    return min(issued, default_issue_date(loaded.season, loaded.weather))
