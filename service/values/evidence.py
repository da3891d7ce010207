"""What the loaded occurrence records say of one plant around one site."""

from dataclasses import dataclass

from service.values.site import Relation
from service.values.vocabulary import PlantId, WaterId

RING_RADII_M = (1_000.0, 5_000.0, 25_000.0, 100_000.0)


@dataclass(frozen=True, slots=True)
class Ring:
    """Records within a radius of the site, the smaller rings included: one plant in one square of
    about a kilometre in one year is one record, whoever published it, and counts where its
    coordinates are no vaguer than the radius.

    Attributes:
        all_records: of every aquatic plant there: how much the place is visited.
        latest_year: of the plant's records there; None where none states a year.
    """

    radius_m: float
    plant_records: int
    all_records: int
    latest_year: int | None = None


@dataclass(frozen=True, slots=True)
class WaterRecords:
    """Records in or along one water, allowing for the uncertainty of their coordinates, counted as
    in rings.
    """

    water_id: WaterId
    relation: Relation
    plant_records: int
    all_records: int
    latest_year: int | None = None


@dataclass(frozen=True, slots=True)
class Dataset:
    """A data set to cite, and how many records it holds in the largest ring, each by itself."""

    dataset_key: str
    title: str
    licence: str
    citation: str
    records: int


@dataclass(frozen=True, slots=True)
class Evidence:
    """Occurrence evidence for one plant at one site.

    Attributes:
        loaded: False when the store holds no occurrence records at all; then counts mean nothing.
        nearest_m: distance to the nearest record, or how vague its coordinates are where they are
            vaguer than the ring it seems to lie in; None when there is none within the largest
            ring.
    """

    plant_id: PlantId
    loaded: bool
    nearest_m: float | None = None
    rings: tuple[Ring, ...] = ()
    waters: tuple[WaterRecords, ...] = ()
    first_year: int | None = None
    latest_year: int | None = None
    datasets: tuple[Dataset, ...] = ()

    @property
    def presence(self) -> "Presence":
        """What a chance of escape takes from it."""
        with_records = [n for n, ring in enumerate(self.rings) if ring.plant_records > 0]
        in_water = any(there.plant_records > 0 for there in self.waters)
        return Presence(min(with_records, default=None), in_water, self.latest_year)


@dataclass(frozen=True, slots=True)
class Presence:
    """The part of the evidence that a chance of escape hangs on.

    Attributes:
        ring: number of the narrowest ring that holds a record, from 0; None where none does.
        in_water: whether one lies in or along any of the waters.
        latest_year: of any record in the widest ring; None where none states a year.
    """

    ring: int | None = None
    in_water: bool = False
    latest_year: int | None = None


ABSENT = Presence()
"""No record anywhere near."""

UNSTATED_UNCERTAINTY_M = 1_000.0
"""Taken for a record that states no coordinate uncertainty. Common practice, no source."""
WATER_UNCERTAINTY_LIMIT_M = 5_000.0
"""Vaguer records are taken for no farther than this off their coordinates, or one would count for
every water of a county. Common practice, no source.
"""
