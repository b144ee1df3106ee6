"""The station year of the simulation's tests serves the forecast's as well."""

from tests.simulation.conftest import miami

__all__ = ["miami"]
