"""The keys of a block file about doubt: what is varied, by how much, and how often."""

from __future__ import annotations

from pydantic import Field

from terrain.errors import Issue
from terrain.inputs.toml_files import StrictTable
from terrain.models.settings import DoubtSettings

__all__ = ["ISSUE_CODES", "DoubtTable", "doubt_issues", "doubt_settings"]

ISSUE_CODES = {"DBT01": "a distance over which elevation errors hold together, without their size"}
"""Issue codes of this module and what they stand for."""


class DoubtTable(StrictTable):
    """``[doubt]``: what is varied to see how sure the answer is."""

    draws: int = Field(default=300, ge=50, le=5000, description="number of draws")
    seed: int = Field(
        default=1, ge=0, le=2**31 - 1, description="same seed, same draws: any whole number"
    )
    dem_error_m: float | None = Field(
        default=None,
        ge=0,
        le=10,
        description="vertical error of one cell, standard deviation, m; 0: taken as free of error",
    )
    dem_error_range_m: float | None = Field(
        default=None,
        gt=0,
        le=1000,
        description="errors farther apart are unrelated, metres; left out: from cell to cell",
    )
    payload_spread_percent: float | None = Field(
        default=None,
        ge=0,
        le=50,
        description="standard deviation of a load's mass, percent; 0: it does not vary",
    )
    density_spread_percent: float | None = Field(
        default=None,
        ge=0,
        le=50,
        description="standard deviation of the green density, percent; 0: it does not vary",
    )


def doubt_issues(table: DoubtTable, where: str) -> list[Issue]:
    """Say when a key stands without the one that it belongs to."""
    if table.dem_error_range_m is None or table.dem_error_m is not None:
        return []
    what = "dem_error_range_m is given without dem_error_m."
    fix = "Give dem_error_m, the error of one cell in metres, or take the range out."
    return [Issue("DBT01", "error", what, f"{where}, doubt.dem_error_range_m", fix)]


def doubt_settings(table: DoubtTable) -> DoubtSettings:
    """Settings of the run from the checked table."""
    return DoubtSettings(**table.model_dump())
