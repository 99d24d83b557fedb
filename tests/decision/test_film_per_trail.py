"""A film on one trail changes that trail alone, from the layer to the answer."""

import numpy as np

from terrain.plan import plan_block
from tests import tiny_block

FILM = """
[[films]]
name = "wet clay film"
grip_cap = 0.12
source = "made up for the test"
"""


def test_a_film_on_one_trail_weakens_plain_tyres_there_alone(tmp_path):
    named = tiny_block.BLOCK.replace('id = "trail"\n', 'id = "trail"\nfilm = "surface"\n')
    slippery = tiny_block.trails().assign(surface=["wet clay film", None])
    dry = plan_block(tiny_block.write_block(tmp_path / "dry"))
    wet = plan_block(tiny_block.write_block(tmp_path / "wet", trails=slippery, block=named + FILM))
    on_film = (wet.stations["trail"] == "T1").to_numpy()
    assert set(wet.stations.loc[on_film, "film"]) == {"wet clay film"}
    assert set(wet.stations.loc[~on_film, "film"]) == {"bare mineral"}
    np.testing.assert_array_equal(wet.stations["film_grip_cap"], np.where(on_film, 0.12, np.nan))
    before = dry.evaluation.reserve[:, dry.evaluation.column("bare")]
    after = wet.evaluation.reserve[:, wet.evaluation.column("bare")]
    assert (after[on_film] < before[on_film]).all()
    np.testing.assert_array_equal(after[~on_film], before[~on_film])
    (row,) = [row for row in wet.statuses if row.name == "Surface film: wet clay film"]
    assert row.status == "user's figure: made up for the test"
