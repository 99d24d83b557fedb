"""Laws of the rulebook that hold for any catalogue and any machine layout."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from terrain.models.aids import Aid
from terrain.setups.combinations import enumerate_setups
from terrain.setups.rulebook import Standing, judge, judge_all
from tests.setups._machines import LAYOUTS, SIZE, TYRE, group, machine

kinds = st.sampled_from(["chains", "wheel track", "band track", "dual tyres"])
maybe = st.one_of(st.none(), st.floats(0.4, 2.0), st.just(float("nan")))
sizes = st.sampled_from([(), (SIZE,), ("600/50-22.5",), ("600/50-22.5", SIZE)])


@st.composite
def catalogues(draw: st.DrawFn) -> list[Aid]:
    """Up to five aids of any kind, with figures known or not."""
    keys = draw(st.lists(st.text("abcdef-", min_size=1, max_size=8), unique=True, max_size=5))
    aids = []
    for key in keys:
        kind = draw(kinds)
        band = draw(st.sampled_from(["open traction", "closed flotation", None]))
        aids.append(
            Aid(
                key,
                f"aid {key}",
                kind,
                draw(st.floats(0.0, 9000.0)),
                band_kind=band if kind == "band track" else None,
                shoe_inner_width_m=draw(maybe),
                outer_diameter_m=draw(maybe),
                fits_tyres=draw(sizes),
            )
        )
    return aids


ends = st.sampled_from(["single", "bogie"])
ratings = st.one_of(st.none(), st.floats(8_000.0, 20_000.0))


@st.composite
def machines(draw: st.DrawFn):
    """A machine of any layout; tyres never hold liquid."""
    return machine(
        group("front", draw(ends), rated_mass_kg=draw(ratings)),
        group("rear", draw(ends), rated_mass_kg=draw(ratings)),
    )


@given(machines(), catalogues())
def test_the_number_of_setups_is_the_product(one_machine, aids):
    setups = enumerate_setups(one_machine, aids)
    # the catalogue's rows name no kind of axle; a row that names other tyre sizes is no option
    fitting = [aid for aid in aids if not aid.fits_tyres or TYRE.designation in aid.fits_tyres]
    assert len(setups) == (len(fitting) + 1) ** 2
    assert len({setup.id for setup in setups}) == len(setups)
    carried = {tuple(m.aid.key if m.aid else None for m in setup.mounts) for setup in setups}
    assert len(carried) == len(setups)


@given(machines(), catalogues(), st.randoms())
def test_the_order_of_the_aids_does_not_matter(one_machine, aids, random):
    shuffled = list(aids)
    random.shuffle(shuffled)
    assert judge_all(one_machine, shuffled) == judge_all(one_machine, aids)


@given(machines(), catalogues())
def test_bare_is_always_first_and_usual(one_machine, aids):
    setup, judgement = judge_all(one_machine, aids)[0]
    assert setup.is_bare
    assert setup.id == "bare"
    assert judgement.standing is Standing.USUAL


@given(machines(), catalogues())
def test_with_liquid_ballast_everything_is_excluded(one_machine, aids):
    wet = replace(one_machine.front, tyre=replace(TYRE, liquid_ballast=True))
    ballasted = replace(one_machine, groups=(wet, one_machine.rear))
    for _, judgement in judge_all(ballasted, aids):
        assert judgement.standing is Standing.EXCLUDED
        assert "MNT07" in judgement.codes


@given(machines(), catalogues())
def test_every_standing_has_codes_and_reasons_and_the_worst_decides(one_machine, aids):
    for _, judgement in judge_all(one_machine, aids):
        assert judgement.codes
        assert all(judgement.codes)
        assert all(len(reason) > 10 for reason in judgement.reasons)
        assert judgement.standing == max(v.counts_as for v in judgement.verdicts)


@given(machines(), catalogues())
def test_cannot_tell_is_never_usual(one_machine, aids):
    for _, judgement in judge_all(one_machine, aids):
        if judgement.cannot_tell:
            assert judgement.standing >= Standing.ASK


@given(machines(), catalogues())
def test_a_figure_that_becomes_unknown_never_makes_a_setup_usual(one_machine, aids):
    blind = replace(
        one_machine,
        groups=tuple(replace(one, rated_mass_kg=None) for one in one_machine.groups),
    )
    nameless = [replace(aid, fits_tyres=(), outer_diameter_m=None) for aid in aids]
    before = {setup.id: j.standing for setup, j in judge_all(one_machine, aids)}
    for setup, judgement in judge_all(blind, nameless):
        # an aid made for other sizes is no option before, and one to ask about when none is named
        if before.get(setup.id, Standing.ASK) is not Standing.USUAL:
            assert judgement.standing is not Standing.USUAL
        if not setup.is_bare:
            assert judgement.standing is not Standing.USUAL


@given(st.sampled_from(list(LAYOUTS.values())), catalogues())
def test_turning_the_machine_round_changes_no_standing(one_machine, aids):
    turned = replace(
        one_machine,
        groups=(
            replace(one_machine.rear, name="front"),
            replace(one_machine.front, name="rear"),
        ),
        unladen_front_kg=one_machine.unladen_rear_kg,
    )
    for setup in enumerate_setups(one_machine, aids):
        swapped = replace(setup, mounts=setup.mounts[::-1])
        assert judge(swapped, turned).standing is judge(setup, one_machine).standing
