"""The result for a person to decide on: differences in order, as a page and by number."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal

import jinja2

from data_loaders.regulations.reading.report import Json
from data_loaders.regulations.reading.values import Confirmed, ListReading, Missing
from service.errors import BadRequest

DifferenceKind = Literal["class-differs", "missing-here", "not-in-text", "unknown-name"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing to decide.

    Attributes:
        number: from 1, in the order of the page.
        takes_over: whether accepting it changes the list; what is not in the text, or not known,
            stays as it is.
    """

    number: int
    kind: DifferenceKind
    say: str
    name_in_list: str = ""
    class_in_list: str = ""
    text_class: str = ""
    printed: str = ""
    context: str = ""
    place: str = ""
    addition: Missing | None = None
    reclassed: Confirmed | None = None

    @property
    def takes_over(self) -> bool:
        return self.addition is not None or self.reclassed is not None

    @property
    def marked(self) -> str:
        """The name as the passage has it; empty where it is not there in these letters."""
        names = (self.printed, self.name_in_list)
        return next((name for name in names if name and name in self.context), "")

    @property
    def before(self) -> str:
        return self.context.partition(self.marked)[0] if self.marked else self.context

    @property
    def after(self) -> str:
        return self.context.partition(self.marked)[2] if self.marked else ""


def differences(reading: ListReading) -> tuple[Difference, ...]:
    """What a person has to decide: other classes, additions, entries not seen, unknown names."""
    return tuple(_numbered(reading))


def _numbered(reading: ListReading) -> Iterator[Difference]:
    number = 0
    for confirmed in reading.class_differs:
        number += 1
        yield Difference(
            number,
            "class-differs",
            f"accepting moves it to {confirmed.class_in_text}",
            confirmed.name,
            confirmed.class_in_list,
            confirmed.class_in_text or "",
            confirmed.printed,
            confirmed.context,
            confirmed.place,
            reclassed=confirmed,
        )
    for missing in reading.missing_here:
        number += 1
        related = f"; the list has {', '.join(missing.related)}" if missing.related else ""
        yield Difference(
            number,
            "missing-here",
            f"accepting adds {missing.accepted_name}{related}",
            text_class=missing.class_in_text or "",
            printed=missing.printed,
            context=missing.context,
            place=missing.place,
            addition=missing,
        )
    for unseen in reading.not_in_text:
        number += 1
        yield Difference(
            number,
            "not-in-text",
            _unseen(unseen.perhaps, unseen.mentioned, unseen.by_reference),
            unseen.name,
            unseen.class_in_list,
            printed=unseen.perhaps,
            context=unseen.context,
            place=unseen.place,
        )
    for unknown in reading.unknown_names:
        if unknown.near_entry is not None and any(
            difference.entry == unknown.near_entry for difference in reading.not_in_text
        ):
            continue  # shown beside the entry that it may misspell
        number += 1
        perhaps = f"perhaps {unknown.perhaps}; " if unknown.perhaps else ""
        yield Difference(
            number,
            "unknown-name",
            f"{perhaps}not a name of the store; it stays out until a person enters it",
            text_class=unknown.class_in_text or "",
            printed=unknown.printed,
            context=unknown.context,
            place=unknown.place,
        )


def _unseen(perhaps: str, mentioned: str, by_reference: str) -> str:
    reasons = [
        f"perhaps printed as {perhaps}" if perhaps else "",
        f"named, but not as listed ({mentioned})" if mentioned else "",
        f"in {by_reference}, which the text takes over" if by_reference else "",
    ]
    said = "; ".join(reason for reason in reasons if reason)
    return f"{said}; the entry stays as it is" if said else "the entry stays as it is"


def accepted(
    found: Collection[Difference], numbers: str
) -> tuple[tuple[Missing, ...], tuple[Confirmed, ...]]:
    """Additions and class changes of the differences that a person takes over.

    Args:
        numbers: ``all``, or numbers and spans such as ``1,3-5``; empty takes none.

    Raises:
        BadRequest: no such number, or one whose acceptance changes nothing.
    """
    chosen = _chosen(found, numbers)
    return (
        tuple(difference.addition for difference in chosen if difference.addition is not None),
        tuple(difference.reclassed for difference in chosen if difference.reclassed is not None),
    )


def _chosen(found: Collection[Difference], numbers: str) -> list[Difference]:
    if numbers.strip().lower() == "all":
        return [difference for difference in found if difference.takes_over]
    by_number = {difference.number: difference for difference in found}
    chosen: dict[int, Difference] = {}
    for part in (piece.strip() for piece in numbers.split(",") if piece.strip()):
        first, _, last = part.partition("-")
        if not first.isdecimal() or (last and not last.isdecimal()):
            raise BadRequest(
                f"{part!r} is not a number of a difference.", next_step="Give 1,3-5 or all."
            )
        for number in range(int(first), int(last or first) + 1):
            if number not in by_number:
                raise BadRequest(f"There is no difference {number}; there are {len(by_number)}.")
            if not by_number[number].takes_over:
                raise BadRequest(
                    f"Difference {number} changes nothing: {by_number[number].say}.",
                    next_step="Entries are never taken out by reading; edit the file for that.",
                )
            chosen[number] = by_number[number]
    return list(chosen.values())


def review_page(found: Json, reading: ListReading) -> str:
    """The review as one HTML file that needs nothing else, no script either."""
    source = files(__package__).joinpath("review.html.j2").read_text(encoding="utf-8")
    environment = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    return environment.from_string(source).render(found=found, differences=differences(reading))
