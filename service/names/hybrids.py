"""Hybrids and graft-chimaeras: the formula's own taxon, the named hybrid of the same parents, or
the parents.
"""

from collections.abc import Sequence
from itertools import pairwise

from service.names.finding import Finding
from service.names.lookup import Lookup
from service.names.normal import normal_form
from service.names.values import Candidate, Hybrid, Parent, ParsedLabel, ScientificName, Step
from service.values.plants import Plant
from service.values.vocabulary import PlantId


def formula_finding(
    lookup: Lookup, parsed: ParsedLabel, names: Sequence[ScientificName], steps: list[Step]
) -> Finding | None:
    """The taxon of a formula (ICN Arts H.2, H.4); the parents, unconfirmed, when it has none in
    the store.
    """
    if parsed.relation == "formula":
        form = normal_form(" × ".join(name.canonical for name in names))
        records = lookup.index.by_form(form)
        steps.append(
            Step("hybrid formula in the catalogue", form, len({r.plant_id for r in records}))
        )
        if records:
            return lookup.of_records(records, ", a hybrid formula")
        near = lookup.near_formula(form, steps)
        if near:
            return near
    parents = [
        lookup.scientific(name, steps) or lookup.near_scientific(name, steps) for name in names
    ]
    found = [parent for parent in parents if parent]
    if not found:
        return None
    if parsed.relation == "formula" and len(found) == len(names):
        named = lookup.index.plant_of_parents(frozenset(map(_parent_taxon, found)))
        steps.append(Step("named hybrid of the same parents", form, len(named)))
        if named:
            return _named_hybrid(named, found)
    finding = Finding(found[0].match, {})
    for parent in found:
        finding.add(parent.candidates.values())
    what = (
        "parent of the hybrid"
        if parsed.relation == "formula"
        else "component of the graft-chimaera"
    )
    finding.doubts.append(f"each candidate is only a {what}")
    return finding


def _parent_taxon(parent: Finding) -> PlantId:
    """The taxon that has the parent's name, before those that it is only used for."""
    return max(
        parent.candidates.values(), key=lambda c: (c.rule == "accepted name", c.score)
    ).plant_id


def _named_hybrid(named: Sequence[Plant], parents: Sequence[Finding]) -> Finding:
    finding = Finding("synonym", {})
    finding.add(
        Candidate(
            p.plant_id,
            p.accepted_name,
            p.rank,
            p.accepted_name,
            "hybrid of the same parents",
            1.0,
            genus=p.genus,
        )
        for p in named
    )
    if len(named) > 1:
        finding.doubts.append("the parents have more than one named hybrid")
    finding.doubts.extend(doubt for parent in parents for doubt in parent.doubts)
    return finding


def hybrid_of(
    lookup: Lookup, parsed: ParsedLabel, candidates: Sequence[Candidate]
) -> Hybrid | None:
    """What is known of the parents: from the label's formula, else from the taxon's record."""
    if parsed.relation in ("formula", "graft"):
        parents = tuple(Parent(name.canonical, _taxa_of(lookup, name)) for name in parsed.names)
        return Hybrid("formula" if parsed.relation == "formula" else "graft", parents)
    kinds = [part.kind for part in parsed.parts]
    if "graft-sign" in kinds and ("graft-sign", "genus") in pairwise(kinds):
        return Hybrid("graft")
    if len(candidates) == 1 and candidates[0].plant_id in lookup.index.plants:
        plant = lookup.index.plants[candidates[0].plant_id]
        if plant.hybrid_parents or "×" in plant.accepted_name:
            known = [taxon for taxon in plant.hybrid_parents if taxon in lookup.index.plants]
            parents = tuple(
                Parent(lookup.index.plants[taxon].accepted_name, (taxon,)) for taxon in known
            )
            return Hybrid(
                "formula" if " × " in normal_form(plant.accepted_name) else "nothotaxon", parents
            )
    if parsed.names and parsed.names[0].notho:
        return Hybrid("nothotaxon")
    return None


def _taxa_of(lookup: Lookup, name: ScientificName) -> tuple[PlantId, ...]:
    finding = lookup.scientific(name, [])
    return tuple(finding.candidates) if finding else ()
