"""Common names on a label: whole, in another order, among other words, or nearly spelt."""

from service.names.finding import Finding, agreed, either
from service.names.index import CatalogueIndex
from service.names.lookup import Lookup
from service.names.normal import fold, vernacular_words
from service.names.parser import Reading
from service.names.trade_words import Run
from service.names.values import (
    Step,
)


class VernacularNames:
    """Finds the plants that the common names on a label mean."""

    def __init__(self, index: CatalogueIndex, lookup: Lookup) -> None:
        self._index = index
        self._lookup = lookup

    def find(self, reading: Reading, steps: list[Step], *, only_exact: bool) -> Finding | None:
        runs = [run for run in reading.runs if run.words and not run.genera]
        finding: Finding | None = None
        for run in runs:
            found = self._run(run, steps, only_exact=only_exact)
            finding = agreed(finding, found) if finding else found
        if finding is None and not only_exact:
            words = tuple(
                word
                for run in runs
                for word in vernacular_words(" ".join(run.trimmed or run.words))
            )
            finding = self._any_order(words, steps)
        return finding

    def _any_order(self, words: tuple[str, ...], steps: list[Step]) -> Finding | None:
        records = self._index.by_words(words) if len(words) > 1 else []
        steps.append(
            Step(
                "the same words in another order",
                " ".join(words),
                len({r.plant_id for r in records}),
            )
        )
        if not records:
            return None
        finding = self._lookup.of_records(records, ", words in another order", score=0.9)
        finding.doubts.append("the words stand in another order")
        return finding

    def _run(self, run: Run, steps: list[Step], *, only_exact: bool) -> Finding | None:
        for words in dict.fromkeys((run.words, run.trimmed)):
            exact = (
                self._lookup.vernacular(vernacular_words(" ".join(words)), steps) if words else None
            )
            if exact:
                return exact
        if len(run.words) == 1:
            genus = self._lookup.imported.uninomial(fold(run.words[0]), steps)
            if genus:
                return genus
        within = self._within(run, steps)
        if only_exact or (within and not within.doubts):
            return within
        near: Finding | None = None
        for text in dict.fromkeys((run.text, " ".join(run.trimmed)) if run.trimmed else ()):
            near = either(near, self._lookup.near_words(text, steps, in_part=within is None))
        return either(near, within)

    def _within(self, run: Run, steps: list[Step]) -> Finding | None:
        """A stored name among the words of the run; words left over cast doubt unless they are
        sales talk.
        """
        finding: Finding | None = None
        for phrase in run.common if run.known else ():
            found = self._lookup.vernacular(vernacular_words(phrase), steps)
            finding = agreed(finding, found) if finding else found
        if finding and run.leftover:
            finding.doubts.append(f"not part of the name: {' '.join(run.leftover)}")
        return finding
