"""How sure the answer is: closed-form cases, the verdict's own rule, what must never improve."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from terrain.decision.assessment import in_state
from terrain.decision.critical_strength import critical_inverse
from terrain.decision.doubt import doubt_about
from terrain.decision.doubt_answers import TrailPieces
from terrain.decision.doubt_draws import drawn_cone_index_kpa, make_world, varied_along
from terrain.decision.evaluation import evaluate, setup_facts
from terrain.decision.ranking import carry_over, measure_setups, rank_setups
from terrain.models.settings import DecisionSettings, DoubtSettings, GroundSettings, Settings
from tests.bench.bench_doubt import assessment_of
from tests.builders import forwarder, stations

Z95 = 1.6448536269514722
STRICT = Settings(decision=DecisionSettings(measures_share_max=0.0))
SPREADS = DoubtSettings(
    draws=200, dem_error_m=0.08, payload_spread_percent=8.0, density_spread_percent=5.0
)


def ground(likely, low=0.7, high=1.4, state="moist", **more):
    """States table; low and high as factors on the likely cone index."""
    likely = np.asarray(likely, float)
    frame = pd.DataFrame(
        {
            "cone_index_kpa": likely,
            "cone_index_low_kpa": low * likely,
            "cone_index_high_kpa": high * likely,
            "bearing_kpa": 100.0,
        }
    )
    return {state: frame, **more}


def trails(grade, polygon=None, trail=None, cross=0.0):
    made = stations(grade=np.asarray(grade, float), cross_slope=cross)
    made["soil_polygon"] = ["S1"] * len(made) if polygon is None else polygon
    if trail is not None:
        made["trail"] = trail
    return made


def doubt_on(table, states, settings, setups=2, pieces=None):
    """Doubt of the first setups of the invented forwarder, all taken as usual practice."""
    chosen = in_state(table, states[settings.ground.state])
    found = assessment_of(chosen, states, settings, forwarder(), setups)
    return doubt_about(chosen, states, found, settings, 1.0, pieces=pieces)


def chance(doubt, setup, state="moist"):
    row = doubt.block[(doubt.block["setup"] == setup) & (doubt.block["state"] == state)]
    return float(row["chance"].iloc[0])


@lru_cache
def critical_kpa(grade=0.25, setups=4):
    """Critical cone index of the first setups on one grade, kPa."""
    found = assessment_of(
        in_state(trails([grade]), ground([400.0])["moist"]),
        ground([400.0]),
        STRICT,
        forwarder(),
        setups,
    )
    inverse = critical_inverse(trails([grade]), found.items, STRICT, 1.0, 50_000.0)
    return dict(zip(found.evaluation.setups, 1 / inverse[0], strict=True))


def test_the_chance_is_that_of_the_closed_form():
    """One polygon, one binding station: P(strength >= critical), a normal in its logarithm."""
    bare = critical_kpa()["bare"]
    settings = replace(STRICT, doubt=DoubtSettings(draws=4000))
    for share, low, high in ((0.85, 0.8, 1.5), (1.0, 0.9, 1.2), (1.1, 0.85, 1.4)):
        likely = share * bare
        table, states = trails([0.25, 0.0]), ground([likely] * 2, low, high)
        doubt = doubt_on(table, states, settings, setups=4)
        width = np.log(high) if bare > likely else -np.log(low)
        p = 1 - norm.cdf(Z95 * np.log(bare / likely) / width)
        error = 4 * np.sqrt(p * (1 - p) / 4000)  # four binomial standard errors
        assert chance(doubt, "bare") == pytest.approx(p, abs=error)
        row = doubt.block.iloc[0]
        assert row["low"] < row["chance"] < row["high"]
        lead = doubt.leaders.set_index("setup")["chance"]
        assert lead["bare"] == chance(doubt, "bare")
        assert lead.sum() == pytest.approx(1.0)


def test_readings_settle_what_the_closed_form_says():
    """Two normals of correlation r differ in sign with chance 1/2 - asin(r)/pi (Sheppard 1899).

    Three places beside a class figure that is worth three: r = 1/2, and a third is settled.
    """
    bare = critical_kpa()["bare"]
    settings = replace(STRICT, doubt=DoubtSettings(draws=4000))
    doubt = doubt_on(trails([0.25, 0.0]), ground([bare] * 2, 0.8, 1.25), settings, setups=4)
    shown = doubt.sources
    if shown.empty:  # at the middle the candidate may be either setup
        pytest.fail("the shown setup must be in doubt here")
    assert shown["polygon"].tolist() == ["S1"]
    assert shown["share"].tolist() == [1.0]
    # 4000 pairs both ways: a standard error below 0.02
    assert shown["settled"].iloc[0] == pytest.approx(2 * np.arcsin(0.5) / np.pi, abs=0.06)
    assert "all the doubt is the soil strength of polygon S1" in doubt.sentence
    assert "about 35 %" in doubt.measure_next
    assert "polygon S1" in doubt.measure_next


def mixed_block(seed=0, n=40):
    """Stations on three polygons and four trails, some of them binding."""
    rng = np.random.default_rng(seed)
    polygon = np.array(["A", "B", "C"])[np.arange(n) * 3 // n]
    trail = np.array(["T1", "T2", "T3", "T4"])[np.arange(n) * 4 // n]
    table = trails(rng.normal(0, 0.12, n), polygon, trail, rng.normal(0, 0.06, n))
    likely = np.array([600.0, 420.0, 300.0])[np.arange(n) * 3 // n]
    return table, {
        **ground(likely, state="moist"),
        **ground(0.7 * likely, state="wet"),
    }


@pytest.mark.parametrize("state", ["moist", "wet"])
def test_every_draw_is_judged_as_the_verdict_is(state):
    """Put drawn strengths through evaluate, measure_setups, carry_over and rank_setups."""
    table, states = mixed_block()
    settings = Settings(
        doubt=DoubtSettings(draws=60, seed=4),
        ground=GroundSettings(state=state),
        decision=DecisionSettings(measures_share_max=0.5 if state == "wet" else 0.05),
    )
    chosen = in_state(table, states[state])
    found = assessment_of(chosen, states, settings, forwarder(), 8)
    doubt = doubt_about(chosen, states, found, settings, 1.0)
    varied = varied_along(chosen, settings.doubt, 1.0, 5.0)
    world = make_world(varied, 60, 4)
    meets, alone, candidates = np.zeros(8), np.zeros(8), []
    for d in range(60):
        by_state = {}
        for name in ("moist", "wet"):
            figures = (states[name][f"cone_index_{end}kpa"] for end in ("low_", "", "high_"))
            cone = drawn_cone_index_kpa(*figures, world.soil[varied.polygon_of, d])
            drawn = in_state(table, states[name]).assign(cone_index_kpa=cone)
            evaluation, work = evaluate(drawn, found.items, settings)
            by_state[name] = measure_setups(evaluation, drawn, settings.decision)
        alone += (by_state[state]["outcome"] != "does not suit").to_numpy()
        measures = carry_over(by_state)[state]
        meets += (measures["outcome"] != "does not suit").to_numpy()
        facts = setup_facts(found.items, work).assign(
            description="", standing="usual practice", standing_codes=""
        )
        candidates.append(rank_setups(facts, measures, pd.DataFrame(), 1.0).candidate or "none")
    here = doubt.block[doubt.block["state"] == state]
    assert here["chance"].to_numpy() == pytest.approx(meets / 60, abs=1e-12)
    lead = doubt.leaders.set_index("setup")["chance"]
    for name in lead.index:
        assert lead[name] == pytest.approx(candidates.count(name) / 60, abs=1e-12)
    assert meets.max() > 0
    assert meets.min() < 60
    assert (alone > meets).any() == (state == "wet")  # the drier state takes some away


@pytest.mark.parametrize("spreads", [DoubtSettings(draws=200), SPREADS])
def test_the_same_seed_gives_the_same_bytes_and_another_nearly_the_same(spreads):
    table, states = mixed_block()
    settings = Settings(doubt=spreads)
    one, same = (doubt_on(table, states, settings, 6) for _ in range(2))
    for name in ("block", "trails", "sources", "leaders"):
        assert getattr(one, name).to_csv() == getattr(same, name).to_csv()
    assert (one.sentence, one.measure_next, one.counted) == (
        same.sentence,
        same.measure_next,
        same.counted,
    )
    other = doubt_on(table, states, replace(settings, doubt=replace(spreads, seed=9)), 6)
    p, q = one.block["chance"].to_numpy(), other.block["chance"].to_numpy()
    assert (p != q).any()
    middle = (p + q) / 2
    error = np.sqrt(2 * middle * (1 - middle) / 200)
    assert (np.abs(p - q) <= 4 * error + 1e-9).all()  # four standard errors of a difference


@pytest.mark.parametrize("spreads", [DoubtSettings(draws=200), SPREADS])
def test_stronger_soil_never_lowers_a_chance(spreads):
    """With no metres left to measures; a metre that none passes could spoil nobody's answer."""
    table, states = mixed_block()
    settings = replace(STRICT, doubt=spreads)
    before = None
    for factor in (0.8, 1.0, 1.15, 1.5):
        stronger = {
            name: frame.assign(
                **{c: frame[c] * factor for c in frame.columns if c.startswith("cone")}
            )
            for name, frame in states.items()
        }
        doubt = doubt_on(table, stronger, settings, 6)
        found = np.concatenate([doubt.block["chance"], doubt.trails["chance"]])
        if before is not None:
            assert (found >= before - 1e-12).all()
        before = found
    assert before is not None
    assert before.max() > 0


