"""Depth, flow, light, surface, soil and grazing: each need of the plant against the planting."""

from typing import get_args

from service.fit.values import Aspect, AspectName, Change, Verdict, coefficients
from service.values.growth import least_pot
from service.values.plants import COMMON_PRACTICE, Plant, Provenance, Range
from service.values.quantities import Quantity
from service.values.site import Holding, Place, Position
from service.values.vocabulary import Flow, Light
from service.values.workings import Missing, known_range

Finding = tuple[Aspect, tuple[Missing, ...]]
_FLOWS: tuple[Flow, ...] = get_args(Flow)
_LIGHTS: tuple[Light, ...] = ("shade", "part-shade", "sun")
_NAMES: dict[Holding, str] = {
    "basket": "the basket",
    "solid-pot": "the pot",
    "no-drain-tub": "the tub",
    "foam-island": "the pot in the island",
}


def crown_depth_cm(place: Place, position: Position) -> float | None:
    """Water over the crown: stated, or the water's depth where the plant stands on the bed
    itself.
    """
    if position.crown_depth_cm is not None:
        return position.crown_depth_cm
    return place.depth_cm if position.holding == "open-ground" else None


def depth(plant: Plant, place: Place, position: Position) -> Finding:
    """Water over the crown against the depths that the plant grows in."""
    if plant.traits.growth_form == "free-floating":
        return _answered(
            "depth", "fits", "It floats and needs no depth over a crown.", COMMON_PRACTICE
        )
    need = plant.traits.depth_cm
    if need is None:
        missing = Missing(
            "plant.depth_cm",
            "depth of water that the plant grows in",
            "depth",
            "a flora or the grower",
        )
        return _open("depth", "How deep it grows is not known.", missing)
    if plant.traits.growth_form == "floating-leaved" and position.holding == "no-drain-tub":
        # Lilies and lotus grow on the bottom of a tub, in far less water than in a pond.
        need = Range(min(need.low, coefficients()["tub_depth"].value), need.high)
    known = known_range(plant, "depth_cm")
    wants = f"It grows with {Quantity(need.low, need.high, 'cm').text()} of water over the crown"
    crown = crown_depth_cm(place, position)
    slack = coefficients()["depth_tolerance"].value
    if crown is None:
        if place.depth_cm is not None and place.depth_cm < need.low - slack:
            found = (
                f"{wants}; the water is only {Quantity.exact(place.depth_cm, 'cm').text()} deep."
            )
            return _answered("depth", "does-not-fit", found, known)
        fact = Missing(
            "position.crown_depth_cm",
            "water over the crown",
            "depth",
            "measure from the surface to the soil",
        )
        return _open("depth", f"{wants}; the planting depth is not given.", fact, known)
    found = f"{wants}; here it has {_over_crown(crown)}."
    play = coefficients()["depth_play"].value if _of_edge(plant) else slack
    if crown > need.high + play:
        # Far below anything it grows in, nothing is raised: it is the wrong plant for the depth.
        bed = position.holding == "open-ground" and position.crown_depth_cm is not None
        if bed and crown > 2 * need.high + play:
            return _answered("depth", "does-not-fit", found, known)
        return _answered(
            "depth", "fits-with-change", found, known, _raise(position, crown - need.high)
        )
    least = need.low - (coefficients()["above_water"].value if need.low <= 0 else play)
    if crown < least:
        return _too_shallow(place, position, need, crown, found, known)
    return _answered("depth", "fits", found, known)


def flow(plant: Plant, place: Place, position: Position) -> Finding:
    """Still, slow or moving water against what the plant grows in."""
    need = plant.traits.flow
    if not need:
        return _open(
            "flow",
            "What current it grows in is not known.",
            Missing("plant.flow", "current that the plant grows in", "flow", "a flora"),
        )
    known = plant.known("flow")
    wants = f"It grows in {_words(need)} water"
    here = position.flow or place.flow
    if here is None:
        if place.kind == "bog":
            return _answered("flow", "fits", f"{wants}; a bog has no current to pull at it.", known)
        return _open(
            "flow",
            f"{wants}; the current is not given.",
            Missing(
                "place.flow",
                "whether the water is still, slow or moving",
                "flow",
                "time a float over a measured length",
            ),
            known,
        )
    found = f"{wants}; here it is {here}."
    if here in need:
        return _answered("flow", "fits", found, known)
    step = _FLOWS.index(here) - max(_FLOWS.index(kind) for kind in need)
    if step == 1 and here == "slow":
        return _answered(
            "flow",
            "fits-with-change",
            found,
            known,
            Change("Set it in a bay or behind stones, where the water stands still."),
        )
    if step > 0 and _on_the_bank(plant, place, position):
        return _answered(
            "flow",
            "fits-with-change",
            f"{found} At the edge it stands in the current only when the water rises.",
            known,
            Change(
                "Plant it on the bank, and hold it with stones or coir matting until it has rooted."
            ),
        )
    if step > 0:
        return _answered(
            "flow", "does-not-fit", f"{found} Current uproots it and breaks it up.", known
        )
    if step < 0 and here == "still" and "slow" in need:
        return _answered(
            "flow",
            "fits-with-change",
            found,
            known,
            Change("Keep the water turning over with a pump or fall."),
        )
    return _answered(
        "flow", "does-not-fit", f"{found} It wants water that runs past its roots.", known
    )


