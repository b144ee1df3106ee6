"""Files in and out, and the manifest of a run.

Names are loaded when first used, so that a command that reads nothing loads neither pandas nor
pyarrow.
"""

from typing import TYPE_CHECKING

from phenocast.lazily import names_from

if TYPE_CHECKING:
    from phenocast.io.files import InputFile, read_bytes, read_text, sha256_of
    from phenocast.io.output.fit_folder import checkpoint, read_fit, write_film, write_fit_files
    from phenocast.io.output.folder import OutputFolder, may_write, write_atomic
    from phenocast.io.output.json_text import plain_data, plain_document, plain_to_json, to_json
    from phenocast.io.output.manifest import (
        Manifest,
        check_outputs,
        check_rerun,
        read_manifest,
        write_manifest,
    )
    from phenocast.io.planning_files import (
        TrialRecords,
        read_prices,
        read_tallies,
        read_trial_records,
    )
    from phenocast.io.records import (
        HarvestRecords,
        read_chamber_trials,
        read_harvest_records,
        season_labels,
    )
    from phenocast.io.season_file import (
        Loaded,
        hourly,
        load_season,
        read_cultivars,
        read_film,
        read_season,
        season_from_frames,
        season_inputs,
    )
    from phenocast.io.season_records import read_season_records
    from phenocast.io.tables import check_suffix, read_table, write_table
    from phenocast.io.templates import TEMPLATE_NAMES, template, template_file
    from phenocast.io.weather.clock import Stated
    from phenocast.io.weather.read import read_weather, read_weather_as, read_weather_members
    from phenocast.io.weather.season import SeasonWeatherRecords, season_weather

_HOME = {
    "Loaded": "season_file",
    "hourly": "season_file",
    "load_season": "season_file",
    "season_from_frames": "season_file",
    "OutputFolder": "output.folder",
    "may_write": "output.folder",
    "write_atomic": "output.folder",
    "InputFile": "files",
    "read_bytes": "files",
    "read_text": "files",
    "sha256_of": "files",
    "write_film": "output.fit_folder",
    "checkpoint": "output.fit_folder",
    "read_fit": "output.fit_folder",
    "write_fit_files": "output.fit_folder",
    "read_chamber_trials": "records",
    "HarvestRecords": "records",
    "read_harvest_records": "records",
    "season_labels": "records",
    "plain_data": "output.json_text",
    "plain_document": "output.json_text",
    "plain_to_json": "output.json_text",
    "to_json": "output.json_text",
    "Manifest": "output.manifest",
    "check_outputs": "output.manifest",
    "check_rerun": "output.manifest",
    "read_manifest": "output.manifest",
    "write_manifest": "output.manifest",
    "read_prices": "planning_files",
    "read_tallies": "planning_files",
    "read_cultivars": "season_file",
    "read_film": "season_file",
    "read_season": "season_file",
    "season_inputs": "season_file",
    "read_season_records": "season_records",
    "SeasonWeatherRecords": "weather.season",
    "season_weather": "weather.season",
    "Stated": "weather.clock",
    "check_suffix": "tables",
    "read_table": "tables",
    "write_table": "tables",
    "TEMPLATE_NAMES": "templates",
    "template": "templates",
    "template_file": "templates",
    "TrialRecords": "planning_files",
    "read_trial_records": "planning_files",
    "read_weather": "weather.read",
    "read_weather_as": "weather.read",
    "read_weather_members": "weather.read",
}

__all__ = [
    "TEMPLATE_NAMES",
    "HarvestRecords",
    "InputFile",
    "Loaded",
    "Manifest",
    "OutputFolder",
    "SeasonWeatherRecords",
    "Stated",
    "TrialRecords",
    "check_outputs",
    "check_rerun",
    "check_suffix",
    "checkpoint",
    "hourly",
    "load_season",
    "may_write",
    "plain_data",
    "plain_document",
    "plain_to_json",
    "read_bytes",
    "read_chamber_trials",
    "read_cultivars",
    "read_film",
    "read_fit",
    "read_harvest_records",
    "read_manifest",
    "read_prices",
    "read_season",
    "read_season_records",
    "read_table",
    "read_tallies",
    "read_text",
    "read_trial_records",
    "read_weather",
    "read_weather_as",
    "read_weather_members",
    "season_from_frames",
    "season_inputs",
    "season_labels",
    "season_weather",
    "sha256_of",
    "template",
    "template_file",
    "to_json",
    "write_atomic",
    "write_film",
    "write_fit_files",
    "write_manifest",
    "write_table",
]

__getattr__ = names_from(__name__, _HOME)
