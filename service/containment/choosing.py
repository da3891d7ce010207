"""Which measures suit a plant in a place, and the ways out that each acts on."""

from typing import get_args

from service.containment.case import Gaps
from service.containment.parameters import MeasureRule, measure_rules, routes_of_way
from service.containment.values import Held, WayOut
from service.values.plants import Plant
from service.values.site import Climate, ExitRoute, Place, Position
from service.values.vocabulary import SpreadMode

ALL_WAYS: tuple[SpreadMode, ...] = get_args(SpreadMode)


def ways_out(plant: Plant, place: Place, gaps: Gaps) -> tuple[WayOut, ...]:
    """Every way of spreading by every exit route that is open, or that nobody has said is closed.

    A plant whose ways of spreading are not known is taken to have all of them.
    """
    ways = plant.traits.spread_modes
    if not ways:
        gaps.note("plant.spread_modes", "which measures hold")
        ways = ALL_WAYS
    routes = _routes(place, gaps)
    usable = routes_of_way()
    return tuple(
        WayOut(way, route, stated)
        for way in ALL_WAYS
        if way in ways
        for route, stated in routes.items()
        if route in usable[way]
    )


def rules_for(
    plant: Plant, place: Place, position: Position, climate: Climate
) -> tuple[MeasureRule, ...]:
    """The measures that suit the growth form, the place and the way the plant is set."""
    return tuple(
        rule
        for rule in measure_rules()
        if _suits(rule, plant, place, position) and _worth(rule, plant, climate)
    )


def held_by(rule: MeasureRule, ways: tuple[WayOut, ...]) -> tuple[Held, ...]:
    """The ways out that the measure acts on, and how well at best."""
    return tuple(
        Held(way, rule.strengths[way.way, way.route])
        for way in ways
        if (way.way, way.route) in rule.strengths
    )


def _routes(place: Place, gaps: Gaps) -> dict[ExitRoute, bool]:
    """Open routes, True where stated, False where nobody has said.

    A stream runs on by its nature.
    """
    stated: dict[ExitRoute, tuple[str, bool | None]] = {
        "outlet": ("place.outlet", place.outlet),
        "overflow": ("place.overflow", place.overflow),
        "flood": ("place.flood_prone", place.flood_prone),
        "bank": ("place.bank_contact", _bank(place)),
        "birds-and-visitors": ("place.visited", place.visited),
    }
    if place.kind == "stream" and place.outlet is None:
        stated["outlet"] = ("place.outlet", True)
    open_routes: dict[ExitRoute, bool] = {}
    for route, (field, is_open) in stated.items():
        if is_open is None:
            gaps.note(field, "which ways out are open")
        if is_open is not False:
            open_routes[route] = is_open is True
    return open_routes


def _bank(place: Place) -> bool | None:
    """A liner or tank wall closes the bank where nobody has said otherwise."""
    return False if place.bank_contact is None and place.lined else place.bank_contact


def _suits(rule: MeasureRule, plant: Plant, place: Place, position: Position) -> bool:
    form = plant.traits.growth_form
    if form is not None and form not in rule.forms:
        return False
    if place.kind not in rule.places:
        return False
    return not rule.holdings or position.holding is None or position.holding in rule.holdings


def _worth(rule: MeasureRule, plant: Plant, climate: Climate) -> bool:
    traits = plant.traits
    floats = traits.growth_form in ("free-floating", "submerged")
    if rule.kind == "floating-ring":
        return traits.growth_form in (None, "free-floating") or bool(
            {"stolon", "fragment"} & set(traits.spread_modes)
        )
    if rule.kind == "harvest":
        return floats or traits.spread_rate in (None, "fast", "aggressive")
    if rule.kind == "autumn-removal":
        return floats or traits.frost_kill in (None, "yes", "unknown") or _tender(plant, climate)
    return True


def _tender(plant: Plant, climate: Climate) -> bool:
    """Whether the site's zone is colder than any in which the plant is grown."""
    zone = climate.hardiness_zone
    digits = "".join(character for character in zone or "" if character.isdigit())
    least = plant.traits.zone_min
    return bool(digits) and least is not None and int(digits) < least
