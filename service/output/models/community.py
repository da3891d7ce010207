"""The shape of a community screening's answer, and of a job.

Made from the answer value, once, at the edge.
"""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from service.checks.community.values import (
    CommunityAnswer,
    ScreenedPlanting,
    ScreenedSite,
    ScreenedWater,
    SiteGroup,
    WaterChance,
)
from service.checks.plan.values import Role, Verdict
from service.escape import EscapeClass
from service.output.geojson import geojson
from service.output.models.law import Answer, _Model
from service.output.models.plan_escape import EstimateModel, Numbers, estimate_model
from service.output.models.plan_lists import NativityModel, NumberedSourceModel, ProblemModel
from service.output.models.plan_site import Geometry
from service.values.vocabulary import Act, Flow, Match, Outcome, WaterKind
from service.values.waters import Relation

MOST_SENDERS = 50
"""Senders named of each water; the chance covers all of them."""


class ShortFinding(BaseModel):
    """A finding in short; ask for the planting alone to have its reasons."""

    role: Role
    jurisdiction: str
    act: Act
    outcome: Outcome
    verified: bool


class WaterChanceModel(BaseModel):
    """Escape of one planting to one water."""

    water_id: str
    relation: Relation
    distance_m: float | None
    escape: EstimateModel


class ScreenedPlantingModel(BaseModel):
    """One planting, in short."""

    number: int
    pointer: str
    label: str
    count: int | None
    match: Match
    confirmed: bool
    plants: tuple[str, ...]
    native: Annotated[
        bool | None,
        Field(description="native to the region of the site; null where the state is not known"),
    ]
    outcome: Outcome | None
    verified: bool
    verdict: Verdict
    conditions: tuple[str, ...]
    nativity: NativityModel | None
    restricted_in: tuple[str, ...]
    findings: tuple[ShortFinding, ...]
    lane: Annotated[
        Outcome | None, Field(description="on the way from the state it is brought from")
    ]
    fit: Literal["fits", "fits-with-change", "does-not-fit", "unknown"] | None
    escape: EstimateModel | None
    escape_class: EscapeClass | None
    waters: tuple[WaterChanceModel, ...]
    sources: Numbers


class ScreenedSiteModel(BaseModel):
    """One site with its plantings."""

    number: int
    pointer: str
    name: str
    geometry: Geometry
    position: tuple[float, float] | None
    state: str | None
    county: str | None
    county_name: str
    hardiness_zones: tuple[str, ...]
    neighbours: tuple[str, ...]
    downstream_states: tuple[str, ...]
    outcome: Annotated[Outcome | None, Field(description="the strictest over its plantings")]
    escape: EstimateModel
    escape_class: EscapeClass
    likely: Annotated[
        float | None,
        Field(
            description="likely chance that something not native gets out and stays; null where "
            "no water is known"
        ),
    ]
    feature_id: Annotated[str | int | None, Field(description="of its feature, as it came")]
    given: Annotated[dict[str, Any], Field(description="properties of its feature, as they came")]
    plantings: tuple[ScreenedPlantingModel, ...]
    notes: tuple[str, ...]


class SenderModel(BaseModel):
    """A planting of a site that could come to a water."""

    site: int
    planting: int
    site_name: str
    plant: str
    native: bool | None
    relation: Relation
    distance_m: float | None
    escape: EstimateModel


class ScreenedWaterModel(BaseModel):
    """One water and what could come to it."""

    water_id: str
    name: str
    kind: WaterKind
    flow: Flow
    states: tuple[str, ...]
    shared: Annotated[bool, Field(description="drawn in the request")]
    escape: Annotated[
        EstimateModel,
        Field(
            description="that anything comes and founds a lasting stand: noisy-or over all senders"
        ),
    ]
    not_native: Annotated[
        EstimateModel,
        Field(description="the same over plants not known as native to the region of their site"),
    ]
    escape_class: Annotated[EscapeClass, Field(description="by the likely chance of not_native")]
    sites: Annotated[int, Field(description="sites that could send something")]
    sender_count: int
    senders: Annotated[
        tuple[SenderModel, ...], Field(description=f"the likeliest, {MOST_SENDERS} at most")
    ]
    given: Annotated[dict[str, Any], Field(description="properties of its feature, as they came")]


class PriorityModel(_Model):
    """A site in the order in which to see to them."""

    rank: int
    tier: Annotated[int, Field(description="1 to 4, the place of the group")]
    group: SiteGroup
    likely: Annotated[float | None, Field(description="of the site")]
    site: int
    site_name: str
    lead: Annotated[int, Field(description="number of the planting that brings it to its rank")]
    why: str


