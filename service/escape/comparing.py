"""Well-known plants at the same site, so that a chance can be read against something."""

from collections.abc import Sequence

from service.escape.leaves import made
from service.escape.model import run
from service.escape.percentiles import estimate
from service.escape.setting import Setting
from service.escape.values import Comparison
from service.values.plants import Plant

WELL_KNOWN = {
    "Iris pseudacorus": "yellow flag",
    "Myriophyllum aquaticum": "parrot's feather",
    "Nymphaea alba": "the hardy European water lily",
}
"""Accepted name -> what people call it: one that escapes all over the country, one where winters
are mild, and one that seldom does.
"""
_HARDLY = 0.005
"""Chance under which a ratio to it says nothing."""
_ALIKE = 1.25


def anchors(plants: Sequence[Plant], setting: Setting) -> list[tuple[Plant, float]]:
    """Likely chance of each anchor with nothing planned to keep it in."""
    found = []
    for plant in plants:
        if plant.accepted_name in WELL_KNOWN and made(plant.traits):
            outcome = run(plant, setting.for_plant(plant.traits))
            found.append((plant, estimate(outcome.overall(), outcome.setting.draws).likely))
    return found


def compared(
    plant: Plant, likely: float, known: Sequence[tuple[Plant, float]]
) -> tuple[Comparison, ...]:
    """A plant beside each anchor but itself."""
    return tuple(
        Comparison(
            anchor.accepted_name,
            WELL_KNOWN[anchor.accepted_name],
            chance,
            None if chance < _HARDLY else likely / chance,
            _words(likely, chance, WELL_KNOWN[anchor.accepted_name]),
        )
        for anchor, chance in known
        if anchor.plant_id != plant.plant_id
    )


def _words(likely: float, chance: float, name: str) -> str:
    """Fractions and multiples as people say them.

    >>> _words(0.05, 0.5, "yellow flag")
    'a tenth of yellow flag'
    """
    if likely < _HARDLY and chance < _HARDLY:
        return f"about as little as {name}"
    if chance < _HARDLY:
        return f"far more than {name}"
    times = likely / chance
    if 1 / _ALIKE <= times <= _ALIKE:
        return f"about as likely as {name}"
    if times > _ALIKE:
        return (
            f"{times:.0f} times as likely as {name}"
            if times >= 1.8
            else f"half as much again as {name}"
        )
    parts = {2: "half", 3: "a third", 4: "a quarter", 5: "a fifth", 10: "a tenth"}
    for most, words in ((0.75, "two thirds"), (0.8, "three quarters")):
        if times > most - 0.15 and times >= 0.6:
            return f"{words} of {name}"
    nearest = min(parts, key=lambda part: abs(1 / part - times))
    return f"less than a tenth of {name}" if times < 0.07 else f"{parts[nearest]} of {name}"
