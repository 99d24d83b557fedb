"""``map_geo.pdf``: the map of the brief as a page that knows where it lies.

A map reader on a phone shows one's own position on it. The page has no margin: every part of it is
map, so that corners and coordinates agree. The position is written as ISO 32000-2 describes
(geospatial features); equal plans give equal bytes.
"""

from __future__ import annotations

import textwrap
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from terrain.decision.results import Plan
from terrain.outputs.brief_map import draw_map, map_window
from terrain.outputs.catalogue import catalogue
from terrain.outputs.page_parts import note_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MapFrame", "map_frame", "map_picture", "write_geopdf"]

_LONG_MM, _SHORT_MM, _DPI = 297.0, 210.0, 200  # one A4 side
_DRIVER = "PDF"
_FONT_PT = 8.0
_MADE = "D:20000101000000Z"  # the date that every file carries: nothing tells when it was made
_SIGNS = (
    "Thin line with arrows: trail and loaded travel. Grey and hatched: closed trail. Orange: weak "
    "stretch. Red with a cross: keep out, the setup to carry falls short. Yellow cross: water "
    "without a crossing, stop and ask. Triangle: landing. Square: crossing. Hatched blue: "
    "machine-free strip."
)
_LETTERS_IN_A_LINE = 120  # so that the box stays off the scale bar, on a standing page too


@dataclass(frozen=True, slots=True)
class MapFrame:
    """What the page covers, in metres of the working CRS, and its size in pixels."""

    west_m: float
    south_m: float
    east_m: float
    north_m: float
    columns: int
    rows: int


def map_frame(plan: Plan) -> MapFrame:
    """Return the frame round the trails in the shape of an A4 page.

    The page lies on its long or short side, whichever the trails fill better.
    """
    west, south, east, north = plan.trails.total_bounds
    lying = east - west >= north - south
    page = (_LONG_MM, _SHORT_MM) if lying else (_SHORT_MM, _LONG_MM)
    columns, rows = (round(side / 25.4 * _DPI) for side in page)
    west, south, east, north = map_window(
        plan, columns / rows, margin=0.10
    )  # room for the box of words
    return MapFrame(west, south, east, north, columns, rows)


def map_picture(plan: Plan, frame: MapFrame) -> NDArray[np.uint8]:
    """Draw the block into ``frame``; red, green and blue of shape (rows, columns, 3)."""
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update({"text.parse_math": False, "hatch.linewidth": 0.4})
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        figure = Figure(figsize=(frame.columns / _DPI, frame.rows / _DPI), dpi=_DPI)
        canvas = FigureCanvasAgg(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        window = (frame.west_m, frame.south_m, frame.east_m, frame.north_m)
        draw_map(axes, plan, window, catalogue("en"), _FONT_PT)
        _draw_words(axes, plan)
        canvas.draw()
        return np.asarray(canvas.buffer_rgba())[:, :, :3].copy()


def write_geopdf(plan: Plan, path: Path) -> bool:
    """Write the map to ``path``; False, and no file, where the library lacks the PDF driver."""
    import rasterio
    import rasterio.shutil
    from rasterio.io import MemoryFile
    from rasterio.transform import from_bounds

    with rasterio.Env() as environment:
        if _DRIVER not in environment.drivers():
            return False
    frame = map_frame(plan)
    picture = map_picture(plan, frame)
    place = from_bounds(
        frame.west_m, frame.south_m, frame.east_m, frame.north_m, frame.columns, frame.rows
    )
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff",
            width=frame.columns,
            height=frame.rows,
            count=3,
            dtype="uint8",
            crs=plan.dem.crs,
            transform=place,
            photometric="RGB",
        ) as target:
            target.write(np.moveaxis(picture, 2, 0))
            # as tags, because options lose their small letters on the way to the driver
            target.update_tags(
                TITLE=plan.name,
                SUBJECT=note_words(plan),
                CREATOR=f"Rutwise {plan.version}",
                CREATION_DATE=_MADE,
            )
        with memory.open() as source:
            rasterio.shutil.copy(
                source, path, driver=_DRIVER, DPI=_DPI, COMPRESS="DEFLATE", PREDICTOR=2
            )
    return True


def _draw_words(axes: Axes, plan: Plan) -> None:
    """Name, signs and the usual sentences in a box along the lower edge."""
    name = " ".join(plan.name.split())[:80]
    lines = [
        f"{name}. {plan.dem.crs[:40]}, top is grid north.",
        *textwrap.wrap(_SIGNS, _LETTERS_IN_A_LINE),
        *textwrap.wrap(note_words(plan), _LETTERS_IN_A_LINE),
    ]
    axes.text(
        0.99,
        0.012,
        "\n".join(lines),
        transform=axes.transAxes,
        ha="right",
        va="bottom",
        fontsize=5.5,
        wrap=True,
        bbox={"facecolor": "white", "edgecolor": "#10151c", "linewidth": 0.5, "alpha": 0.92},
        zorder=20,
    )
