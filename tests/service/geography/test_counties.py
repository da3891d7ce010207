"""Counties by code and by name.

Names and codes are those of the Census Bureau's county boundaries of 2017.
"""

import pytest

from data_loaders.geography.packaged import packaged_counties
from service.errors import UnknownValue
from service.geography.counties import STATE_BY_FIPS, CountyTable
from service.values.vocabulary import STATES, Jurisdiction

TABLE: CountyTable = packaged_counties()


def test_every_county_of_the_states_and_the_district_is_there() -> None:
    # 3,142 counties and equivalents in the 50 states and the District of Columbia (Census Bureau,
    # 2013 to 2018).
    assert len(TABLE) == 3142
    assert {county.state for county in TABLE} == set(STATES)
    assert all(STATE_BY_FIPS[county.fips[:2]] == county.state for county in TABLE)


@pytest.mark.parametrize(
    ("state", "text", "fips"),
    [
        ("US-OH", "Lucas", "39095"),
        ("US-OH", "lucas county", "39095"),
        ("US-OH", "County of Lucas", "39095"),
        ("US-OH", " 39095 ", "39095"),
        ("US-LA", "Orleans Parish", "22071"),
        ("US-LA", "Orleans County", "22071"),
        ("US-LA", "La Salle", "22059"),
        ("US-LA", "St. John the Baptist Parish", "22095"),
        ("US-LA", "Saint John the Baptist", "22095"),
        ("US-AK", "Juneau", "02110"),
        ("US-AK", "City and Borough of Juneau", "02110"),
        ("US-AK", "Wade Hampton Census Area", "02158"),
        ("US-NM", "Dona Ana", "35013"),
        ("US-NM", "DOÑA ANA COUNTY", "35013"),
        ("US-MD", "Prince Georges", "24033"),
        ("US-MD", "Prince George’s County", "24033"),
        ("US-MD", "Baltimore County", "24005"),
        ("US-MD", "Baltimore City", "24510"),
        ("US-MD", "City of Baltimore", "24510"),
        ("US-VA", "James City", "51095"),
        ("US-VA", "Charles City County", "51036"),
        ("US-NV", "Carson City", "32510"),
        ("US-FL", "Dade", "12086"),
        ("US-NY", "Brooklyn", "36047"),
        ("US-SD", "46113", "46102"),
        ("US-DC", "Washington", "11001"),
        ("US-MO", "Ste. Genevieve", "29186"),
        ("US-MO", "Sainte Genevieve", "29186"),
    ],
)
def test_a_county_is_found_as_people_write_it(state: str, text: str, fips: str) -> None:
    assert TABLE.find(Jurisdiction(state), text).fips == fips


def test_a_name_of_both_a_county_and_a_city_is_not_guessed() -> None:
    with pytest.raises(UnknownValue, match="Baltimore County, Baltimore city"):
        TABLE.find(Jurisdiction("US-MD"), "Baltimore")
    assert [county.fips for county in TABLE.matching(Jurisdiction("US-MD"), "Baltimore")] == [
        "24005",
        "24510",
    ]


def test_an_unknown_county_names_the_near_ones() -> None:
    with pytest.raises(UnknownValue) as caught:
        TABLE.find(Jurisdiction("US-OH"), "Lukas")
    assert "Lucas County" in caught.value.known
    with pytest.raises(UnknownValue, match="five-digit"):
        TABLE.find(Jurisdiction("US-OH"), "zzz")


def test_a_code_of_another_state_is_not_a_county_of_this_one() -> None:
    with pytest.raises(UnknownValue):
        TABLE.find(Jurisdiction("US-MI"), "39095")


def test_each_county_is_found_by_its_own_full_name_and_bare_name() -> None:
    for county in TABLE:
        assert TABLE.find(county.state, county.full_name) == county
        assert county in TABLE.matching(county.state, county.name)


def test_only_the_known_pairs_of_county_and_city_share_a_bare_name() -> None:
    shared = {
        (county.state, county.name)
        for county in TABLE
        if len(TABLE.matching(county.state, county.name)) > 1
    }
    assert shared == {
        ("US-MD", "Baltimore"),
        ("US-MO", "St. Louis"),
        *(("US-VA", name) for name in ("Fairfax", "Franklin", "Richmond", "Roanoke")),
    }
