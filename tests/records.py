"""The occurrence records of a store, one by one: read without the cells and boxes by which the
program finds them.
"""

import sqlite3
from dataclasses import dataclass

import numpy as np

from service.store.cells import unpack, unpack_keys
from service.store.record_blocks import RecordedPlants, distances_of, rows_by_number
from service.values.vocabulary import PlantId


@dataclass(frozen=True, slots=True)
class OccurrenceRecord:
    """One record, its Darwin Core terms as the publisher wrote them.

    Attributes:
        record_key: occurrenceID, else gbifID, else a hash of the record.
        longitude, latitude: WGS84 degrees.
        distance_m: geodesic, from the place asked about.
    """

    record_key: str
    dataset_key: str
    plant_id: PlantId
    longitude: float
    latitude: float
    distance_m: float
    uncertainty_m: float | None
    year: int | None
    licence: str
    basis_of_record: str
    establishment_means: str
    degree_of_establishment: str


def records_within(
    connection: sqlite3.Connection,
    longitude: float,
    latitude: float,
    radius_m: float,
    *,
    plant_id: PlantId | None = None,
    limit: int = 1_000,
) -> tuple[OccurrenceRecord, ...]:
    """The records nearest to a place, nearest first, of one plant (and its subspecies) or of
    all.
    """
    rows = connection.execute("SELECT packed, record_keys FROM occurrence_block").fetchall()
    records = unpack([packed for packed, _ in rows])
    keys = [key for _, joined in rows for key in unpack_keys(joined)]
    distances = distances_of(longitude, latitude, records)
    wanted = distances <= radius_m
    if plant_id is not None:
        wanted &= np.isin(records["plant_no"], RecordedPlants(connection).below(plant_id))
    places = sorted(
        np.flatnonzero(wanted).tolist(), key=lambda place: (distances[place], keys[place])
    )[:limit]
    chosen = records[places]
    plants = rows_by_number(connection, "plant", "plant_id", chosen["plant_no"].tolist())
    datasets = rows_by_number(connection, "dataset", "dataset_key", chosen["dataset_no"].tolist())
    terms = rows_by_number(
        connection,
        "terms",
        "licence, basis_of_record, establishment_means, degree_of_establishment",
        chosen["terms_no"].tolist(),
    )
    return tuple(
        OccurrenceRecord(
            keys[place],
            datasets[int(record["dataset_no"])][0],
            PlantId(plants[int(record["plant_no"])][0]),
            int(record["longitude_e7"]) / 1e7,
            int(record["latitude_e7"]) / 1e7,
            float(distances[place]),
            None if np.isnan(record["uncertainty_m"]) else float(record["uncertainty_m"]),
            int(record["year"]) or None,
            *terms[int(record["terms_no"])],
        )
        for place, record in zip(places, chosen, strict=True)
    )
