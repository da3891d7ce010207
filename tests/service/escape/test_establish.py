import csv
from itertools import pairwise
from pathlib import Path

import pytest

from service.escape.establish import founding, growth, in_water
from service.escape.habitat import depth_match, flow_match, light_match, origin, room
from service.escape.interval import CERTAIN, Interval
from service.escape.parameters import default_parameters
from service.values.plants import Range, Traits
from service.values.regions import REGION_OF_STATE, regions_of
from service.values.vocabulary import STATES, Jurisdiction, SpreadMode, SpreadRate
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import LAKE

P = default_parameters()
OHIO, OREGON = Jurisdiction("US-OH"), Jurisdiction("US-OR")


def test_founding_by_hand() -> None:
    # common practice, no source: seed 0.1 to 0.6, rhizome 0.2 to 0.7, either of the two
    traits = Traits(growth_form="emergent", spread_modes=("seed", "rhizome"))
    assert founding(traits, P).low == pytest.approx(1 - 0.9 * 0.8)
    assert founding(traits, P).high == pytest.approx(1 - 0.4 * 0.3)


def test_a_further_way_of_spreading_never_lowers_founding() -> None:
    modes: tuple[SpreadMode, ...] = (
        "seed",
        "spore",
        "fragment",
        "offset",
        "runner",
        "stolon",
        "rhizome",
        "tuber",
    )
    found = [
        founding(Traits(growth_form="emergent", spread_modes=modes[:n]), P)
        for n in range(1, len(modes) + 1)
    ]
    assert all(a.low <= b.low and a.high <= b.high for a, b in pairwise(found))


def test_a_faster_rating_or_a_shorter_doubling_time_never_lowers_growth() -> None:
    rates: tuple[SpreadRate, ...] = ("slow", "moderate", "fast", "aggressive")
    rated = [growth(Traits(spread_rate=rate), P) for rate in rates]
    timed = [growth(Traits(doubling_days=Range(days, days)), P) for days in (365, 60, 14, 7, 1.5)]
    for found in (rated, timed):
        assert all(a.low <= b.low and a.high <= b.high for a, b in pairwise(found))
        assert all(one in growth(Traits(), P) for one in found)


def test_a_measured_doubling_time_stands_against_a_rating_that_contradicts_it() -> None:
    week = Range(7.0, 7.0)
    alone = growth(Traits(doubling_days=week), P)
    assert growth(Traits(doubling_days=week, spread_rate="slow"), P) == alone
    assert growth(Traits(doubling_days=week, spread_rate="aggressive"), P) in alone


def test_the_published_doubling_times_order_the_plants() -> None:
    path = Path(__file__).parents[2] / "checks" / "growth_rates.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))

    def days(species: str) -> Interval:
        quick = [
            row for row in rows if row["species"] == species and row["quantity"] == "doubling_days"
        ]
        ends = [float(row[end]) for row in quick for end in ("value_min", "value_max") if row[end]]
        return growth(Traits(doubling_days=Range(min(ends), max(ends))), P)

    # Masoodi et al. 2013, Ecological Modelling 263:119-125: 0.00274 a day, so ln 2 / 0.00274 = 253
    # days to double
    slow = next(row for row in rows if row["value_max"] == "0.00274")
    assert slow["species"] == "Alternanthera philoxeroides"
    lake_patches = growth(Traits(doubling_days=Range(253.0, 253.0)), P)
    assert days("Salvinia molesta").low > lake_patches.high
    assert days("Pontederia crassipes").low > lake_patches.high
    assert days("Salvinia molesta").high > days("Pistia stratiotes").high


def test_depth_by_hand() -> None:
    # common practice, no source: a stream goes to 10 to 100 cm near its shore
    deep = Traits(growth_form="submerged", depth_cm=Range(50.0, 300.0))
    assert depth_match(deep, "stream", P) == Interval(10 / 50, 1.0)
    assert depth_match(deep, "lake", P) == CERTAIN
    assert depth_match(Traits(growth_form="free-floating"), "stream", P) == CERTAIN
    assert depth_match(deep, "stream", P) in depth_match(
        Traits(growth_form="submerged"), "stream", P
    )


def test_a_flow_further_from_what_it_is_grown_in_never_raises_the_match() -> None:
    still = [flow_match(("still",), flow, P) for flow in ("still", "slow", "moving")]
    assert [match.high for match in still] == [1.0, 0.6, 0.15]
    assert flow_match(("still", "moving"), "moving", P) == still[0]
    assert all(match in flow_match((), "moving", P) for match in still)


def test_a_plant_of_sun_finds_less_of_it_over_streams_than_over_lakes() -> None:
    sun, shade, both = (
        Traits(light=("sun",)),
        Traits(light=("shade",)),
        Traits(light=("sun", "part-shade")),
    )
    assert light_match(sun, "stream", P).low < light_match(sun, "lake", P).low
    assert light_match(shade, "stream", P).high > light_match(shade, "lake", P).high
    for traits in (sun, shade, both):
        assert light_match(traits, "pond", P) in light_match(Traits(), "pond", P)


def test_room_unknown_of_form_or_kind_holds_every_one() -> None:
    assert room("free-floating", "stream", P) in room(None, "stream", P)
    assert room("free-floating", "stream", P) in room("free-floating", None, P)


def test_a_native_is_held_at_home_and_less_so_away() -> None:
    native = Traits(native_north_america="yes", native_regions=("midwest",))
    assert origin(native, (OHIO,), P) == P.interval("origin.native-here")
    assert origin(native, (OREGON,), P) == P.interval("origin.native-elsewhere")
    both = origin(native, (OHIO, OREGON), P)
    assert (
        both
        == origin(native, (), P)
        == P.interval("origin.native-here") | P.interval("origin.native-elsewhere")
    )
    assert origin(Traits(native_north_america="no"), (OHIO,), P).low > both.low


def test_every_state_lies_in_one_region_and_the_catalogue_uses_no_other() -> None:
    assert set(REGION_OF_STATE) == set(STATES)
    used = {region for plant in plants().values() for region in plant.traits.native_regions}
    assert used <= set(REGION_OF_STATE.values())
    assert regions_of((OHIO, OREGON)) == {"midwest", "pacific-northwest"}


def test_every_factor_of_a_water_has_a_direction_and_a_source() -> None:
    for factor in in_water(plants()["Iris pseudacorus"], LAKE, P):
        assert factor.direction in ("raises", "lowers")
        assert factor.citation
        assert factor.how_known
        assert factor.value is not None
