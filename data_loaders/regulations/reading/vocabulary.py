"""The names that the store knows, filed for finding them in running text."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from data_loaders.regulations.listfile import ListFile
from service.names import Resolver, epithets_near, fold, normal_form, vernacular_form, word_bound
from service.names import edits_within as edits
from service.store.library import Library

_SCIENTIFIC = frozenset({"accepted", "synonym"})
LATIN_GENUS = re.compile(
    r"(?:a|us|um|is|on|os|ix|ex|es|ys|as|ax|opsis|odes|oides|ium|aria|ella|anthe|phyton|achne|ne|le|pe|se|de|tes|ago|io|ops|agi|odon)$"
)
LATIN_EPITHET = re.compile(
    r"(?:us|um|a|is|i|ae|e|ens|ans|oides|odes|ax|ox|ex|ix|os|on|or|er|es|ys|ops|ceps|fer|ger)$"
)
ENGLISH = frozenset(files(__package__).joinpath("english.txt").read_text(encoding="utf-8").split())
"""Words of legal English that look like a genus or an epithet by their endings."""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Names known, by form.

    Attributes:
        genera: folded genera, accepted or not.
        epithets: folded epithets and names by genus, infraspecific ones among them.
        forms: normal forms of scientific names.
        vernacular: vernacular forms of common names.
        common_words: folded words of common names.
    """

    resolver: Resolver
    genera: frozenset[str]
    epithets: dict[str, frozenset[str]]
    all_epithets: frozenset[str]
    forms: frozenset[str]
    vernacular: frozenset[str]
    common_words: frozenset[str]

    @classmethod
    def of(cls, library: Library, model: ListFile | None = None) -> "Vocabulary":
        """The names of a store, and those that a list prints."""
        scientific = {name.name for name in library.names if name.kind in _SCIENTIFIC}
        scientific |= {plant.accepted_name for plant in library.plants.values()}
        commons = {name.name for name in library.names if name.kind in ("common", "trade")}
        for entry in model.entries if model is not None else ():
            scientific |= {entry.accepted_name, plain_name(entry.name_as_listed)}
            commons |= {entry.common_as_listed} - {""}
        return _filed(library.resolver, scientific, commons)

    def is_genus(self, word: str) -> bool:
        return fold(word) in self.genera

    def knows(self, genus: str, epithet: str) -> bool:
        """Whether the genus has a name with the epithet."""
        return fold(epithet) in self.epithets.get(fold(genus), frozenset())

    def near_genus(self, word: str, epithet: str) -> str | None:
        """A genus that a misspelt one may be, which has this epithet or one near it."""
        return _near_genus(self.epithets_key, fold(word), fold(epithet)) if len(word) > 4 else None

    @property
    def epithets_key(self) -> "_Key":
        return _Key(self.epithets)

    def is_near_epithet(self, genus: str, epithet: str) -> bool:
        """Whether the genus has an epithet that this one may misspell."""
        wanted = (fold(epithet),)
        return any(
            epithets_near(wanted, (known,)) is not None
            for known in self.epithets.get(fold(genus), frozenset())
        )


class _Key:
    """A dictionary as a key of a cache, by identity."""

    def __init__(self, epithets: dict[str, frozenset[str]]) -> None:
        self.epithets = epithets

    def __hash__(self) -> int:
        return id(self.epithets)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.epithets is self.epithets


@lru_cache(maxsize=4096)
def _near_genus(key: _Key, word: str, epithet: str) -> str | None:
    found: list[tuple[int, str]] = []
    for genus, epithets in key.epithets.items():
        bound = word_bound(len(genus))
        if abs(len(genus) - len(word)) > bound:
            continue
        distance = edits(word, genus, bound)
        if distance <= bound and any(
            epithets_near((epithet,), (known,)) is not None for known in epithets
        ):
            found.append((distance, genus))
    return min(found)[1] if found else None


def plain_name(name: str) -> str:
    """A name as listed without the words around it: ``Caulerpa taxifolia, Mediterranean
    strain``, ``Exotic Lythrum species``.
    """
    plain = re.sub(r"[,(;].*", "", name).strip()
    return re.sub(r"^(?:Exotic|Nonnative|Non-native|All|Any)\s+", "", plain)


def _filed(resolver: Resolver, scientific: Iterable[str], commons: Iterable[str]) -> Vocabulary:
    epithets: dict[str, set[str]] = defaultdict(set)
    forms = {normal_form(name) for name in scientific if name}
    for form in forms:
        genus, *rest = form.split()
        if re.fullmatch(r"[a-z-]+", genus):
            epithets[genus] |= {
                word for word in rest if word[-1:] != "." and word.replace("-", "").isalpha()
            }
    words = {
        word for name in commons for word in re.findall(r"[a-z]+", fold(name)) if len(word) > 2
    }
    known = frozenset().union(*epithets.values())
    return Vocabulary(
        resolver=resolver,
        genera=frozenset(epithets),
        epithets={genus: frozenset(of_genus) for genus, of_genus in epithets.items()},
        all_epithets=known,
        forms=frozenset(forms),
        vernacular=frozenset(vernacular_form(name) for name in commons),
        common_words=frozenset(words - epithets.keys()),
    )
