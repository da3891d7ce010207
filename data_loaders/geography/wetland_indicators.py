"""Wetland indicator ratings by region of the Army Corps of Engineers, from the package's table."""

import csv
import io
from importlib.resources import files

from data_loaders.build import Draft, bytes_sha256
from data_loaders.report import FileReport, Tally, write_source
from service.errors import BadFile

FILE = "wetland_indicator_by_region.csv"
RATINGS = ("OBL", "FACW", "FAC", "FACU", "UPL")
"""Wettest first: obligate, facultative wetland, facultative, facultative upland, upland."""
REGIONS = (
    "ALASKA",
    "ARID_W",
    "CARIB",
    "CSTL_PLAIN",
    "E_MTNS",
    "GT_PLAINS",
    "HAWAII",
    "MIDWEST",
    "NE",
    "W_MTNS",
)


def add_wetland_indicators(draft: Draft) -> FileReport:
    """Put the ratings into a draft that holds the plants, joined by accepted name, letter for
    letter.

    Raises:
        BadFile: a rating or region that is none.
    """
    content = files("data_loaders.reference").joinpath("plants", FILE).read_bytes()
    plants = {
        str(row[0]): str(row[1])
        for row in draft.connection.execute("SELECT accepted_name, plant_id FROM plant")
    }
    tally, kept = Tally(), {}
    for number, row in enumerate(csv.DictReader(io.StringIO(content.decode())), start=2):
        if row["indicator"] not in RATINGS or row["army_corps_region"] not in REGIONS:
            raise BadFile(
                FILE,
                f"rating {row['indicator']!r} in {row['army_corps_region']!r} is not known.",
                place=f"line {number}",
            )
        tally.read()
        plant_id = plants.get(row["accepted_name"])
        key = (plant_id, row["army_corps_region"], row["table"])
        if plant_id is None:
            tally.apart("plant not in the store")
        elif key in kept:
            tally.apart("plant rated twice for a region")
        else:
            kept[key] = (
                plant_id,
                row["army_corps_region"],
                row["indicator"],
                row["name_in_epa_table"],
                row["table"],
            )
    draft.connection.executemany(
        "INSERT INTO wetland_indicator (plant_id, region, indicator, name_in_source,"
        " source_table) VALUES (?, ?, ?, ?, ?)",
        kept.values(),
    )
    tally.keep(len(kept))
    report = tally.report(FILE, "wetland-indicators", bytes_sha256(content))
    write_source(
        draft,
        report,
        kind="reference",
        title="Wetland indicator ratings by Army Corps region, survey tables of 2011 and 2016",
        version="2011, 2016",
        licence="public domain (a work of the US government)",
        citation="US EPA aquametNWCA, tables wisNWCA and wisNWCA_2016, after the National"
        " Wetland Plant List of those years; "
        "later lists are not in it",
    )
    draft.expect_count("wetland_indicator", len(kept))
    return report