class CommunityScreeningAnswer(Answer):
    """Many sites, answered."""

    title: str
    acts: tuple[Act, ...]
    priority: tuple[PriorityModel, ...]
    ranking: str
    waters: tuple[ScreenedWaterModel, ...]
    sites: tuple[ScreenedSiteModel, ...]
    sources: Annotated[
        tuple[NumberedSourceModel, ...], Field(description="``used_by`` has the numbers of sites")
    ]
    problems: tuple[ProblemModel, ...]
    assumptions: tuple[str, ...]


class JobModel(BaseModel):
    """Work in the background."""

    job_id: str
    state: Literal["waiting", "running", "done", "failed", "cancelled"]
    done: Annotated[int, Field(description="sites answered")]
    total: int
    address: Annotated[str, Field(description="of this job")]
    result: Annotated[str | None, Field(description="where the answer is, once the job is done")]
    detail: Annotated[str, Field(description="why it failed")] = ""


def community_model(answer: CommunityAnswer) -> CommunityScreeningAnswer:
    """The answer as it is sent."""
    return CommunityScreeningAnswer(
        store_build=answer.store_build,
        as_of=answer.as_of,
        cautions=answer.cautions,
        title=answer.title,
        acts=answer.acts,
        priority=tuple(PriorityModel.model_validate(entry) for entry in answer.priority),
        ranking=answer.ranking,
        waters=tuple(_water(water) for water in answer.waters),
        sites=tuple(_site(site) for site in answer.sites),
        sources=tuple(NumberedSourceModel.model_validate(source) for source in answer.sources),
        problems=tuple(ProblemModel.model_validate(problem) for problem in answer.problems),
        assumptions=answer.assumptions,
    )


def _site(site: ScreenedSite) -> ScreenedSiteModel:
    return ScreenedSiteModel(
        number=site.number,
        pointer=site.pointer,
        name=site.name,
        geometry=geojson(site.shape),
        position=site.position,
        state=site.state,
        county=site.county,
        county_name=site.county_name,
        hardiness_zones=site.zones,
        neighbours=site.neighbours,
        downstream_states=site.downstream_states,
        outcome=site.outcome,
        escape=estimate_model(site.escape),
        escape_class=site.escape_class,
        likely=None if site.likely is None else round(site.likely, 4),
        feature_id=site.feature_id,
        given=dict(site.given),
        plantings=tuple(_planting(planting) for planting in site.plantings),
        notes=site.notes,
    )


def _planting(planting: ScreenedPlanting) -> ScreenedPlantingModel:
    return ScreenedPlantingModel.model_validate(
        {
            "number": planting.number,
            "pointer": planting.pointer,
            "label": planting.label,
            "count": planting.count,
            "match": planting.resolution.match,
            "confirmed": planting.resolution.confirmed,
            "plants": tuple(
                candidate.accepted_name for candidate in planting.resolution.candidates
            ),
            "native": planting.native,
            "outcome": planting.outcome,
            "verified": planting.verified,
            "verdict": planting.verdict,
            "conditions": planting.conditions,
            "nativity": NativityModel.model_validate(planting.nativity)
            if planting.nativity
            else None,
            "restricted_in": planting.restricted_in,
            "findings": tuple(
                ShortFinding(
                    role=role,
                    jurisdiction=finding.jurisdiction,
                    act=finding.act,
                    outcome=finding.outcome,
                    verified=finding.verified,
                )
                for role, finding in planting.findings
            ),
            "lane": planting.lane.outcome if planting.lane else None,
            "fit": planting.fit,
            "escape": estimate_model(planting.escape) if planting.escape else None,
            "escape_class": planting.escape_class,
            "waters": tuple(_chance_of(water) for water in planting.waters),
            "sources": planting.sources,
        }
    )


def _chance_of(chance: WaterChance) -> WaterChanceModel:
    return WaterChanceModel(
        water_id=chance.water_id,
        relation=chance.relation,
        distance_m=_metres(chance.distance_m),
        escape=estimate_model(chance.estimate),
    )


def _water(screened: ScreenedWater) -> ScreenedWaterModel:
    water = screened.water
    senders = tuple(
        SenderModel(
            site=sender.site,
            planting=sender.planting,
            site_name=sender.site_name,
            plant=sender.plant,
            native=sender.native,
            relation=sender.relation,
            distance_m=_metres(sender.distance_m),
            escape=estimate_model(sender.estimate),
        )
        for sender in screened.senders[:MOST_SENDERS]
    )
    return ScreenedWaterModel(
        water_id=water.water_id,
        name=water.name,
        kind=water.kind,
        flow=water.flow,
        states=water.states,
        shared=screened.shared,
        escape=estimate_model(screened.estimate),
        not_native=estimate_model(screened.not_native),
        escape_class=screened.escape_class,
        sites=len({sender.site for sender in screened.senders}),
        sender_count=len(screened.senders),
        senders=senders,
        given=dict(screened.given),
    )


def _metres(distance_m: float | None) -> float | None:
    return None if distance_m is None else round(distance_m, 1)
