"""Look-ups that turn a name into a finding: taxa, how they were reached, and what casts doubt."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from service.names.finding import Finding, either
from service.names.imported import Imported, with_remark
from service.names.index import CatalogueIndex, squeezed
from service.names.near import edit_bound, phrases, similarity
from service.names.normal import fold, normal_form, vernacular_words
from service.names.values import Candidate, NameKind, NameRecord, NameSource, ScientificName, Step
from service.values.kept import Kept
from service.values.vocabulary import Match, Rank

MAX_SPELLING_CANDIDATES = 12
_GENERA_KEPT = 2_000

_MATCH: Final[dict[NameKind, Match]] = {
    "accepted": "accepted",
    "synonym": "synonym",
    "common": "common",
    "trade": "trade",
    "cultivar": "cultivar",
    "misspelling": "spelling",
}
_ORDER: Final[tuple[Match, ...]] = (
    "accepted",
    "synonym",
    "common",
    "trade",
    "cultivar",
    "spelling",
    "genus",
    "none",
)


class Lookup:
    """Look-ups in the catalogue and then in the imported taxonomies."""

    def __init__(self, index: CatalogueIndex, sources: Sequence[NameSource]) -> None:
        self.index = index
        self.imported = Imported(index, sources)
        # By the records themselves, which stay as long as the index.
        self._findings: dict[tuple[object, ...], Finding] = {}
        self._genera: Kept[tuple[str, float], Sequence[Candidate]] = Kept(_GENERA_KEPT)

    # Exact

    def scientific(self, name: ScientificName, steps: list[Step]) -> Finding | None:
        """A scientific name by its normal form; then without regard to rank marks; then in
        imported taxonomies.
        """
        form = normal_form(name.canonical)
        records = self.index.by_form(form)
        way = ""
        steps.append(Step("scientific name in the catalogue", form, _taxa(records)))
        if not records and name.infraspecific:
            records = self.index.by_epithets(fold(name.genus), name.epithets)
            way = ", rank mark aside"
            steps.append(Step("same epithets, rank mark aside", form, _taxa(records)))
        if records:
            return self.of_records(records, way)
        return self.imported.scientific(form, name.authorship, steps)

    def vernacular(self, words: tuple[str, ...], steps: list[Step]) -> Finding | None:
        """A vernacular or trade name, given as singular words."""
        form = "".join(words)
        records = self.index.by_vernacular(form)
        steps.append(Step("common or trade name in the catalogue", " ".join(words), _taxa(records)))
        genera = sorted({fold(r.name) for r in records if self.index.is_genus(fold(r.name))})
        if genera:
            return self.genus(genera[0], steps)
        if not records:
            return None
        finding = self.of_records(records)
        if finding.match in ("accepted", "synonym") and all(
            vernacular_words(r.name) != words for r in records
        ):
            finding.match = "spelling"
            finding.doubts.append("the words of the scientific name are separated otherwise")
        return finding

    def of_records(
        self, records: Sequence[NameRecord], way: str = "", *, score: float = 1.0
    ) -> Finding:
        """All taxa of some records of one name, with the taxa that their notes speak of.

        Args:
            way: how the name was met, where not letter by letter; it ends the rule of each
                candidate.
        """
        key = (way, score, *map(id, records))
        if key not in self._findings:
            self._findings[key] = self._read_records(records, way, score)
        return self._findings[key].copy()

    def _read_records(self, records: Sequence[NameRecord], way: str, score: float) -> Finding:
        exact = [record for record in records if record.kind != "misspelling"]
        finding = Finding(min((_MATCH[record.kind] for record in records), key=_ORDER.index), {})
        for record in sorted(records, key=lambda r: (_ORDER.index(_MATCH[r.kind]), r.plant_id)):
            worth = score if record.kind != "misspelling" else min(score, 0.95)
            finding.add([self.candidate(record, f"{_RULE[record.kind]}{way}", worth)])
            if record.kind != "misspelling" or not exact:
                self._heed_note(record, finding)
        if len(finding.candidates) > 1:
            finding.doubts.append("the name is used for more than one taxon")
        for neighbour in self._neighbours(records):
            finding.doubts.append(f"one letter away is {neighbour.name}")
            finding.add([self.candidate(neighbour, "one letter from this name", 0.8)])
        if finding.match == "spelling":
            finding.doubts.append("the spelling is a slip")
            self._widen_slip(records, finding)
        return finding

    def candidate(self, record: NameRecord, rule: str, score: float) -> Candidate:
        plant = self.index.plants[record.plant_id]
        candidate = Candidate(
            plant.plant_id,
            plant.accepted_name,
            plant.rank,
            record.name,
            rule,
            score,
            record.note,
            plant.genus,
        )
        if self.imported and record.kind in ("accepted", "synonym"):
            return with_remark(candidate, self.imported.remarks(normal_form(record.name)))
        return candidate

    def _heed_note(self, record: NameRecord, finding: Finding) -> None:
        if record.sense == "strict" and not record.also:
            return
        mentioned = [
            self.candidate(other, f"named in the note on {record.name}", 0.8)
            for name in record.also
            for other in self._mentioned(name)
            if other.plant_id != record.plant_id
        ]
        finding.add(mentioned)
        if record.sense != "strict" or mentioned:
            finding.doubts.append(
                f"the catalogue says of {record.name}: {record.note}"
                if record.note
                else "the name is used for more than one taxon"
            )
        finding.genus_only = finding.genus_only or record.sense == "genus"

    def _mentioned(self, name: str) -> list[NameRecord]:
        genus, _, epithets = name.partition(" ")
        if not epithets:
            return self.index.of_genus(fold(genus))
        return [
            r for r in self.index.by_form(normal_form(name)) if r.kind in ("accepted", "synonym")
        ]

    def _neighbours(self, records: Sequence[NameRecord]) -> list[NameRecord]:
        taxa = {record.plant_id for record in records}
        found: list[NameRecord] = []
        for form in {
            "".join(vernacular_words(record.name))
            for record in records
            if record.kind != "misspelling"
        }:
            found.extend(r for r in self.index.one_letter_apart(form) if r.plant_id not in taxa)
        return found

    def _widen_slip(self, records: Sequence[NameRecord], finding: Finding) -> None:
        """A known slip may be a slip for its neighbours as well: ``Nymphea`` for the genus, not
        for one plant.
        """
        for record in records:
            words = vernacular_words(record.name)
            near = self.index.near_letters("".join(words), 1)
            finding.add(
                self.candidate(r, "one edit away", 0.9) for r, _ in near if r.kind != "misspelling"
            )
            if len(words) == 1:
                for genus, distance in self.index.near_genera(words[0]):
                    if distance <= 1 and self.index.is_genus(genus):
                        finding.genus_only = True
                        finding.add(self.genus_candidates(genus, 0.85))

    # Genus

    def genus(self, genus: str, steps: list[Step]) -> Finding | None:
        """A genus name alone: the genus and all its species in the store, those under older
        names too.
        """
        candidates = self.genus_candidates(genus, 1.0)
        steps.append(Step("genus in the catalogue", genus, len(candidates)))
        if not candidates:
            return self.imported.uninomial(genus, steps)
        finding = Finding(
            "genus", {}, [f"the label gives the {_higher(candidates)} only"], genus_only=True
        )
        finding.add(candidates)
        other_names = [
            r
            for r in self.index.by_vernacular("".join(vernacular_words(genus)))
            if r.kind in _VERNACULAR
        ]
        if other_names:
            common = self.of_records(other_names)
            finding.add(common.candidates.values())
        return finding

    def genus_candidates(self, genus: str, score: float) -> Sequence[Candidate]:
        """The genus itself where the store has it, then its taxa."""
        known = self._genera.get((genus, score))
        if known is None:
            known = self._read_genus(genus, score)
            self._genera.put((genus, score), known)
        return known

    def _read_genus(self, genus: str, score: float) -> list[Candidate]:
        found = [
            self.candidate(record, "genus of the label", score)
            for record in self.index.of_genus(genus)
        ]
        if _higher(found) == "family":
            found = [replace(candidate, rule="family of the label") for candidate in found]
        return sorted(
            found,
            key=lambda c: (
                _HIGH_RANKS.get(c.rank, 2),
                c.genus.casefold() != genus,
                c.accepted_name,
            ),
        )

    # Spelling

    def near_scientific(self, name: ScientificName, steps: list[Step]) -> Finding | None:
        """Names whose genus and epithets are each within their bound, or whose letters as a
        whole are.
        """
        epithets = name.epithets
        letters = len(fold(name.genus)) + sum(map(len, epithets))
        found: list[tuple[Candidate, int]] = []
        if epithets:
            near = self.index.near_names(fold(name.genus), epithets)
            found.extend(self._spelt(record, distance, letters) for record, distance in near)
        found.extend(self._near(name.canonical))
        found.extend(self.imported.near(fold(name.genus), epithets))
        return self._spelling(found, name.canonical, steps)

    def near_formula(self, formula: str, steps: list[Step]) -> Finding | None:
        """Hybrid formulas of the catalogue within the bound."""
        found = [pair for pair in self._near(formula) if pair[0].rank == "hybrid"]
        return self._spelling(found, formula, steps)

    def near_words(self, text: str, steps: list[Step], *, in_part: bool = False) -> Finding | None:
        """Names within the bound by all the letters of a text; or ``in_part`` by those of two
        and more of its words.
        """
        found = self._near(text)
        words = tuple(text.split())
        if in_part and not found and len(words) > 2:
            for phrase in phrases(words, least=2, most=min(4, len(words) - 1)):
                found = self._near(" ".join(phrase))
                if found:
                    break
        if 2 <= len(words) <= 3:
            found.extend(
                self.imported.near(fold(words[0]), tuple(fold(word) for word in words[1:]))
            )
        finding = self._spelling(found, text, steps)
        genus = self.near_genus(squeezed(fold(text)), steps) if len(words) <= 2 else None
        return either(finding, genus)

    def near_genus(self, genus: str, steps: list[Step]) -> Finding | None:
        """Genera within the bound, with their taxa."""
        near = self.index.near_genera(genus)
        near = [(other, distance) for other, distance in near if distance == near[0][1]]
        finding = Finding(
            "spelling",
            {},
            ["the spelling is not exact", "the label gives the genus only"],
            genus_only=True,
        )
        for other, distance in near:
            finding.add(self.genus_candidates(other, similarity(distance, len(genus))))
        steps.append(Step("genus within the spelling bound", genus, len(finding.candidates)))
        return finding if finding.candidates else None

    def _near(self, text: str) -> list[tuple[Candidate, int]]:
        spellings = {squeezed(fold(text)), "".join(vernacular_words(text))}
        return [
            self._spelt(record, distance, len(letters))
            for letters in sorted(spellings)
            for record, distance in self.index.near_letters(letters, edit_bound(len(letters)))
        ]

    def _spelt(self, record: NameRecord, distance: int, letters: int) -> tuple[Candidate, int]:
        return self.candidate(record, "spelling", similarity(distance, letters)), distance

    def _spelling(
        self, found: list[tuple[Candidate, int]], tried: str, steps: list[Step]
    ) -> Finding | None:
        finding = Finding("spelling", {}, ["the spelling is not exact"])
        found.sort(
            key=lambda pair: (
                pair[0].plant_id not in self.index.plants,
                pair[1],
                -pair[0].score,
                pair[0].accepted_name,
            )
        )
        for stored in (True, False):
            group = [pair for pair in found if (pair[0].plant_id in self.index.plants) is stored]
            for candidate, distance in group:
                if distance > group[0][1] + 1:
                    break
                if (
                    len(finding.candidates) < MAX_SPELLING_CANDIDATES
                    or candidate.plant_id in finding.candidates
                ):
                    finding.add([candidate])
        steps.append(
            Step("spelling within bounds for genus and epithet", tried, len(finding.candidates))
        )
        return finding if finding.candidates else None


_RULE: Final[dict[NameKind, str]] = {
    "accepted": "accepted name",
    "synonym": "synonym",
    "common": "common name",
    "trade": "trade name",
    "cultivar": "cultivar",
    "misspelling": "known misspelling",
}
_HIGH_RANKS: Final[dict[Rank, int]] = {"family": 0, "genus": 1}
_VERNACULAR: Final[frozenset[NameKind]] = frozenset({"common", "trade"})


def _higher(candidates: Sequence[Candidate]) -> str:
    return "family" if any(candidate.rank == "family" for candidate in candidates) else "genus"


def _taxa(records: Sequence[NameRecord]) -> int:
    return len({record.plant_id for record in records})
