"""The site and the places of a plan as they are sent."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from service.checks.plan.values import PlaceAnswer, SiteAnswer, SiteFact
from service.output.geojson import geojson
from service.output.models.plan_escape import Numbers
from service.values.site import PlaceKind
from service.values.vocabulary import Flow, HowKnown, Light, WaterKind
from service.values.waters import Reached

Geometry = Annotated[dict[str, Any] | None, Field(description="GeoJSON geometry")]


class FactModel(BaseModel):
    """One fact of the site, and how it is known."""

    key: str
    title: str
    text: str
    how_known: Annotated[HowKnown | None, Field(description="null where it is not known")]
    known_from: str
    would_narrow: Annotated[
        str, Field(description="the fact to give so that the answer gets narrower")
    ]
    sources: Numbers


class ReachedWaterModel(BaseModel):
    """A water as a place can reach it."""

    water_id: str
    name: str
    kind: WaterKind
    flow: Flow
    states: tuple[str, ...]
    relation: Literal["contains", "downstream", "upstream", "near"]
    overland_m: float
    along_m: Annotated[float | None, Field(description="along the flow network")]
    lakes_passed: int


class SiteModel(BaseModel):
    """What was found of the site."""

    position: Annotated[tuple[float, float] | None, Field(description="longitude, latitude")]
    geometry: Geometry
    state: str | None
    county: str | None
    county_name: str
    neighbours: Annotated[
        tuple[str, ...], Field(description="states within the border tolerance, answered as well")
    ]
    downstream_states: Annotated[
        tuple[str, ...], Field(description="states down the water, answered for release")
    ]
    hardiness_zones: tuple[str, ...]
    extreme_minimum_c: tuple[float, float] | None
    first_frost: str | None
    watershed: str | None
    region: str | None
    facts: tuple[FactModel, ...]
    waters: tuple[ReachedWaterModel, ...]
    notes: tuple[str, ...]


class PlaceModel(BaseModel):
    """A pond, stream or bog of the plan; null is what nobody has said."""

    pointer: str
    name: str
    kind: PlaceKind
    area_m2: float | None
    depth_cm: float | None
    flow: Flow | None
    light: Light | None
    outlet: bool | None
    outlet_flow_l_s: float | None
    overflow: bool | None
    flood_prone: bool | None
    bank_contact: bool | None
    lined: bool | None
    visited: bool | None
    surplus: bool | None
    grazing_fish: bool | None
    freezing_depth_cm: float | None
    geometry: Geometry
    outlet_at: Geometry
    overflow_at: Geometry
    waters: tuple[ReachedWaterModel, ...]
    cautions: tuple[str, ...]


def site_model(site: SiteAnswer) -> SiteModel:
    """The site as it is sent."""
    watershed = site.location.watershed
    return SiteModel(
        position=site.position,
        geometry=geojson(site.shape),
        state=site.locality.state,
        county=site.locality.county,
        county_name=site.locality.county_name,
        neighbours=site.neighbours,
        downstream_states=site.downstream_states,
        hardiness_zones=site.location.zones,
        extreme_minimum_c=site.climate.extreme_minimum_c,
        first_frost=site.climate.first_frost,
        watershed=watershed.watershed_id if watershed else None,
        region=site.region,
        facts=tuple(_fact(fact) for fact in site.facts),
        waters=tuple(_reached(water.reached) for water in site.waters),
        notes=site.notes,
    )


def _fact(fact: SiteFact) -> FactModel:
    known = fact.known
    return FactModel(
        key=fact.key,
        title=fact.title,
        text=fact.text,
        how_known=known.how_known if known else None,
        known_from=known.source if known else "",
        would_narrow=fact.would_narrow,
        sources=fact.sources,
    )


def _reached(reached: Reached) -> ReachedWaterModel:
    water = reached.water
    return ReachedWaterModel(
        water_id=water.water_id,
        name=water.name,
        kind=water.kind,
        flow=water.flow,
        states=water.states,
        relation=reached.relation,
        overland_m=round(reached.overland_m, 1),
        along_m=None if reached.along_m is None else round(reached.along_m, 1),
        lakes_passed=reached.lakes_passed,
    )


def place_model(answer: PlaceAnswer) -> PlaceModel:
    """A place as it is sent."""
    place = answer.place
    facts = {name: getattr(place, name) for name in PlaceModel.model_fields if hasattr(place, name)}
    return PlaceModel(
        **facts,
        pointer=answer.pointer,
        geometry=geojson(answer.shape),
        outlet_at=geojson(answer.outlet_at),
        overflow_at=geojson(answer.overflow_at),
        waters=tuple(_reached(water) for water in answer.waters),
        cautions=tuple(caution.text for caution in answer.cautions),
    )
