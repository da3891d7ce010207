"""Spacing, number and cover through the season."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.fit import cover
from service.fit.values import coefficients
from service.store.library import Library
from service.values.growth import growth_rate_per_day, logistic_share
from service.values.plants import Plant, Range, Traits
from service.values.site import Place
from service.values.vocabulary import PlantId
from tests.checks import rows

POND = Place("Invented Pond", "pond", area_m2=50, depth_cm=90)


def plant(form: str, **traits: object) -> Plant:
    return Plant(
        PlantId("invented"),
        "Inventa",
        "species",
        "Inventa",
        traits=Traits(growth_form=form, **traits),  # type: ignore[arg-type]
    )


def test_reeds_set_at_60_cm_by_hand() -> None:
    """Constructed-wetland text: 0.6 m closes in a year. Triangular grid: 0.866 x 0.36 = 0.312 m2
    each (geometry).
    """
    found = cover(plant("emergent", height_cm=Range(100, 300)), POND, bed_m2=10)
    assert found.spacing is not None
    assert found.spacing.low <= 60 <= found.spacing.high
    assert found.needed is not None
    assert found.needed.low <= math.ceil(10 / (0.8660254 * 0.36)) <= found.needed.high


def test_the_number_planned_is_held_against_the_bed() -> None:
    found = cover(plant("emergent", height_cm=Range(10, 30)), POND, bed_m2=2, count=10)
    assert found.full is not None
    assert 0 < found.full.low <= found.full.high <= 1


def test_a_floater_of_known_doubling_covers_between_its_slow_and_fast_ends(
    library: Library,
) -> None:
    """Water hyacinth, 6 to 18 days (catalogue, University of Florida figure read second-hand),
    5% planted, 120 days.
    """
    hyacinth = library.plants[PlantId("pontederia-crassipes")]
    found = cover(hyacinth, POND, planted_share=0.05, season_days=120)
    end = found.season[-1].share
    assert end.low == pytest.approx(logistic_share(0.05, growth_rate_per_day(18), 120))
    assert end.high == pytest.approx(logistic_share(0.05, growth_rate_per_day(6), 120))
    assert "thin it" in found.advice


def test_a_floater_of_unknown_doubling_is_asked_for_and_its_number_is_still_given(
    library: Library,
) -> None:
    lettuce = library.plants[PlantId("pistia-stratiotes")]
    found = cover(lettuce, POND, planted_share=0.05, season_days=120, wanted_share=0.4)
    assert found.season == ()
    assert "doubling_days" in {missing.field for missing in found.missing}
    assert found.needed is not None


def test_lilies_take_their_leaves_share_by_the_end_of_the_season() -> None:
    """Common practice, no source: ten large lilies of 1 to 4 m2 on 50 m2 take 20 to 80%."""
    found = cover(
        plant("floating-leaved", depth_cm=Range(40, 150)), POND, count=10, season_days=150
    )
    assert found.season[0].share.high == 0
    end = found.season[-1].share
    assert [end.low, end.high] == pytest.approx([0.2, 0.8])


def test_guidance_on_open_water_is_that_published() -> None:
    rules = {row["rule"]: row for row in rows("engineering_cover.csv")}
    assert coefficients()["cover_wanted_low"].low == float(
        rules["surface under floating growth, home pond"]["low"]
    )
    assert 1 - coefficients()["cover_most"].value == pytest.approx(
        float(rules["surface kept open"]["low"]), abs=0.001
    )


def test_nothing_is_counted_without_an_area_or_a_height() -> None:
    no_area = cover(plant("emergent", height_cm=Range(30, 60)), Place("Invented", "pond"), count=3)
    assert no_area.needed is None
    assert {missing.field for missing in no_area.missing} == {"wanted_share"}
    no_height = cover(plant("emergent"), POND, bed_m2=5)
    assert no_height.spacing is None
    assert {missing.field for missing in no_height.missing} == {"plant.height_cm"}
    no_form = cover(Plant(PlantId("x"), "X", "species", "X"), POND, bed_m2=5)
    assert {missing.field for missing in no_form.missing} == {"plant.growth_form"}


@given(st.floats(0.01, 0.9), st.floats(1, 20), st.floats(1, 3), st.integers(1, 300))
@settings(max_examples=60)
def test_shares_stay_in_order_and_grow_through_the_season(
    start: float, doubling: float, factor: float, days: int
) -> None:
    found = cover(
        plant("free-floating"),
        POND,
        planted_share=start,
        season_days=days,
        doubling_days=Range(doubling, doubling * factor),
    )
    lows = [point.share.low for point in found.season]
    highs = [point.share.high for point in found.season]
    assert lows == sorted(lows)
    assert highs == sorted(highs)
    assert all(0 <= low <= high <= 1 for low, high in zip(lows, highs, strict=True))


@given(st.floats(0.1, 1000), st.floats(0, 1000))
@settings(max_examples=60)
def test_a_larger_bed_never_takes_fewer_plants(bed: float, more: float) -> None:
    rush = plant("emergent", height_cm=Range(40, 80))
    small, large = cover(rush, POND, bed_m2=bed), cover(rush, POND, bed_m2=bed + more)
    assert small.needed is not None
    assert large.needed is not None
    assert small.needed.low <= large.needed.low
    assert small.needed.high <= large.needed.high
