"""A plan check's answer as it is sent: the answer value, and here where the contract differs."""

from typing import Annotated, Any

from pydantic import Field, PlainSerializer
from shapely.geometry.base import BaseGeometry

from service.checks.plan.calendar import calendar_of
from service.checks.plan.values import (
    NumberedSource,
    PlaceAnswer,
    PlanAnswer,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Problem,
    SiteAnswer,
    SiteFact,
)
from service.containment import Check, ContainmentPlan, Disposal, Figure, Measure
from service.escape import PlannedMeasure
from service.escape.harms import Harm
from service.fit import Aspect, Fit
from service.output.geojson import geojson
from service.output.models import law  # noqa: F401  the shapes of names and findings
from service.output.models.escape import Asked
from service.output.models.shape import Shape, usual, usual_form, written
from service.substitutes import Substitutes
from service.values.evidence import Evidence, Ring
from service.values.quantities import Quantity
from service.values.site import Reached
from service.values.vocabulary import HowKnown
from service.values.words import STANDING_CAUTIONS

usual_form(
    BaseGeometry,
    Annotated[
        Any,
        PlainSerializer(geojson, return_type=dict[str, Any]),
        Field(description="GeoJSON geometry (RFC 7946)"),
    ],
)

REACHED_WATER = Shape(
    Reached,
    name="ReachedWater",
    about="A water as a place can reach it.",
    without="longitude latitude area_m2 source_id",
    spread="water",
    places={"overland_m": 1, "along_m": 1},
)
RECORD_RING = Shape(Ring, name="RecordRing")
RECORDS = Shape(
    Evidence,
    name="Records",
    about="What the loaded occurrence records say.",
    without="waters datasets",
    kinds={"rings": tuple[Annotated[Ring, RECORD_RING], ...]},
)


def plan_json(answer: PlanAnswer, *, explain: bool = False, indent: int | None = None) -> bytes:
    """The answer as it is sent.

    Args:
        explain: with every factor of every stage.
    """
    return written(answer, Asked(answer.methods, explain), indent)


def _figure_inputs(figure: Figure) -> tuple[str, ...]:
    return tuple(f"{given.name}: {given.quantity_text()}" for given in figure.inputs)


def _figure_sources(figure: Figure, asked: Asked) -> tuple[int, ...]:
    """Numbers of the sources, see ``sources``."""
    return tuple(
        dict.fromkeys(number for text in figure.sources for number in asked.methods.get(text, ()))
    )


def _holds(measure: Measure) -> tuple[str, ...]:
    return _ways(measure, "holds")


def _slows(measure: Measure) -> tuple[str, ...]:
    return _ways(measure, "slows")


def _ways(measure: Measure, strength: str) -> tuple[str, ...]:
    return tuple(
        f"{way_held.way_out.way} by {way_held.way_out.route}"
        for way_held in measure.held
        if way_held.strength == strength
    )


def _watershed(site: SiteAnswer) -> str | None:
    watershed = site.location.watershed
    return watershed.watershed_id if watershed else None


def _site_waters(site: SiteAnswer) -> tuple[Annotated[Reached, REACHED_WATER], ...]:
    return tuple(water.reached for water in site.waters)


def _fact_known(fact: SiteFact) -> HowKnown | None:
    """None where it is not known."""
    return fact.known.how_known if fact.known else None


def _fact_from(fact: SiteFact) -> str:
    return fact.known.source if fact.known else ""


def _place_cautions(answer: PlaceAnswer) -> tuple[str, ...]:
    return tuple(caution.text for caution in answer.cautions)


def _planting_cautions(answer: PlantingAnswer) -> tuple[str, ...]:
    return tuple(dict.fromkeys(caution.text for caution in answer.cautions))


def _lane_sources(lane: PlanLane) -> tuple[int, ...]:
    """Numbers of the sources, see ``sources``."""
    return tuple(sorted({number for step in lane.sources for number in step}))


