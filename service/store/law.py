"""Lists, classes and entries of a build."""

import json
import sqlite3
from collections import defaultdict
from datetime import date
from typing import Any

from service.regulation.law import Entry, LawBook, ListClass, ListVersion, Office, Term
from service.values.vocabulary import CountyFips, Jurisdiction, ListId, PlantId

_Key = tuple[str, str]


def read_law(connection: sqlite3.Connection) -> LawBook:
    """Every list version of the build, and the offices to ask."""
    classes: dict[_Key, list[ListClass]] = defaultdict(list)
    for row in connection.execute("SELECT * FROM law_class ORDER BY list_id, version, position"):
        classes[row["list_id"], row["version"]].append(_class(row))
    entries: dict[_Key, list[Entry]] = defaultdict(list)
    for row in connection.execute("SELECT * FROM law_entry ORDER BY list_id, version, position"):
        entries[row["list_id"], row["version"]].append(_entry(row))
    rows = connection.execute("SELECT * FROM law_list ORDER BY list_id, version").fetchall()
    offices = connection.execute("SELECT * FROM law_office ORDER BY jurisdiction, topic")
    return LawBook(
        tuple(_version(row, classes[_key(row)], entries[_key(row)]) for row in rows),
        tuple(_office(row) for row in offices),
    )


def _key(row: sqlite3.Row) -> _Key:
    return row["list_id"], row["version"]


def _version(row: sqlite3.Row, classes: list[ListClass], entries: list[Entry]) -> ListVersion:
    return ListVersion(
        list_id=ListId(row["list_id"]),
        jurisdiction=Jurisdiction(row["jurisdiction"]),
        title=row["title"],
        authority=row["authority"],
        citation=row["citation"],
        kind=row["kind"],
        how_known=row["how_known"],
        completeness=row["completeness"],
        url=row["url"],
        effective_from=_day(row["effective_from"]),
        amended=_day(row["amended"]),
        superseded_on=_day(row["superseded_on"]),
        read_url=row["read_url"],
        read_copy_date=row["read_copy_date"],
        missing=row["missing"],
        note=row["note"],
        classes=tuple(classes),
        entries=tuple(entries),
    )


def _office(row: sqlite3.Row) -> Office:
    return Office(
        jurisdiction=Jurisdiction(row["jurisdiction"]),
        topic=row["topic"],
        name=row["name"],
        url=row["url"],
        url_known=row["url_known"],
    )


def _class(row: sqlite3.Row) -> ListClass:
    return ListClass(
        name=row["name"],
        acts=tuple(json.loads(row["acts"])),
        how_known=row["how_known"],
        acts_known=bool(row["acts_known"]),
        duty=row["duty"],
        permit=row["permit"],
        permit_for=tuple(json.loads(row["permit_for"])),
        summary=row["summary"],
        every_aquatic_plant=bool(row["every_aquatic_plant"]),
        open_definition=bool(row["open_definition"]),
        terms=_terms(row["terms"]),
    )


def _entry(row: sqlite3.Row) -> Entry:
    return Entry(
        class_name=row["class_name"],
        plant_id=PlantId(row["plant_id"]),
        accepted_name=row["accepted_name"],
        rank=row["rank"],
        how_known=row["how_known"],
        name_as_listed=row["name_as_listed"],
        common_as_listed=row["common_as_listed"],
        scope=tuple(json.loads(row["scope"])),
        exceptions=row["exceptions"],
        area=row["area"],
        condition=row["condition"],
        terms=_terms(row["terms"]),
        read_url=row["read_url"],
    )


def _terms(stored: str) -> tuple[Term, ...]:
    return tuple(_term(load) for load in json.loads(stored))


def _term(stored: dict[str, Any]) -> Term:
    return Term(
        kind=stored["kind"],
        words=stored["words"],
        acts=tuple(stored["acts"]),
        taxa=tuple(PlantId(taxon) for taxon in stored["taxa"]),
        cultivars=tuple(stored["cultivars"]),
        counties=tuple(CountyFips(county) for county in stored["counties"]),
        on=_day(stored["on"]),
    )


def _day(stored: str | None) -> date | None:
    return date.fromisoformat(stored) if stored else None
