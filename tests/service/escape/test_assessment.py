from dataclasses import replace

import pytest

from service.errors import BadRequest, UnknownValue
from service.escape import (
    ESCAPE_CLASSES,
    Interval,
    PlannedMeasure,
    assess,
    assess_many,
    assess_widest,
    default_parameters,
    escape_class,
)
from service.values.evidence import Dataset
from service.values.plants import Provenance
from service.values.site import Climate
from service.values.vocabulary import WaterId
from service.values.waters import Reached
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE, POND, records

IRIS, LOBELIA = plants()["Iris pseudacorus"], plants()["Lobelia cardinalis"]
WATERS = [Reached(BROOK, "downstream", 20.0, 30.0), Reached(LAKE, "downstream", 700.0, 1_200.0, 1)]
SIX = Climate("6a", first_frost="10-10")


def test_the_class_goes_by_the_upper_end() -> None:
    assert [escape_class(Interval(0.0, high)) for high in (0.0999, 0.1, 0.3999, 0.4, 1.0)] == [
        "low",
        "moderate",
        "moderate",
        "high",
        "high",
    ]
    assert ESCAPE_CLASSES == ("low", "moderate", "high")


def test_the_waters_come_in_the_order_asked_with_all_three_stages() -> None:
    result = assess(IRIS, POND, SIX, WATERS, None)
    assert [water.water_id for water in result.waters] == [BROOK.water_id, LAKE.water_id]
    assert [water.distance_m for water in result.waters] == [30.0, 1_200.0]
    names = {factor.name for factor in result.waters[1].establish.factors}
    assert {
        "winter",
        "warm end",
        "growing season",
        "founding",
        "growth",
        "depth of the water",
        "origin",
    } <= names
    reach = {factor.name: factor.value for factor in result.waters[1].reach.factors}
    assert reach["lakes passed on the way"] == 1.0
    assert reach["lies"] == "downstream on the flow network, in OH"
    assert {"the outlet", "planted area", "ways of spreading"} <= {
        f.name for f in result.waters[0].release.factors
    }


def test_the_release_stage_is_the_noisy_or_of_its_routes() -> None:
    water = assess(IRIS, POND, SIX, WATERS, None).waters[0]
    missed = 1.0
    for route in water.routes:
        missed *= 1 - route.released.high
    assert water.release.interval.high == pytest.approx(1 - missed)


def test_what_the_waters_have_in_common_is_counted_once() -> None:
    many = [replace(WATERS[1], water=replace(LAKE, water_id=WaterId(str(n)))) for n in range(50)]
    tender = plants()["Pontederia crassipes"]
    one, fifty = (assess(tender, POND, Climate("6b"), waters, None) for waters in (many[:1], many))
    assert fifty.interval.high >= one.interval.high
    assert fifty.interval.high <= one.winter.persists.high + 1e-12


def test_every_factor_says_value_unit_direction_how_known_and_citation() -> None:
    known = replace(IRIS, provenance={"zone_min": Provenance("read", "an invented flora, p. 3")})
    for water in assess(known, POND, SIX, WATERS, records(2, 50)).waters:
        for stage in (water.release, water.reach, water.establish):
            for factor in stage.factors:
                assert factor.direction in ("raises", "lowers")
                assert factor.how_known
                assert factor.citation
        winter = next(factor for factor in water.establish.factors if factor.name == "winter")
        assert (winter.how_known, winter.citation) == ("read", "an invented flora, p. 3")


def test_records_bring_their_factor_and_their_data_sets() -> None:
    dataset = Dataset("key", "Invented herbarium", "CC0-1.0", "Invented herbarium (2024)", 2)
    evidence = replace(records(2, 50), datasets=(dataset,))
    result = assess(IRIS, POND, SIX, WATERS, evidence)
    factor = next(
        one for one in result.waters[1].establish.factors if one.name == "occurrence records"
    )
    assert factor.value == "2 of 50 water-plant records"
    assert "Invented herbarium" in factor.citation
    assert result.datasets == (dataset,)
    assert assess(IRIS, POND, SIX, WATERS, replace(evidence, loaded=False)).datasets == ()