@pytest.mark.parametrize("spreads", [DoubtSettings(draws=200), SPREADS])
def test_unknown_soil_never_improves(spreads):
    """Stations that pass lose their soil: no chance rises, and their trail gets none."""
    table, states = mixed_block()
    settings = Settings(doubt=spreads)
    known = doubt_on(table, states, settings, 6)
    chosen = in_state(table, states["moist"])
    items = assessment_of(chosen, states, settings, forwarder(), 6).items
    reserve = evaluate(chosen, items, settings)[0].reserve
    easy = (reserve > 0.25).all(axis=1) & (table["trail"] == "T1").to_numpy()
    assert 2 <= easy.sum() < 20
    blind = {name: frame.where(pd.Series(~easy), axis=0) for name, frame in states.items()}
    unknown = doubt_on(table, blind, settings, 6)
    assert (unknown.block["chance"] <= known.block["chance"] + 1e-12).all()
    first = unknown.trails[unknown.trails["trail"] == "T1"]["chance"]
    assert (first.isna() | (first == 0)).all()
    rest = unknown.trails["trail"] != "T1"
    assert unknown.trails[rest]["chance"].tolist() == known.trails[rest]["chance"].tolist()
    assert any(f"{5 * easy.sum()} m without" in text for text in unknown.counted)


