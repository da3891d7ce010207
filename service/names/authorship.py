"""Authorships and qualifiers after a name: ``(Cav.) Trin. ex Steud.``, ``auct. non L.``,
``s.l.``
"""

from service.names.lexicon import QUALIFIERS
from service.names.token_row import ABBREVIATION, TokenRow
from service.names.tokens import Token

_BEGIN_AN_AUTHOR = frozenset(
    ["van", "von", "vom", "de", "du", "da", "del", "der", "den", "zu", "zum", "ex", "hort"]
)
_LEAD_TO_A_SENSE = frozenset(["sensu", "auct", "auctt", "auctorum", "non", "nec"])


def join_author_brackets(row: TokenRow) -> None:
    """Make ``(L.)`` after a word one token, so that it parts nothing."""
    tokens = row.tokens
    for place in range(len(tokens) - 2, 0, -1):
        if tokens[place].kind != "open" or not row.is_word(place - 1):
            continue
        end = next(
            (p for p in range(place + 1, len(tokens)) if tokens[p].kind in ("open", "close")), None
        )
        if end is None or end == place + 1 or tokens[end].kind != "close":
            continue
        combined = end + 1 < len(tokens) and (
            row.is_authorlike(end + 1, alone=True) or row.is_surname(end + 1)
        )
        if all(
            row.is_authorlike(p) or (combined and row.is_surname(p)) for p in range(place + 1, end)
        ):
            text = "".join(token.text for token in tokens[place : end + 1])
            tokens[place : end + 1] = [
                Token("fixed", text, tokens[place].start, tokens[end].end, "author")
            ]


def take_authors(row: TokenRow, place: int) -> tuple[int, str]:
    """Mark the authorship that begins here. Gives the place after it, and its words."""
    start = place
    while place < len(row) and _continues(row, place, start):
        row.tokens[place].part = "author"
        place += 1
    return place, " ".join(token.text for token in row.tokens[start:place])


def _continues(row: TokenRow, place: int, start: int) -> bool:
    token = row.tokens[place]
    if token.part is not None:
        return token.part == "author"
    if token.kind == "separator":
        return place > start and token.text in "&," and _goes_on(row, place)
    if token.kind != "word":
        return False
    word = row.word(place)
    if word in ("f", "fil"):
        return place > start and not row.is_epithet(place + 1, "", after_mark=True)
    if row.is_particle(place):
        return (place > start or word in _BEGIN_AN_AUTHOR) and _goes_on(row, place)
    if row.joins_authors(place):
        return True
    if row.is_authorlike(place, alone=True):
        return not _begins_abbreviated_name(row, place)
    before = row.tokens[place - 1].text
    led = (
        row.is_initial(place - 1)
        or before.endswith(")")
        or before == "&"
        or before.lower() in ("ex", "in")
    )
    return place > start and led and row.is_surname(place)


def _goes_on(row: TokenRow, place: int) -> bool:
    follower = place + 1
    if follower >= len(row):
        return False
    if row.tokens[follower].part == "author":
        return True
    if row.is_authorlike(follower, alone=True):
        return not _begins_abbreviated_name(row, follower)
    joins = row.tokens[place].text == "&" or row.word(place) in ("ex", "in", "et")
    return joins and row.is_surname(follower)


def _begins_abbreviated_name(row: TokenRow, place: int) -> bool:
    """``M. spicata`` after a sign or comma is a name, not an author."""
    return bool(ABBREVIATION.fullmatch(row.tokens[place].text)) and row.is_epithet(
        place + 1, "", strict=True
    )


def take_qualifiers(row: TokenRow, place: int) -> tuple[int, list[str]]:
    """Mark the qualifiers that begin here.

    Gives the place after them, and each in its own words.
    """
    found: list[str] = []
    if place < len(row) and row.tokens[place].text == "," and row.qualifies(place + 1):
        place += 1
    while row.qualifies(place):
        start = place
        leads = row.word(place) in _LEAD_TO_A_SENSE
        place += 1
        while leads and place < len(row) and _in_sense(row, place):
            place += 1
        row.mark(start, place, "qualifier")
        found.append(" ".join(token.text for token in row.tokens[start:place]))
    return place, found


def _in_sense(row: TokenRow, place: int) -> bool:
    token = row.tokens[place]
    if token.part is not None:
        return token.part == "author"
    if token.kind == "separator":
        after = place + 1
        return (
            token.text == ","
            and after < len(row)
            and row.tokens[after].kind != "separator"
            and _in_sense(row, after)
        )
    if token.kind == "mark":
        return True
    return token.kind == "word" and (
        row.word(place) in QUALIFIERS
        or row.word(place) in ("non", "nec")
        or row.is_authorlike(place)
    )
