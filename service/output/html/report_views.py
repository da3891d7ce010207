"""What the report says of a plan, from the answer: rows put together, repeats said once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from service.cautions import Caution
from service.checks.plan.values import NumberedSource, PlanAnswer, PlanFinding, PlantingAnswer, Role
from service.escape import Estimate, WaterAssessment
from service.escape.wording import strongest_route
from service.fit import Aspect, Fit
from service.output.words import ROUTES, place_name
from service.regulation.finding import Finding
from service.values.vocabulary import OUTCOMES, Act, Jurisdiction, Outcome, WaterId
from service.values.words import joined

MOST_WATERS, MOST_REASONS = 3, 1
"""Shown with each plant; the data that the report is made from has the rest."""


@dataclass(frozen=True, slots=True)
class LawRow:
    """Findings of one jurisdiction that agree, over the acts asked.

    Attributes:
        finding: of the first act; the other acts have the same reasons, word for word but for the
            act, where ``alike`` names them.
    """

    role: Role
    finding: Finding
    acts: tuple[Act, ...]
    alike: tuple[Act, ...]
    sources: tuple[int, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        return self.finding.reasons[:MOST_REASONS]

    @property
    def more_reasons(self) -> int:
        return max(0, len(self.finding.reasons) - MOST_REASONS)


def law_rows(planting: PlantingAnswer) -> tuple[LawRow, ...]:
    """The findings, those that agree put together, strictest first within each jurisdiction's
    order.
    """
    groups: dict[object, list[int]] = {}
    for place, planned in enumerate(planting.findings):
        finding = planned.finding
        key = (
            planned.role,
            finding.jurisdiction,
            finding.outcome,
            finding.verified,
            finding.coverage,
            planned.sources,
        )
        groups.setdefault(key, []).append(place)
    rows = [_law_row([planting.findings[place] for place in places]) for places in groups.values()]
    order = list(dict.fromkeys((row.role, row.finding.jurisdiction) for row in rows))
    return tuple(
        sorted(
            rows,
            key=lambda row: (
                order.index((row.role, row.finding.jurisdiction)),
                OUTCOMES.index(row.finding.outcome),
            ),
        )
    )


def _law_row(found: Sequence[PlanFinding]) -> LawRow:
    first = found[0]
    same = all(planned.finding.reasons == first.finding.reasons for planned in found)
    return LawRow(
        first.role,
        first.finding,
        acts=tuple(planned.finding.act for planned in found),
        alike=() if same else tuple(planned.finding.act for planned in found[1:]),
        sources=first.sources,
    )


def confirm_with(planting: PlantingAnswer) -> tuple[str, ...]:
    """Whom to ask, each once."""
    asked = [finding.finding.confirm_with for finding in planting.findings]
    if planting.lane is not None:
        asked += [step.confirm_with for step in planting.lane.lane.steps]
    return tuple(
        dict.fromkeys(part.strip() for whom in asked for part in whom.split(";") if part.strip())
    )


def deciding_places(planting: PlantingAnswer) -> str:
    """Where and for what the strictest outcome holds, for the table: ``Ohio (release), Michigan
    (sell)``.
    """
    acts: dict[Jurisdiction, dict[Act, None]] = {}
    found = [finding.finding for finding in planting.findings]
    if planting.lane is not None and planting.lane.lane.outcome == planting.outcome:
        found += planting.lane.lane.steps
    for finding in found:
        if finding.outcome == planting.outcome:
            acts.setdefault(finding.jurisdiction, {})[finding.act] = None
    if planting.outcome == "no-entry-found":
        return ", ".join(place_name(jurisdiction) for jurisdiction in acts)
    return "; ".join(
        f"{place_name(jurisdiction)} ({', '.join(barred)})" for jurisdiction, barred in acts.items()
    )


_TALLIES: dict[Outcome, str] = {
    "prohibited": "prohibited",
    "permit-required": "for which a permit is required",
    "conditional": "where a condition decides",
    "undetermined": "not determined",
    "listed-other-acts": "listed for other acts only",
    "no-entry-found": "for which no entry was found",
}


def tally(answer: PlanAnswer) -> str:
    """One sentence: how many plantings stand where."""
    total = len(answer.plantings)
    counts = {
        outcome: sum(planting.outcome == outcome for planting in answer.plantings)
        for outcome in OUTCOMES
    }
    phrases = [f"{count} {_TALLIES[outcome]}" for outcome, count in counts.items() if count]
    without = sum(planting.outcome is None for planting in answer.plantings)
    if without:
        phrases.append(f"{without} without a state to look up law in")
    passing = sum(planting.passes for planting in answer.plantings)
    plantings = "planting" if total == 1 else "plantings"
    counted = f"{total} {plantings}, by the strictest finding for each: {joined(phrases)}."
    return f"{counted} On the shopping list: {passing}. Held back: {total - passing}."


def densities(answer: PlanAnswer) -> dict[int, str]:
    """By planting, plants to the square metre of its place; none where count or area is not
    known.
    """
    areas = {place.place.name: place.place.area_m2 for place in answer.places}
    found = {}
    for planting in answer.plantings:
        area_m2 = areas.get(planting.place)
        if planting.count and area_m2:
            per_m2 = planting.count / area_m2
            found[planting.number] = (
                f"{per_m2:.2g}/m2 ({per_m2 * SQUARE_FOOT_M2 * 100:.2g}/100 ft2)"
            )
    return found


SQUARE_FOOT_M2 = 0.3048**2


@dataclass(frozen=True, slots=True)
class PermitRow:
    """A permit or written answer to get, with room for its number."""

    authority: str
    about: str
    plantings: tuple[int, ...]
    sources: tuple[int, ...]


_PERMIT_KINDS = ("permit-required", "conditional", "undetermined")


def permit_rows(answer: PlanAnswer) -> tuple[PermitRow, ...]:
    """What each authority has to say of the plants that the law does not bar."""
    found: dict[tuple[str, str], tuple[dict[int, None], dict[int, None]]] = {}
    for planting in answer.plantings:
        for ground in planting.grounds:
            if ground.kind in _PERMIT_KINDS and planting.outcome != "prohibited":
                about = f"{OUTCOMES_ASKED[ground.kind]}: {joined(ground.where)}"
                numbers, sources = found.setdefault((ground.ask, about), ({}, {}))
                numbers[planting.number] = None
                sources |= dict.fromkeys(ground.sources)
    return tuple(
        PermitRow(authority, about, tuple(numbers), tuple(sources))
        for (authority, about), (numbers, sources) in found.items()
    )


OUTCOMES_ASKED = {
    "permit-required": "Permit",
    "conditional": "Written answer on the condition",
    "undetermined": "Written answer",
}


@dataclass(frozen=True, slots=True)
class FitView:
    """One plant's fit: what is wrong or open, and what is right in one line."""

    fit: Fit
    name: str
    to_change: tuple[Aspect, ...]
    right: tuple[str, ...]


