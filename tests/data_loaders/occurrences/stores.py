"""Small stores to load occurrence records into."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from data_loaders.build import drafting

PLANTS: dict[str, tuple[str, ...]] = {
    "Pontederia crassipes": ("Eichhornia crassipes",),
    "Nymphaea odorata": ("Nymphaea tuberosa",),
    "Typha latifolia": (),
    "Typha × glauca": (),
    "Cabomba caroliniana": (),
    "Phragmites australis": (),
    "Phragmites australis subsp. australis": (),
}
"""Accepted names with their synonyms."""


def plant_id(name: str) -> str:
    return name.lower().replace("×", "x").replace(".", "").replace(" ", "-")


def make_store(path: Path, plants: Mapping[str, Sequence[str]] = PLANTS) -> Path:
    """A store that knows these plants and nothing else."""
    with drafting(path, on_top=False) as draft:
        draft.db.table("source").insert(
            {"source_id": "names", "kind": "plants", "title": "Names", "sha256": "0" * 64}
        )
        for accepted, synonyms in plants.items():
            identifier = plant_id(accepted)
            species = " ".join(accepted.split()[:2])
            parent = plant_id(species) if species in plants and species != accepted else None
            rank = "subspecies" if parent else "species"
            draft.db.table("plant").insert(
                {
                    "plant_id": identifier,
                    "accepted_name": accepted,
                    "rank": rank,
                    "parent_id": parent,
                    "catalogued": 1,
                }
            )
            for name, kind in [
                (accepted, "accepted"),
                *((synonym, "synonym") for synonym in synonyms),
            ]:
                draft.db.table("name").insert(
                    {"name": name, "kind": kind, "plant_id": identifier, "source_id": "names"}
                )
    return path
