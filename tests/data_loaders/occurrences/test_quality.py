"""The quality rules, one at a time.

Vocabularies: Darwin Core; issues: GBIF occurrence interpretation.
"""

import pytest

from data_loaders.occurrences.report import QualityRules, Reason
from data_loaders.occurrences.terms import GEOSPATIAL_ISSUES, TERM_INDEX, TERMS
from service.values.vocabulary import PlantId
from tests.data_loaders.occurrences.oracle import judge, number

GOOD = {
    "occurrenceid": "r1",
    "datasetkey": "d1",
    "scientificname": "Nymphaea odorata",
    "decimallatitude": "41.5",
    "decimallongitude": "-83.25",
    "coordinateuncertaintyinmeters": "30",
    "countrycode": "US",
    "basisofrecord": "HUMAN_OBSERVATION",
    "occurrencestatus": "PRESENT",
    "eventdate": "2021-07-04",
    "license": "CC0_1_0",
}


def matcher(name: str) -> PlantId | None:
    known = {"Nymphaea odorata": "nymphaea-odorata", "Eichhornia crassipes": "pontederia-crassipes"}
    plant = known.get(name)
    return PlantId(plant) if plant else None


def reason(rules: QualityRules | None = None, /, **cells: str) -> Reason | None:
    row = [""] * len(TERMS)
    for term, value in (GOOD | cells).items():
        row[TERM_INDEX[term]] = value
    return judge(row, matcher, rules or QualityRules(), fallback_dataset="file").reason


def test_a_good_row_is_kept_with_its_terms() -> None:
    row = [GOOD.get(term, "") for term in TERMS]
    kept = judge(row, matcher, QualityRules(), fallback_dataset="file").kept
    assert kept is not None
    assert (kept.dataset_key, kept.record_key, kept.plant_id) == ("d1", "r1", "nymphaea-odorata")
    assert (kept.longitude_e7, kept.latitude_e7) == (-832_500_000, 415_000_000)
    assert (kept.uncertainty_m, kept.year, kept.terms[0]) == (30.0, 2021, "CC0_1_0")


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ({"scientificname": ""}, "no-name"),
        ({"scientificname": "Quercus alba"}, "not-of-store"),
        ({"scientificname": "Nymphaea cf. odorata"}, "not-of-store"),
        ({"basisofrecord": "FOSSIL_SPECIMEN"}, "fossil-or-living-collection"),
        ({"basisofrecord": "FossilSpecimen"}, "fossil-or-living-collection"),
        ({"basisofrecord": "LivingSpecimen"}, "fossil-or-living-collection"),
        ({"occurrencestatus": "absent"}, "absent"),
        ({"occurrencestatus": "notDetected"}, "absent"),
        ({"occurrencestatus": "", "individualcount": "0"}, "absent"),
        ({"occurrencestatus": "doubtful"}, "unreadable-status"),
        ({"occurrencestatus": "PRESENT", "individualcount": "0"}, "unreadable-status"),
        ({"decimallatitude": ""}, "no-coordinates"),
        ({"decimallongitude": ""}, "no-coordinates"),
        ({"decimallatitude": "41,5", "decimallongitude": "-83,25"}, "unreadable-coordinates"),
        ({"decimallatitude": "4.150.000"}, "unreadable-coordinates"),
        ({"decimallatitude": "41°30'N"}, "unreadable-coordinates"),
        ({"decimallatitude": "nan"}, "unreadable-coordinates"),
        ({"decimallatitude": "4_1.5"}, "unreadable-coordinates"),
        ({"decimallatitude": "−41.5"}, "unreadable-coordinates"),
        ({"decimallatitude": "0", "decimallongitude": "-0.0"}, "zero-coordinates"),
        ({"decimallatitude": "-83.25", "decimallongitude": "41.5"}, "swapped-coordinates"),
        (
            {"decimallatitude": "-122.4", "decimallongitude": "37.8", "countrycode": ""},
            "swapped-coordinates",
        ),
        ({"issue": "COORDINATE_ROUNDED;PRESUMED_SWAPPED_COORDINATE"}, "swapped-coordinates"),
        ({"decimallatitude": "91", "decimallongitude": "-183"}, "coordinates-out-of-range"),
        ({"decimallongitude": "183"}, "coordinates-out-of-range"),
        ({"decimallatitude": "1e200", "decimallongitude": "1"}, "coordinates-out-of-range"),
        ({"coordinateuncertaintyinmeters": "100001"}, "uncertainty-too-large"),
        ({"degreeofestablishment": "cultivated"}, "captive-or-cultivated"),
        ({"degreeofestablishment": "Captive"}, "captive-or-cultivated"),
        (
            {"degreeofestablishment": "http://rs.tdwg.org/dwcdoe/values/d003"},
            "captive-or-cultivated",
        ),
        ({"establishmentmeans": "MANAGED"}, "captive-or-cultivated"),
    ],
)
def test_a_row_is_set_apart_for_its_first_flaw(cells: dict[str, str], expected: Reason) -> None:
    assert reason(**cells) == expected


