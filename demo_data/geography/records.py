"""Invented plant records with every kind of flaw that real ones have.

The plants are real, the records are not.
"""

import random
from dataclasses import dataclass, field

from demo_data.geography.county import County
from demo_data.geography.shapes import Point, degrees

_COLUMNS = """
gbifID datasetKey occurrenceID kingdom phylum class order family genus species
infraspecificEpithet taxonRank scientificName verbatimScientificName
verbatimScientificNameAuthorship countryCode locality stateProvince occurrenceStatus
individualCount publishingOrgKey decimalLatitude decimalLongitude coordinateUncertaintyInMeters
coordinatePrecision elevation elevationAccuracy depth depthAccuracy eventDate day month year
taxonKey speciesKey basisOfRecord institutionCode collectionCode catalogNumber recordNumber
identifiedBy dateIdentified license rightsHolder recordedBy typeStatus establishmentMeans
lastInterpreted mediaType issue
"""
COLUMNS = tuple(_COLUMNS.split())
"""Of a simple download, in its order."""

DATA_SETS = {
    "00000000-d0de-4000-8000-000000000001": ("Invented pond survey of the demo county", "CC0_1_0"),
    "00000000-d0de-4000-8000-000000000002": ("Invented herbarium of the demo county", "CC_BY_4_0"),
    "00000000-d0de-4000-8000-000000000003": ("Invented walkers' plant diary", "CC_BY_NC_4_0"),
}
"""Key to title and licence."""

PEOPLE = ("Ada Quillfeather", "Bram Tollenby", "Cleo Marshwick", "Dov Sallowby")
"""Invented."""

PLANTS = (
    ("Nymphaea odorata", "Nymphaeaceae", 30),
    ("Nuphar advena", "Nymphaeaceae", 22),
    ("Pontederia cordata", "Pontederiaceae", 20),
    ("Sagittaria latifolia", "Alismataceae", 24),
    ("Ceratophyllum demersum", "Ceratophyllaceae", 22),
    ("Elodea canadensis", "Hydrocharitaceae", 16),
    ("Vallisneria americana", "Hydrocharitaceae", 12),
    ("Typha latifolia", "Typhaceae", 26),
    ("Iris versicolor", "Iridaceae", 12),
    ("Acorus americanus", "Acoraceae", 8),
    ("Lemna minor", "Araceae", 18),
    ("Myriophyllum spicatum", "Haloragaceae", 24),
    ("Potamogeton crispus", "Potamogetonaceae", 18),
    ("Lythrum salicaria", "Lythraceae", 22),
    ("Butomus umbellatus", "Butomaceae", 9),
    ("Hydrocharis morsus-ranae", "Hydrocharitaceae", 10),
    ("Iris pseudacorus", "Iridaceae", 9),
    ("Nymphoides peltata", "Menyanthaceae", 6),
    ("Trapa natans", "Lythraceae", 3),
    ("Pistia stratiotes", "Araceae", 2),
)
"""Name, family, and how many sound records are invented of it."""

Record = dict[str, str]


@dataclass
class Inventor:
    """Makes records, each with a number of its own."""

    county: County
    chance: random.Random
    made: list[Record] = field(default_factory=list)

    def place(self) -> Point:
        """Near some reach or area of the county."""
        lines = [reach.line for reach in self.county.reaches] + [
            area.ring for area in self.county.areas
        ]
        line = lines[int(self.chance.random() * len(lines))]
        x, y = line[int(self.chance.random() * len(line))]
        return x + self.chance.uniform(-60, 60), y + self.chance.uniform(-60, 60)

    def record(self, plant: str, family: str, **changed: str) -> Record:
        """A sound record, then changed as told: ``decimalLatitude=""`` takes its latitude away."""
        number = len(self.made) + 1
        longitude, latitude = degrees(self.place())
        day, month, year = (
            1 + int(self.chance.random() * 28),
            4 + int(self.chance.random() * 7),
            1962 + int(self.chance.random() * 63),
        )
        key = list(DATA_SETS)[int(self.chance.random() * 3)]
        genus, epithet = plant.split(" ")[:2]
        record = dict.fromkeys(COLUMNS, "")
        record |= {
            "gbifID": f"99{number:07d}",
            "datasetKey": key,
            "occurrenceID": f"invented-record-{number:04d}",
            "kingdom": "Plantae",
            "family": family,
            "genus": genus,
            "species": f"{genus} {epithet}",
            "taxonRank": "SPECIES",
            "scientificName": plant,
            "verbatimScientificName": plant,
            "countryCode": "US",
            "locality": "invented place",
            "stateProvince": "Ohio" if latitude < 41.7 else "Michigan",
            "occurrenceStatus": "PRESENT",
            "publishingOrgKey": "00000000-d0de-4000-9000-000000000000",
            "decimalLatitude": f"{latitude:.6f}",
            "decimalLongitude": f"{longitude:.6f}",
            "coordinateUncertaintyInMeters": ("10", "30", "100", "250", "1000", "")[
                int(self.chance.random() * 6)
            ],
            "eventDate": f"{year}-{month:02d}-{day:02d}",
            "day": str(day),
            "month": str(month),
            "year": str(year),
            "basisOfRecord": "PRESERVED_SPECIMEN" if key.endswith("2") else "HUMAN_OBSERVATION",
            "institutionCode": "INVENTED",
            "catalogNumber": f"INV-{number:05d}",
            "license": DATA_SETS[key][1],
            "rightsHolder": "nobody (invented)",
            "recordedBy": PEOPLE[int(self.chance.random() * len(PEOPLE))],
        }
        record |= changed
        self.made.append(record)
        return record


