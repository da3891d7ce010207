"""A general-purpose parser of scientific names reads the same names, authors and parents.

The parser is gbif-name-parser, made for biodiversity records; it knows nothing of labels, so it is
given clean names.
"""

import nameparser
import pytest

from service.names import NameRecord, Resolver, normal_form
from service.values.plants import Plant


def _letters(text: str) -> str:
    return "".join(letter for letter in text if letter.isalpha()).casefold()


@pytest.fixture(scope="module")
def scientific(catalogue: tuple[list[Plant], list[NameRecord]]) -> list[str]:
    """Accepted names with their authors, and synonyms."""
    plants = [
        f"{p.accepted_name} {p.authorship}".strip()
        for p in catalogue[0]
        if "hybrids" not in p.accepted_name
    ]
    synonyms = [record.name for record in catalogue[1] if record.kind == "synonym"]
    return [name for name in plants + synonyms if name.count("×") == 0 or " × " in name]


def _parsed(name: str) -> nameparser.ParsedName | None:
    try:
        found = nameparser.parse(name)
    except Exception:
        return None
    return found if isinstance(found, nameparser.ParsedName) else None


def test_both_read_the_same_epithets(scientific: list[str]) -> None:
    compared = agreed = 0
    for name in scientific:
        other = _parsed(name)
        minimal = other.canonical_name_minimal() if other else None
        if minimal is None:
            continue
        compared += 1
        words = minimal.replace("×", " ").split()
        ours = [word for word in normal_form(name).split() if not word.endswith(".")]
        agreed += [word.casefold() for word in words] == ours
    assert compared > 1_000
    assert agreed / compared > 0.995


def test_both_read_the_same_authors(scientific: list[str], resolver: Resolver) -> None:
    """With the catalogue's authors at hand: a bare surname on a label may be a cultivar without
    its quotes.
    """
    compared = agreed = 0
    for name in scientific:
        other = _parsed(name)
        authorship = other.authorship_complete() if other else None
        parsed = resolver.resolve(name).parsed
        if not authorship or len(parsed.names) != 1:
            continue
        compared += 1
        # The other parser gives the authors of the lowest rank, ours those of every rank in a row.
        agreed += _letters(parsed.authorship).endswith(_letters(authorship))
    assert compared > 250
    assert agreed / compared > 0.97
