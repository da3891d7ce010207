"""Sources of an answer, numbered once, in the order in which the answer first needs them."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from service.checks.plan.values import NumberedSource
from service.containment import ContainmentPlan
from service.escape import Assessment
from service.regulation.finding import Citation, Finding
from service.regulation.shipping import Lane
from service.store.catalogue import Source
from service.values.evidence import Dataset
from service.values.plants import Plant, Provenance
from service.values.vocabulary import HowKnown
from service.values.workings import NO_SOURCE

_COEFFICIENT = "coefficient: "
_FROM_MEMORY = " (from memory)"


class SourceNumbers:
    """Hands out numbers; the same source keeps its own."""

    def __init__(self) -> None:
        self._by_key: dict[object, NumberedSource] = {}
        self._used_by: dict[int, dict[int, None]] = {}
        self._methods: dict[str, tuple[int, ...]] = {}

    @property
    def methods(self) -> Mapping[str, tuple[int, ...]]:
        """Numbers by the text that a factor or figure cites."""
        return self._methods

    def sources(self) -> tuple[NumberedSource, ...]:
        """All of them, by number."""
        return tuple(
            replace(source, used_by=tuple(sorted(self._used_by[source.number])))
            for source in self._by_key.values()
        )

    def of_finding(self, finding: Finding, planting: int) -> tuple[int, ...]:
        """Entries that the finding cites, then rules that are no law."""
        law = [self._law(citation, planting) for citation in finding.citations]
        own = [self._law(rule.citation, planting, own=True) for rule in finding.own_rules]
        return tuple(dict.fromkeys([*law, *own]))

    def used(self, numbers: Iterable[int], planting: int) -> None:
        """Sources that already have their numbers, used once more."""
        for number in numbers:
            self._used_by[number][planting] = None

    def of_lane(self, lane: Lane, planting: int) -> tuple[tuple[int, ...], ...]:
        """By step."""
        return tuple(self.of_finding(step, planting) for step in lane.steps)

    def of_data(self, source: Source) -> int:
        """A data set of the store."""
        cited = source.citation or f"{source.title} (file with SHA-256 {source.sha256[:12]})"
        new = NumberedSource(
            0, "data", source.title, cited, "measured", url=source.url, licence=source.licence
        )
        return self._number(("data", source.source_id), new)

    def of_dataset(self, dataset: Dataset, planting: int) -> int:
        """A data set of occurrence records."""
        new = NumberedSource(
            0,
            "records",
            dataset.title,
            dataset.citation or dataset.title,
            "measured",
            licence=dataset.licence,
        )
        return self._number(("records", dataset.dataset_key), new, planting)

    def of_plant(self, plant: Plant, planting: int) -> tuple[int, ...]:
        """Where traits of the plant were read."""
        read = sorted(
            {(known.source, known.how_known) for known in plant.provenance.values() if known.source}
        )
        return tuple(self._reference(text, how_known, planting) for text, how_known in read)

    def of_assessment(self, assessment: Assessment, planting: int) -> tuple[int, ...]:
        """References of the coefficients behind the figures."""
        factors = [
            factor
            for water in assessment.waters
            for stage in (water.leaves, water.arrives, water.persists)
            for factor in stage.factors
            if factor.citation
            and not _unsourced(factor.citation)
            and factor.how_known not in ("user", "measured")
        ]
        return self._references(
            ((factor.citation, factor.how_known) for factor in factors), planting
        )

    def of_containment(self, plan: ContainmentPlan, planting: int) -> tuple[int, ...]:
        """References of the formulas and constants behind the sizes."""
        formulas: list[tuple[str, HowKnown]] = []
        for measure in plan.measures:
            for figure in measure.figures:
                formulas += [(text, _how(text)) for text in figure.sources]
                formulas += [_known(given.known) for given in figure.inputs]
            formulas += [_known(check.known) for check in measure.checks]
        return self._references(
            (pair for pair in formulas if pair[0] and not _unsourced(pair[0])), planting
        )

    def _references(self, pairs: Iterable[tuple[str, HowKnown]], planting: int) -> tuple[int, ...]:
        numbers: dict[int, None] = {}
        for text, how_known in dict.fromkeys(pairs):
            parts = [
                part
                for part in text.removeprefix(_COEFFICIENT).split(f"; {_COEFFICIENT}")
                if not _unsourced(part)
            ]
            # Of a fact and its coefficient in one line, the first is known as said; the coefficient
            # by its own words.
            found = [
                self._reference(
                    part,
                    how_known if place == 0 and not text.startswith(_COEFFICIENT) else _how(part),
                    planting,
                )
                for place, part in enumerate(parts)
            ]
            self._methods[text] = tuple(found)
            numbers |= dict.fromkeys(found)
        return tuple(numbers)

    def _reference(self, text: str, how_known: HowKnown, planting: int) -> int:
        return self._number(
            ("method", text), NumberedSource(0, "method", text, text, how_known), planting
        )

    def _law(self, citation: Citation, planting: int, *, own: bool = False) -> int:
        # One entry of one version, whatever it says of the act asked about.
        key = ("law", replace(citation, outcome="no-entry-found"))
        new = NumberedSource(
            number=0,
            kind="own-rule" if own else "law",
            title=citation.title,
            citation=citation.citation,
            how_known=citation.how_known,
            url=citation.url,
            authority=citation.authority,
            jurisdiction=citation.jurisdiction,
            list_id=citation.list_id,
            class_name=citation.class_name,
            name_as_listed=citation.name_as_listed,
            exceptions=citation.exceptions,
            area=citation.area,
            condition=citation.condition,
            effective_from=citation.effective_from,
            read_copy_date=citation.read_copy_date,
        )
        return self._number(key, new, planting)

    def _number(self, key: object, new: NumberedSource, planting: int | None = None) -> int:
        known = self._by_key.get(key)
        if known is None:
            known = self._by_key[key] = replace(new, number=len(self._by_key) + 1)
            self._used_by[known.number] = {}
        if planting is not None:
            self._used_by[known.number][planting] = None
        return known.number


def _unsourced(text: str) -> bool:
    return NO_SOURCE in text


def _how(text: str) -> HowKnown:
    if text.endswith(_FROM_MEMORY):
        return "memory"
    # A derivation is words alone; a reference has a year, a number or a page.
    return "published" if any(sign.isdigit() for sign in text) else "measured"


def _known(known: Provenance) -> tuple[str, HowKnown]:
    """Text and how known; without a text where the figure is given, worked out, or common
    practice.
    """
    if known.how_known in ("user", "measured", "common-practice"):
        return "", known.how_known
    return known.source, known.how_known
