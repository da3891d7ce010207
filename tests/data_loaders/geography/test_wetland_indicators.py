"""Wetland indicators by region, joined to plants by their accepted name."""

import csv
import sqlite3
from importlib.resources import files

import sqlite_utils

from data_loaders.build import Draft
from data_loaders.geography.wetland_indicators import FILE, RATINGS, add_wetland_indicators
from data_loaders.plants.catalogue import add_catalogue
from service.store.schema import create_tables


def draft_of_tables() -> Draft:
    connection = sqlite3.connect(":memory:")
    create_tables(connection)
    return Draft(sqlite_utils.Database(connection))


def test_every_rating_of_the_table_reaches_its_plant() -> None:
    draft = draft_of_tables()
    add_catalogue(draft)
    report = add_wetland_indicators(draft)
    rows = list(
        csv.DictReader(
            files("data_loaders.reference").joinpath("plants", FILE).read_text().splitlines()
        )
    )
    assert (report.rows_read, report.rows_kept, dict(report.set_apart)) == (
        len(rows),
        len(rows),
        {},
    )
    stored = draft.connection.execute(
        "SELECT accepted_name, region, indicator, source_table FROM wetland_indicator JOIN plant USING (plant_id)"
    ).fetchall()
    assert {tuple(row) for row in stored} == {
        (row["accepted_name"], row["army_corps_region"], row["indicator"], row["table"])
        for row in rows
    }
    assert {row[2] for row in stored} <= set(RATINGS)


def test_a_plant_that_is_not_in_the_store_is_counted_and_not_invented() -> None:
    draft = draft_of_tables()
    report = add_wetland_indicators(draft)
    assert report.rows_kept == 0
    assert report.set_apart == {"plant not in the store": report.rows_read}
