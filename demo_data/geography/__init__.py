"""An invented county on the edge of Ohio and Michigan: waters, watersheds, hardiness zones, plant
records.

Every water, name, person, ZIP code, identifier and record in these files is invented. Only the
state line is real, and the names of the plants. The files are written by ``python -m
demo_data.make_demo_geography``.
"""

from importlib.resources import files
from pathlib import Path

FOLDER = Path(str(files(__package__)))

WATERS = FOLDER / "invented_waters.gpkg"
WATERSHEDS = FOLDER / "invented_watersheds.geojson"
ZONES_BY_ZIP = FOLDER / "invented_zones_by_zip.csv"
ZONE_AREAS = FOLDER / "invented_zone_areas.geojson"
OCCURRENCE_ARCHIVE = FOLDER / "invented_occurrences_archive.zip"
OCCURRENCE_TABLE = FOLDER / "invented_occurrences.tsv"
"""Tab-delimited, with the columns of a simple download."""
