"""Would it get out here, and to which water: the assessment of plants at a place."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from service.errors import BadRequest
from service.escape.classes import class_of, class_reached, escape_class
from service.escape.comparing import anchors
from service.escape.figures import Covering, Figures, figures_of
from service.escape.measuring import measure_effects
from service.escape.parameters import Parameters, default_parameters
from service.escape.percentiles import as_estimates
from service.escape.setting import setting
from service.escape.values import Assessment, EscapeClass, HeldAssessment, PlannedMeasure
from service.escape.writing import covered, write
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction, PlantId


def assess(
    plant: Plant,
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Evidence | None,
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
) -> Assessment:
    """Would this plant get out of this place, to which of the waters, and found a lasting stand
    there, within ten years.

    Args:
        waters: none leaves an unmapped water at any distance.
        evidence: occurrence records around the place; None, or not loaded, leaves traits and
            climate alone.
        state: of the site; a plant native to it gets no class.
        containment: planned; lowers what leaves, and never raises anything.
        well_known: plants among which those to compare with are looked for.

    Raises:
        UnknownValue: the climate names no hardiness zone that exists.
        BadRequest: a quantity of the place, climate or waters is impossible.
    """
    records = {} if evidence is None else {plant.plant_id: evidence}
    return assess_many(
        [plant],
        place,
        climate,
        waters,
        records,
        state=state,
        containment=containment,
        well_known=well_known,
        parameters=parameters,
    )[0]


def assess_many(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] | Mapping[PlantId, Sequence[PlannedMeasure]] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
    with_facts: bool = True,
) -> tuple[Assessment, ...]:
    """Assess several plants of one place, in the order given.

    Args:
        containment: for all of the plants, or by plant.
        with_facts: look for the facts that would decide each.
    """
    here = Assessor(place, climate, waters, state, well_known, parameters)
    return tuple(
        here.assess(
            [plant],
            evidence,
            containment.get(plant.plant_id, ())
            if isinstance(containment, Mapping)
            else containment,
            with_facts=with_facts,
        )
        for plant in plants
    )


def assess_widest(
    plants: Sequence[Plant],
    place: Place,
    climate: Climate,
    waters: Sequence[Reached],
    evidence: Mapping[PlantId, Evidence],
    *,
    state: Jurisdiction | None = None,
    containment: Sequence[PlannedMeasure] = (),
    well_known: Sequence[Plant] = (),
    parameters: Parameters | None = None,
) -> Assessment:
    """One assessment for a label that may mean any of several plants: every estimate covers all of
    them.

    ``likely``, factors, routes and paragraph are those of the plant that is likeliest to escape.

    Raises:
        BadRequest: no plant is given.
    """
    here = Assessor(place, climate, waters, state, well_known, parameters)
    return here.assess(plants, evidence, containment)


class Assessor:
    """One place, with what all plants that are assessed in it share worked out once.

    Raises:
        UnknownValue: the climate names no hardiness zone that exists.
        BadRequest: a quantity of the place, climate or waters is impossible.
    """

    def __init__(
        self,
        place: Place,
        climate: Climate,
        waters: Sequence[Reached],
        state: Jurisdiction | None = None,
        well_known: Sequence[Plant] = (),
        parameters: Parameters | None = None,
    ) -> None:
        checked(place, climate, waters)
        known = parameters or default_parameters()
        self._setting = setting(place, climate, waters, state, known)
        self._well_known = well_known
        self._alone: dict[tuple[PlantId, Evidence | None], EscapeClass | None] = {}

    def assess(
        self,
        plants: Sequence[Plant],
        evidence: Mapping[PlantId, Evidence],
        containment: Sequence[PlannedMeasure] = (),
        *,
        with_facts: bool = True,
    ) -> Assessment:
        """Any of several plants, as ``assess_widest`` does; with the facts that would decide it,
        where ``with_facts`` is wanted.
        """
        found = self._of(plants, evidence, containment)
        written = covered(write(found.worst, self._anchors, with_facts=with_facts), found)
        if len(plants) == 1:
            return written
        names = ", ".join(plant.accepted_name for plant in plants)
        return replace(
            written,
            paragraph=f"The label may mean any of {names}; the figures cover all of them, and the "
            f"words are those of the one that could go furthest. {written.paragraph}",
        )

    def held(
        self,
        plants: Sequence[Plant],
        evidence: Mapping[PlantId, Evidence],
        containment: Sequence[PlannedMeasure],
    ) -> HeldAssessment:
        """The chance alone, and what each measure takes from each route."""
        found = self._of(plants, evidence, containment)
        worst, parameters = found.worst, self._setting.parameters
        whole = as_estimates(found.whole)[0]
        return HeldAssessment(
            whole,
            None if worst.native else escape_class(whole, parameters),
            None if worst.native else class_reached(whole, parameters),
            measure_effects(worst.outcome.plant, worst.measures, parameters),
        )

    def classes(
        self, plants: Sequence[Plant], evidence: Mapping[PlantId, Evidence]
    ) -> tuple[EscapeClass | None, ...]:
        """Class of each plant by itself, with nothing planned to hold it."""
        known = [(plant, (plant.plant_id, evidence.get(plant.plant_id))) for plant in plants]
        for plant, key in known:
            if key not in self._alone:
                self._of([plant], evidence, ())
        return tuple(self._alone[key] for _, key in known)

    def _of(
        self,
        plants: Sequence[Plant],
        evidence: Mapping[PlantId, Evidence],
        containment: Sequence[PlannedMeasure],
    ) -> Figures | Covering:
        if not plants:
            raise BadRequest(
                "There is no plant to assess.",
                next_step="Give at least one plant that the label may mean.",
            )
        planned = tuple(containment)
        several = [
            figures_of(plant, self._setting, planned, evidence.get(plant.plant_id))
            for plant in plants
        ]
        if not planned:
            for plant, one in zip(plants, several, strict=True):
                self._alone[plant.plant_id, evidence.get(plant.plant_id)] = self._class(one)
        return several[0] if len(several) == 1 else Covering(several)

    def _class(self, one: Figures | Covering) -> EscapeClass | None:
        parameters = self._setting.parameters
        return None if one.worst.native else class_of(float(one.whole[0, 0]), parameters)

    @cached_property
    def _anchors(self) -> Sequence[tuple[Plant, float]]:
        return anchors(self._well_known, self._setting)


def checked(place: Place, climate: Climate, waters: Sequence[Reached]) -> None:
    """No quantity is impossible.

    Raises:
        BadRequest: one is; it is named.
    """
    for name, value in (("area_m2", place.area_m2), ("outlet_flow_l_s", place.outlet_flow_l_s)):
        if value is not None and not (np.isfinite(value) and value >= 0):
            raise BadRequest(f"{name} of {place.name} cannot be {value}.", pointer=f"/place/{name}")
    if (
        climate.extreme_minimum_c is not None
        and climate.extreme_minimum_c[0] > climate.extreme_minimum_c[1]
    ):
        raise BadRequest(
            "extreme_minimum_c runs from warm to cold.", pointer="/climate/extreme_minimum_c"
        )
    for number, reached in enumerate(waters):
        for name, value in (("overland_m", reached.overland_m), ("along_m", reached.along_m)):
            if value is not None and not (np.isfinite(value) and value >= 0):
                raise BadRequest(
                    f"{name} of {reached.water.name or reached.water.water_id} cannot be {value}.",
                    pointer=f"/waters/{number}/{name}",
                )