def test_a_plan_is_the_same_as_its_plants_one_by_one() -> None:
    several = assess_many([IRIS, LOBELIA], POND, SIX, WATERS, {IRIS.plant_id: records(1, 40)})
    assert several == (
        assess(IRIS, POND, SIX, WATERS, records(1, 40)),
        assess(LOBELIA, POND, SIX, WATERS, None),
    )


def test_containment_may_be_planned_by_plant() -> None:
    tub = [PlannedMeasure("no-drain-tub")]
    several = assess_many([IRIS, LOBELIA], POND, SIX, WATERS, {}, containment={IRIS.plant_id: tub})
    assert several[0] == assess(IRIS, POND, SIX, WATERS, None, containment=tub)
    assert several[1] == assess(LOBELIA, POND, SIX, WATERS, None)
    assert "containment" in {factor.name for factor in several[0].waters[0].release.factors}


def test_a_label_of_several_plants_covers_all_of_them() -> None:
    widest = assess_widest([LOBELIA, IRIS], POND, SIX, WATERS, {})
    each = assess_many([LOBELIA, IRIS], POND, SIX, WATERS, {})
    assert widest.candidates == (LOBELIA.plant_id, IRIS.plant_id)
    for one in each:
        assert one.interval in widest.interval
        for w, water in enumerate(one.waters):
            assert water.interval in widest.waters[w].interval
            assert water.establish.interval in widest.waters[w].establish.interval
    assert widest.escape_class == "high"
    assert "Lobelia cardinalis, Iris pseudacorus" in widest.paragraph
    assert assess_widest([IRIS], POND, SIX, WATERS, {}) == each[1]


def test_a_label_of_no_plant_is_refused() -> None:
    with pytest.raises(BadRequest, match="no plant to assess"):
        assess_widest([], POND, SIX, WATERS, {})


def test_no_water_leaves_an_unmapped_one_anywhere() -> None:
    result = assess(IRIS, POND, SIX, [], None)
    assert len(result.waters) == 1
    assert result.interval.low == 0.0
    assert result.interval.high > 0.8
    assert "No water was given" in result.notes[0]
    for kind in ("lake", "stream"):
        near = [Reached(replace(LAKE, kind=kind), "downstream", 100.0, 100.0)]
        assert assess(IRIS, POND, SIX, near, None).interval in result.interval


@pytest.mark.parametrize(
    ("place", "climate", "waters", "pointer"),
    [
        (replace(POND, area_m2=-1.0), SIX, WATERS, "/place/area_m2"),
        (replace(POND, outlet_flow_l_s=float("nan")), SIX, WATERS, "/place/outlet_flow_l_s"),
        (POND, Climate(extreme_minimum_c=(-5.0, -9.0)), WATERS, "/climate/extreme_minimum_c"),
        (POND, SIX, [Reached(LAKE, "near", -3.0)], "/waters/0/overland_m"),
    ],
)
def test_an_impossible_quantity_is_refused_with_its_place(place, climate, waters, pointer) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadRequest) as caught:
        assess(IRIS, place, climate, waters, None)
    assert caught.value.pointer == pointer


def test_a_zone_that_does_not_exist_is_refused() -> None:
    with pytest.raises(UnknownValue, match="Hardiness zone"):
        assess(IRIS, POND, Climate("99"), WATERS, None)


def test_the_paragraph_names_the_water_the_way_the_winter_and_whom_to_ask() -> None:
    text = assess(plants()["Pontederia crassipes"], POND, Climate("6b"), WATERS, None).paragraph
    for words in (
        "Mill Lake",
        "1.2 km (0.75 mi) downstream",
        "°F",
        "state's aquatic plant or invasive species office",
    ):
        assert words in text
    for word in ("legal", " safe", "allowed to", "harmless"):
        assert word not in text


def test_a_listing_elsewhere_is_no_input() -> None:
    assert not any("list" in key for key in default_parameters().coefficients)
    assert not any(
        "regulation" in name for name in dir(type(assess(IRIS, POND, SIX, WATERS, None)))
    )
