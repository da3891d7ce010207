from dataclasses import replace

import numpy as np
import pytest

from service.errors import BadRequest, UnknownValue
from service.escape import (
    ESCAPE_CLASSES,
    Estimate,
    Interval,
    PlannedMeasure,
    any_estimate,
    assess,
    assess_many,
    assess_widest,
    class_of,
    class_reached,
    default_parameters,
    measure_effects,
)
from service.escape.draws import DRAWS, FIFTH, MIDDLE, NINETY_FIFTH, draws
from service.escape.model import run
from service.escape.percentiles import estimate
from service.escape.setting import setting
from service.values.evidence import RING_RADII_M, Dataset, Evidence, Ring
from service.values.plants import Provenance, Traits
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction, WaterId
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE, POND, plant_named

IRIS, LOBELIA = plants()["Iris pseudacorus"], plants()["Lobelia cardinalis"]
WATERS = [Reached(BROOK, "downstream", 20.0, 30.0), Reached(LAKE, "downstream", 700.0, 1_200.0, 1)]
SIX = Climate("6a", first_frost="10-10")
OHIO = Jurisdiction("US-OH")
P = default_parameters()


def seen(plant: int, *, year: int | None = 2021, nearest_m: float = 1_200.0) -> Evidence:
    """Records of the plant from the second ring on."""
    rings = tuple(Ring(radius, plant if radius > nearest_m else 0, 400) for radius in RING_RADII_M)
    return Evidence(
        IRIS.plant_id,
        loaded=True,
        nearest_m=nearest_m if plant else None,
        rings=rings,
        latest_year=year if plant else None,
    )


def test_the_class_goes_by_the_likely_chance_and_a_flag_by_the_high_end() -> None:
    assert [class_of(chance) for chance in (0.0999, 0.1, 0.3999, 0.4, 1.0)] == [
        "low",
        "moderate",
        "moderate",
        "high",
        "high",
    ]
    assert ESCAPE_CLASSES == ("low", "moderate", "high")
    near, far = (Estimate(0.05, 0.01, high, Interval(0, 1)) for high in (0.2, 0.09))
    assert (class_reached(near), class_reached(far)) == ("moderate", None)


def test_the_estimate_is_the_percentiles_of_the_rows() -> None:
    there = setting(POND, SIX, WATERS, None, P)
    outcome = run(IRIS, there)
    rows = np.sort(outcome.overall()[: there.draws.count])
    found = estimate(outcome.overall(), there.draws)
    assert (found.low, found.likely, found.high) == (
        rows[FIFTH],
        rows[MIDDLE],
        rows[NINETY_FIFTH],
    )
    assert np.quantile(rows, 0.05) == pytest.approx(found.low)
    assert found.cannot_exclude.low <= rows[0] <= rows[-1] <= found.cannot_exclude.high


def test_the_shared_part_of_the_draws_has_the_correlation_that_the_file_says() -> None:
    drawn = draws(P, full=False)
    raising, lowering = (drawn.of(key)[:DRAWS] for key in ("carry.outlet.seed", "open.area.half"))
    rho = P.value("sampling.shared.rho")
    assert np.corrcoef(raising, -lowering)[0, 1] == pytest.approx(rho, abs=0.12)


def test_the_waters_come_in_the_order_asked_with_all_three_stages() -> None:
    result = assess(IRIS, POND, SIX, WATERS, None)
    assert [water.water_id for water in result.waters] == [BROOK.water_id, LAKE.water_id]
    assert [water.distance_m for water in result.waters] == [30.0, 1_200.0]
    names = {factor.name for factor in result.waters[1].persists.factors}
    assert {"winter", "warm end", "founding", "history and ways of the plant", "light"} <= names
    arrives = {factor.name: factor.value for factor in result.waters[1].arrives.factors}
    assert arrives["lakes passed on the way"] == 1.0
    assert arrives["lies"] == "downstream on the flow network, in OH"
    leaves = {factor.name for factor in result.waters[0].leaves.factors}
    assert {"the outlet", "surplus given away or tipped out", "planted area"} <= leaves


