"""A plan's answer as GeoJSON for any GIS: one feature collection, plain flat attributes (RFC
7946).
"""

import json
from collections.abc import Iterator
from typing import Any

from service.checks.plan.values import LonLat, PlanAnswer, PlantingAnswer, PlanWater
from service.output.geojson import geojson

_PLACES = 7


def write_plan_map(answer: PlanAnswer) -> str:
    """The site, its places, plantings and waters, each a feature with the attribute ``layer``."""
    return json.dumps(
        {"type": "FeatureCollection", "name": "plan", "features": list(_features(answer))},
        ensure_ascii=False,
        separators=(",", ":"),
    )


def plan_layers(answer: PlanAnswer) -> dict[str, list[dict[str, Any]]]:
    """The features by layer, named as in the answer: ``site``, ``place``, ``planting``, ..."""
    layers: dict[str, list[dict[str, Any]]] = {}
    for found in _features(answer):
        layers.setdefault(found["properties"]["layer"], []).append(found)
    return layers


def feature(
    geometry: dict[str, Any] | None, **attributes: str | float | bool | None
) -> dict[str, Any]:
    """One feature."""
    return {"type": "Feature", "geometry": geometry, "properties": attributes}


def point(position: LonLat | None) -> dict[str, Any] | None:
    """A position as a geometry."""
    return (
        None
        if position is None
        else {"type": "Point", "coordinates": [round(degrees, _PLACES) for degrees in position]}
    )


def _features(answer: PlanAnswer) -> Iterator[dict[str, Any]]:
    site = answer.site
    yield feature(
        geojson(site.shape),
        layer="site",
        name=answer.title,
        state=site.locality.state,
        county=site.locality.county_name,
        zone=" or ".join(site.location.zones),
        neighbours=" ".join(site.neighbours),
        downstream=" ".join(site.downstream_states),
        as_of=answer.as_of.isoformat(),
        store_build=answer.store_build,
    )
    for where in answer.places:
        place = where.place
        within = [planting for planting in answer.plantings if planting.place == place.name]
        yield feature(
            geojson(where.shape) or point(where.position),
            layer="place",
            name=place.name,
            kind=place.kind,
            area_m2=place.area_m2,
            depth_cm=place.depth_cm,
            plantings=len(within),
            held_back=sum(not planting.passes for planting in within),
        )
        for layer, shape in (("outlet", where.outlet_at), ("overflow", where.overflow_at)):
            if shape is not None:
                yield feature(geojson(shape), layer=layer, place=place.name)
    yield from (_planting(planting) for planting in answer.plantings)
    yield from (_water(answer, water) for water in site.waters)


def _planting(planting: PlantingAnswer) -> dict[str, Any]:
    escape, fit, containment = planting.escape, planting.worst_fit, planting.worst_containment
    return feature(
        point(planting.position_on_map),
        layer="planting",
        number=planting.number,
        label=planting.label,
        name=planting.name if planting.resolution.candidates else "",
        confirmed=planting.resolution.confirmed,
        count=planting.count,
        place=planting.place,
        outcome=planting.outcome or "",
        verified=planting.verified,
        fit=fit.verdict if fit else "",
        escape=(escape.escape_class or "native") if escape else "",
        escape_lik=round(escape.likely, 4) if escape else None,
        escape_low=round(escape.low, 4) if escape else None,
        escape_hi=round(escape.high, 4) if escape else None,
        held_by=containment.verdict if containment else "",
        verdict=planting.verdict,
        conditions=" ".join(planting.conditions),
        nativity=planting.nativity.status if planting.nativity else "",
        restricted=" ".join(planting.restricted_in),
        instead="; ".join(
            plant.accepted_name
            for plant in (planting.substitutes.plants if planting.substitutes else ())
        ),
    )


def _water(answer: PlanAnswer, near: PlanWater) -> dict[str, Any]:
    """A water with the planting that could most likely reach it."""
    water, reached = near.reached.water, near.reached
    found = [
        (result.estimate.high, planting.name, planting.number)
        for planting in answer.plantings
        if planting.escape is not None
        for result in planting.escape.waters
        if result.water_id == water.water_id
    ]
    high, name, number = max(found, key=lambda one: (one[0], -one[2]), default=(None, "", None))
    return feature(
        geojson(near.shape),
        layer="water",
        water_id=water.water_id,
        name=water.name,
        kind=water.kind,
        flow=water.flow,
        states=" ".join(water.states),
        relation=reached.relation,
        overland_m=round(reached.overland_m, 1),
        along_m=None if reached.along_m is None else round(reached.along_m, 1),
        escape_hi=None if high is None else round(high, 4),
        plant=name,
        planting=number,
    )
