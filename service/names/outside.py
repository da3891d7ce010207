"""Names of plants that the catalogue does not hold: never answered as another species."""

import re
from collections.abc import Iterable, Iterator, Sequence

from service.names.finding import Finding
from service.names.index import CatalogueIndex
from service.names.lexicon import NOT_NAMES
from service.names.normal import fold, normal_form
from service.names.values import Candidate, OutsideName, ScientificName, Step, WetlandName
from service.values.vocabulary import Match, Rank

_EPITHET = re.compile(
    r"[a-z-]*(?:us|[^aeou]a|ia|ea|oa|ua|um|is|i|ae|ens|ans|oides|odes|ale|are|ile|ine|ide|ense"
    r"|stre|bre|ve|gare|cola|fer|ger|asper|ior|ceps|fex|plex|ops|pes|osa|yx|ax)"
)
_SHORTEST = 4


class Outside:
    """Judges which names are those of plants outside the catalogue."""

    def __init__(self, index: CatalogueIndex, names: Iterable[WetlandName]) -> None:
        self._index = index
        self._names = {normal_form(name.name): name for name in names}

    def known(self, name: ScientificName) -> WetlandName | None:
        """What survey tables say of a name that the catalogue does not hold."""
        return self._names.get(normal_form(name.canonical))

    def is_well_formed(self, name: ScientificName) -> bool:
        """Whether it is a binomial in the form of Latin (ICN Art. 23), and no English word."""
        return (
            not name.abbreviated
            and len(name.species) >= _SHORTEST
            and bool(_EPITHET.fullmatch(fold(name.species)))
            and fold(name.species) not in NOT_NAMES
            and (fold(name.genus) not in NOT_NAMES or self._index.is_genus(fold(name.genus)))
        )

    def finding(
        self, name: ScientificName, known: WetlandName | None, steps: list[Step]
    ) -> Finding:
        """The genus where the store has it, and nothing else."""
        genus = name.genus.capitalize()
        relatives = [
            Candidate(
                plant.plant_id,
                plant.accepted_name,
                plant.rank,
                name.genus,
                "genus of a name outside the catalogue",
                0.5,
                genus=plant.genus,
            )
            for plant in self._index.genus_taxa(fold(genus))
        ]
        outside = OutsideName(
            name.canonical,
            known.rank if known else _rank(name),
            genus,
            bool(relatives) or self._index.is_genus(fold(genus)),
            known,
        )
        steps.append(Step("name outside the catalogue", name.canonical, len(relatives)))
        finding = Finding(
            "genus" if relatives else "none",
            {},
            [f"{name.canonical} is not in the catalogue"],
            outside=outside,
        )
        finding.add(relatives)
        return finding


def sentences_of(outside: OutsideName) -> Iterator[str]:
    """What is known of a plant outside the catalogue, for the person who holds the label."""
    yield f"{outside.name} is not in the catalogue."
    known = outside.known
    if known is not None:
        facts = []
        if known.wetland_indicator:
            facts.append(f"wetland indicator {', '.join(known.wetland_indicator)}")
        if known.native_states:
            count = known.native_states
            facts.append(f"recorded as native in {count} state{'s' if count > 1 else ''}")
        yield (
            f"It is a known wetland plant ({'; '.join(facts)})."
            if facts
            else ("It is a known wetland plant.")
        )
    if outside.genus_held:
        yield (
            f"It is answered as its genus, {outside.genus}, where that is listed as a whole, "
            "and left open elsewhere."
        )
    else:
        yield f"Nothing is loaded of its genus, {outside.genus}, either."


def _rank(name: ScientificName) -> Rank:
    if name.notho:
        return "hybrid"
    if not name.infraspecific:
        return "species"
    mark = name.infraspecific[-1][0]
    return "variety" if mark == "var." else "form" if mark == "f." else "subspecies"


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
