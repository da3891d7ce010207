"""Names that only an imported taxonomy knows, and what it says to names of the catalogue."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from service.names.finding import Finding
from service.names.index import CatalogueIndex, squeezed
from service.names.near import similarity
from service.names.normal import fold, normal_form
from service.names.values import Candidate, NameRecord, NameSource, SourcedName, Step
from service.values.vocabulary import PlantId


class Imported:
    """Look-ups in the imported taxonomies.

    A taxon that the catalogue knows by any of its names is the catalogue's.
    """

    def __init__(self, index: CatalogueIndex, sources: Sequence[NameSource]) -> None:
        self._index = index
        self._sources = tuple(sources)

    def __bool__(self) -> bool:
        return bool(self._sources)

    def scientific(self, form: str, authorship: str, steps: list[Step]) -> Finding | None:
        """A name by its normal form.

        The authorship, where given, tells homonyms apart (ICN Art. 53.1).
        """
        if not self._sources:
            return None
        found = [(source, name) for source in self._sources for name in source.exact(form)]
        told_apart = [
            pair for pair in found if authorship and _same_authors(pair[1].authorship, authorship)
        ]
        found = told_apart or found
        steps.append(
            Step(
                "scientific name in the imported taxonomies",
                form,
                len({n.accepted_id for _, n in found}),
            )
        )
        if not found:
            return None
        finding = Finding(
            "accepted" if any(n.status == "accepted" for _, n in found) else "synonym", {}
        )
        for source, name in found:
            finding.add(
                self._candidates(
                    source, name, f"{_STATUS[name.status]} of an imported taxonomy", 1.0
                )
            )
            if name.status == "unplaced":
                finding.doubts.append(f"{name.source} does not place the name {name.name}")
        if len(finding.candidates) > 1:
            finding.doubts.append("the name is used for more than one taxon")
        self._heed_neighbours(form, finding)
        return finding

    def uninomial(self, word: str, steps: list[Step]) -> Finding | None:
        """A genus or family by itself."""
        if not self._sources:
            return None
        finding = Finding("genus", {}, ["the label gives the genus only"], genus_only=True)
        for source in self._sources:
            for name in source.exact(word):
                finding.add(self._candidates(source, name, "genus of an imported taxonomy", 1.0))
        steps.append(Step("genus in the imported taxonomies", word, len(finding.candidates)))
        return finding if finding.candidates else None

    def near(self, genus: str, epithets: tuple[str, ...]) -> Iterator[tuple[Candidate, int]]:
        """Names within the spelling bounds, with their edits."""
        letters = len(genus) + sum(map(len, epithets))
        for source in self._sources if epithets else ():
            for name, distance in source.near(genus, epithets):
                for candidate in self._candidates(
                    source, name, "spelling", similarity(distance, letters)
                ):
                    yield candidate, distance

    def remarks(self, form: str) -> str:
        """What the taxonomies say otherwise about a name of the catalogue; empty when nothing."""
        return "; ".join(phrase for source in self._sources for phrase in source.otherwise(form))

    def _candidates(
        self, source: NameSource, name: SourcedName, rule: str, score: float
    ) -> list[Candidate]:
        records = self._catalogued([normal_form(name.accepted_name)]) or self._catalogued(
            source.forms_of(name)
        )
        if records:
            taxa = {record.plant_id for record in records}
            return [self._of_catalogue(taxon, name, rule, score) for taxon in sorted(taxa)]
        return [
            Candidate(
                imported_id(name),
                name.accepted_name,
                name.accepted_rank,
                name.name,
                rule,
                score,
                genus=name.genus.capitalize(),
                source=name.source,
            )
        ]

    def _of_catalogue(
        self, taxon: PlantId, name: SourcedName, rule: str, score: float
    ) -> Candidate:
        plant = self._index.plants[taxon]
        return Candidate(
            taxon,
            plant.accepted_name,
            plant.rank,
            name.name,
            rule,
            score,
            genus=plant.genus,
            source=name.source,
        )

    def _catalogued(self, forms: Sequence[str]) -> list[NameRecord]:
        """Names of the catalogue in these forms; one that is only misapplied to a plant does not
        stand for it.
        """
        return [
            record
            for form in forms
            for record in self._index.by_form(form)
            if record.kind in ("accepted", "synonym") and record.sense != "misapplied"
        ]

    def _heed_neighbours(self, form: str, finding: Finding) -> None:
        """A real name of the catalogue one edit away: the label may be a slip for it."""
        for record, _ in self._index.near_letters(squeezed(form), 1):
            if record.kind in ("accepted", "synonym") and record.plant_id not in finding.candidates:
                plant = self._index.plants[record.plant_id]
                neighbour = Candidate(
                    plant.plant_id,
                    plant.accepted_name,
                    plant.rank,
                    record.name,
                    "one letter from this name",
                    0.8,
                    genus=plant.genus,
                )
                finding.add([neighbour])
                finding.doubts.append(f"one letter away is {record.name}")


_STATUS = {"accepted": "accepted name", "synonym": "synonym", "unplaced": "unplaced name"}


def imported_id(name: SourcedName) -> PlantId:
    """``taxonomy:<source>:<taxonID>``: a taxon that only an imported taxonomy knows."""
    return PlantId(f"taxonomy:{name.source_id}:{name.accepted_id}")


def with_remark(candidate: Candidate, remark: str) -> Candidate:
    """The candidate with what a taxonomy says otherwise added to its note."""
    return replace(candidate, note="; ".join(filter(None, (candidate.note, remark))))


def _same_authors(one: str, other: str) -> bool:
    return _letters(one) == _letters(other)


def _letters(authorship: str) -> str:
    return "".join(letter for letter in fold(authorship) if letter.isalpha())
