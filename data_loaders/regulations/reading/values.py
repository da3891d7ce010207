"""What a document lists, and what holding it against a list found, as values."""

from dataclasses import dataclass, field
from typing import Literal

from data_loaders.regulations.reading.dates import NamedDay
from data_loaders.regulations.reading.scan import Sort

Where = Literal["row", "item", "heading", "prose"]
How = Literal["as-listed", "accepted-name", "synonym", "common"]


@dataclass(frozen=True, slots=True)
class Listing:
    """A name of the document.

    Attributes:
        name: scientific with the genus in full, or a common name where there is no other.
        printed: as the text has it.
        common: the common name beside it, where there is one.
        class_name: the class of the list it is under; None where the text does not show it.
        set_aside: why it is not listed; empty where it is.
        context: a few words around it.
    """

    name: str
    printed: str
    sort: Sort | Literal["common"]
    known: bool
    where: Where
    place: str
    context: str
    class_name: str | None
    common: str = ""
    set_aside: str = ""


@dataclass(frozen=True, slots=True)
class PlacedDay:
    """A day that the document names, with its place."""

    day: NamedDay
    context: str
    place: str


@dataclass(frozen=True, slots=True)
class Incorporation:
    """A federal list that the text takes over by reference."""

    name: str
    context: str
    place: str


@dataclass
class Listings:
    """All that was found in a document, in its order."""

    listings: list[Listing] = field(default_factory=list)
    days: list[PlacedDay] = field(default_factory=list)
    incorporated: list[Incorporation] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Confirmed:
    """An entry that the text lists.

    Attributes:
        entry: its position in the list.
        name: as the list has it.
        printed: as the text has it.
        class_in_text: None where the text does not show the class.
    """

    entry: int
    name: str
    printed: str
    how: How
    class_in_list: str
    class_in_text: str | None
    context: str
    place: str

    @property
    def class_agrees(self) -> bool | None:
        return None if self.class_in_text is None else self.class_in_text == self.class_in_list


@dataclass(frozen=True, slots=True)
class Missing:
    """A known plant that the text lists and the list does not have.

    Attributes:
        catalogued: a plant of water or wet ground that the catalogue describes.
        related: names of entries above or below it in rank.
    """

    name: str
    printed: str
    accepted_name: str
    common: str
    class_in_text: str | None
    catalogued: bool
    related: tuple[str, ...]
    context: str
    place: str


@dataclass(frozen=True, slots=True)
class Unseen:
    """An entry that the text does not list.

    Attributes:
        perhaps: a name of the text that may be a misspelling of it.
        mentioned: why a name of it in the text is not a listing.
        by_reference: the federal list that the text takes over has it.
    """

    entry: int
    name: str
    accepted_name: str
    class_in_list: str
    perhaps: str = ""
    mentioned: str = ""
    by_reference: str = ""
    context: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A name of the text that the store does not know.

    Attributes:
        near_entry: position of an entry that it may misspell.
        perhaps: the name that it may misspell; empty where none is near.
    """

    name: str
    printed: str
    common: str
    class_in_text: str | None
    near_entry: int | None
    perhaps: str
    context: str
    place: str


@dataclass(frozen=True, slots=True)
class SetAside:
    """A name of the text that is not a listing, and why."""

    name: str
    reason: str
    context: str
    place: str


@dataclass(frozen=True, slots=True)
class ListReading:
    """What a document says of a list.

    Every entry is in ``confirmed`` or in ``not_in_text``. ``class_differs`` are those of
    ``confirmed`` that are in another class in the text.
    """

    list_id: str
    confirmed: tuple[Confirmed, ...]
    missing_here: tuple[Missing, ...]
    not_in_text: tuple[Unseen, ...]
    unknown_names: tuple[Unknown, ...]
    class_differs: tuple[Confirmed, ...]
    set_aside: tuple[SetAside, ...]
    days: tuple[PlacedDay, ...]
    incorporated: tuple[Incorporation, ...]

    @property
    def differs(self) -> bool:
        """Whether a person has something to decide."""
        return bool(
            self.missing_here or self.not_in_text or self.unknown_names or self.class_differs
        )

    @property
    def names_found(self) -> int:
        return len(self.confirmed) + len(self.missing_here) + len(self.unknown_names)
