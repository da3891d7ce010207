"""Headings of a stock list, known by their words in any case and in camel case.

``scientificName``, ``BOTANICAL_NAME`` and ``Latin name`` all say that a column has botanical names.
"""

import re
from collections.abc import Sequence
from typing import Literal

Role = Literal["botanical", "common", "label", "genus", "species", "cultivar", "code"]
"""What the cells of a column are. ``label`` is a name of any kind with whatever else is on the tag;
``code`` is the shop's own number of the item.
"""

_KEYS: dict[Role, str] = {
    "botanical": (
        "scientificname botanicalname latinname botanicname scientific botanical latin botanic"
        " taxon taxonname taxa binomial speciesname genusspecies genusandspecies"
    ),
    "common": "commonname common commonnames vernacularname vernacular vernacularnames englishname",
    "label": (
        "label plantname plant plants productname itemname name variety varietyname product title"
        " itemdescription productdescription plantdescription item items description desc"
        " itemdesc article material plantlabel labels names description1 itemdescription1"
    ),
    "genus": "genus",
    "species": "species specificepithet epithet",
    "cultivar": "cultivar cultivarname cv",
    "code": (
        "sku itemcode itemnumber itemno itemid code productcode productid stockcode stocknumber"
        " plantcode plantid articlenumber partnumber upc barcode handle id"
    ),
}  # fmt: skip
"""Headings without spaces and in lower case, the surest first."""

_RANKED: dict[str, tuple[Role, int]] = {
    key: (role, rank)
    for role, keys in _KEYS.items()
    for rank, key in enumerate(dict.fromkeys(keys.split()))
}
_LOOSE_RANK = 100
_BOTANICAL_WORDS = frozenset({"scientific", "botanical", "latin", "botanic", "taxon"})
_COMMON_WORDS = frozenset({"common", "vernacular"})
_THINGS = frozenset({"plant", "variety", "product", "item", "article", "stock", "material"})
_NAMINGS = frozenset({"name", "names", "description", "desc", "title", "label"})
_HEADING_WORDS = frozenset(
    """scientific botanical latin botanic taxon genus species variety cultivar common vernacular
    english plant plants of and or the""".split()  # noqa: SIM905
)
_OTHER_MATTERS = frozenset(
    """code id number no nr sku price cost qty quantity count size group type category class family
    author authorship url link image status note notes source origin weight tax vendor date
    customer supplier company store shop contact""".split()  # noqa: SIM905
)
"""Words of a heading whose cells are about something else than the plant's name."""


def heading_words(heading: str) -> tuple[str, ...]:
    """The words of a heading, in lower case.

    >>> heading_words("scientificName"), heading_words("Item\\nDESCRIPTION (web)")
    (('scientific', 'name'), ('item', 'description', 'web'))
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return tuple(re.sub(r"[\W_]+", " ", apart).casefold().split())


def role_of(heading: str) -> tuple[Role, int] | None:
    """What a heading says of its column and how surely, 0 the surest; None where it says nothing
    that is looked for.

    >>> role_of("Botanical_Name"), role_of("Qty")
    (('botanical', 1), None)
    """
    if len(heading) > 80:
        return None
    words = heading_words(heading)
    key = "".join(words)
    if key in _RANKED:
        return _RANKED[key]
    plain = set(words)
    if plain & _OTHER_MATTERS or len(words) > 5:
        return None
    # "Common cattail" is a plant: a word such as common needs another that says it is a heading.
    if not plain & _NAMINGS and not plain <= _HEADING_WORDS:
        return None
    if plain & _BOTANICAL_WORDS:
        return "botanical", _LOOSE_RANK
    if plain & _COMMON_WORDS:
        return "common", _LOOSE_RANK
    return ("label", _LOOSE_RANK) if plain & _THINGS and plain & _NAMINGS else None


def naming_headings(row: Sequence[str]) -> int:
    """How many cells of a row are headings of columns with names of plants."""
    roles = (role_of(cell) for cell in row if cell.strip())
    return sum(role is not None and role[0] != "code" for role in roles)


def same_heading(first: str, second: str) -> bool:
    """Whether two headings have the same words."""
    return heading_words(first) == heading_words(second) != ()
