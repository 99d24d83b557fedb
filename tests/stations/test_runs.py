from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.stations.runs import order_along, runs_of

TABLE = pd.DataFrame(
    {"trail": ["B", "A", "A", "A"], "chainage_m": [2.5, 12.5, 2.5, 7.5], "length_m": 5.0}
)


def test_runs_do_not_depend_on_the_order_of_rows() -> None:
    runs = {(r.trail, r.number, r.start_m, r.end_m) for r in runs_of(TABLE, np.array([1, 3, 1, 1]))}
    assert runs == {("B", 1, 0.0, 5.0), ("A", 1, 0.0, 10.0), ("A", 3, 10.0, 15.0)}


def test_rows_of_a_run_ascend_along_the_trail_and_every_station_is_in_one() -> None:
    runs = runs_of(TABLE, np.array([True, False, True, True]))
    assert [(run.trail, run.rows.tolist()) for run in runs] == [
        ("B", [0]),
        ("A", [2, 3]),
        ("A", [1]),
    ]
    assert [run.length_m for run in runs] == [5.0, 10.0, 5.0]
    assert order_along(TABLE).tolist() == [0, 2, 3, 1]


def test_a_run_ends_with_its_trail_although_the_next_one_goes_on_alike() -> None:
    assert [run.trail for run in runs_of(TABLE, np.zeros(4, dtype=int))] == ["B", "A"]


def test_no_stations_no_runs() -> None:
    assert runs_of(TABLE.iloc[:0], np.array([], dtype=int)) == []