def light(plant: Plant, place: Place, position: Position) -> Finding:
    """Sun, part shade or shade against what the plant grows in."""
    need = plant.traits.light
    if not need:
        return _open(
            "light",
            "What light it wants is not known.",
            Missing("plant.light", "light that the plant wants", "light", "a flora"),
        )
    known = plant.known("light")
    wants = f"It grows in {_words(need)}"
    here = position.light or place.light
    if here is None:
        return _open(
            "light",
            f"{wants}; the light is not given.",
            Missing(
                "place.light", "sun, part shade or shade", "light", "count the hours of sun in June"
            ),
            known,
        )
    found = f"{wants}; here there is {here.replace('-', ' ')}."
    if here in need:
        return _answered("light", "fits", found, known)
    steps = [_LIGHTS.index(here) - _LIGHTS.index(kind) for kind in need]
    nearest = min(steps, key=abs)
    if abs(nearest) > 1:
        return _answered("light", "does-not-fit", found, known)
    text = (
        "Cut back what shades it, or move it into the sun; it flowers less in shade."
        if nearest < 0
        else "Shade it with taller plants on its south side."
    )
    return _answered("light", "fits-with-change", found, known, Change(text))


def surface(plant: Plant, place: Place, position: Position) -> Finding:
    """Open water for what floats or lives under it, and a way of setting that suits the growth
    form.
    """
    form = plant.traits.growth_form
    if form is None:
        return _open(
            "surface",
            "Its growth form is not known.",
            Missing("plant.growth_form", "growth form", "surface", "a flora"),
        )
    known = plant.known("growth_form")
    wet = form in ("free-floating", "floating-leaved", "submerged")
    if wet and place.kind == "bog":
        return _answered(
            "surface", "does-not-fit", "It lives in open water; a bog has none.", known
        )
    if form in ("floating-leaved", "submerged") and position.holding in (
        "foam-island",
        "floating-ring",
    ):
        where = position.holding.replace("-", " ")
        return _answered(
            "surface",
            "does-not-fit",
            f"It roots in the bed or a pot under water; a {where} does not hold it.",
            known,
        )
    if form == "free-floating" and position.holding not in (None, "floating-ring", "open-ground"):
        change = Change("Set it loose on the water, inside a floating ring.")
        return _answered(
            "surface", "fits-with-change", "It floats free and takes no pot.", known, change
        )
    if not wet:
        return _answered("surface", "fits", "It needs no open surface.", known)
    return _answered("surface", "fits", "It has open water.", known)


def soil(plant: Plant, place: Place, position: Position) -> Finding:
    """What it is rooted in, and the size of the pot."""
    form = plant.traits.growth_form
    if form == "free-floating":
        return _answered(
            "soil", "fits", "It roots in the water and needs no soil.", COMMON_PRACTICE
        )
    kind = position.soil
    if kind is None:
        if position.holding == "open-ground":
            return _answered("soil", "fits", "It roots in the bed itself.", COMMON_PRACTICE)
        return _open(
            "soil",
            "What it is planted in is not given.",
            Missing("position.soil", "soil in the pot or bed", "soil", "the planting plan"),
        )
    change = _soil_change(plant, place, position)
    if change is not None:
        return _answered(
            "soil",
            "fits-with-change",
            f"It is set in {kind.replace('-', ' ')}.",
            COMMON_PRACTICE,
            change,
        )
    return _pot_size(plant, position, f"It is set in {kind.replace('-', ' ')}.")


def grazing(plant: Plant, place: Place, position: Position) -> Finding:
    """Fish that graze against soft or low growth."""
    form, height = plant.traits.growth_form, plant.traits.height_cm
    low_growth = coefficients()["low_growth"].value
    low = form in ("emergent", "wet-soil", None) and (height is None or height.low <= low_growth)
    soft = form in (None, "submerged", "free-floating") or low or "edible" in plant.traits.uses
    if place.grazing_fish is None:
        if not soft:
            return _answered(
                "grazing",
                "fits",
                "Tall, tough growth: fish leave it alone once it stands.",
                COMMON_PRACTICE,
            )
        fact = Missing(
            "place.grazing_fish",
            "whether koi, grass carp or the like graze there",
            "grazing",
            "ask the owner",
        )
        return _open(
            "grazing",
            "Soft or low growth that fish would graze; whether there are any is not given.",
            fact,
        )
    if not place.grazing_fish:
        return _answered("grazing", "fits", "No grazing fish.", COMMON_PRACTICE)
    if form == "floating-leaved":
        change = Change(
            "Cap the pot with stones and cage young leaves until they reach the surface."
        )
        return _answered(
            "grazing",
            "fits-with-change",
            "Fish dig in its pot and nibble young leaves.",
            COMMON_PRACTICE,
            change,
        )
    if soft:
        return _answered(
            "grazing",
            "fits-with-change",
            "Fish graze it down, roots and trailing stems too.",
            COMMON_PRACTICE,
            _guard(position),
        )
    change = Change("Cap the soil with stones larger than the fish can move.")
    return _answered(
        "grazing",
        "fits-with-change",
        "Fish leave tall growth alone but dig in its soil.",
        COMMON_PRACTICE,
        change,
    )


