"""What on the label itself keeps a name from being confirmed."""

import re

from service.names.index import CatalogueIndex
from service.names.lexicon import NOT_NAMES, STRICT_SENSE
from service.names.near import edits_within, word_bound
from service.names.normal import fold, vernacular_form
from service.names.values import ParsedLabel, PartKind, ScientificName

_UNREAD_SIGN = re.compile(r"[×✕✖⨯xX](?:\s|$)")
_OF_NAMES: frozenset[PartKind] = frozenset({"genus", "species", "infraspecific", "rest"})
_WORD = re.compile(r"[^\W\d_]+\.?")


def doubts_of_label(parsed: ParsedLabel, index: CatalogueIndex | None) -> list[str]:
    """Qualifiers, question marks, hybrid signs and words beside a scientific name that nobody
    could read.

    Args:
        index: None where every word of the label is part of one stored name.
    """
    senses = [name.qualifier for name in parsed.names if name.qualifier.strip("? ")]
    doubts = [
        f"the label says {sense}"
        for sense in senses
        if re.sub(r"\s|\.$", "", sense.lower()) not in STRICT_SENSE
    ]
    if "?" in parsed.text:
        doubts.append("the label has a question mark")
    if _has_unread_sign(parsed):
        doubts.append("the label has a hybrid sign beside words that are not read")
    unread = unread_words(parsed, index) if index else []
    if unread:
        doubts.append(f"not read on the label: {' '.join(unread)}")
    return doubts


def unread_words(parsed: ParsedLabel, index: CatalogueIndex) -> list[str]:
    """Words beside a species name that may be a lower epithet or a rank mark gone wrong.

    A capitalised word there is most likely a cultivar without its quotes and leaves the species as
    it is.
    """
    species = [name for name in parsed.names if name.species]
    if not species:
        return []
    named = "".join(
        part.text for part in parsed.parts if part.kind in _OF_NAMES and len(part.text) > 1
    )
    one_case = named.isupper() or named.islower()
    words = [
        word
        for part in parsed.parts
        if part.kind == "rest"
        for word in _WORD.findall(part.text)
        if len(word) > 1
    ]
    unread = [
        w
        for w in words
        if one_case or w.endswith(".") or not w[:1].isupper() or _like_epithet(w, species, index)
    ]
    guessed = [phrase for phrase in parsed.common if not index.is_common(vernacular_form(phrase))]
    unread.extend(
        w
        for phrase in guessed
        for w in phrase.split()
        if fold(w) not in NOT_NAMES and _like_epithet(w, species, index)
    )
    return unread


def _like_epithet(word: str, names: list[ScientificName], index: CatalogueIndex) -> bool:
    folded = fold(word)
    bound = word_bound(len(folded))
    return any(
        edits_within(folded, epithet, bound) <= bound
        for name in names
        for epithet in index.epithets_of(fold(name.genus))
    )


def _has_unread_sign(parsed: ParsedLabel) -> bool:
    read_before = False
    for part in parsed.parts:
        if part.kind == "rest" and _UNREAD_SIGN.match(part.text):
            return True
        if part.kind == "hybrid-sign" and read_before:
            return True
        read_before = part.kind in ("common", "rest")
    return False
