"""The community document: a GeoJSON FeatureCollection of sites, each with its plantings, and of
waters that they share.

``plantings`` of a site is a list as in a plan, or one text with labels separated by semicolons, as
a GIS keeps it. Properties that are none of these come back with the answer as they are.
"""

from datetime import date
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from service.input.plan_document import (
    PLACE_GEOMETRIES,
    Above,
    DocumentPart,
    Geometry,
    NotBelowZero,
    PlacePart,
    PlantingPart,
    SitePart,
    WaterPart,
)
from service.values.site import PlaceKind
from service.values.vocabulary import Act, Flow, WaterKind


class _Loose(DocumentPart):
    """A part that a GIS writes, with members and attributes of its own beside."""

    model_config = ConfigDict(extra="ignore", str_strip_whitespace=True)


PLACE_FACTS = tuple(
    name
    for name in PlacePart.model_fields
    if name not in ("name", "kind", "design", *PLACE_GEOMETRIES)
)
SITE_FACTS = tuple(name for name in SitePart.model_fields if name != "geometry")


class SiteProperties(_Loose):
    """What a site's feature says. Facts of its place have the names of a plan's place."""

    layer: Literal["site"] = "site"
    name: Annotated[str, Field(max_length=200)] = ""
    state: Annotated[str | None, Field(description="where the geometry does not tell")] = None
    county: str | None = None
    zip: str | None = None
    hardiness_zone: str | None = None
    first_frost: str | None = None
    place_kind: Annotated[
        PlaceKind | None,
        Field(description="pond, stream or bog; both pond and stream are answered if not given"),
    ] = None
    area_m2: Above | None = None
    depth_cm: NotBelowZero | None = None
    flow: Flow | None = None
    light: Literal["sun", "part-shade", "shade"] | None = None
    outlet: bool | None = None
    outlet_flow_l_s: NotBelowZero | None = None
    overflow: bool | None = None
    flood_prone: bool | None = None
    bank_contact: bool | None = None
    lined: bool | None = None
    visited: bool | None = None
    surplus: bool | None = None
    grazing_fish: bool | None = None
    freezing_depth_cm: NotBelowZero | None = None
    waters: Annotated[
        list[WaterPart],
        Field(default_factory=list, max_length=100, description="of this site alone, as in a plan"),
    ]
    drains_to: Annotated[str | None, Field(description="name of a shared water")] = None
    drains_along_m: Annotated[
        NotBelowZero | None,
        Field(description="way along the drain; the straight line if not given"),
    ] = None
    plantings: Annotated[
        list[PlantingPart | str] | str,
        Field(min_length=1, description="as in a plan, or labels separated by semicolons"),
    ]


class WaterProperties(_Loose):
    """What a shared water's feature says."""

    layer: Literal["water"]
    name: Annotated[str, Field(min_length=1, max_length=200)]
    kind: WaterKind
    flow: Flow | None = None


class SiteFeature(_Loose):
    """A site. Without a geometry its state has to be stated."""

    type: Literal["Feature"]
    geometry: Geometry | None = None
    properties: SiteProperties


class WaterFeature(_Loose):
    """A shared water."""

    type: Literal["Feature"]
    geometry: Geometry
    properties: WaterProperties


class CommunityHead(_Loose):
    """Members of the collection beside its features."""

    waters: Annotated[
        list[WaterPart],
        Field(
            default_factory=list,
            max_length=100,
            description="that the sites share, beside those drawn among the features; one given by "
            "its distance alone is as far from each site",
        ),
    ]

    title: Annotated[str, Field(max_length=2_000)] = ""
    on: Annotated[
        date | None, Field(alias="date", description="the day to answer for; today if not given")
    ] = None
    acts: Annotated[
        list[Act] | None, Field(min_length=1, description="buy, possess and plant if not given")
    ] = None


class CommunityDocument(CommunityHead):
    """Sites and shared waters.

    A feature that cannot be read is set apart with a pointer to the fault; the others are answered.
    """

    model_config = ConfigDict(
        extra="ignore",
        json_schema_extra={
            "examples": [
                {
                    "type": "FeatureCollection",
                    "title": "Ponds above the mill (invented)",
                    "date": "2026-06-01",
                    "features": [
                        {
                            "type": "Feature",
                            "geometry": {"type": "Point", "coordinates": [-84.2921, 41.6832]},
                            "properties": {
                                "layer": "site",
                                "name": "Heron Bend",
                                "place_kind": "pond",
                                "plantings": "Yellow flag iris; Pickerelweed",
                            },
                        },
                        {
                            "type": "Feature",
                            "geometry": {
                                "type": "LineString",
                                "coordinates": [[-84.291, 41.682], [-84.285, 41.69]],
                            },
                            "properties": {
                                "layer": "water",
                                "name": "Mill race",
                                "kind": "canal",
                                "flow": "slow",
                            },
                        },
                    ],
                }
            ]
        },
    )

    type: Literal["FeatureCollection"]
    features: Annotated[list[SiteFeature | WaterFeature], Field(min_length=1)]
