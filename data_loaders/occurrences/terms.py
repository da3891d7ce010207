"""The Darwin Core and download terms that are read, and the words of their vocabularies.

Terms are matched without regard to case: older downloads are all lower case.
"""

import re

NAME_TERMS = (
    "scientificname",
    "acceptedscientificname",
    "species",
    "verbatimscientificname",
    "genus",
    "specificepithet",
    "infraspecificepithet",
)

WORD_TERMS = (
    "basisofrecord",
    "occurrencestatus",
    "individualcount",
    "establishmentmeans",
    "degreeofestablishment",
    "countrycode",
    "geodeticdatum",
    "license",
    "issue",
    "captivecultivated",
    "coordinatesobscured",
    "taxongeoprivacy",
    "geoprivacy",
)

LOCATION_TERMS = ("decimallatitude", "decimallongitude", "coordinateuncertaintyinmeters")

TERMS = (
    "occurrenceid",
    "gbifid",
    "datasetkey",
    "datasetid",
    "datasetname",
    *NAME_TERMS,
    *WORD_TERMS,
    *LOCATION_TERMS,
    "eventdate",
    "year",
    "institutioncode",
    "collectioncode",
    "catalognumber",
    "recordnumber",
)
"""In the order in which a row's values stand."""

TERM_INDEX = {term: place for place, term in enumerate(TERMS)}

ALIASES = {
    "key": "gbifid",
    "issues": "issue",
    "licence": "license",
    "dataset": "datasetname",
    "latitude": "decimallatitude",
    "lat": "decimallatitude",
    "longitude": "decimallongitude",
    "long": "decimallongitude",
    "lon": "decimallongitude",
    "lng": "decimallongitude",
    "positionalaccuracy": "coordinateuncertaintyinmeters",
    "accuracy": "coordinateuncertaintyinmeters",
    "observedon": "eventdate",
    "observationdate": "eventdate",
    "date": "eventdate",
    "taxonspeciesname": "species",
    "captive": "captivecultivated",
    "uuid": "occurrenceid",
    "id": "gbifid",
}
"""Spellings of the same terms in the search interface, in older files, and in the tables that
people take out of programs for field records; words of a heading are joined first.
"""

YES_WORDS = ("true", "t", "yes", "y", "1")
HIDDEN_WORDS = ("obscured", "private")
OBSCURED_M = 31_500.0
"""Least uncertainty of a record whose coordinates its publisher blurred: the diagonal of a box of
0.2 degrees at the equator, within which programs for field records move them (from memory).
"""

GEOSPATIAL_ISSUES = (
    "ZERO_COORDINATE",
    "COORDINATE_OUT_OF_RANGE",
    "COORDINATE_INVALID",
    "COUNTRY_COORDINATE_MISMATCH",
    "PRESUMED_SWAPPED_COORDINATE",
    "PRESUMED_NEGATED_LONGITUDE",
    "PRESUMED_NEGATED_LATITUDE",
)
"""The issues that the Global Biodiversity Information Facility counts as geospatial ones."""

SWAPPED_ISSUE = "PRESUMED_SWAPPED_COORDINATE"

LOOSE_NAME_ISSUES = (
    "TAXON_MATCH_NONE",
    "TAXON_MATCH_HIGHERRANK",
    "TAXON_MATCH_FUZZY",
    "TAXON_MATCH_AGGREGATE",
    "SCIENTIFIC_NAME_AND_ID_INCONSISTENT",
)
"""With these the interpreted names may be another plant's; only the verbatim name counts."""

# Vocabulary words are compared as lower-case letters and digits of the last part of a URI.
NOT_WILD_BASES = ("fossilspecimen", "livingspecimen")
PRESENT_WORDS = ("", "present", "detected", "common", "rare", "irregular")
ABSENT_WORDS = ("absent", "notdetected")
CULTIVATED_DEGREES = ("captive", "cultivated", "d002", "d003")
CULTIVATED_MEANS = ("managed", "captive", "cultivated")

NEAR_WGS84_WORDS = (
    "",
    "epsg4326",
    "wgs84",
    "wgs1984",
    "worldgeodeticsystem1984",
    "gcswgs1984",
    "epsg4269",
    "nad83",
    "nad1983",
    "northamericandatum1983",
    "gcsnorthamerican1983",
)
"""Datums within a metre or two of WGS84.

A download states none: its coordinates were brought to WGS84.
"""

COLLAPSE_PATTERN = "[^a-z0-9]"
NUMBER_PATTERN = r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?"
YEAR_PATTERN = r"[0-9]{4}"
COUNT_ZERO_PATTERN = r"0+(\.0*)?"

FIRST_YEAR, LAST_YEAR = 1600, 2100

UNITED_STATES = "US"
US_BOX = (-180.0, 15.0, -60.0, 72.0)
"""West, south, east, north of a box around the states, generous.

Longitudes past the antimeridian left out.
"""
SOUTHERNMOST_DEGREES = -60.0
"""South of it no water plant roots, so a record there with a longitude that would do as a US
latitude is swapped.
"""


def issue_pattern(issues: tuple[str, ...]) -> str:
    """Regular expression that finds one of the issues in a joined list, whatever the joint."""
    return rf"(^|[^A-Z_])({'|'.join(issues)})($|[^A-Z_])"


def collapse(word: str) -> str:
    """A vocabulary word as it is compared: ``http://rs.tdwg.org/dwcdoe/values/d003`` is
    ``d003``.
    """
    return re.sub(COLLAPSE_PATTERN, "", word.rstrip("/").rsplit("/", 1)[-1].lower())