@pytest.mark.parametrize("issue", GEOSPATIAL_ISSUES)
def test_every_geospatial_issue_sets_a_row_apart(issue: str) -> None:
    expected = "swapped-coordinates" if "SWAPPED" in issue else "flagged-coordinates"
    for written in (
        issue,
        f"COORDINATE_ROUNDED;{issue}",
        f"{issue}|GEODETIC_DATUM_INVALID",
        issue.lower(),
    ):
        assert reason(issue=written) == expected


@pytest.mark.parametrize(
    "cells",
    [
        {
            "issue": "COORDINATE_ROUNDED;GEODETIC_DATUM_ASSUMED_WGS84;CONTINENT_DERIVED_FROM_COORDINATES"
        },
        {"occurrencestatus": ""},
        {"occurrencestatus": "detected"},
        {"occurrencestatus": "present", "individualcount": "3"},
        {"degreeofestablishment": "released"},
        {"degreeofestablishment": "widespreadInvasive"},
        {"establishmentmeans": "introduced"},
        {"coordinateuncertaintyinmeters": ""},
        {"coordinateuncertaintyinmeters": "0"},
        {"basisofrecord": "PreservedSpecimen"},
        {"basisofrecord": "MaterialEntity"},
        {"decimallongitude": "0"},
        {"decimallatitude": "+41.5", "decimallongitude": "-8.325E1"},
        {"decimallatitude": "-33.9", "decimallongitude": "18.4", "countrycode": "ZA"},
        {"scientificname": "Eichhornia crassipes"},
    ],
)
def test_what_is_no_flaw_keeps_the_row(cells: dict[str, str]) -> None:
    assert reason(**cells) is None


def test_the_asker_sets_how_vague_coordinates_may_be() -> None:
    assert reason(QualityRules(max_uncertainty_m=30)) is None
    assert reason(QualityRules(max_uncertainty_m=29.9)) == "uncertainty-too-large"
    assert (
        reason(QualityRules(max_uncertainty_m=1), coordinateuncertaintyinmeters="1.000,5") is None
    )


def test_the_species_a_publisher_files_a_form_under_names_it() -> None:
    assert (
        reason(scientificname="Nymphaea odorata subsp. invented", species="Nymphaea odorata")
        is None
    )
    assert reason(scientificname="Quercus alba L.", species="Quercus alba") == "not-of-store"


@pytest.mark.parametrize(
    "issue", ["TAXON_MATCH_FUZZY", "TAXON_MATCH_HIGHERRANK", "TAXON_MATCH_NONE"]
)
def test_a_loosely_matched_row_counts_only_by_its_name_as_written(issue: str) -> None:
    assert reason(issue=issue, verbatimscientificname="Nymphea odorta") == "doubtful-name"
    assert reason(issue=issue) == "doubtful-name"
    assert reason(issue=issue, verbatimscientificname="Nymphaea odorata") is None


def test_a_name_in_parts_is_put_together() -> None:
    assert reason(scientificname="", genus="Nymphaea", specificepithet="odorata") is None


def test_only_plain_decimal_numbers_are_numbers() -> None:
    assert [number(cell) for cell in ("1", "-1.5", "+.5", "2.", "1e3")] == [1, -1.5, 0.5, 2, 1000]
    for cell in ("", " 1", "1,5", "1.2.3", "1_0", "inf", "nan", "0x10", "1e", "１", "1e999"):
        assert number(cell) is None
