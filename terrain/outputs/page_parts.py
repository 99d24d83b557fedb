"""What map and report share: drawing classes, rows as dicts, and who forces the choice."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.results import Plan
from terrain.outputs.wording import DEFERRAL, INVENTED
from terrain.setups.standing import Standing

__all__ = [
    "PRESSURE_CLASSES",
    "RESERVE_CLASSES",
    "SLOPE_COLOURS",
    "SOIL_CLASS_WORDS",
    "USUAL",
    "DrawingClass",
    "classify",
    "environment",
    "invented_words",
    "keyed",
    "leading_setups",
    "lighter_setups",
    "note_words",
    "rows_of",
    "short_by_trail",
    "template_text",
    "without_geometry",
]


USUAL = Standing.USUAL.words
"""How the setup table writes usual practice."""


@dataclass(frozen=True, slots=True)
class DrawingClass:
    """How a class of stations is drawn: ``colour``, line ``width`` in pixels, ``dash`` pattern.

    ``upper`` is the upper edge of the class; a value on the edge belongs to the class above.
    """

    upper: float
    label: str
    colour: str
    width: float
    dash: str = ""


RESERVE_CLASSES: tuple[DrawingClass, ...] = (
    DrawingClass(np.nan, "not assessed", "#4a4a4a", 4.0, "2 8"),
    DrawingClass(0.0, "short: below 0 % (0°)", "#d55e00", 10.0),
    DrawingClass(0.05, "small: 0 to 5 % (0 to 3°)", "#e69f00", 7.0),
    DrawingClass(0.10, "some: 5 to 10 % (3 to 6°)", "#56b4e9", 5.5),
    DrawingClass(np.inf, "10 % (6°) and more", "#0072b2", 4.0),
)
"""Drawing classes of the traction reserve. The edges above zero are for the eye, no limits.

Colours after Okabe and Ito; the width differs too, so that the map reads in grey.
"""

PRESSURE_CLASSES: tuple[DrawingClass, ...] = (
    DrawingClass(np.nan, "not assessed", "#4a4a4a", 4.0, "2 8"),
    DrawingClass(0.8, "below 0.8 of the bearing capacity", "#00224e", 4.0),
    DrawingClass(1.0, "0.8 to 1", "#575d6d", 5.5),
    DrawingClass(1.25, "1 to 1.25: over", "#bcae6c", 7.5),
    DrawingClass(np.inf, "1.25 and more: far over", "#fee838", 10.0),
)
"""Drawing classes of the pressure ratio, cividis colours. Above 1 the pressure is over."""

SLOPE_COLOURS: tuple[str, ...] = ("#f3eef7", "#d3c3e0", "#a98bc4", "#77509b", "#40206b")
"""Slope classes, gentle to steep: one hue, evenly darker."""

SOIL_CLASS_WORDS = {1: "1 strong", 2: "2 average", 3: "3 soft", 4: "4 very soft"}
"""Soil sensitivity classes in words."""


def classify(values: NDArray[np.float64], classes: tuple[DrawingClass, ...]) -> NDArray[np.int64]:
    """Class number of each value; 0 where it is NaN."""
    edges = [item.upper for item in classes[1:-1]]
    return np.where(np.isnan(values), 0, np.searchsorted(edges, values, side="right") + 1)


def leading_setups(setups: pd.DataFrame, most: int = 8) -> list[int]:
    """Return the rows of the setup table worth a line of their own, in order.

    Every setup of usual practice, and the first ``most`` of the others, those that suit before
    those that do not.
    """
    usual = setups["standing"].to_numpy() == USUAL
    suits = setups["outcome"].to_numpy() != "does not suit"
    others = [*np.flatnonzero(~usual & suits), *np.flatnonzero(~usual & ~suits)]
    return sorted(int(row) for row in [*np.flatnonzero(usual), *others[:most]])


def short_by_trail(plan: Plan) -> pd.DataFrame:
    """Metres short of traction: rows are trails, columns are scored setups."""
    short = np.where(plan.evaluation.reserve < 0, 1.0, 0.0)
    weighted = short * plan.stations["length_m"].to_numpy(dtype=float)[:, None]
    table = pd.DataFrame(weighted, columns=list(plan.evaluation.setups))
    return table.groupby(plan.stations["trail"].astype(str).to_numpy(), sort=False).sum()


def lighter_setups(plan: Plan) -> list[str]:
    """Usual-practice setups with less added mass than the shown one, lightest first."""
    table = plan.ranking.setups
    if plan.ranking.shown not in set(table["setup"]):
        return []
    own = table.loc[table["setup"] == plan.ranking.shown, "added_mass_kg"].iloc[0]
    lighter = table[(table["standing"] == USUAL) & (table["added_mass_kg"] < own)]
    lighter = lighter.sort_values("added_mass_kg", kind="stable")
    return [str(name) for name in lighter["setup"] if name in plan.evaluation.setups]


def invented_words(plan: Plan) -> str:
    """Return the sentence for an invented block or machine; empty for real ones."""
    return INVENTED if plan.invented or plan.machine.invented else ""


def note_words(plan: Plan) -> str:
    """Return what every file says of itself: that the data is invented, and who decides."""
    return " ".join(filter(None, (invented_words(plan), DEFERRAL)))


def keyed(frame: pd.DataFrame, name: str) -> pd.DataFrame:
    """Return ``frame`` with the identifier ``name``, index or column, as its first column."""
    if name not in frame.columns:
        frame = frame.rename_axis(index=name).reset_index()
    return frame[[name, *(column for column in frame.columns if column != name)]]


def without_geometry(frame: pd.DataFrame) -> pd.DataFrame:
    """Return ``frame`` as a plain table."""
    return pd.DataFrame(frame.drop(columns="geometry", errors="ignore"))


def rows_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of ``frame`` as dicts; NA becomes NaN so that one test finds it."""
    plain = frame.astype(object).where(frame.notna(), np.nan)
    return [{str(key): value for key, value in row.items()} for row in plain.to_dict("records")]


def template_text(name: str) -> str:
    """Return the packaged template ``name``."""
    return resources.files("terrain.outputs").joinpath("templates", name).read_text("utf-8")


@cache
def environment() -> Any:
    """Return the Jinja environment: autoescape on, an undefined name is an error."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(template_text),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(deferral=DEFERRAL)
    return made
