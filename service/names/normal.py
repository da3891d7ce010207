"""One normal form for scientific names, one for vernacular names.

The scientific form follows the International Code of Nomenclature for algae, fungi, and plants
(ICN): diacritical signs and ligatures are suppressed (Art. 60.7), the hybrid sign and ``notho-``
are disregarded (Art. H.3.3), and a hybrid formula does not depend on the order of its parents.
"""

import re
import unicodedata
from functools import lru_cache

from service.names.lexicon import AUTHOR_PARTICLES, NOT_NAMES, RANK_MARKS

_TRANSCRIPTIONS = str.maketrans(
    {
        "æ": "ae",
        "œ": "oe",
        "ø": "o",
        "đ": "d",
        "ł": "l",
        "ı": "i",
        "’": "'",
        "‘": "'",
        "`": "'",
        "´": "'",
        "ʼ": "'",
    }
    | dict.fromkeys("‐‑‒–—−", "-")
    | dict.fromkeys("✕✖⨯", "×")
)

HYBRID_SIGNS = frozenset("×xX✕✖⨯")

_PLAIN_BINOMIAL = re.compile(r"[A-Z][a-z]+ [a-z][a-z-]+")
_QUOTED_CULTIVAR = re.compile(
    r"""\s+(?:cv\.?\s*)?['"“”‘’«»`´](?P<cultivar>[^"“”«»]+)['"“”‘’«»`´]\s*$"""
)
_FORMULA_SIGN = re.compile(
    r"\s[×xX✕✖⨯]\s*(?=[A-Z][a-z]*\.?\s*[a-z])|(?<=[a-z]\s)[×✕✖⨯xX]\s+(?=[a-z])|\s[×xX]\s(?=[A-Z])"
)
_LETTERS = re.compile(r"[^\W\d_]")
_WORD = re.compile(r"[^\W_]+(?:'[^\W_]+)*")


@lru_cache(maxsize=16_384)
def fold(text: str) -> str:
    """Lower case, without accents, ligatures spelt out, one kind of apostrophe and hyphen."""
    lowered = text.casefold()
    if lowered.isascii():
        return lowered.replace("`", "'")
    decomposed = unicodedata.normalize("NFKD", lowered.translate(_TRANSCRIPTIONS)).casefold()
    return "".join(
        letter
        for letter in decomposed.translate(_TRANSCRIPTIONS)
        if not unicodedata.combining(letter)
    )


@lru_cache(maxsize=16_384)
def normal_form(name: str) -> str:
    """The form in which two spellings of one scientific name are equal.

    ``Typha x glauca``, ``TYPHA ×GLAUCA`` and ``Typha glauca Godr.`` share a form; so do ``subsp.``
    and ``ssp.``, and the two orders of a hybrid formula. Cultivar epithets are kept, in single
    quotes. Authorship is dropped.
    """
    if _PLAIN_BINOMIAL.fullmatch(name):
        return name.lower()
    text = " ".join(name.split())
    cultivar = _QUOTED_CULTIVAR.search(text)
    if cultivar:
        base = normal_form(text[: cultivar.start()])
        return f"{base} '{fold(cultivar['cultivar'])}'".strip()
    if re.search(r"\bhybrids?\b", text, re.IGNORECASE):
        return fold(text)
    parents = [part for part in _FORMULA_SIGN.split(text) if part.strip()]
    if len(parents) > 1 and len(parents[0].split()) > 1 and _LETTERS.search(parents[0].split()[1]):
        return " × ".join(sorted(_expanded(parents)))
    return " ".join(_words(text))


def _expanded(parents: list[str]) -> list[str]:
    """Each parent with its genus in full: an abbreviation by another parent's genus, a bare
    epithet by the one before.
    """
    rows = [_words(parent) for parent in parents]
    written = [
        row[0]
        for parent, row in zip(parents, rows, strict=True)
        if not parent[:1].islower() and not row[0].endswith(".")
    ]
    forms: list[str] = []
    genus = rows[0][0]
    for parent, row in zip(parents, rows, strict=True):
        if parent[:1].islower():
            row = [genus, *row]
        elif row[0].endswith("."):
            row = [
                next((full for full in written if full.startswith(row[0][:-1])), row[0]),
                *row[1:],
            ]
        genus = row[0]
        forms.append(" ".join(row))
    return forms


def _words(name: str) -> list[str]:
    """Genus, epithets and rank marks of one name, folded; the authorship is left behind."""
    all_capitals = name.isupper()
    words: list[str] = []
    tokens = re.sub(r"([×✕✖⨯])", r" \1 ", name).replace("(", " (").split()
    tokens = [token for token in tokens if token not in HYBRID_SIGNS] or tokens
    after_mark = in_authorship = False
    for place, token in enumerate(tokens):
        bare = fold(token.strip("(),;[]"))
        mark = RANK_MARKS.get(bare.rstrip("."))
        follower = tokens[place + 1] if place + 1 < len(tokens) else ""
        if (
            mark
            and words
            and follower[:1].isalpha()
            and (all_capitals or follower[:1].islower() or len(words) > 1)
        ):
            if (
                mark == "f."
                and not all_capitals
                and (not follower[:1].islower() or follower in AUTHOR_PARTICLES)
            ):
                in_authorship = True
                continue
            words.append(mark)
            after_mark, in_authorship = True, False
        elif not words or after_mark:
            words.append(bare)
            after_mark = False
        elif (
            all_capitals
            or (len(words) == 1 and len(bare) > 3 and bare.isalpha() and token.isupper())
            or (
                token[:1].islower()
                and not in_authorship
                and bare.rstrip(".") not in AUTHOR_PARTICLES
            )
        ):
            words.append(bare)
        else:
            in_authorship = True
    return words


@lru_cache(maxsize=16_384)
def vernacular_words(name: str) -> tuple[str, ...]:
    """The words of a vernacular name, folded, each in the singular, without possessive endings."""
    text = fold(name).replace("-", " ").replace("/", " ")
    return tuple(_singular(word) for word in _WORD.findall(text))


def vernacular_form(name: str) -> str:
    """The form in which ``water-hyacinths``, ``Waterhyacinth`` and ``water hyacinth`` are equal."""
    return "".join(vernacular_words(name))


_IRREGULAR = {
    "leaves": "leaf",
    "leaved": "leaf",
    "leafed": "leaf",
    "species": "species",
    "grey": "gray",
}


@lru_cache(maxsize=16_384)
def _singular(word: str) -> str:
    word = word.removesuffix("'s").removesuffix("s'").replace("'", "")
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if len(word) < 4:
        return word
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("sses", "shes", "ches", "xes", "ises", "uses")):
        return word[:-2]
    if word.endswith("s") and not word.endswith(("ss", "us", "is", "os")):
        return word[:-1]
    return word


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
