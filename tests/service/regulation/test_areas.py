"""Where a rule holds: counties by code or name, regions, waters; conditional without a county,
decided with one.
"""

from datetime import date

import pytest

from data_loaders.geography.packaged import packaged_counties
from service.regulation.finding import Finding, Question, find
from service.regulation.law import Term
from service.store.library import Library
from service.values.vocabulary import Act, CountyFips, Jurisdiction, Outcome, PlantId
from tests.service.regulation.builders import OHIO, ON, a_list, a_subject, an_entry, law

WISCONSIN, WASHINGTON = Jurisdiction("US-WI"), Jurisdiction("US-WA")


def asked(
    library: Library, plant: str, place: Jurisdiction, act: Act, county: str | None
) -> Finding:
    fips = packaged_counties().find(place, county).fips if county else None
    return find(
        library.law,
        library.taxonomy.subject(PlantId(plant)),
        Question(place, act, ON, fips, movement="within"),
    )


@pytest.mark.parametrize(
    ("county", "act", "outcome", "class_name"),
    [
        # Wis. Admin. Code § NR 40.05(2)(b): Glyceria maxima restricted in counties that the rule
        # names, Dane among them;
        # § NR 40.04(2)(b): prohibited elsewhere, as in Bayfield. Possession is barred for
        # prohibited plants alone.
        ("Dane", "possess", "listed-other-acts", "Restricted"),
        ("Dane County", "sell", "permit-required", "Restricted"),
        ("55025", "sell", "permit-required", "Restricted"),
        ("Bayfield", "possess", "permit-required", "Prohibited"),
        ("55007", "sell", "permit-required", "Prohibited"),
    ],
)
def test_a_county_decides_which_class_holds(
    library: Library, county: str, act: Act, outcome: Outcome, class_name: str
) -> None:
    finding = asked(library, "glyceria-maxima", WISCONSIN, act, county)
    assert (finding.outcome, [citation.class_name for citation in finding.citations]) == (
        outcome,
        [class_name],
    )


def test_without_a_county_both_classes_are_told_and_the_answer_is_conditional(
    library: Library,
) -> None:
    """Wis. Admin. Code §§ NR 40.04, NR 40.05, Glyceria maxima."""
    finding = asked(library, "glyceria-maxima", WISCONSIN, "possess", None)
    assert finding.outcome == "conditional"
    assert {citation.class_name for citation in finding.citations} == {"Prohibited", "Restricted"}
    assert "It depends on the county" in finding.reasons[0]


@pytest.mark.parametrize(
    ("plant", "named", "elsewhere"),
    [
        # Wis. Admin. Code § NR 40.05: the counties of each restricted plant
        ("epilobium-hirsutum", "Door", "Dane"),
        ("cirsium-palustre", "Vilas", "Rock"),
        ("phragmites-australis", "Florence", "Iron"),
    ],
)
def test_every_county_scoped_plant_of_wisconsin_is_decided_both_ways(
    library: Library, plant: str, named: str, elsewhere: str
) -> None:
    restricted, prohibited = (
        {
            citation.class_name
            for citation in asked(library, plant, WISCONSIN, "sell", county).citations
        }
        for county in (named, elsewhere)
    )
    assert (restricted, prohibited) == ({"Restricted"}, {"Prohibited"})


def listed_under(finding: Finding) -> list[str]:
    return [
        citation.name_as_listed
        for citation in finding.citations
        if citation.list_id == "us-wa-noxious-list"
    ]


@pytest.mark.parametrize(
    ("county", "listed"), [("Whatcom", ["Cabomba caroliniana"]), ("Mason", []), ("King", [])]
)
def test_a_plant_that_one_county_lists_is_out_in_the_others(
    library: Library, county: str, listed: list[str]
) -> None:
    """Wash.

    Admin. Code § 16-750-011 as printed by Whatcom County's weed board: Cabomba caroliniana, Class B
    designate there.
    """
    assert (
        listed_under(asked(library, "cabomba-caroliniana", WASHINGTON, "plant", county)) == listed
    )


@pytest.mark.parametrize("county", ["Grays Harbor", "Kitsap", "Wahkiakum"])
def test_a_county_left_out_of_a_region_by_name_is_out(library: Library, county: str) -> None:
    """Wash.

    Admin. Code § 16-750-011, Brazilian elodea: regions 1, 2 and 3 each except a county named.
    """
    assert listed_under(asked(library, "egeria-densa", WASHINGTON, "plant", county)) == []


@pytest.mark.parametrize(
    ("county", "open_region"),
    [
        # Wash. Admin. Code § 16-750-011, Eurasian watermilfoil: named as inside
        ("Kitsap", False),
        ("Okanogan", False),
        # neither named inside nor out: which region they are of is not loaded
        ("Clallam", True),
        ("Spokane", True),
        (None, True),
    ],
)
def test_a_region_is_known_only_where_the_words_name_the_county(
    library: Library, county: str | None, open_region: bool
) -> None:
    finding = asked(library, "myriophyllum-spicatum", WASHINGTON, "plant", county)
    assert listed_under(finding) == ["Myriophyllum spicatum"]
    assert (
        any("It holds in part of the state" in reason for reason in finding.reasons) == open_region
    )


@pytest.mark.parametrize(("county", "shown"), [("King", True), ("Snohomish", False)])
def test_waters_left_out_in_one_county_matter_there_alone(
    library: Library, county: str, shown: bool
) -> None:
    """Wash.

    Admin. Code § 16-750-011, Brazilian elodea: in King County, named lakes and the Sammamish River
    are left out.
    """
    finding = asked(library, "egeria-densa", WASHINGTON, "plant", county)
    assert (
        any("Green Lake" in reason and "does not answer" in reason for reason in finding.reasons)
        == shown
    )


@pytest.mark.parametrize(
    ("act", "outcome"),
    [("release", "conditional"), ("plant", "conditional"), ("possess", "permit-required")],
)
def test_a_water_body_left_out_makes_acts_in_the_water_conditional(
    library: Library, act: Act, outcome: Outcome
) -> None:
    """Wis. Admin. Code § NR 40.04(2)(b): Didymosphenia geminata, not in Lake Superior."""
    assert asked(library, "didymosphenia-geminata", WISCONSIN, act, "Bayfield").outcome == outcome


@pytest.mark.parametrize(
    ("kind", "inside", "outside"),
    [
        ("only-counties", "prohibited", "no-entry-found"),
        ("except-counties", "no-entry-found", "prohibited"),
    ],
)
def test_terms_of_counties_cut_both_ways(kind: str, inside: Outcome, outside: Outcome) -> None:
    term = Term(kind, "Lucas County", counties=(CountyFips("39095"),))  # type: ignore[arg-type]
    book = law(a_list(an_entry(terms=(term,))))
    found = [
        find(
            book,
            a_subject(),
            Question(OHIO, "sell", date(2026, 1, 1), CountyFips(county) if county else None),
        ).outcome
        for county in ("39095", "39001", None)
    ]
    assert found == [inside, outside, "conditional"]
