"""The botanical and the common name of one plant, from two columns, read together."""

from collections.abc import Sequence
from dataclasses import replace

from service.names.values import (
    Candidate,
    Resolution,
)
from service.values.vocabulary import Match, PlantId

_GUESSES: frozenset[Match] = frozenset({"spelling", "genus", "none"})


def together(first: Resolution, second: Resolution) -> Resolution:
    """Two names of one plant, the botanical name or label first, read together.

    Names that agree confirm each other. Names that mean different plants leave the line open, with
    all that it may be. A name that means nothing here, or is only near in spelling, adds nothing.
    A botanical name outside the catalogue is never made sure by a common name.
    """
    if not second.candidates:
        return first
    if not first.candidates and not first.outside:
        return replace(second, label=first.label)
    shared = _shared(first.candidates, second.candidates)
    if shared and not first.outside:
        return _agreed(first, second, shared)
    if second.match == "spelling":
        return first
    if first.match in ("spelling", "none"):
        first = replace(first, match=second.match)
    asked = (
        f"Ask the grower which plant it is: {first.label!r} means {_named(first)} and"
        f" {second.label!r} means {_named(second)}."
    )
    present = {candidate.plant_id for candidate in first.candidates}
    further = [found for found in second.candidates if found.plant_id not in present]
    return replace(
        first,
        candidates=(*first.candidates, *further),
        confirmed=False,
        genus_only=False,
        to_confirm=" ".join(filter(None, (first.to_confirm if first.outside else "", asked))),
    )


def _agreed(first: Resolution, second: Resolution, shared: Sequence[Candidate]) -> Resolution:
    """The first name, made sure by the second where that leaves one plant."""
    in_doubt = first.parsed.several or any(name.qualifier for name in first.parsed.names)
    guesses = (first.match in _GUESSES) + (second.match in _GUESSES)
    if first.confirmed or in_doubt or guesses == 2 or second.match == "spelling":
        return first
    sure = len(shared) == 1 and (second.confirmed or not guesses)
    return replace(
        first,
        match=second.match if first.match in _GUESSES else first.match,
        candidates=tuple(shared),
        confirmed=sure,
        genus_only=all(candidate.rank == "genus" for candidate in shared),
        to_confirm="" if sure else first.to_confirm,
    )


def _shared(first: Sequence[Candidate], second: Sequence[Candidate]) -> list[Candidate]:
    """Taxa that both names may mean. A genus and a species of it share the species; two taxa of
    one species share that of the first name.
    """
    shared: dict[PlantId, Candidate] = {}
    for one in first:
        for other in second:
            if one.rank == "genus" and other.genus == one.accepted_name:
                shared.setdefault(other.plant_id, other)
            elif one.accepted_name.split()[:2] == other.accepted_name.split()[:2] or (
                other.rank == "genus" and one.genus == other.accepted_name
            ):
                shared.setdefault(one.plant_id, one)
    return list(shared.values())


def _named(resolution: Resolution) -> str:
    names = list(dict.fromkeys(found.accepted_name for found in resolution.candidates))
    if resolution.outside:
        names = [resolution.outside.name]
    return f"{' or '.join(names[:3])}{f' or {len(names) - 3} more' if len(names) > 3 else ''}"


def one_of_all(sure: Resolution, members: Sequence[Resolution]) -> bool:
    """Whether every vaguer name on the line may mean the one that is sure: ``Anacharis - Egeria
    densa``.
    """
    vaguer = [member for member in members if member is not sure]
    taxon = sure.candidates[0].plant_id
    return all(
        member.match in ("genus", "common", "trade")
        and taxon in {candidate.plant_id for candidate in member.candidates}
        for member in vaguer
    )
