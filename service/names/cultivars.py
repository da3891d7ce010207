"""Cultivars: a cultivar inherits the taxon that its label names; one without a species is looked up
by its epithet.

An epithet stands for one cultivar within a genus (ICNCP, the denomination class), so genus and
epithet are enough.
"""

from collections.abc import Iterable

from service.names.finding import Finding
from service.names.index import CultivarRecord
from service.names.lookup import Lookup
from service.names.near import edit_bound, similarity
from service.names.normal import fold, normal_form
from service.names.values import ParsedLabel, Step

Cultivar = tuple[Finding | None, str | None, bool | None]
"""The finding with regard to the cultivar, its epithet, and whether the store holds it."""


def with_cultivar(
    lookup: Lookup, parsed: ParsedLabel, finding: Finding | None, steps: list[Step]
) -> Cultivar:
    """Narrow a finding by the cultivar epithet of the label."""
    epithet = parsed.cultivar
    if epithet is None:
        return finding, None, None
    stored = lookup.index.cultivars(epithet)
    if finding is not None and finding.outside:
        stored = _under_these_names(parsed, stored)
        if not stored:
            return finding, epithet, False
        finding = None
    if finding is None:
        steps.append(Step("cultivar epithet alone", epithet, _taxa(stored)))
        if not stored:
            return None, epithet, None
        return _of(lookup, stored, "only the cultivar epithet is known"), epithet, True
    genera = _genera(finding, parsed)
    fitting = [entry for entry in stored if _genus(entry) in genera]
    steps.append(Step("cultivar in the catalogue", epithet, _taxa(fitting)))
    if not fitting:
        return _unknown(lookup, parsed, epithet, finding, genera, steps), epithet, False
    return _known(lookup, parsed, epithet, finding, fitting), epithet, True


def with_unquoted(
    lookup: Lookup, words: Iterable[str], finding: Finding, steps: list[Step]
) -> Cultivar:
    """``Black Magic elephant ear``: words beside a vernacular name that are a known epithet of
    its genus.
    """
    epithet = " ".join(words)
    fitting = (
        [e for e in lookup.index.cultivars(epithet) if e.record.plant_id in finding.candidates]
        if epithet
        else []
    )
    if not fitting:
        return finding, None, None
    steps.append(Step("cultivar without quotes", epithet, _taxa(fitting)))
    return (
        _of(lookup, fitting, f"the cultivar epithet {epithet} stands without quotes"),
        epithet,
        True,
    )


def _known(
    lookup: Lookup,
    parsed: ParsedLabel,
    epithet: str,
    finding: Finding,
    fitting: list[CultivarRecord],
) -> Finding:
    spelt = finding.match == "spelling"
    shared = [entry for entry in fitting if entry.record.plant_id in finding.candidates]
    if finding.genus_only:
        return _of(lookup, fitting, "the spelling of the genus is not exact" if spelt else "")
    if shared and not finding.sure and not spelt:
        return _of(lookup, shared)
    if not shared:
        finding.add(_of(lookup, fitting).candidates.values())
        finding.doubts.append(f"the catalogue holds '{epithet}' under another taxon")
    finding.match = "spelling" if spelt else "cultivar"
    _heed_open(lookup, parsed, finding, fitting)
    return finding


def _heed_open(
    lookup: Lookup, parsed: ParsedLabel, finding: Finding, fitting: list[CultivarRecord]
) -> None:
    """The catalogue has the cultivar under this very name for another taxon too, or asks."""
    stored = _under_these_names(parsed, fitting)
    found = _of(lookup, stored) if stored else None
    if found and (found.doubts or not finding.candidates.keys() >= found.candidates.keys()):
        finding.add(found.candidates.values())
        finding.doubts.extend(found.doubts or ["the cultivar is placed under more than one taxon"])


def _under_these_names(
    parsed: ParsedLabel, entries: Iterable[CultivarRecord]
) -> list[CultivarRecord]:
    """Those that the catalogue has under a scientific name of the label."""
    forms = {normal_form(name.canonical) for name in parsed.names}
    return [entry for entry in entries if entry.base in forms]


def _unknown(
    lookup: Lookup,
    parsed: ParsedLabel,
    epithet: str,
    finding: Finding,
    genera: set[str],
    steps: list[Step],
) -> Finding:
    if not finding.genus_only:
        if finding.match not in ("spelling", "none"):
            finding.match = "cultivar"
        _heed_others(lookup, parsed, finding)
        return finding
    near = [
        (e, d)
        for e, d in lookup.index.near_cultivars(epithet, edit_bound(len(epithet)))
        if _genus(e) in genera
    ]
    steps.append(
        Step("cultivar within the spelling bound", epithet, _taxa([entry for entry, _ in near]))
    )
    if not near:
        finding.doubts.append(f"the cultivar '{epithet}' is not known")
        return finding
    spelt = Finding("spelling", {}, ["the spelling is not exact"])
    spelt.add(
        lookup.candidate(e.record, "spelling of the cultivar", similarity(d, len(epithet)))
        for e, d in near
    )
    return spelt


def _heed_others(lookup: Lookup, parsed: ParsedLabel, finding: Finding) -> None:
    """The catalogue places other cultivars that go under this name with another taxon: so may
    this one be.
    """
    for name in parsed.names:
        for entry in lookup.index.cultivars_under(normal_form(name.canonical)):
            if entry.record.plant_id not in finding.candidates:
                finding.add(
                    [lookup.candidate(entry.record, "other cultivars under this name", 0.8)]
                )
                finding.doubts.append(f"cultivars sold as {name.canonical} may be another taxon")


def _of(lookup: Lookup, entries: list[CultivarRecord], doubt: str = "") -> Finding:
    finding = lookup.of_records([entry.record for entry in entries])
    finding.match = "cultivar"
    if doubt:
        finding.doubts.append(doubt)
    return finding


def _genera(finding: Finding, parsed: ParsedLabel) -> set[str]:
    genera = {fold(candidate.genus) for candidate in finding.candidates.values()}
    return genera | {fold(name.genus) for name in parsed.names}


def _genus(entry: CultivarRecord) -> str:
    return entry.base.split(" ")[0]


def _taxa(entries: list[CultivarRecord]) -> int:
    return len({entry.record.plant_id for entry in entries})
