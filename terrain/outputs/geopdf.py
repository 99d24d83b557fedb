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
import shapely
from numpy.typing import NDArray

from terrain.decision.results import Plan
from terrain.outputs.brief_labels import Box
from terrain.outputs.brief_map import draw_map, map_window
from terrain.outputs.catalogue import catalogue
from terrain.outputs.page_parts import note_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MapFrame", "map_frame", "map_picture", "words_place", "write_geopdf"]

_LONG_MM, _SHORT_MM, _DPI = 297.0, 210.0, 200  # one A4 side
_DRIVER = "PDF"
_FONT_PT = 8.0
_MADE = "D:20000101000000Z"  # the date that every file carries: nothing tells when it was made
_SIGNS = (
    "Thin line with arrows: trail and loaded travel. Grey and hatched: closed trail. Orange: weak "
    "stretch. Red with a cross: keep out, the setup to carry falls short. Yellow cross: water "
    "without a crossing, stop and ask. Triangle: landing. Square: crossing. Hatched blue: "
    "machine-free strip. Dashes and dots: edge of the block. Thin grey-brown: contour."
)
_LETTERS_IN_A_LINE = 120  # so that the box stays off the scale bar, on a standing page too
_WORDS_PT, _PAD_PT, _EDGE_PT = 5.5, 3.0, 6.0
_SCALE_BAR_PT, _ARROW_PT = 5 * _FONT_PT, 6 * _FONT_PT  # room that the map's own furniture takes
_CLEAR_PT = 6.0
"""How far trails stay from the box of words."""
_MARGINS = tuple(0.10 + 0.02 * k for k in range(16))


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

    The page lies on its long or short side, whichever the trails fill better. It grows until the
    box of words has a place where it hides neither trail nor landing, see :func:`words_place`.
    """
    west, south, east, north = plan.trails.total_bounds
    lying = east - west >= north - south
    page = (_LONG_MM, _SHORT_MM) if lying else (_SHORT_MM, _LONG_MM)
    columns, rows = (round(side / 25.4 * _DPI) for side in page)
    frame = None
    for margin in _MARGINS:
        frame = MapFrame(*map_window(plan, columns / rows, margin=margin), columns, rows)
        if words_place(plan, frame)[1] == 0:
            break
    assert frame is not None
    return frame


def words_place(plan: Plan, frame: MapFrame) -> tuple[Box, int]:
    """Where the box of words lies on the page, and how many points of trails it would hide.

    The box is left, bottom, right, top in shares of width and height. Corners are tried in turn:
    lower right, upper left, lower left above the scale bar, upper right below the arrow.
    """
    width, height = frame.columns * 72 / _DPI, frame.rows * 72 / _DPI
    wide, high = _words_size_pt(plan)
    wide, high = min(wide, width), min(high, height)
    right, top = width - _EDGE_PT - wide, height - _EDGE_PT - high
    corners = (
        (right, _EDGE_PT),
        (_EDGE_PT, top),
        (_EDGE_PT, _EDGE_PT + _SCALE_BAR_PT),
        (right, top - _ARROW_PT),
    )
    x, y = _points_to_see(plan)
    x = (x - frame.west_m) / (frame.east_m - frame.west_m) * width
    y = (y - frame.south_m) / (frame.north_m - frame.south_m) * height
    found = []
    for left, bottom in corners:
        near = _CLEAR_PT
        hidden = (x > left - near) & (x < left + wide + near)
        hidden &= (y > bottom - near) & (y < bottom + high + near)
        found.append(int(hidden.sum()))
    best = min(range(len(corners)), key=lambda k: found[k])
    left, bottom = corners[best]
    box = (left / width, bottom / height, (left + wide) / width, (bottom + high) / height)
    return box, found[best]


def _points_to_see(plan: Plan) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points along trails, the landings, and the emergency point, in metres."""
    shapes = [shapely.segmentize(shape, 5.0) for shape in plan.trails.geometry.values]
    shapes += list(plan.landings.geometry.values)
    if plan.emergency is not None:
        shapes.append(shapely.Point(plan.emergency.x_m, plan.emergency.y_m))
    x, y = shapely.get_coordinates(shapes).T
    return x, y


def _words(plan: Plan) -> str:
    """Name, signs and the usual sentences, in lines."""
    name = " ".join(plan.name.split())[:80]
    lines = [
        f"{name}. {plan.dem.crs[:40]}, top is grid north.",
        *textwrap.wrap(_SIGNS, _LETTERS_IN_A_LINE),
        *textwrap.wrap(note_words(plan), _LETTERS_IN_A_LINE),
    ]
    return "\n".join(lines)


def _words_size_pt(plan: Plan) -> tuple[float, float]:
    """Width and height of the box of words, in points, as it will be drawn."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        figure = Figure(figsize=(20, 10), dpi=_DPI)
        text = figure.text(0, 0, _words(plan), fontsize=_WORDS_PT, parse_math=False)
        extent = text.get_window_extent(FigureCanvasAgg(figure).get_renderer())
    return (
        float(extent.width) * 72 / _DPI + 2 * _PAD_PT,
        float(extent.height) * 72 / _DPI + 2 * _PAD_PT,
    )


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
        box, _ = words_place(plan, frame)
        draw_map(axes, plan, window, catalogue("en"), _FONT_PT, covered=(box,))
        _draw_words(axes, plan, box)
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


def _draw_words(axes: Axes, plan: Plan, box: Box) -> None:
    """Name, signs and the usual sentences in ``box``, above all of the map."""
    from matplotlib.patches import Rectangle

    left, bottom, right, top = box
    axes.add_patch(
        Rectangle(
            (left, bottom),
            right - left,
            top - bottom,
            transform=axes.transAxes,
            facecolor="white",
            edgecolor="#10151c",
            linewidth=0.5,
            alpha=0.92,
            zorder=20,
        )
    )
    axes.annotate(
        _words(plan),
        (left, top),
        (_PAD_PT, -_PAD_PT),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="left",
        va="top",
        fontsize=_WORDS_PT,
        zorder=21,
    )