def _change(aspect: Aspect) -> str | None:
    return aspect.change.text if aspect.change else None


usual(
    Shape(Quantity, kinds={"unit": str}, also={"text": Quantity.text}),
    Shape(
        Figure,
        order="name formula inputs result sources",
        also={"inputs": _figure_inputs, "sources": _figure_sources},
    ),
    Shape(Check, without="margin known"),
    Shape(
        Measure,
        order="kind title holds slows limits passes figures checks steps missing",
        without="held section",
        also={"holds": _holds, "slows": _slows, "passes": "passes"},
    ),
    Shape(Disposal, without="plant_id accepted_name known"),
    Shape(ContainmentPlan, name="Containment", without="ways_out drifts_off holding"),
    Shape(
        Aspect,
        order="name verdict found change how_known",
        without="known",
        kinds={"name": str, "verdict": str},
        also={"change": _change, "how_known": "known.how_known"},
    ),
    Shape(Fit, order="plant_id verdict summary winter autumn aspects missing"),
    Shape(Substitutes, without="plant_id"),
    Shape(PlannedMeasure, name="Planned"),
    Shape(NumberedSource, rename={"class_name": "class"}),
    Shape(Problem, name="ProblemModel"),
    Shape(
        Harm,
        order="plant text verified how_known source",
        without="known",
        also={
            "verified": "verified",
            "how_known": "known.how_known",
            "source": "known.source",
        },
    ),
    Shape(
        SiteFact,
        name="Fact",
        order="key title text how_known known_from would_narrow sources",
        without="known",
        also={"how_known": _fact_known, "known_from": _fact_from},
    ),
    Shape(
        SiteAnswer,
        name="Site",
        order="position geometry state county county_name neighbours downstream_states "
        "hardiness_zones extreme_minimum_c first_frost watershed region facts waters notes",
        without="stated location climate trace",
        rename={"shape": "geometry"},
        spread="locality",
        also={
            "hardiness_zones": "location.zones",
            "extreme_minimum_c": "climate.extreme_minimum_c",
            "first_frost": "climate.first_frost",
            "watershed": _watershed,
            "waters": _site_waters,
        },
    ),
    Shape(
        PlaceAnswer,
        name="Place",
        order="pointer ... geometry outlet_at overflow_at waters cautions",
        without="position",
        rename={"shape": "geometry"},
        spread="place",
        kinds={"waters": tuple[Annotated[Reached, REACHED_WATER], ...]},
        also={
            "cautions": _place_cautions,
        },
    ),
    Shape(
        PlanFinding,
        order="role jurisdiction act outcome coverage verified reasons confirm_with own_rules "
        "lists_searched ... sources",
        without="citations",
        spread="finding",
    ),
    Shape(PlanLane, without="steps", spread="lane", also={"sources": _lane_sources}),
    Shape(
        PlantingAnswer,
        name="Planting",
        order="number pointer label count place crown_depth_cm holding container_volume_l soil "
        "position acts brought_from planned name outcome verified verdict conditions nativity "
        "restricted_in findings lane fit escape harms escape_if_held sensitivity containment "
        "substitutes records cautions problems sources notes",
        without="design plants grounds light flow",
        rename={
            "position_on_map": "position",
            "resolution": "name",
            "fits": "fit",
            "escape_held": "escape_if_held",
            "evidence": "records",
        },
        spread="position",
        kinds={"evidence": tuple[Annotated[Evidence, RECORDS], ...]},
        also={
            "verdict": "verdict",
            "conditions": "conditions",
            "cautions": _planting_cautions,
        },
    ),
    Shape(
        PlanAnswer,
        name="PlanCheckAnswer",
        order="store_build as_of cautions title prepared_for prepared_by note acts site places "
        "decisions ranking shopping_list confirm calendar unsettled plantings sources problems "
        "assumptions",
        without="methods",
        rename={"shopping": "shopping_list"},
        also={"calendar": calendar_of},
        optional={"cautions": STANDING_CAUTIONS},
    ),
)
