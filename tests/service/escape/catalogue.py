"""The reference catalogue and the reference law, as the tests of the escape model read them."""

import csv
import tomllib
from functools import cache
from pathlib import Path

from data_loaders.plants.catalogue import PlantRow, read_catalogue
from data_loaders.plants.history import read_histories
from data_loaders.plants.taxa import genus_of, plant_id_of
from service.values.plants import History, Plant, Range, Traits

REFERENCE = Path(__file__).parents[3] / "data_loaders" / "reference"


@cache
def plants() -> dict[str, Plant]:
    """Every plant of the catalogue by accepted name, traits only."""
    histories = read_histories(REFERENCE / "plants" / "traits")
    return {
        row.accepted_name: _plant(row, histories.get(row.accepted_name))
        for row in read_catalogue().plants
    }


def _plant(row: PlantRow, history: History | None) -> Plant:
    return Plant(
        plant_id=plant_id_of(row.accepted_name),
        accepted_name=row.accepted_name,
        rank=row.rank,
        genus=genus_of(row.accepted_name),
        family=row.family,
        traits=Traits(
            growth_form=row.growth_form,
            height_cm=_range(row.height_cm_min, row.height_cm_max),
            depth_cm=_range(row.depth_cm_min, row.depth_cm_max),
            flow=row.flow,
            light=row.light,
            zone_min=row.zone_min,
            zone_max=row.zone_max,
            native_north_america=row.native_north_america,
            native_regions=row.native_regions,
            spread_rate=row.spread_rate,
            spread_modes=row.spread_modes,
            perennating_organ=row.perennating_organ,
            doubling_days=_range(row.doubling_days_min, row.doubling_days_max),
            frost_kill=row.frost_kill,
            history=history,
        ),
    )


def _range(low: float | None, high: float | None) -> Range | None:
    ends = [end for end in (low, high) if end is not None]
    return Range(min(ends), max(ends)) if ends else None


@cache
def listed_somewhere() -> dict[str, tuple[str, ...]]:
    """Catalogue plants that some state lists, and the lists.

    A plant is listed where an entry of a state's list (federal lists left out) names it at the rank
    of species or below: by its accepted name, by a synonym of it, or by one of its subspecies or
    varieties. An entry for a whole genus lists none of its species here, for it tells them not
    apart.
    """
    accepted = plants().keys()
    synonyms = _synonyms()
    found: dict[str, set[str]] = {}
    for path in sorted((REFERENCE / "regulations").glob("*.toml")):
        law = tomllib.loads(path.read_text(encoding="utf-8"))
        if law["jurisdiction"] == "US":
            continue
        for entry in law.get("entries", []):
            if entry["rank"] == "genus":
                continue
            for name in _meant(entry["accepted_name"], entry["name_as_listed"], synonyms):
                if name in accepted:
                    found.setdefault(name, set()).add(law["list_id"])
    return {name: tuple(sorted(lists)) for name, lists in found.items()}


def listed_by_at_least(states: int) -> dict[str, tuple[str, ...]]:
    """Those of ``listed_somewhere`` that lists of so many states name."""
    return {
        name: lists
        for name, lists in listed_somewhere().items()
        if len({list_id.split("-")[1] for list_id in lists}) >= states
    }


def _meant(accepted_name: str, as_listed: str, synonyms: dict[str, set[str]]) -> set[str]:
    for name in (accepted_name, as_listed, " ".join(accepted_name.split()[:2])):
        if name in synonyms:
            return synonyms[name]
    return set()


@cache
def _synonyms() -> dict[str, set[str]]:
    with (REFERENCE / "plants" / "names.csv").open(encoding="utf-8", newline="") as stream:
        found: dict[str, set[str]] = {}
        for row in csv.DictReader(stream):
            if row["kind"] in ("accepted", "synonym"):
                found.setdefault(row["name"], set()).add(row["accepted_name"])
    return found


def federal_or_genus(name: str) -> str:
    """Whether a plant that no state lists by name stands on the federal list, or under a state's
    entry for its genus.
    """
    return (
        "; ".join(
            sorted(
                _otherwise_listed().get(name, set())
                | _otherwise_listed().get(genus_of(name), set())
            )
        )
        or "no"
    )


@cache
def _otherwise_listed() -> dict[str, set[str]]:
    synonyms = _synonyms()
    found: dict[str, set[str]] = {}
    for path in sorted((REFERENCE / "regulations").glob("*.toml")):
        law = tomllib.loads(path.read_text(encoding="utf-8"))
        for entry in law.get("entries", []):
            if entry["rank"] == "genus":
                found.setdefault(entry["accepted_name"], set()).add("genus listed by a state")
            elif law["jurisdiction"] == "US":
                for meant in _meant(entry["accepted_name"], entry["name_as_listed"], synonyms):
                    found.setdefault(meant, set()).add("federal list")
    return found
