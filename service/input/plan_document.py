"""The plan document: the JSON that a designer writes, part by part. Read with
``plan_reading.read_plan``.

Nothing stated is nothing known; a key that is not of the document is refused, so that a slip of the
pen does not lose a fact.
"""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WithJsonSchema, field_validator

from service.input.geometry_schema import GEOMETRY, POINT
from service.values.site import Holding, PlaceKind, Soil
from service.values.vocabulary import Act, Flow, Light, MeasureKind, WaterKind

_LEAST, _MOST = 1e-6, 1e9
"""No quantity of a plan is smaller or larger in its unit; figures beyond it are slips of the pen
that no design can be worked out from.
"""


def _not_minute(value: float) -> float:
    return 0.0 if abs(value) < _LEAST else value


NotBelowZero = Annotated[float, Field(ge=0, le=_MOST), AfterValidator(_not_minute)]
"""Zero or more, in the unit of its name."""
Number = Annotated[float, Field(ge=-_MOST, le=_MOST), AfterValidator(_not_minute)]
Above = Annotated[float, Field(ge=_LEAST, le=_MOST)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Text = Annotated[str, Field(max_length=2_000)]
Geometry = Annotated[dict[str, Any], WithJsonSchema(GEOMETRY)]
"""A GeoJSON geometry (RFC 7946): WGS84, longitude first."""
PointGeometry = Annotated[dict[str, Any], WithJsonSchema(POINT)]


LabelText = Annotated[str, Field(min_length=1, max_length=2_000)]


class DocumentPart(BaseModel):
    """A part of the document: no keys but those it knows."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


class SitePart(DocumentPart):
    """Where the plan lies: a geometry, or the parts of an address. No address is looked up
    anywhere.
    """

    geometry: Annotated[Geometry | None, Field(description="GeoJSON point, line or polygon")] = None
    state: Annotated[str | None, Field(description="ISO 3166-2 code", examples=["US-OH"])] = None
    county: Annotated[
        str | None,
        Field(max_length=80, description="name or five-digit FIPS code", examples=["Fulton"]),
    ] = None
    zip: Annotated[str | None, Field(description="five-digit ZIP code", examples=["43594"])] = None
    hardiness_zone: Annotated[
        str | None,
        Field(
            description="USDA half zone, where it is known better than by the map", examples=["6b"]
        ),
    ] = None
    first_frost: Annotated[
        str | None,
        Field(description="mean date of the first autumn frost, MM-DD", examples=["10-12"]),
    ] = None


class CoverPartPart(DocumentPart):
    """A part of the catchment under one curve number."""

    area_m2: NotBelowZero
    curve_number: Annotated[float, Field(ge=1, le=100)]


class PlaceDesign(DocumentPart):
    """What the sizes of screens, freeboard, islands and rings are worked out from.

    Each that is missing is named in the answer.
    """

    design_wind_m_s: Annotated[NotBelowZero | None, Field(description="gust at plant height")] = (
        None
    )
    current_m_s: Annotated[
        NotBelowZero | None, Field(description="speed of the water at the planting")
    ] = None
    water_level_range_cm: Annotated[
        NotBelowZero | None, Field(description="between low and high water")
    ] = None
    outlet_design_flow_l_s: Annotated[
        Above | None, Field(description="flow that an outlet screen must pass")
    ] = None
    outlet_pipe_diameter_mm: Above | None = None
    outlet_pipe_head_cm: Annotated[
        Above | None, Field(description="water above the centre of the outlet pipe")
    ] = None
    screen: Literal["mesh", "bars"] | None = None
    screen_opening_mm: Annotated[Above | None, Field(description="clear opening")] = None
    screen_bar_mm: Annotated[Above | None, Field(description="thickness of wire or bar")] = None
    screen_water_depth_cm: Above | None = None
    screen_angle_deg: Annotated[
        float | None, Field(ge=1, le=90, description="from the horizontal")
    ] = None
    screen_head_cm: Annotated[
        Above | None, Field(description="how far the water may rise at a half-blocked screen")
    ] = None
    drift_kg_day: Annotated[
        NotBelowZero | None, Field(description="wet plant litter that reaches the screen")
    ] = None
    storm_depth_mm: Annotated[
        NotBelowZero | None, Field(description="rainfall of the design storm")
    ] = None
    storm_return_years: Annotated[float | None, Field(ge=1, le=100_000)] = None
    catchment_area_m2: Annotated[
        NotBelowZero | None, Field(description="ground that drains to the place, itself left out")
    ] = None
    curve_number: Annotated[
        float | None, Field(ge=1, le=100, description="NRCS curve number of the catchment")
    ] = None
    cover_parts: list[CoverPartPart] = []
    freeboard_cm: Annotated[
        NotBelowZero | None, Field(description="from ordinary water to where it first leaves")
    ] = None
    bank_slope: Annotated[
        NotBelowZero | None,
        Field(description="horizontal to vertical above the water, 0 for upright walls"),
    ] = None
    spillway: Literal["broad-crested", "sharp-crested", "v-notch-90"] | None = None
    spillway_length_m: Above | None = None
    bank_above_crest_cm: NotBelowZero | None = None
    rain_intensity_mm_h: Annotated[
        NotBelowZero | None, Field(description="over the time of concentration")
    ] = None
    runoff_coefficient: Annotated[
        float | None, Field(ge=0.001, le=1, description="of the rational method")
    ] = None
    season_days: Annotated[Above | None, Field(description="days of growth in a year")] = None


class PlacePart(DocumentPart):
    """A pond, stream or bog of the plan."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    kind: PlaceKind
    geometry: Annotated[
        Geometry | None, Field(description="GeoJSON geometry; that of the site where there is none")
    ] = None
    area_m2: Annotated[
        Above | None, Field(description="of the water surface, or of the bed for a bog")
    ] = None
    depth_cm: Annotated[
        NotBelowZero | None, Field(description="of the water where it is planted")
    ] = None
    flow: Flow | None = None
    light: Light | None = None
    outlet: Annotated[
        bool | None,
        Field(
            description="whether water leaves by a pipe, channel or spillway in ordinary weather"
        ),
    ] = None
    outlet_flow_l_s: NotBelowZero | None = None
    overflow: Annotated[
        bool | None, Field(description="whether a storm can send water over the rim")
    ] = None
    flood_prone: Annotated[
        bool | None,
        Field(description="whether high water of a neighbouring stream or lake can reach it"),
    ] = None
    bank_contact: Annotated[
        bool | None, Field(description="whether soil joins it to the ground outside")
    ] = None
    lined: Annotated[
        bool | None, Field(description="whether a liner or wall closes it off from the ground")
    ] = None
    visited: Annotated[
        bool | None,
        Field(description="whether water birds, livestock, anglers or boats come to it"),
    ] = None
    surplus: Annotated[
        bool | None,
        Field(description="whether thinnings and spare plants are given away or may be tipped out"),
    ] = None
    grazing_fish: Annotated[
        bool | None, Field(description="whether koi, grass carp or the like graze in it")
    ] = None
    freezing_depth_cm: NotBelowZero | None = None
    outlet_at: Annotated[
        PointGeometry | None, Field(description="GeoJSON Point: where water leaves")
    ] = None
    overflow_at: Annotated[
        PointGeometry | None,
        Field(description="GeoJSON Point: the spillway, or where a storm goes over the rim"),
    ] = None
    design: PlaceDesign = PlaceDesign()


PLACE_GEOMETRIES = ("geometry", "outlet_at", "overflow_at")
"""What of a place is drawn; the rest are facts."""


class WaterPart(DocumentPart):
    """A water near the site or down the water from it: drawn, or at a distance."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    kind: WaterKind
    flow: Annotated[
        Flow | None, Field(description="still, slow or moving; that of its kind if not given")
    ] = None
    geometry: Annotated[Geometry | None, Field(description="GeoJSON geometry")] = None
    distance_m: Annotated[
        NotBelowZero | None,
        Field(description="from the site, along the water where it is downstream"),
    ] = None
    relation: Annotated[
        Literal["near", "downstream"],
        Field(description="downstream where water of the site runs to it"),
    ] = "near"


class PlannedMeasurePart(DocumentPart):
    """A way of holding the plant that is planned."""

    measure: MeasureKind
    opening_mm: Annotated[Above | None, Field(description="widest opening of an outlet screen")] = (
        None
    )


class PlantingDesign(DocumentPart):
    """What the sizes of pots, islands, barriers and harvests are worked out from."""

    pot_diameter_cm: Annotated[Above | None, Field(description="outside, at the rim")] = None
    pot_base_diameter_cm: Annotated[Above | None, Field(description="outside, at the base")] = None
    pot_height_cm: Annotated[Above | None, Field(description="outside")] = None
    plant_mass_kg: Annotated[
        NotBelowZero | None, Field(description="of one plant at full growth, wet")
    ] = None
    barrier_perimeter_m: Annotated[Above | None, Field(description="round the bed")] = None
    island_length_m: Above | None = None
    island_width_m: Above | None = None
    foam: Annotated[
        str | None, Field(description="kind of foam, by its ASTM C578 type", examples=["xps-iv"])
    ] = None
    foam_thickness_mm: Above | None = None
    overhang_limit_cm: NotBelowZero | None = None
    wanted_cover_share: Annotated[Share | None, Field(description="of the water surface")] = None
    planted_cover_share: Annotated[Share | None, Field(description="of the water surface")] = None
    doubling_days: Annotated[
        tuple[Above, Above] | None, Field(description="low and high doubling time of the cover")
    ] = None
    fresh_mass_kg_m2: Annotated[Above | None, Field(description="of closed cover")] = None


class PlantingPart(DocumentPart):
    """Plants of one label in one place."""

    label: Annotated[
        str, Field(min_length=1, max_length=2_000, description="as it stands on the tag or list")
    ]
    count: Annotated[int | None, Field(ge=1, le=1_000_000)] = None
    place: Annotated[
        str | None,
        Field(description="name of a place of the plan; not needed where there is one alone"),
    ] = None
    geometry: Annotated[PointGeometry | None, Field(description="GeoJSON Point")] = None
    crown_depth_cm: Annotated[
        Number | None, Field(description="water over the crown; below zero above the water")
    ] = None
    holding: Holding | None = None
    container_volume_l: Annotated[Above | None, Field(description="of one pot, tub or basket")] = (
        None
    )
    soil: Soil | None = None
    light: Light | None = None
    flow: Flow | None = None
    acts: Annotated[
        list[Act] | None,
        Field(
            min_length=1, description="what is to be done with it; those of the plan if not given"
        ),
    ] = None
    brought_from: Annotated[
        str | None,
        Field(description="state that it is bought in or brought from", examples=["US-TN"]),
    ] = None
    containment: Annotated[
        list[PlannedMeasurePart | MeasureKind], Field(description="measures planned")
    ] = []
    design: PlantingDesign = PlantingDesign()

    @field_validator("containment")
    @classmethod
    def _each_once(
        cls, measures: list[PlannedMeasurePart | MeasureKind]
    ) -> list[PlannedMeasurePart | MeasureKind]:
        kinds = [measure if isinstance(measure, str) else measure.measure for measure in measures]
        if len(set(kinds)) < len(kinds):
            raise ValueError("a measure stands twice")
        return measures


class PlanHead(DocumentPart):
    """What the document says of the whole plan."""

    title: Text = ""
    prepared_for: Text = ""
    prepared_by: Text = ""
    note: Text = ""
    on: Annotated[
        date | None,
        Field(
            alias="date",
            description="the day to answer for; today if not given",
            examples=["2026-06-01"],
        ),
    ] = None
    acts: Annotated[
        list[Act] | None,
        Field(
            min_length=1,
            description="what is to be done with the plants; buy, possess and plant if not given",
            examples=[["plant"]],
        ),
    ] = None


class PlanDocument(PlanHead):
    """A planting plan.

    A place or planting that cannot be read is set apart with a pointer to the fault; the others are
    answered.
    """

    model_config = ConfigDict(
        extra="forbid",
        str_strip_whitespace=True,
        json_schema_extra={
            "examples": [
                {
                    "title": "Pond behind the mill (invented)",
                    "date": "2026-06-01",
                    "site": {"geometry": {"type": "Point", "coordinates": [-84.2885, 41.6025]}},
                    "places": [
                        {
                            "name": "Mill pond",
                            "kind": "pond",
                            "area_m2": 60,
                            "depth_cm": 80,
                            "lined": True,
                            "outlet": False,
                        }
                    ],
                    "plantings": [
                        {
                            "label": "Pontederia cordata 1 gal",
                            "count": 6,
                            "crown_depth_cm": 10,
                            "holding": "solid-pot",
                        },
                        {"label": "Water hyacinth", "count": 4, "brought_from": "US-TN"},
                    ],
                },
                {
                    "title": "By address alone (invented)",
                    "site": {"state": "US-OH", "county": "Fulton", "zip": "43594"},
                    "plantings": [{"label": "Blue flag iris", "acts": ["buy", "plant"]}],
                },
            ]
        },
    )

    schema_address: Annotated[
        str | None, Field(alias="$schema", description="for editors that check while you type")
    ] = None
    site: SitePart
    waters: Annotated[
        list[WaterPart],
        Field(max_length=100, description="beside those loaded into the store"),
    ] = []
    places: Annotated[list[PlacePart], Field(max_length=200)] = []
    plantings: Annotated[
        list[PlantingPart | LabelText],
        Field(min_length=1, max_length=500, description="a text alone is a label"),
    ]