def fit_views(planting: PlantingAnswer) -> tuple[FitView, ...]:
    """The worst first; none where there is no place to fit to."""
    if not planting.fits:
        return ()
    order = ("does-not-fit", "unknown", "fits-with-change", "fits")
    views = [
        FitView(
            fit=fit,
            name=plant.accepted_name,
            to_change=tuple(aspect for aspect in fit.aspects if aspect.verdict != "fits"),
            right=tuple(aspect.name for aspect in fit.aspects if aspect.verdict == "fits"),
        )
        for plant, fit in zip(planting.plants, planting.fits, strict=True)
    ]
    return tuple(sorted(views, key=lambda view: order.index(view.fit.verdict)))


@dataclass(frozen=True, slots=True)
class WaterRow:
    """The chance for one water. ``key`` is its letter on the map, empty where it has none."""

    key: str
    water: WaterAssessment
    route: str


def water_rows(
    planting: PlantingAnswer, keys: Mapping[WaterId, str]
) -> tuple[tuple[WaterRow, ...], int]:
    """The waters most exposed, and how many more there are."""
    if planting.escape is None:
        return (), 0
    by_chance = sorted(
        planting.escape.waters,
        key=lambda water: (-round(water.estimate.likely, 4), -round(water.estimate.high, 4)),
    )
    rows = []
    for water in by_chance[:MOST_WATERS]:
        route = strongest_route(water.routes)
        by = ROUTES[route.route] if route is not None and route.arrives.high >= 0.005 else ""
        rows.append(WaterRow(keys.get(water.water_id, ""), water, by))
    return tuple(rows), max(0, len(by_chance) - MOST_WATERS)


def interval_bar(estimate: Estimate) -> Markup:
    """From ``low`` to ``high`` on a scale from 0 to 100%; the words are beside it."""
    low, width = estimate.low * 100, max((estimate.high - estimate.low) * 100, 1.5)
    low = min(low, 100 - width)
    return Markup(
        '<svg class="bar" viewBox="0 0 102 12" width="102" height="12" aria-hidden="true" '
        'focusable="false">'
        '<rect x=".5" y=".5" width="101" height="11" fill="#fff" stroke="#15323b"/>'
        '<path d="M51 1v10" stroke="#9fb0b5"/>'
        f'<rect x="{low + 1:.1f}" y="2.5" width="{width:.1f}" height="7" fill="#15323b"/></svg>'
    )


@dataclass(frozen=True, slots=True)
class SharedCaution:
    """A caution of measures or sites, and what it stands for: places by name, plantings by
    number.
    """

    text: str
    places: tuple[str, ...]
    plantings: tuple[int, ...]


def plant_cautions(planting: PlantingAnswer) -> tuple[Caution, ...]:
    """Cautions of the plant itself, each once."""
    return tuple(
        {
            caution.text: caution for caution in planting.cautions if caution.scope == "plant"
        }.values()
    )


def shared_cautions(answer: PlanAnswer) -> tuple[SharedCaution, ...]:
    """Cautions of work and places, each once over the whole plan."""
    places: dict[str, dict[str, None]] = {}
    plantings: dict[str, dict[int, None]] = {}
    for place in answer.places:
        for caution in place.cautions:
            places.setdefault(caution.text, {})[place.place.name] = None
    for planting in answer.plantings:
        for caution in planting.cautions:
            if caution.scope != "plant":
                plantings.setdefault(caution.text, {})[planting.number] = None
    texts = [text for text in dict.fromkeys((*places, *plantings)) if text not in answer.cautions]
    return tuple(
        SharedCaution(text, tuple(places.get(text, ())), tuple(plantings.get(text, ())))
        for text in texts
    )


def source_words(source: NumberedSource) -> str:
    """What a source is, behind its title, as sentences."""
    parts = [
        source.citation if source.citation != source.title else "",
        source.authority,
        f"Class: {source.class_name}" if source.class_name else "",
        f"Listed as: {source.name_as_listed}" if source.name_as_listed else "",
        f"Exceptions: {source.exceptions}" if source.exceptions else "",
        f"Area: {source.area}" if source.area else "",
        f"Condition: {source.condition}" if source.condition else "",
        f"In force from {source.effective_from.isoformat()}" if source.effective_from else "",
        f"Licence: {source.licence}" if source.licence else "",
    ]
    return " ".join(f"{part.rstrip('.')}." for part in parts if part)