def test_what_the_waters_have_in_common_is_counted_once() -> None:
    many = [replace(WATERS[1], water=replace(LAKE, water_id=WaterId(str(n)))) for n in range(50)]
    tender = plants()["Pontederia crassipes"]
    cold = Climate("6b", first_frost="10-10")
    one, fifty = (assess(tender, POND, cold, waters, None) for waters in (many[:1], many))
    assert fifty.high >= one.high
    assert fifty.high <= one.winter.persists.high + 1e-12


def test_what_is_planted_in_a_water_has_left() -> None:
    inside = assess(IRIS, POND, SIX, [Reached(LAKE, "contains", 0.0)], None).waters[0]
    assert inside.leaves.estimate == inside.arrives.estimate == Estimate.point(1.0)
    assert inside.estimate == inside.persists.estimate


def test_a_plant_native_to_the_state_gets_no_class_but_a_sentence() -> None:
    home = assess(LOBELIA, POND, SIX, WATERS, None, state=OHIO)
    assert (home.escape_class, home.reaches, home.deciding_unknowns) == (None, None, ())
    assert "Lobelia cardinalis is native to Ohio" in home.paragraph
    away = assess(LOBELIA, POND, Climate("8a", first_frost="11-10"), WATERS, None,
                  state=Jurisdiction("US-WA"))  # fmt: skip
    assert away.escape_class in ESCAPE_CLASSES
    assert assess(IRIS, POND, SIX, WATERS, None, state=OHIO).escape_class == "high"


def test_a_record_lifts_a_poor_fit_within_what_it_may_be_and_is_shown() -> None:
    doubtful = replace(IRIS, traits=replace(IRIS.traits, zone_min=7))
    bare, recorded = (assess(doubtful, POND, SIX, WATERS, one) for one in (None, seen(3)))
    assert recorded.likely > bare.likely
    assert recorded.low > bare.low
    assert (recorded.high, recorded.cannot_exclude.high) == (bare.high, bare.cannot_exclude.high)
    assert recorded.already_here is not None
    assert recorded.already_here.words == "already here, 1.2 km (0.75 mi), last seen 2021"
    factors = {factor.name: factor for factor in recorded.waters[0].persists.factors}
    assert factors["occurrence records"].value == recorded.already_here.words


def test_an_old_record_and_a_far_one_lift_less() -> None:
    doubtful = replace(IRIS, traits=replace(IRIS.traits, zone_min=7))
    near, old, far = (
        assess(doubtful, POND, SIX, WATERS, one).likely
        for one in (seen(3), seen(3, year=1960), seen(3, nearest_m=60_000.0))
    )
    assert near > old
    assert near > far


def test_records_of_a_native_are_no_escape() -> None:
    home = assess(LOBELIA, POND, SIX, WATERS, seen(30), state=OHIO)
    assert home.estimate == assess(LOBELIA, POND, SIX, WATERS, None, state=OHIO).estimate
    assert "Records: 1.2 km (0.75 mi), last seen 2021." in home.paragraph


def test_records_bring_their_data_sets() -> None:
    dataset = Dataset("key", "Invented herbarium", "CC0-1.0", "Invented herbarium (2024)", 2)
    evidence = replace(seen(2), datasets=(dataset,))
    result = assess(IRIS, POND, SIX, WATERS, evidence)
    assert result.datasets == (dataset,)
    assert assess(IRIS, POND, SIX, WATERS, replace(evidence, loaded=False)).datasets == ()


def test_well_known_plants_are_set_beside_it() -> None:
    known = list(plants().values())
    beside = assess(LOBELIA, POND, SIX, WATERS, None, well_known=known).compared_with
    assert [one.common_name for one in beside][:1] == ["yellow flag"] or len(beside) == 3
    flag = next(one for one in beside if one.common_name == "yellow flag")
    assert flag.likely == assess(IRIS, POND, SIX, WATERS, None).likely
    itself = assess(IRIS, POND, SIX, WATERS, None, well_known=known).compared_with
    assert "yellow flag" not in {one.common_name for one in itself}