def test_nothing_assessed_is_said():
    table = trails([0.1, 0.2])
    doubt = doubt_on(table, ground([np.nan, np.nan]), Settings(doubt=SPREADS))
    assert doubt.block["chance"].isna().all()
    assert doubt.trails["chance"].isna().all()
    assert doubt.sentence.startswith("Too much is not assessed")
    assert doubt.measure_next == ""
    assert doubt.sources.empty
    assert doubt.leaders["chance"].isna().all()


def test_a_sure_answer_is_told_with_the_number_of_draws():
    doubt = doubt_on(trails([0.0, 0.02]), ground([900.0] * 2), Settings(doubt=DoubtSettings(150)))
    assert chance(doubt, "bare") == 1.0
    assert doubt.sentence.startswith("With bare, the need is met in all 150 random draws.")
    assert "passed in fewer draws" not in doubt.sentence
    assert doubt.measure_next == ""
    assert doubt.sources.empty
    low = doubt.block["low"].iloc[0]
    assert 0.95 < low < 1.0  # not even 150 of 150 is certainty


def test_a_hopeless_answer_is_told_too():
    doubt = doubt_on(trails([0.0, 0.8]), ground([900.0] * 2), STRICT)
    assert chance(doubt, "bare") == 0.0
    assert "none of 300 random draws" in doubt.sentence
    assert doubt.leaders["setup"].iloc[0] == "none"


def test_shares_of_the_doubt_sum_to_one_and_name_the_polygon_that_makes_it():
    bare = critical_kpa()["bare"]
    table = trails([0.25, 0.0, 0.0], ["S1", "S2", "S2"])
    states = ground(np.array([1.05 * bare, 900.0, 900.0]), 0.8, 1.25)
    settings = replace(STRICT, doubt=replace(SPREADS, draws=400))
    doubt = doubt_on(table, states, settings, 4)
    found = doubt.sources.set_index("kind")["share"]
    assert found.sum() == pytest.approx(1.0)
    assert found.is_monotonic_decreasing
    assert (found >= 0).all()
    assert set(found.index) <= {"soil strength", "elevation", "load", "timber density"}
    assert doubt.sources["polygon"].iloc[0] == "S1"
    assert "S2" not in doubt.sources["polygon"].tolist() or (
        doubt.sources.set_index("polygon")["share"]["S2"] == 0
    )
    assert doubt.sources[doubt.sources["kind"] != "soil strength"]["settled"].isna().all()
    assert doubt.sources["settled"].dropna().between(0, 1).all()


def test_what_is_not_given_is_not_varied_and_said_so():
    table, states = mixed_block()
    plain = " ".join(doubt_on(table, states, Settings(doubt=DoubtSettings(60))).counted)
    assert "Height errors of the elevation model: not counted" in plain
    assert "Mass of the load from load to load: not counted" in plain
    assert "Green density of the timber: not counted" in plain
    full = " ".join(doubt_on(table, states, Settings(doubt=SPREADS)).counted)
    assert "0.08 m a cell" in full
    assert "8 %" in full
    assert "5 %" in full
    assert "never heavier than the ratings allow" in full


def test_frozen_ground_counts_only_with_verified_frost():
    table, states = mixed_block()
    states = {**states, "frozen": states["moist"]}
    assert "frozen" not in set(doubt_on(table, states, Settings()).block["state"])
    verified = Settings(ground=GroundSettings("frozen", frost_depth_m=0.3))
    doubt = doubt_on(table, states, verified, 6)
    assert "frozen" in set(doubt.block["state"])
    assert doubt.sources["settled"].isna().all()
    assert doubt.measure_next == ""


