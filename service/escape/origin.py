"""Whether a plant is native to the state of a site, and what that says of escape."""

from service.escape.draws import Array, Draws
from service.values.plants import Plant
from service.values.vocabulary import JURISDICTION_NAMES, Jurisdiction


def native_to(plant: Plant, state: Jurisdiction | None) -> bool | None:
    """Native to the state; None where it is not known."""
    if state is None:
        return None
    status = plant.nativity(state).status
    return None if status == "unknown" else status == "native"


def native_share(plant: Plant, state: Jurisdiction | None, draws: Draws) -> Array:
    """How much of being native to the continent counts at the site.

    All of it at home, a part away from home; where the state is not known, by the continent alone.
    """
    at_home = draws.known(1.0)
    if state is None or plant.traits.native_north_america == "no":
        return at_home
    here = native_to(plant, state)
    if here:
        return at_home
    away = draws.of("history.away.share")
    return away if here is False else draws.any_of("plant.native_here", (at_home, away))


def native_words(plant: Plant, state: Jurisdiction | None) -> str:
    """The sentence for a plant that is native to the state; empty for any other."""
    if state is None or not native_to(plant, state):
        return ""
    crowds = (
        " It is known to crowd out others where it is planted densely."
        if plant.traits.spread_rate == "aggressive"
        else ""
    )
    return (
        f"{plant.accepted_name} is native to {JURISDICTION_NAMES[state]}: it is part of that "
        f"flora, and a stand of it in a water there is not an escape.{crowds} Stock raised from "
        "local seed or cuttings keeps the local strain."
    )