def test_a_measure_is_shown_as_what_it_takes_from_each_route() -> None:
    screen, tub = measure_effects(
        plants()["Acorus calamus"],
        [PlannedMeasure("outlet-screen", 0.2), PlannedMeasure("no-drain-tub")],
    )
    taken = {share.route: share for share in screen.routes}
    # common practice, no source: a screen finer than the piece leaves 5 to 40%
    assert 0.5 < taken["outlet"].low < taken["outlet"].high < 1.0
    assert taken["birds-and-visitors"].high == pytest.approx(0.0, abs=1e-9)
    assert "losses by the outlet" in screen.words
    assert "birds and visitors" in screen.words.split(";")[-1]
    assert screen.words.endswith("unchanged")
    assert {share.route for share in tub.routes if share.high > 0.01} == {"bank"}


def test_every_factor_says_value_unit_direction_how_known_and_citation() -> None:
    known = replace(IRIS, provenance={"zone_min": Provenance("read", "an invented flora, p. 3")})
    for water in assess(known, POND, SIX, WATERS, seen(2)).waters:
        for stage in (water.leaves, water.arrives, water.persists):
            for factor in stage.factors:
                assert factor.direction in ("raises", "lowers")
                assert factor.how_known
                assert factor.citation
                assert factor.interval.low <= factor.likely <= factor.interval.high
        winter = next(factor for factor in water.persists.factors if factor.name == "winter")
        assert (winter.how_known, winter.citation) == ("read", "an invented flora, p. 3")


def test_a_plan_is_the_same_as_its_plants_one_by_one() -> None:
    several = assess_many([IRIS, LOBELIA], POND, SIX, WATERS, {IRIS.plant_id: seen(1)})
    assert several == (
        assess(IRIS, POND, SIX, WATERS, seen(1)),
        assess(LOBELIA, POND, SIX, WATERS, None),
    )


def test_containment_may_be_planned_by_plant() -> None:
    tub = [PlannedMeasure("no-drain-tub")]
    several = assess_many([IRIS, LOBELIA], POND, SIX, WATERS, {}, containment={IRIS.plant_id: tub})
    assert several[0] == assess(IRIS, POND, SIX, WATERS, None, containment=tub)
    assert several[1] == assess(LOBELIA, POND, SIX, WATERS, None)
    assert "containment" in {factor.name for factor in several[0].waters[0].leaves.factors}


def test_a_label_of_several_plants_covers_all_of_them() -> None:
    widest = assess_widest([LOBELIA, IRIS], POND, SIX, WATERS, {})
    several = assess_many([LOBELIA, IRIS], POND, SIX, WATERS, {})
    assert widest.candidates == (LOBELIA.plant_id, IRIS.plant_id)
    assert widest.likely == max(one.likely for one in several)
    assert all(one.interval in widest.interval for one in several)
    assert widest.escape_class == "high"
    assert "Lobelia cardinalis, Iris pseudacorus" in widest.paragraph
    assert assess_widest([IRIS], POND, SIX, WATERS, {}) == several[1]


def test_a_label_of_no_plant_is_refused() -> None:
    with pytest.raises(BadRequest, match="no plant to assess"):
        assess_widest([], POND, SIX, WATERS, {})


def test_any_of_several_chances_is_their_noisy_or() -> None:
    half = Estimate(0.5, 0.1, 0.9, Interval(0.0, 1.0))
    both = any_estimate([half, half])
    assert (both.likely, both.low, both.high) == pytest.approx((0.75, 0.19, 0.99))
    assert any_estimate([]).high == 0.0


def test_no_water_leaves_an_unmapped_one_anywhere() -> None:
    result = assess(IRIS, POND, SIX, [], None)
    assert len(result.waters) == 1
    assert result.low < 0.05
    assert result.high > 0.5
    assert "No water was given" in result.notes[0]


