"""What a person would have to check before a name counts as confirmed."""

from collections.abc import Sequence

from service.names.outside import sentences_of
from service.names.values import Candidate, OutsideName
from service.values.vocabulary import Match

_NAMED = 4


def what_would_confirm(
    match: Match,
    candidates: Sequence[Candidate],
    doubts: Sequence[str],
    outside: OutsideName | None = None,
) -> str:
    """One or two sentences for the person who holds the label."""
    if outside:
        further = [doubt for doubt in dict.fromkeys(doubts) if not doubt.startswith(outside.name)]
        return " ".join([*sentences_of(outside), *(f"{_capital(doubt)}." for doubt in further)])
    if not candidates:
        return "Ask the grower for the botanical name: the store has no name like this."
    names = _names(candidates)
    why = f" ({'; '.join(dict.fromkeys(doubts))})" if doubts else ""
    if match == "genus":
        return f"Ask the grower for the species: the genus alone may be {names}{why}."
    if match == "spelling":
        return f"Check the spelling against the grower's botanical name: it may be {names}{why}."
    if len(candidates) > 1:
        return f"Ask the grower which taxon it is: {names}{why}."
    return f"Ask the grower to confirm the botanical name {names}{why}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _names(candidates: Sequence[Candidate]) -> str:
    names = list(dict.fromkeys(candidate.accepted_name for candidate in candidates))
    shown = " or ".join(names[:_NAMED])
    return f"{shown} or {len(names) - _NAMED} more" if len(names) > _NAMED else shown
