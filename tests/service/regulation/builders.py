"""Small law for tests."""

from datetime import date
from typing import Any

from service.regulation.law import Entry, LawBook, ListClass, ListVersion
from service.regulation.subject import Subject
from service.values.vocabulary import Jurisdiction, ListId, PlantId

OHIO = Jurisdiction("US-OH")
ON = date(2026, 6, 1)


def a_class(name: str = "A", **changes: Any) -> ListClass:
    return ListClass(
        **{"name": name, "acts": ("sell", "import"), "how_known": "read", "permit": "no", **changes}
    )


def an_entry(plant: str = "trapa-natans", **changes: Any) -> Entry:
    accepted = plant.replace("-", " ").capitalize()
    return Entry(
        **{
            "class_name": "A",
            "plant_id": PlantId(plant),
            "accepted_name": accepted,
            "name_as_listed": accepted,
            "rank": "species",
            "how_known": "read",
            **changes,
        }
    )


def a_list(*entries: Entry, list_id: str = "us-oh-test", **changes: Any) -> ListVersion:
    return ListVersion(
        **{
            "list_id": ListId(list_id),
            "jurisdiction": OHIO,
            "title": "Invented list",
            "authority": "Invented department",
            "citation": "Test Code 1",
            "kind": "regulation",
            "how_known": "read",
            "completeness": "complete",
            "classes": (a_class(),),
            "entries": entries,
            **changes,
        }
    )


def law(*versions: ListVersion) -> LawBook:
    return LawBook(versions)


def a_subject(plant: str = "trapa-natans", **changes: Any) -> Subject:
    plant_id = PlantId(plant)
    name = plant.replace("-", " ").capitalize()
    genus = PlantId(plant.split("-")[0])
    lineage = (plant_id,) if plant_id == genus else (plant_id, genus)
    return Subject(
        **{"plant_id": plant_id, "name": name, "rank": "species", "lineage": lineage, **changes}
    )
