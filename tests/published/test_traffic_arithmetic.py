"""Published and derived tables of trail share, volume per metre, passes and brash."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.decision.brash import brash_supply_kg_m2
from terrain.decision.exposure import trail_area
from terrain.decision.rule_check import share_verdict
from terrain.models.settings import TrafficSettings
from terrain.models.site_rules import rule_profiles, rule_texts
from terrain.sources import STATUSES, source
from terrain.stations.traffic import passes_for, trail_volumes
from tests.stations.networks import CRS, trails_of


@pytest.mark.parametrize(("spacing", "share"), [(20, 0.200), (30, 0.133), (40, 0.100)])
def test_share_of_the_area_in_trails(spacing, share):
    # own arithmetic, width over spacing; 30 and 40 m go with the 13.5 and 10 % of FSC Germany 2019
    import geopandas as gpd
    import pandas as pd
    from shapely.geometry import box

    lines = [[(0, y), (600, y)] for y in np.arange(spacing / 2, 600, spacing)]
    trails = trails_of(lines, [0] * len(lines))
    boundary = gpd.GeoDataFrame(geometry=[box(0, 0, 600, 600)], crs=CRS)
    area = trail_area(trails, pd.Series(4.0, index=trails.index), boundary)
    assert area.share == pytest.approx(share, abs=0.0005)
    assert area.outside_m == pytest.approx(0)


@pytest.mark.parametrize(
    ("per_ha", "width", "per_metre"),
    [(50, 20, 0.10), (70, 20, 0.14), (100, 20, 0.20), (200, 20, 0.40), (250, 20, 0.50),
     (300, 20, 0.60), (70, 40, 0.28)],
)  # fmt: skip
def test_volume_per_metre_of_trail(per_ha, width, per_metre):
    # own arithmetic: m3 per hectare x served width / 10 000
    trails = trails_of([[(0, 0), (1, 0)]], [np.nan])
    settings = TrafficSettings(volume_m3_per_ha=per_ha, served_width_m=width)
    assert trail_volumes(trails, settings)["volume_m3"].iloc[0] == pytest.approx(per_metre)


@pytest.mark.parametrize(
    ("payload", "branch", "main", "main_exact"),
    [(15.5, 7, 162, 161.3), (11.0, 10, 228, 227.3), (20.0, 5, 125, 125.0)],
)
def test_worked_example_of_passes(payload, branch, main, main_exact):
    # own arithmetic: 250 m3/ha at 20 m, branch of 200 m = 100 m3, block of 10 ha = 2500 m3.
    # 2500 / 15.5 = 161.3 is often written as 161 loads; the last third of a load is a load too.
    settings = TrafficSettings(volume_m3_per_ha=250, served_width_m=20)
    volume = trail_volumes(trails_of([[(0, 0), (200, 0)]], [np.nan]), settings)["volume_m3"].iloc[0]
    assert volume == pytest.approx(100)
    assert 2500 / payload == pytest.approx(main_exact, abs=0.05)
    passes = passes_for([volume, 2500], payload, harvester_passes=0)
    assert passes.loads.tolist() == [branch, main]
    assert passes.all.tolist() == [2 * branch, 2 * main]


@pytest.mark.parametrize(("residue", "mat"), [(9_100, 4.55), (31_000, 15.5)])
def test_brash_that_a_stand_can_give(residue, mat):
    # residue published: Uusitalo & Ala-Ilomäki 2013, table 1; mat by own arithmetic, 4 m at 20 m
    assert brash_supply_kg_m2(residue, 4, 20) == pytest.approx(mat, abs=0.005)
    assert np.isnan(brash_supply_kg_m2(residue, np.nan, 20))


@pytest.mark.parametrize(
    ("counts", "printed"),
    [((25, 3, 3, 5), (69.4, 8.3, 8.3, 13.9)), ((12, 9, 5, 5), (38.7, 29.0, 16.1, 16.1))],
)
def test_rows_of_the_finnish_table_of_damaged_stands_reproduce(counts, printed):
    # published: Silva Fennica article 10197, tables, after the grading of 1996: shares of stands
    # graded no ruts, under 10, 10 to 20, over 20 % of track length. The printed shares are those of
    # whole counts; our grading of such stands gives the same four groups.
    rule = rule_profiles()["finland_1996"]
    stands = np.repeat([0.0, 0.05, 0.15, 0.30], counts)
    grades = [share_verdict(rule, share, share, share) for share in stands]
    names = ["grade: no ruts", "grade: under 10 %", "grade: 10 to 20 %", "grade: over 20 %"]
    shares = [100 * grades.count(name) / len(grades) for name in names]
    assert shares == pytest.approx(printed, abs=0.05)


def test_conversions_in_the_rules():
    # own arithmetic on the printed figures
    profiles, texts = rule_profiles(), rule_texts()
    assert profiles["texas_bmp"].depth_mineral_cm == pytest.approx(6 * 2.54, abs=0.05)
    assert profiles["texas_bmp"].min_length_m == pytest.approx(50 * 0.3048, abs=0.05)
    # kept as printed although 18 degrees is no 30 %
    assert "18 degrees (30 %)" in texts["nz_slope"].text
    assert 100 * np.tan(np.radians(18)) == pytest.approx(32.5, abs=0.05)
    assert np.degrees(np.arctan(0.30)) == pytest.approx(16.7, abs=0.05)
    assert 100 * np.tan(np.radians([22, 26])) == pytest.approx([40.4, 48.8], abs=0.05)


@pytest.mark.parametrize("row", [*rule_profiles().values(), *rule_texts().values()], ids=str)
def test_every_rule_names_its_source(row):
    assert source(row.source).citation
    assert row.status in STATUSES
    assert row.where
    assert row.date


def test_the_profiles_that_were_read_are_all_there():
    assert set(rule_profiles()) == {
        "finland_1996", "finland_thinning", "quebec_45", "texas_bmp", "fiji_code", "sweden_2012",
        "fsc_germany", "bc_example", "usfs_15",
    }  # fmt: skip
    kinds = {text.kind for text in rule_texts().values()}
    assert kinds == {"wet weather", "slope"}
