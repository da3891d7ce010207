"""Invented occurrence downloads in the shape of a real tab-separated one (50 columns), written by
DuckDB.

Every record, person and place in them is invented. Seeded by the row number, so that a size gives
the same file.
"""

from pathlib import Path

import duckdb

COLUMNS = [
    "gbifID",
    "datasetKey",
    "occurrenceID",
    "kingdom",
    "phylum",
    "class",
    "order",
    "family",
    "genus",
    "species",
    "infraspecificEpithet",
    "taxonRank",
    "scientificName",
    "verbatimScientificName",
    "verbatimScientificNameAuthorship",
    "countryCode",
    "locality",
    "stateProvince",
    "occurrenceStatus",
    "individualCount",
    "publishingOrgKey",
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "coordinatePrecision",
    "elevation",
    "elevationAccuracy",
    "depth",
    "depthAccuracy",
    "eventDate",
    "day",
    "month",
    "year",
    "taxonKey",
    "speciesKey",
    "basisOfRecord",
    "institutionCode",
    "collectionCode",
    "catalogNumber",
    "recordNumber",
    "identifiedBy",
    "dateIdentified",
    "license",
    "rightsHolder",
    "recordedBy",
    "typeStatus",
    "establishmentMeans",
    "lastInterpreted",
    "mediaType",
    "issue",
]

_TOWNS = 400
"""Three quarters of the records lie around so many invented towns, the rest anywhere in the
country's box.
"""


def write_download(
    target: Path, rows: int, names: list[tuple[str, str]], *, first: int = 0
) -> None:
    """Write ``rows`` records to a tab-separated file.

    Args:
        names: pairs of canonical name and authorship, used in turn.
        first: number of the first record, so that two files can hold different ones.
    """
    with duckdb.connect() as database:
        database.execute("SET threads = 2")
        database.execute("SET memory_limit = '1GB'")
        database.execute(
            "CREATE MACRO u(i, salt) AS (hash(i * 1000 + salt) % 1000000007) / 1000000007.0"
        )
        database.execute("CREATE TABLE plant (n BIGINT, name VARCHAR, author VARCHAR)")
        database.executemany(
            "INSERT INTO plant VALUES (?, ?, ?)", [(n, *pair) for n, pair in enumerate(names)]
        )
        database.execute(
            f"CREATE TABLE town AS SELECT i AS n, 27 + 20 * u(i, 1) AS lat, -122 + 52 * u(i, 2) AS lon FROM range({_TOWNS}) AS t(i)"
        )
        query = _QUERY.format(first=first, end=first + rows, plants=len(names), towns=_TOWNS)
        database.execute(
            f"COPY ({query}) TO '{target}' (FORMAT csv, DELIMITER '\t', HEADER true, QUOTE '', ESCAPE '')"
        )


_QUERY = """
SELECT
  4000000000 + i AS "gbifID",
  format('{{:08x}}-1111-4000-8000-000000000000', i * 7 % 800) AS "datasetKey",
  format('https://records.example.org/observations/{{:d}}', 100000000 + i) AS "occurrenceID",
  'Plantae' AS kingdom, 'Tracheophyta' AS phylum, 'Liliopsida' AS "class", 'Alismatales' AS "order",
  'Familiaceae' AS family, split_part(name, ' ', 1) AS genus, name AS species,
  '' AS "infraspecificEpithet", 'SPECIES' AS "taxonRank",
  trim(name || ' ' || author) AS "scientificName", name AS "verbatimScientificName",
  author AS "verbatimScientificNameAuthorship", 'US' AS "countryCode",
  format('Invented Creek below Mill {{:d}}', i % 977) AS locality, format('Invented State {{:d}}', i % 48) AS "stateProvince",
  CASE WHEN i % 211 = 0 THEN 'ABSENT' ELSE 'PRESENT' END AS "occurrenceStatus",
  '' AS "individualCount", '00000000-2222-4000-8000-000000000000' AS "publishingOrgKey",
  CASE WHEN i % 97 = 0 THEN '' ELSE format('{{:.6f}}', CASE WHEN i % 4 = 0 THEN 25 + 24 * u(i, 3)
    ELSE town.lat + (u(i, 4) - 0.5) * u(i, 5) * 0.8 END) END AS "decimalLatitude",
  CASE WHEN i % 97 = 0 THEN '' ELSE format('{{:.6f}}', CASE WHEN i % 4 = 0 THEN -124 + 57 * u(i, 6)
    ELSE town.lon + (u(i, 7) - 0.5) * u(i, 8) * 1.0 END) END AS "decimalLongitude",
  CASE WHEN i % 3 = 0 THEN '' ELSE format('{{:.1f}}', 3 + 900 * u(i, 9) * u(i, 10)) END
    AS "coordinateUncertaintyInMeters",
  '' AS "coordinatePrecision", '' AS elevation, '' AS "elevationAccuracy", '' AS depth, '' AS "depthAccuracy",
  strftime(DATE '1950-01-01' + CAST(27000 * sqrt(u(i, 11)) AS INTEGER), '%Y-%m-%dT%H:%M:%S') AS "eventDate",
  '' AS day, '' AS month, CAST(year(DATE '1950-01-01' + CAST(27000 * sqrt(u(i, 11)) AS INTEGER)) AS VARCHAR) AS year,
  2880000 + plant.n AS "taxonKey", 2880000 + plant.n AS "speciesKey",
  CASE WHEN i % 503 = 0 THEN 'LIVING_SPECIMEN' WHEN i % 5 = 0 THEN 'PRESERVED_SPECIMEN'
    ELSE 'HUMAN_OBSERVATION' END AS "basisOfRecord",
  'INV' AS "institutionCode", 'Records' AS "collectionCode", 100000000 + i AS "catalogNumber", '' AS "recordNumber",
  format('Observer {{:d}}', i % 7919) AS "identifiedBy", '' AS "dateIdentified",
  CASE i % 3 WHEN 0 THEN 'CC0_1_0' WHEN 1 THEN 'CC_BY_4_0' ELSE 'CC_BY_NC_4_0' END AS license,
  format('Observer {{:d}}', i % 7919) AS "rightsHolder", format('Observer {{:d}}', i % 7919) AS "recordedBy",
  '' AS "typeStatus", '' AS "establishmentMeans", '2025-03-01T00:00:00.000Z' AS "lastInterpreted",
  CASE WHEN i % 2 = 0 THEN 'StillImage' ELSE '' END AS "mediaType",
  CASE WHEN i % 151 = 0 THEN 'COORDINATE_ROUNDED;COUNTRY_COORDINATE_MISMATCH'
    ELSE 'COORDINATE_ROUNDED;CONTINENT_DERIVED_FROM_COORDINATES' END AS issue
FROM range({first}, {end}) AS t(i)
JOIN plant ON plant.n = CAST(floor({plants} * u(i, 12) * u(i, 13)) AS BIGINT)
JOIN town ON town.n = CAST(floor({towns} * u(i, 14) * u(i, 15)) AS BIGINT)
"""
