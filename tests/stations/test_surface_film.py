"""Which film lies at a station: the trail's own, else the block's."""

import numpy as np
import pandas as pd

from terrain.models.settings import FilmCap, GroundSettings
from terrain.models.soil import SURFACE_FILMS
from terrain.stations.surface_film import film_at

LITTER = "litter or sod over firm ground"
GROUND = GroundSettings(
    film=LITTER,
    film_grip_cap=0.40,
    film_caps=(FilmCap("ice", 0.04, "published"), FilmCap(LITTER, 0.99, "stale")),
)


def trails(**films):
    index = pd.Index(list(films), name="trail", dtype=object)
    return pd.DataFrame({"film": pd.Series(list(films.values()), index=index, dtype=object)})


def at(names, table, ground=GROUND, index=None):
    stations = pd.DataFrame({"trail": names}, index=index)
    return film_at(stations, table, ground)


def test_own_film_before_that_of_the_block():
    table = trails(T1=None, T2="ice", T3="bare mineral")
    found = at(["T1", "T2", "T3", "T1"], table, index=[5, 3, 8, 1])
    assert found.index.tolist() == [5, 3, 8, 1]
    assert found["film"].tolist() == [LITTER, "ice", "bare mineral", LITTER]
    np.testing.assert_array_equal(found["film_grip_cap"], [0.40, 0.04, np.nan, 0.40])


def test_no_figure_stays_unknown():
    found = at(["T1"], trails(T1="wet clay film"))
    assert found["film"].tolist() == ["wet clay film"]
    assert np.isnan(found["film_grip_cap"]).all()


def test_trails_without_films_and_a_bare_block():
    found = at(["T1", "T2"], pd.DataFrame(index=["T1", "T2"]), GroundSettings())
    assert found["film"].tolist() == ["bare mineral"] * 2
    assert found["film_grip_cap"].isna().all()
    assert set(found["film"]) <= set(SURFACE_FILMS)


def test_no_stations():
    found = at([], trails(T1="ice"))
    assert found.shape == (0, 2)
