"""Names as a list prints them: several in one cell, inverted, with an adjective for two."""

import re

from service.names.lexicon import NOT_NAMES
from service.names.normal import fold

_LATIN_TAIL = re.compile(r"\s+(?:spp?|ssp|L)$")
_AFTERWORDS = re.compile(r"\s+(?:and its varieties|and related species|species|genus)$", re.I)
_SEPARATORS = re.compile(r"\s*[;()=]\s*|,\s+or\s+|\s+or\s+|,\s+|\s+/\s+")
_ALTERNATIVES = re.compile(r"^(?P<one>[\w'-]+)/(?P<other>[\w'-]+)\s+(?P<noun>.+)$")


def printed_names(cell: str) -> tuple[str, ...]:
    """Every name that a cell of a list prints; the whole cell first.

    >>> printed_names("Hyacinth, water")
    ('Hyacinth, water', 'water Hyacinth')
    >>> printed_names("Eurasian or European water-milfoil")
    ('Eurasian or European water-milfoil', 'Eurasian water-milfoil', 'European water-milfoil')
    >>> printed_names("Trapa spp.")
    ('Trapa spp.', 'Trapa')
    """
    text = " ".join(cell.split())
    if not text:
        return ()
    pieces = [piece for piece in (_bare(part) for part in _SEPARATORS.split(text)) if piece]
    names = [text]
    if len(pieces) == 2 and pieces[1].islower() and " " not in pieces[1] and "," in text:
        return tuple(dict.fromkeys([text, f"{pieces[1]} {pieces[0]}"]))
    for place, piece in enumerate(pieces):
        shared = _ALTERNATIVES.match(piece)
        if shared:
            names += [f"{shared['one']} {shared['noun']}", f"{shared['other']} {shared['noun']}"]
            continue
        following = next((other for other in pieces[place + 1 :] if " " in other), "")
        if " " not in piece and following and _joined(text, piece):
            names.append(f"{piece} {following.rsplit(' ', 1)[1]}")
        if fold(piece) not in NOT_NAMES:
            names.append(piece)
    return tuple(dict.fromkeys(names))


def _bare(piece: str) -> str:
    return _LATIN_TAIL.sub("", _AFTERWORDS.sub("", piece.strip(" ,.")))


def _joined(text: str, piece: str) -> bool:
    """Whether ``or`` joins the word to the next: one noun serves both."""
    return bool(re.search(rf"\b{re.escape(piece)}\s+or\s", text))