def _of_edge(plant: Plant) -> bool:
    return plant.traits.growth_form in ("emergent", "wet-soil")


def _on_the_bank(plant: Plant, place: Place, position: Position) -> bool:
    """Whether a plant of the edge grows in the ground with no water over its crown."""
    crown = crown_depth_cm(place, position)
    in_the_ground = position.holding in (None, "open-ground")
    return _of_edge(plant) and in_the_ground and crown is not None and crown <= 0


def _over_crown(crown_cm: float) -> str:
    """``15 cm (6 in)``, or that it is above the water."""
    if crown_cm < 0:
        return f"its crown {Quantity.exact(-crown_cm, 'cm').text()} above the water"
    return Quantity.exact(crown_cm, "cm").text()


def _raise(position: Position, by_cm: float) -> Change:
    by = Quantity.exact(by_cm, "cm")
    if position.holding == "open-ground":
        return Change(
            f"Plant it {by.text()} shallower, or set it in a basket raised by as much.", by
        )
    what = _NAMES.get(position.holding, "the crown") if position.holding else "the crown"
    return Change(f"Raise {what} {by.text()}.", by)


def _too_shallow(
    place: Place, position: Position, need: Range, crown: float, found: str, known: Provenance
) -> Finding:
    by = Quantity.exact(need.low - crown, "cm")
    slack = coefficients()["depth_tolerance"].value
    if place.depth_cm is not None and place.depth_cm < need.low - slack:
        depth_here = Quantity.exact(place.depth_cm, "cm").text()
        return _answered(
            "depth", "does-not-fit", f"{found} The water is only {depth_here} deep.", known
        )
    what = _NAMES.get(position.holding, "the crown") if position.holding else "the crown"
    return _answered(
        "depth", "fits-with-change", found, known, Change(f"Lower {what} {by.text()}.", by)
    )


def _soil_change(plant: Plant, place: Place, position: Position) -> Change | None:
    form, kind = plant.traits.growth_form, position.soil
    crown = crown_depth_cm(place, position)
    if kind == "peat-mix" and (crown is None or crown > 0):
        return Change("Use heavy clay soil with gravel on top; peat mixes float out under water.")
    if kind == "none" and form == "submerged":
        return Change("Weight the bunches, or set them in a pot of gravel.")
    if kind == "none":
        return Change("Set it in a pot of heavy clay soil with gravel on top.")
    if kind == "gravel" and form == "floating-leaved":
        return Change("Use heavy clay soil under the gravel; it feeds from the soil.")
    return None


def _pot_size(plant: Plant, position: Position, found: str) -> Finding:
    height, volume_l = plant.traits.height_cm, position.container_volume_l
    if position.holding in (None, "open-ground", "floating-ring"):
        return _answered("soil", "fits", found, COMMON_PRACTICE)
    if volume_l is None or height is None:
        field = "position.container_volume_l" if volume_l is None else "plant.height_cm"
        fact = "volume of the pot" if volume_l is None else "height of the plant"
        return _open(
            "soil",
            f"{found} Whether the pot is large enough is not known.",
            Missing(field, fact, "size of the pot", "the label"),
        )
    least = least_pot(plant.traits.growth_form, height.high)
    if volume_l < least.low - 0.1:
        wanted = Quantity.exact(least.value, "L")
        change = Change(
            f"Use a pot of {wanted.text()} or more.", Quantity.exact(least.value - volume_l, "L")
        )
        return _answered(
            "soil", "fits-with-change", f"{found} The pot is small for it.", least.known, change
        )
    return _answered("soil", "fits", found, COMMON_PRACTICE)


def _guard(position: Position) -> Change:
    if position.holding == "foam-island":
        return Change("Guard the underside and edge of the island with mesh.")
    return Change(
        "Fence it off with mesh, or keep it out of reach of the fish, until it has grown."
    )


def _words(values: tuple[str, ...]) -> str:
    words = [value.replace("-", " ") for value in values]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _answered(
    name: AspectName, verdict: Verdict, found: str, known: Provenance, change: Change | None = None
) -> Finding:
    return Aspect(name, verdict, found, known, change), ()


def _open(
    name: AspectName, found: str, missing: Missing, known: Provenance = COMMON_PRACTICE
) -> Finding:
    return Aspect(name, "unknown", found, known), (missing,)