def invent_records(county: County, seed: int) -> list[Record]:
    """All records: the sound ones by plant, then the flawed ones by flaw."""
    inventor = Inventor(county, random.Random(seed))
    for plant, family, number in PLANTS:
        for _ in range(number):
            inventor.record(plant, family)
    _flaws(inventor)
    return inventor.made


def _flaws(inventor: Inventor) -> None:
    plants = [(plant, family) for plant, family, _ in PLANTS]

    def some(times: int, **changed: str) -> None:
        for _ in range(times):
            inventor.record(*plants[int(inventor.chance.random() * len(plants))], **changed)

    some(5, decimalLatitude="", decimalLongitude="")
    some(4, decimalLatitude="0.0", decimalLongitude="0.0", issue="ZERO_COORDINATE")
    some(3, decimalLatitude="41,6812", decimalLongitude="-84,2501")
    some(2, decimalLatitude="41°40'N", decimalLongitude="84°15'W")
    some(4, decimalLatitude="-84.250000", decimalLongitude="41.680000")
    some(3, issue="PRESUMED_SWAPPED_COORDINATE")
    some(2, decimalLatitude="141.680000")
    some(3, issue="COUNTRY_COORDINATE_MISMATCH")
    some(4, basisOfRecord="FOSSIL_SPECIMEN")
    some(4, basisOfRecord="LIVING_SPECIMEN", locality="invented botanic garden")
    some(4, occurrenceStatus="ABSENT", individualCount="0")
    some(2, occurrenceStatus="notDetected")
    some(2, occurrenceStatus="perhaps")
    some(3, coordinateUncertaintyInMeters="50000", issue="COORDINATE_ROUNDED")
    some(2, coordinateUncertaintyInMeters="0")
    some(2, coordinateUncertaintyInMeters="about 30")
    some(4, establishmentMeans="MANAGED")
    some(3, eventDate="", day="", month="", year="")
    some(2, eventDate="1998-06/08", day="", month="")
    some(2, countryCode="")
    some(3, scientificName="", species="", genus="", verbatimScientificName="")
    some(
        3,
        issue="TAXON_MATCH_HIGHERRANK",
        scientificName="Nymphaea",
        species="",
        taxonRank="GENUS",
        verbatimScientificName="Nymphaea sp.",
    )
    some(2, issue="TAXON_MATCH_FUZZY", verbatimScientificName="Nymphea odoratta")
    for plant, family in (
        ("Acer saccharum", "Sapindaceae"),
        ("Quercus alba", "Fagaceae"),
        ("Trillium grandiflorum", "Melanthiaceae"),
    ):
        inventor.record(plant, family)
        inventor.record(plant, family)
    inventor.record(
        "Eichhornia crassipes",
        "Pontederiaceae",
        scientificName="Eichhornia crassipes (Mart.) Solms",
    )
    inventor.record(
        "Cabomba caroliniana", "Cabombaceae", decimalLatitude="41.7312", decimalLongitude="-84.1620"
    )
    some(3, coordinateUncertaintyInMeters="250000")
    some(3, decimalLongitude="-484.250000")
    for original in inventor.made[3:60:19]:
        inventor.made.append(dict(original))
