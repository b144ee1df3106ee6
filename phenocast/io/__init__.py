"""Files in and out, and the manifest of a run.

Names are loaded when first used, so that a command that reads nothing loads neither pandas nor
pyarrow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from phenocast.lazily import names_from

if TYPE_CHECKING:
    from phenocast.io.atomic import OutputFolder, may_write, write_atomic
    from phenocast.io.chamber_trials import read_chamber_trials
    from phenocast.io.files import InputFile, read_bytes, read_text, sha256_of
    from phenocast.io.film_file import write_film
    from phenocast.io.harvest_records import (
        HarvestRecords,
        read_harvest_records,
        season_labels,
    )
    from phenocast.io.json_text import plain_data, plain_to_json, to_json
    from phenocast.io.manifest import (
        Manifest,
        check_outputs,
        check_rerun,
        read_manifest,
        write_manifest,
    )
    from phenocast.io.planning_files import read_prices, read_tallies
    from phenocast.io.season_file import (
        read_cultivars,
        read_film,
        read_season,
        season_inputs,
    )
    from phenocast.io.stated import Stated
    from phenocast.io.table_files import check_suffix, read_table, write_table
    from phenocast.io.templates import TEMPLATE_NAMES, template, template_file
    from phenocast.io.trial_records import TrialRecords, read_trial_records
    from phenocast.io.weather_file import read_weather, read_weather_as, read_weather_members
    from phenocast.io.weather_of_season import SeasonRecords, season_weather

_HOME = {
    "OutputFolder": "atomic",
    "may_write": "atomic",
    "write_atomic": "atomic",
    "InputFile": "files",
    "read_bytes": "files",
    "read_text": "files",
    "sha256_of": "files",
    "write_film": "film_file",
    "read_chamber_trials": "chamber_trials",
    "HarvestRecords": "harvest_records",
    "read_harvest_records": "harvest_records",
    "season_labels": "harvest_records",
    "plain_data": "json_text",
    "plain_to_json": "json_text",
    "to_json": "json_text",
    "Manifest": "manifest",
    "check_outputs": "manifest",
    "check_rerun": "manifest",
    "read_manifest": "manifest",
    "write_manifest": "manifest",
    "read_prices": "planning_files",
    "read_tallies": "planning_files",
    "read_cultivars": "season_file",
    "read_film": "season_file",
    "read_season": "season_file",
    "season_inputs": "season_file",
    "SeasonRecords": "weather_of_season",
    "season_weather": "weather_of_season",
    "Stated": "stated",
    "check_suffix": "table_files",
    "read_table": "table_files",
    "write_table": "table_files",
    "TEMPLATE_NAMES": "templates",
    "template": "templates",
    "template_file": "templates",
    "TrialRecords": "trial_records",
    "read_trial_records": "trial_records",
    "read_weather": "weather_file",
    "read_weather_as": "weather_file",
    "read_weather_members": "weather_file",
}

__all__ = [
    "TEMPLATE_NAMES",
    "HarvestRecords",
    "InputFile",
    "Manifest",
    "OutputFolder",
    "SeasonRecords",
    "Stated",
    "TrialRecords",
    "check_outputs",
    "check_rerun",
    "check_suffix",
    "may_write",
    "plain_data",
    "plain_to_json",
    "read_bytes",
    "read_chamber_trials",
    "read_cultivars",
    "read_film",
    "read_harvest_records",
    "read_manifest",
    "read_prices",
    "read_season",
    "read_table",
    "read_tallies",
    "read_text",
    "read_trial_records",
    "read_weather",
    "read_weather_as",
    "read_weather_members",
    "season_inputs",
    "season_labels",
    "season_weather",
    "sha256_of",
    "template",
    "template_file",
    "to_json",
    "write_atomic",
    "write_film",
    "write_manifest",
    "write_table",
]

__getattr__ = names_from(__name__, _HOME)