def test_what_has_been_said_is_not_asked() -> None:
    assert assess(IRIS, POND, SIX, WATERS, None).deciding_unknowns == ()


def test_facts_that_decide_it_come_first_and_their_answers_are_read_off_the_samples() -> None:
    place = replace(POND, outlet=None, outlet_flow_l_s=None, visited=False, overflow=False,
                    bank_contact=False)  # fmt: skip
    asked = assess(IRIS, place, SIX, WATERS, None).deciding_unknowns
    assert asked[0].fact == "place.outlet"
    assert asked[0].settles
    answers = dict(asked[0].answers)
    assert answers["no"].likely < answers["yes"].likely
    said = {
        "yes": assess(IRIS, replace(place, outlet=True), SIX, WATERS, None),
        "no": assess(IRIS, replace(place, outlet=False), SIX, WATERS, None),
    }
    for answer, found in said.items():
        assert answers[answer].likely == pytest.approx(found.likely, abs=0.08)


def test_a_fact_that_decides_nothing_is_not_asked() -> None:
    place = replace(POND, surplus=None)
    asked = assess(LOBELIA, place, SIX, WATERS, None).deciding_unknowns
    assert "place.surplus" not in {unknown.fact for unknown in asked}
    nothing = assess(IRIS, Place("nothing said", "pond"), Climate(), WATERS, None)
    assert "evidence" not in {unknown.fact for unknown in nothing.deciding_unknowns}


def test_a_plant_known_by_name_alone_is_wide_and_says_so() -> None:
    plant = replace(plant_named("Ignota", Traits()), catalogued=False)
    result = assess(plant, POND, SIX, WATERS, None)
    assert result.high > 0.8
    assert result.low < 0.05
    assert any("known by name alone" in note for note in result.notes)


def test_nothing_is_credited_against_pieces_under_water_and_a_note_says_so() -> None:
    measures = (PlannedMeasure("outlet-screen", 0.5), PlannedMeasure("harvest"))
    plant = plants()["Myriophyllum spicatum"]
    water = [Reached(LAKE, "downstream", 300.0, 450.0)]
    kept_in = assess(plant, POND, SIX, water, None, containment=measures)
    assert kept_in.escape_class == "high"
    assert any("No measure is credited" in note for note in kept_in.notes)


@pytest.mark.parametrize(
    ("place", "climate", "waters", "pointer"),
    [
        (replace(POND, area_m2=-1.0), SIX, WATERS, "/place/area_m2"),
        (replace(POND, outlet_flow_l_s=float("nan")), SIX, WATERS, "/place/outlet_flow_l_s"),
        (POND, Climate(extreme_minimum_c=(-5.0, -9.0)), WATERS, "/climate/extreme_minimum_c"),
        (POND, SIX, [Reached(LAKE, "near", -3.0)], "/waters/0/overland_m"),
    ],
)
def test_an_impossible_quantity_is_refused_with_its_place(
    place: Place, climate: Climate, waters: list[Reached], pointer: str
) -> None:
    with pytest.raises(BadRequest) as caught:
        assess(IRIS, place, climate, waters, None)
    assert caught.value.pointer == pointer


def test_a_zone_that_does_not_exist_is_refused() -> None:
    with pytest.raises(UnknownValue, match="Hardiness zone"):
        assess(IRIS, POND, Climate("99"), WATERS, None)


def test_the_paragraph_names_the_water_the_way_the_winter_and_whom_to_ask() -> None:
    tender = plants()["Pontederia crassipes"]
    text = assess(tender, POND, Climate("6b", first_frost="10-10"), WATERS, None).paragraph
    for words in (
        "Mill ",
        "downstream",
        "a single summer, each year it is planted",
        "°F",
        "state's aquatic plant or invasive species office",
    ):
        assert words in text
    for word in ("legal", " safe", "allowed to", "harmless"):
        assert word not in text