def test_a_station_unknown_in_one_state_counts_in_the_others_only():
    """The same chances as without it where it is unknown, and as before where it is known."""
    table, states = mixed_block()
    settings = Settings(doubt=DoubtSettings(draws=200))
    gone = np.arange(len(table)) == int(np.argmax(table["grade"]))
    blind = {**states, "moist": states["moist"].where(pd.Series(~gone), axis=0)}
    unknown = doubt_on(table, blind, settings, 6).block
    left = table[~gone].reset_index(drop=True)
    cut = {name: frame[~gone].reset_index(drop=True) for name, frame in states.items()}
    without, before = (
        doubt_on(*pair, settings, 6).block for pair in ((left, cut), (table, states))
    )
    moist = unknown["state"] == "moist"
    assert unknown[moist]["chance"].tolist() == without[moist]["chance"].tolist()
    assert unknown[~moist]["chance"].tolist() == before[~moist]["chance"].tolist()
    assert unknown[moist]["chance"].tolist() != before[moist]["chance"].tolist()


def test_a_lighter_setup_that_may_do_is_spoken_of():
    bare = critical_kpa()["bare"]
    table, states = trails([0.25, 0.0]), ground([0.97 * bare] * 2, 0.8, 1.25)
    doubt = doubt_on(table, states, replace(STRICT, doubt=DoubtSettings(draws=400)), setups=4)
    assert chance(doubt, "bare") > 0.2
    assert not doubt.sentence.startswith("With bare,")  # it falls short at the likely strength
    times = f"{chance(doubt, 'bare') * 400:.0f} of 400"
    assert f"With bare, the need is met in {times} random draws; all the doubt" in doubt.sentence
    assert "polygon S1" in doubt.sentence


def random_ways(table, seed):
    """Every trail one piece; the way to the landing of each runs over some of the others."""
    codes, names = pd.factorize(table["trail"])
    alone = np.eye(len(names), dtype=bool)
    ways = alone | (np.random.default_rng(seed).random(alone.shape) < 0.4)
    return TrailPieces(tuple(names), codes, alone, ways)


@pytest.mark.parametrize("seed", range(6))
def test_a_way_to_the_landing_never_raises_a_chance(seed):
    """Bounds of the chance that several things hold at once (Frechet bounds, from memory)."""
    table, states = mixed_block(seed)
    settings = Settings(doubt=DoubtSettings(draws=100))
    without = doubt_on(table, states, settings, 6).trails
    pieces = random_ways(table, seed)
    doubt = doubt_on(table, states, settings, 6, pieces)
    found = doubt.trails
    assert found["alone"].tolist() == without["alone"].tolist() == without["chance"].tolist()
    assert (found["chance"] <= found["alone"]).all()
    by_trail = found.pivot_table(index="trail", columns="setup", values=["chance", "alone"])
    for name, needed in zip(pieces.trails, pieces.with_way, strict=True):
        each = by_trail["alone"].loc[np.array(pieces.trails)[needed]]
        whole = by_trail["chance"].loc[name]
        assert (whole <= each.min() + 1e-12).all()
        assert (whole >= 1 - (1 - each).sum() - 1e-12).all()
    assert (found["chance"] < found["alone"]).any()
    assert doubt.block.equals(doubt_on(table, states, settings, 6).block)


def test_a_way_that_is_not_assessed_leaves_the_trail_unknown():
    table, states = mixed_block()
    gone = (table["trail"] == "T4").to_numpy()
    blind = {name: frame.where(pd.Series(~gone), axis=0) for name, frame in states.items()}
    alone = np.eye(4, dtype=bool)
    ways = alone.copy()
    ways[0, 3] = True
    pieces = TrailPieces(("T1", "T2", "T3", "T4"), pd.factorize(table["trail"])[0], alone, ways)
    found = doubt_on(table, blind, Settings(), 6, pieces).trails
    first = found[found["trail"] == "T1"]
    assert first["alone"].notna().all()
    assert (first["chance"].isna() == (first["alone"] > 0)).all()


def test_a_spread_of_nothing_is_no_spread_and_said_so():
    table, states = mixed_block()
    nothing = DoubtSettings(
        60, dem_error_m=0.0, payload_spread_percent=0.0, density_spread_percent=0.0
    )
    zero = doubt_on(table, states, Settings(doubt=nothing))
    assert zero.block.equals(doubt_on(table, states, Settings(doubt=DoubtSettings(60))).block)
    told = " ".join(zero.counted)
    assert "not counted, n" not in told
    assert "taken as none, 0 m is given" in told
    assert told.count("taken as known exactly, a spread of 0 is given") == 2
