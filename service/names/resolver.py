"""Label -> resolution, in the order: accepted name, synonym, common or trade name, cultivar,
imported taxonomy, spelling, genus alone, unresolved.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from service.names.cultivars import with_cultivar, with_unquoted
from service.names.doubts import doubts_of_label, goods_word, other_plant, unread_words
from service.names.finding import Finding, agreed, either
from service.names.hybrids import formula_finding, hybrid_of
from service.names.index import CatalogueIndex
from service.names.lookup import Lookup
from service.names.normal import fold, vernacular_words
from service.names.outside import Outside, what_would_confirm
from service.names.pair import one_of_all
from service.names.parser import Reading, read_label
from service.names.sizes_aside import SizesAside
from service.names.values import (
    NameRecord,
    NameSource,
    ParsedLabel,
    PartKind,
    Resolution,
    ScientificName,
    Step,
    WetlandName,
)
from service.names.vernacular import VernacularNames
from service.values.kept import Kept
from service.values.plants import Plant

_CACHE_LABELS = 10_000
_CACHE_LETTERS = 300
"""Longer labels are not cached. A cached label takes 1 to 4 kB, so that all take some 30 MB
(measured).
"""
_MAY_ABBREVIATE = re.compile(r"(?<![^\W\d_])[^\W\d_][a-z]{0,3}(?:\.\s*|\s)[a-z]")
_APART: frozenset[PartKind] = frozenset(
    {
        "size",
        "count",
        "sku",
        "price",
        "cultivar",
        "group",
        "trade-designation",
        "author",
        "hybrid-sign",
    }
)
_APART_AND_MARKS: frozenset[PartKind] = _APART | {"open", "qualifier"}
_APART_AND_SALES: frozenset[PartKind] = _APART | {"sales"}
_LISTING = re.compile(r"[&;+\n]|\band\b|\bor\b|\bwith\b", re.IGNORECASE)
"""Signs that a line means to list plants, not to name one twice."""


class Resolver:
    """Resolves labels against a catalogue and, after it, imported taxonomies. Immutable; safe to
    share.

    Args:
        plants: the taxa of the store, those that only stand on lists too.
        names: their names; a name of an unknown plant is passed over.
        sources: imported taxonomies, consulted after the catalogue.
        wetland_names: names of plants beyond the catalogue, so that they are known for what they
            are.
    """

    def __init__(
        self,
        plants: Iterable[Plant],
        names: Iterable[NameRecord],
        sources: Sequence[NameSource] = (),
        wetland_names: Iterable[WetlandName] = (),
    ) -> None:
        self._index = CatalogueIndex(plants, names)
        self._lookup = Lookup(self._index, sources)
        self._vernacular = VernacularNames(self._index, self._lookup)
        self._outside = Outside(self._index, wetland_names)
        self._cache: Kept[str, Resolution] = Kept(_CACHE_LABELS)
        self._sizes_aside = SizesAside()

    def resolve(self, label: str, *, abbreviations: Mapping[str, str] | None = None) -> Resolution:
        """What a label means, and how sure that is. Never raises on a label.

        Args:
            abbreviations: abbreviated genus -> genus, for ``M. aquaticum`` where the rest of the
                text names it.
        """
        if abbreviations:
            genera = abbreviations.items()
            return self._resolve(
                label, [(fold(short).rstrip("."), fold(genus)) for short, genus in genera]
            )
        cached = self._cache.get(label)
        if cached is None:
            if len(label) > _CACHE_LETTERS:
                return self._resolve(label, [])
            cached = self._sizes_aside.known(label)
            if cached is None:
                cached = self._resolve(label, [])
                self._sizes_aside.learn(cached)
            self._cache.put(label, cached)
        return cached

    def resolve_all(
        self, labels: Sequence[str], *, between: Callable[[], None] = lambda: None
    ) -> list[Resolution]:
        """Resolve a list; an abbreviated genus is read from the other labels of the list.

        Args:
            between: called before each label; what it raises ends the work.
        """

        def resolved(label: str) -> Resolution:
            between()
            return self.resolve(label)

        if not any(_MAY_ABBREVIATE.search(label) for label in labels):
            return [resolved(label) for label in labels]
        plain = [resolved(label) for label in labels]
        genera = {
            fold(name.genus)
            for resolution in plain
            for name in resolution.parsed.names
            if not name.abbreviated and self._index.is_genus(fold(name.genus))
        }
        known = [(genus, genus) for genus in sorted(genera)]
        return [
            self._resolve(r.label, known) if any(name.abbreviated for name in r.parsed.names) else r
            for r in plain
        ]

    def _resolve(self, label: str, genera: list[tuple[str, str]]) -> Resolution:
        reading = read_label(label, self._index)
        steps: list[Step] = []
        other = other_plant(reading, self._index)
        if other:
            steps.append(Step("name of a plant that is no water plant", other, 0))
            return replace(
                self._conclude(reading.parsed, None, steps, None, None),
                to_confirm=f"By its name ({other}) this is a garden plant and not the water plant "
                "of a like name. If it is a water plant, ask the grower for the botanical name.",
            )
        finding = self._whole(reading, steps)
        whole = finding is not None
        goods = "" if whole else goods_word(reading, self._index)
        if goods:
            steps.append(Step("goods that are not plants", goods, 0))
            return replace(
                self._conclude(reading.parsed, None, steps, None, None),
                goods=goods,
                to_confirm=f"The label seems to name goods ({goods}) and not a plant. If it is a "
                "plant, ask the grower for the botanical name.",
            )
        if finding is None and reading.parsed.several:
            return self._several(reading.parsed, genera)
        if finding is None:
            finding = self._find(reading, genera, steps)
        finding, cultivar, known = with_cultivar(self._lookup, reading.parsed, finding, steps)
        if finding and cultivar is None:
            leftover = [word for run in reading.runs for word in run.leftover]
            finding, cultivar, known = with_unquoted(self._lookup, leftover, finding, steps)
        return self._conclude(reading.parsed, finding, steps, cultivar, known, whole=whole)

    def _conclude(
        self,
        parsed: ParsedLabel,
        finding: Finding | None,
        steps: list[Step],
        cultivar: str | None,
        cultivar_known: bool | None,
        *,
        whole: bool = False,
    ) -> Resolution:
        """The resolution of a finding; ``whole`` where all the words are one stored name."""
        finding = finding or Finding("none", {})
        finding.doubts.extend(doubts_of_label(parsed, None if whole else self._index))
        candidates = tuple(sorted(finding.candidates.values(), key=lambda c: -c.score))
        confirmed = finding.sure
        return Resolution(
            label=parsed.label,
            match=finding.match,
            confirmed=confirmed,
            candidates=candidates,
            parsed=parsed,
            cultivar=cultivar,
            cultivar_known=cultivar_known,
            genus_only=finding.genus_only,
            hybrid=hybrid_of(self._lookup, parsed, candidates),
            outside=finding.outside,
            steps=tuple(steps),
            to_confirm=""
            if confirmed
            else what_would_confirm(finding.match, candidates, finding.doubts, finding.outside),
        )

    # Ways to a finding

    def _whole(self, reading: Reading, steps: list[Step]) -> Finding | None:
        """All the words of the label together, with the sales words or without, are a stored
        name.
        """
        parsed = reading.parsed
        if any(name.qualifier or name.open_nomenclature for name in parsed.names):
            return None
        for left_out in (_APART, _APART_AND_SALES):
            spoken = _spoken(parsed, left_out)
            if self._index.is_genus(fold(spoken)):
                return None
            words = vernacular_words(spoken)
            found = self._lookup.vernacular(words, steps) if words else None
            found = found or self._inverted(parsed, left_out, steps)
            if found and not (found.match == "spelling" and parsed.names):
                return found
        return None

    def _inverted(
        self, parsed: ParsedLabel, left_out: frozenset[PartKind], steps: list[Step]
    ) -> Finding | None:
        """``hyacinth, water``: what stands after the only comma comes first."""
        comma = parsed.text.find(",")
        if comma < 0 or parsed.text.count(",") > 1:
            return None
        spoken = [part for part in parsed.parts if part.kind not in left_out]
        before = [part.text for part in spoken if part.end <= comma]
        after = [part.text for part in spoken if part.start > comma]
        if not before or not after or len(before) + len(after) < len(spoken):
            after, before = [parsed.text[comma + 1 :]], [parsed.text[:comma]]
        return self._lookup.vernacular(vernacular_words(" ".join((*after, *before))), steps)

    def _find(
        self, reading: Reading, genera: list[tuple[str, str]], steps: list[Step]
    ) -> Finding | None:
        parsed = reading.parsed
        botanical = self._botanical(parsed, genera, steps)
        vernacular = self._vernacular.find(reading, steps, only_exact=botanical is not None)
        finding = agreed(botanical, vernacular)
        return self._near_whole(parsed, finding, steps)

    def _near_whole(
        self, parsed: ParsedLabel, finding: Finding | None, steps: list[Step]
    ) -> Finding | None:
        """All the words of the label within the spelling bound, where no name in it was found as
        spelt.
        """
        if finding is not None and (
            finding.outside
            or (
                finding.match not in ("genus", "spelling") and not unread_words(parsed, self._index)
            )
        ):
            return finding
        bare = _spoken(parsed, _APART_AND_MARKS | {"sales"})
        if not bare or self._index.is_genus(fold(bare)):
            return finding
        if finding is None or finding.match == "genus":
            imported = self._imported_words(bare.lower().split(), steps)
            if imported:
                return imported
        for spoken in dict.fromkeys((_spoken(parsed, _APART_AND_MARKS), bare)):
            if finding is None or len(parsed.names) != 1 or spoken != parsed.names[0].canonical:
                finding = either(self._lookup.near_words(spoken, steps), finding)
        return finding

    def _imported_words(self, words: list[str], steps: list[Step]) -> Finding | None:
        """A name that only an imported taxonomy knows, whose form did not give it away:
        ``Foobaria Limosa``.
        """
        for count in dict.fromkeys((len(words), 2)):
            if 1 < count <= len(words):
                found = self._lookup.imported.scientific(" ".join(words[:count]), "", steps)
                if found and count < len(words):
                    found.doubts.append(f"not read on the label: {' '.join(words[count:])}")
                if found:
                    return found
        return None

    def _botanical(
        self, parsed: ParsedLabel, genera: list[tuple[str, str]], steps: list[Step]
    ) -> Finding | None:
        if parsed.relation in ("formula", "graft"):
            known = [
                *genera,
                *((fold(n.genus), fold(n.genus)) for n in parsed.names if not n.abbreviated),
            ]
            names = [
                expanded for name in parsed.names for expanded in self._expanded(name, known)[0][:1]
            ]
            return formula_finding(self._lookup, parsed, names, steps)
        finding: Finding | None = None
        unread = " ".join(parsed.texts("rest"))
        for name in parsed.names:
            found = self._one_name(
                name if name.authorship else replace(name, authorship=unread), genera, steps
            )
            finding = found if finding is None else agreed(finding, found)
        return finding

    def _one_name(
        self, name: ScientificName, genera: list[tuple[str, str]], steps: list[Step]
    ) -> Finding | None:
        expansions, doubt = self._expanded(name, genera)
        finding: Finding | None = None
        for expanded in expansions:
            found = self._full_name(expanded, steps)
            if found and finding:
                finding.add(found.candidates.values())
                finding.doubts.extend(found.doubts)
            else:
                finding = finding or found
        if finding and doubt:
            finding.doubts.append(doubt)
        return finding

    def _full_name(self, name: ScientificName, steps: list[Step]) -> Finding | None:
        genus = fold(name.genus)
        if not name.species:
            return self._lookup.genus(genus, steps) or self._lookup.near_genus(genus, steps)
        found = self._lookup.scientific(name, steps)
        known = self._outside.known(name)
        if known and (found is None or found.match == "spelling"):
            return self._outside.finding(name, known, steps)
        found = found or self._lookup.near_scientific(name, steps)
        if found:
            return found
        if name.infraspecific:
            species = self._lookup.scientific(replace(name, infraspecific=()), steps)
            if species:
                species.doubts.append(f"{name.canonical} is not known, only the species")
                return species
        if self._outside.is_well_formed(name):
            return self._outside.finding(name, None, steps)
        finding = self._lookup.genus(genus, steps)
        if finding:
            finding.match, finding.genus_only = "genus", True
            finding.doubts.append(f"the species {name.canonical} is not known")
        return finding

    def _expanded(
        self, name: ScientificName, genera: list[tuple[str, str]]
    ) -> tuple[list[ScientificName], str]:
        """The name with its genus in full, by the rest of the list, else by the catalogue."""
        if not name.abbreviated:
            return [name], ""
        short = fold(name.genus)
        given = [
            genus
            for key, genus in genera
            if key == short or (key == genus and genus.startswith(short))
        ]
        for options, doubt in (
            (given, ""),
            (
                self._index.genera_beginning(short),
                f"the genus {name.genus}. is not written out in the list",
            ),
        ):
            fitting = [genus for genus in options if self._index.by_epithets(genus, name.epithets)]
            if len(fitting) == 1 or (fitting and doubt):
                return [_in_full(name, genus) for genus in fitting], doubt
            if fitting:
                return [
                    _in_full(name, genus) for genus in fitting
                ], f"{name.genus}. may be any of {len(fitting)} genera"
        return [
            _in_full(name, genus) for genus in given
        ], f"no genus in {name.genus}. has this species" if given else ""

    # Several plants

    def _several(self, parsed: ParsedLabel, genera: list[tuple[str, str]]) -> Resolution:
        members = [
            self._resolve(segment.strip(), genera) for segment in parsed.segments if segment.strip()
        ]
        finding = Finding("none", {})
        finding.add(candidate for member in members for candidate in member.candidates)
        taxa = {candidate.plant_id for candidate in finding.candidates.values()}
        confirmed = [member for member in members if member.confirmed]
        if (
            len(confirmed) == 1
            and not _LISTING.search(parsed.text)
            and one_of_all(confirmed[0], members)
        ):
            return replace(confirmed[0], label=parsed.label, parsed=parsed)
        steps = [step for member in members for step in member.steps]
        if len(taxa) == 1 and len(confirmed) == len(members):
            finding.match = confirmed[0].match
        else:
            matched = [member.match for member in members if member.candidates]
            finding.match = matched[0] if matched else "none"
            finding.doubts.append("the line names several plants")
        finding.genus_only = bool(members) and all(member.genus_only for member in members)
        return self._conclude(parsed, finding, steps, None, None)


def _spoken(parsed: ParsedLabel, left_out: frozenset[PartKind]) -> str:
    """The words of the label without the parts that are no words of a name."""
    return " ".join([part.text for part in parsed.parts if part.kind not in left_out])


def _in_full(name: ScientificName, genus: str) -> ScientificName:
    return replace(name, genus=genus.capitalize(), abbreviated=False)
