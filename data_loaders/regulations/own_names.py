"""What the name in a row of a list of one's own means, and what a person has to decide."""

import re
from dataclasses import dataclass, field, replace
from typing import Literal

from data_loaders.regulations.listfile import EntryModel
from service.errors import BadRequest
from service.names import Resolution, Resolver
from service.values.vocabulary import Act, Match, Rank

RowKind = Literal[
    "entry",
    "doubtful-name",
    "unreadable",
    "left-out",
    "section",
    "footnote",
    "repeated-header",
    "blank",
]


_WHOLE_GENUS = re.compile(r"\bspp\b\.?|\bspecies\b", re.I)


_SCIENTIFIC = re.compile(r"[A-Z][a-zë-]+(?: (?:× ?)?[a-zë.-]+){0,4}|× ?[A-Z][a-z-]+(?: [a-z-]+)?")


_INFRASPECIFIC_RANKS: dict[str, Rank] = {
    "subsp.": "subspecies",
    "ssp.": "subspecies",
    "var.": "variety",
    "f.": "form",
}


@dataclass(frozen=True, slots=True)
class OwnListRow:
    """One row as it was understood.

    Attributes:
        number: of the row in the file, from 1.
        listed: the name as the row spells it, without footnote signs.
        accepted_name: what the row is taken to mean; empty while that is open.
        match: how the name was found.
        candidates: accepted names that a doubtful one may mean.
        say: for a person: what is doubtful or cannot be read and what to do, or how it was
            understood.
    """

    number: int
    kind: RowKind
    listed: str = ""
    common: str = ""
    accepted_name: str = ""
    match: Match | None = None
    candidates: tuple[str, ...] = ()
    class_name: str = ""
    acts: tuple[Act, ...] = ()
    counties: tuple[str, ...] = ()
    say: str = ""
    entry: EntryModel | None = field(default=None, repr=False)


def with_name(
    plain: OwnListRow, resolver: Resolver, chosen: str | None
) -> tuple[OwnListRow, str, Rank]:
    """The row with its name found or chosen; the accepted name is empty while it is open."""
    if chosen == "":
        return replace(plain, kind="left-out", say="Left out, as chosen."), "", "species"
    resolution = resolver.resolve(chosen or plain.listed)
    taken = _as_chosen(chosen, resolution, plain.number) if chosen else _sure(resolution)
    candidates = tuple(dict.fromkeys(plant.accepted_name for plant in resolution.candidates))
    found = replace(plain, match=resolution.match, candidates=candidates)
    if taken is None:
        return replace(found, kind="doubtful-name", say=_question(resolution)), "", "species"
    accepted, rank, say = taken
    return replace(found, kind="entry", accepted_name=accepted, say=say), accepted, rank


def _sure(resolution: Resolution) -> tuple[str, Rank, str] | None:
    """Accepted name and rank where nothing about the name is open."""
    if resolution.cultivar is not None or resolution.parsed.several or not resolution.candidates:
        return None
    best = resolution.candidates[0]
    if resolution.confirmed:
        via = "" if best.through == best.accepted_name else f" (through {best.through})"
        return (
            best.accepted_name,
            _rank(resolution, best.rank),
            f"Taken as {best.accepted_name}{via}.",
        )
    if resolution.match == "genus" and best.rank == "genus" and _names_whole_genus(resolution):
        return best.accepted_name, "genus", f"Taken as the whole genus {best.accepted_name}."
    return None


def _names_whole_genus(resolution: Resolution) -> bool:
    open_names = any(name.open_nomenclature for name in resolution.parsed.names)
    return not open_names or bool(_WHOLE_GENUS.search(resolution.label))


def _rank(resolution: Resolution, rank: Rank) -> Rank:
    """The rank that the label names, where it is below that of the taxon."""
    marks = [mark for name in resolution.parsed.names[:1] for mark, _ in name.infraspecific]
    return _INFRASPECIFIC_RANKS.get(marks[-1], rank) if marks and rank == "species" else rank


def _as_chosen(name: str, resolution: Resolution, number: int) -> tuple[str, Rank, str]:
    sure = _sure(resolution)
    if sure is not None:
        return sure[0], sure[1], f"Chosen: {sure[0]}."
    exact = next((plant for plant in resolution.candidates if plant.accepted_name == name), None)
    if exact is not None:
        return exact.accepted_name, exact.rank, f"Chosen: {exact.accepted_name}."
    if not _SCIENTIFIC.fullmatch(name):
        raise BadRequest(
            f"{name!r}, chosen for row {number}, is not a scientific name.",
            next_step="Give genus and species.",
        )
    return (
        name,
        "species" if " " in name else "genus",
        f"Chosen: {name}, which the store does not know yet.",
    )


def _question(resolution: Resolution) -> str:
    if resolution.cultivar is not None and resolution.confirmed:
        species = resolution.candidates[0].accepted_name
        return (
            f"The row names a cultivar; an entry reaches all of {species}. If that is meant, choose"
            f" the row as {species}."
        )
    if resolution.parsed.several:
        plants = ", ".join(resolution.parsed.segments)
        return f"The row names several plants: {plants}. Give each a row of its own."
    return (
        resolution.to_confirm
        or "The name is not sure. Choose the accepted name for the row, or leave it out."
    )
