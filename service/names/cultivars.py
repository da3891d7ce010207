"""Cultivars: a cultivar inherits the taxon that its label names; one without a species is looked up by its epithet."""

from service.names.index import CultivarRecord
from service.names.lookup import Finding, Lookup
from service.names.near import edit_bound, similarity
from service.names.normal import fold
from service.names.values import ParsedLabel, Step


def with_cultivar(
    lookup: Lookup, parsed: ParsedLabel, finding: Finding | None, steps: list[Step]
) -> tuple[Finding | None, str | None, bool | None]:
    """The finding with regard to the label's cultivar epithet, the epithet, and whether the store holds it."""
    epithet = parsed.cultivar
    if epithet is None or parsed.several:
        return finding, None, None
    stored = lookup.index.cultivars(epithet)
    if finding is None:
        return _by_epithet_alone(lookup, epithet, stored, steps), epithet, bool(stored) or None
    genera = {fold(candidate.genus) for candidate in finding.candidates.values()}
    genera.update(fold(name.genus) for name in parsed.names)
    fitting = [entry for entry in stored if _genus(entry) in genera]
    taxa = {entry.record.plant_id for entry in fitting}
    steps.append(Step("cultivar in the catalogue", epithet, len(taxa)))
    if not fitting:
        return _unknown(lookup, epithet, finding, genera, steps), epithet, False
    if finding.genus_only or finding.match == "genus":
        return _of(lookup, fitting), epithet, True
    if taxa & finding.candidates.keys():
        if not finding.sure and finding.match not in ("spelling", "genus"):
            narrowed = _of(lookup, [e for e in fitting if e.record.plant_id in finding.candidates])
            return narrowed, epithet, True
        if finding.match != "spelling":
            finding.match = "cultivar"
        return finding, epithet, True
    finding.add(_of(lookup, fitting).candidates.values())
    finding.doubts.append(f"the catalogue holds '{epithet}' under another taxon")
    if finding.match != "spelling":
        finding.match = "cultivar"
    return finding, epithet, True


def _unknown(lookup: Lookup, epithet: str, finding: Finding, genera: set[str], steps: list[Step]) -> Finding:
    if not (finding.genus_only or finding.match == "genus"):
        if finding.match not in ("spelling", "none"):
            finding.match = "cultivar"
        return finding
    near = [(e, d) for e, d in lookup.index.near_cultivars(epithet, edit_bound(len(epithet))) if _genus(e) in genera]
    steps.append(Step("cultivar within the spelling bound", epithet, len({e.record.plant_id for e, _ in near})))
    if not near:
        finding.doubts.append(f"the cultivar '{epithet}' is not known")
        return finding
    spelt = Finding("spelling", {}, ["the spelling is not exact"])
    spelt.add(lookup.candidate(e.record, "spelling of the cultivar", similarity(d, len(epithet))) for e, d in near)
    return spelt


def _by_epithet_alone(lookup: Lookup, epithet: str, stored: list[CultivarRecord], steps: list[Step]) -> Finding | None:
    steps.append(Step("cultivar epithet alone", epithet, len({e.record.plant_id for e in stored})))
    if not stored:
        return None
    finding = _of(lookup, stored)
    finding.doubts.append("only the cultivar epithet is known")
    return finding


def _of(lookup: Lookup, entries: list[CultivarRecord]) -> Finding:
    finding = lookup.of_records([entry.record for entry in entries], "same cultivar")
    finding.match = "cultivar"
    return finding


def _genus(entry: CultivarRecord) -> str:
    return entry.base.split(" ")[0]
