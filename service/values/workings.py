"""What a worked figure rests on: facts given, coefficients with their source, and facts that are
missing; and the reading of the files of coefficients.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Self, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, ValidationError, model_validator

from service.errors import BadFile
from service.values.plants import Plant, Provenance
from service.values.quantities import Quantity, Unit
from service.values.vocabulary import HowKnown

_Model = TypeVar("_Model", bound=BaseModel)


def data_text(package: str, name: str) -> str:
    """The text of a file of a package."""
    return files(package).joinpath(name).read_text(encoding="utf-8")


def read_data(package: str, name: str, model: type[_Model]) -> _Model:
    """A TOML file of a package, as the model of it.

    Raises:
        BadFile: not TOML, or not as the model has it.
    """
    try:
        return model.model_validate(tomllib.loads(data_text(package, name)))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise BadFile(name, str(error)) from error


BY_USER = Provenance("user")
WORKED_OUT = Provenance("measured", "worked out in a figure above")
NO_SOURCE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Given:
    """One input of a figure.

    Attributes:
        quantity: None where the input is a word, which is then in ``text``.
    """

    name: str
    quantity: Quantity | None
    known: Provenance
    text: str = ""

    @classmethod
    def by_user(cls, name: str, value: float, unit: Unit) -> "Given":
        return cls(name, Quantity.exact(value, unit), BY_USER)

    def quantity_text(self) -> str:
        """The value in both unit systems, or the word."""
        return self.text if self.quantity is None else self.quantity.text()


@dataclass(frozen=True, slots=True)
class Missing:
    """A fact that nobody has given.

    Attributes:
        field: of the request or the catalogue, dotted: ``place.depth_cm``.
        needed_for: what cannot be worked out without it.
        look_up: where a person finds it.
    """

    field: str
    fact: str
    needed_for: str
    look_up: str


@dataclass(frozen=True, slots=True)
class Coefficient:
    """A constant of a method: the value used, the range in which practice finds it, and where it
    stands.
    """

    key: str
    name: str
    value: float
    low: float
    high: float
    unit: Unit
    known: Provenance
    why: str = ""

    @property
    def source(self) -> str:
        """The reference, or that there is none."""
        if self.known.how_known == "common-practice":
            return NO_SOURCE
        return self.known.source + (" (from memory)" if self.known.how_known == "memory" else "")

    def given(self) -> Given:
        return Given(self.name, Quantity.exact(self.value, self.unit), self.known)

    def span(self) -> Quantity:
        return Quantity(self.low, self.high, self.unit)


def known_range(plant: Plant, column: str) -> Provenance:
    """How a range of the plant is known, by the weaker of its two ends: ``height_cm`` for
    ``height_cm_min`` and ``_max``.
    """
    low, high = plant.known(f"{column}_min"), plant.known(f"{column}_max")
    return low if low.how_known == "common-practice" else high


class _Entry(BaseModel):
    """One table of a coefficient file."""

    model_config = ConfigDict(extra="forbid", strict=False)

    name: str
    value: float
    low: float | None = None
    high: float | None = None
    unit: Unit
    how_known: HowKnown
    source: str = ""
    why: str = ""

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        low = self.value if self.low is None else self.low
        high = self.value if self.high is None else self.high
        if not low <= self.value <= high:
            raise ValueError(f"value {self.value} lies outside {low} to {high}")
        if (self.how_known == "common-practice") == bool(self.source):
            raise ValueError("a source goes with every coefficient except one of common practice")
        return self


def read_coefficients(package: str, file: str) -> Mapping[str, Coefficient]:
    """The coefficients of one TOML file of a package, by key.

    Raises:
        BadFile: names the table and field that cannot be used.
    """
    return coefficients_of(file, data_text(package, file))


def coefficients_of(file: str, text: str) -> Mapping[str, Coefficient]:
    """The coefficients in the text of a TOML file, by key.

    Raises:
        BadFile: names the table and field that cannot be used.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadFile(file, str(error)) from error
    return {key: _coefficient(file, key, table) for key, table in tables.items()}


def _coefficient(file: str, key: str, table: object) -> Coefficient:
    try:
        entry = _Entry.model_validate(table)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"])
        place = f"{key}.{field}" if field else key
        raise BadFile(
            file, first["msg"], place=place, next_step=f"Units: {', '.join(get_args(Unit))}."
        ) from error
    return Coefficient(
        key=key,
        name=entry.name,
        value=entry.value,
        low=entry.value if entry.low is None else entry.low,
        high=entry.value if entry.high is None else entry.high,
        unit=entry.unit,
        known=Provenance(entry.how_known, entry.source),
        why=entry.why,
    )
