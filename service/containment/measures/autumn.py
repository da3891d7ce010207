"""Autumn removal: when, and where it goes."""

from service.containment.case import Case, Gaps
from service.containment.parameters import coefficients
from service.containment.values import Figure, Measure
from service.values.quantities import Quantity
from service.values.seasons import day_in_words, days_before
from service.values.workings import BY_USER, Given


def autumn_removal(case: Case) -> Measure:
    """Take the plant out before frost breaks it up and sets its pieces and buds adrift."""
    gaps = Gaps()
    lead, heap = coefficients()["frost_lead"], coefficients()["heap_distance"]
    figures: tuple[Figure, ...] = ()
    steps: tuple[str, ...] = ()
    frost = gaps.need("climate.first_frost", case.climate.first_frost, "date of removal")
    if frost is not None:
        latest, earliest = days_before(frost, lead.low), days_before(frost, lead.high)
        inputs = (
            Given("mean first frost", None, BY_USER, frost),
            Given(lead.name, lead.span(), lead.known),
        )
        figures = (
            Figure(
                "taking out, before the mean first frost",
                f"mean first frost - lead: {earliest} to {latest}",
                inputs,
                Quantity(lead.low, lead.high, "days"),
                (lead.source,),
            ),
        )
        steps = (
            (
                f"Take the plants out between {day_in_words(earliest)} and "
                f"{day_in_words(latest)}, before the first hard freeze."
            ),
        )
    steps += (
        (
            "Screen the outlet first; take roots, runners, buds and floating pieces, and net "
            "again a week later."
        ),
        f"Dry what is taken out on dry ground {heap.span().text()} from any water and above "
        "flood level, then compost, bury "
        "or bin it as local rules say; never hand it on or tip it into water.",
    )
    if case.request.duty:
        steps += (f"The law's duty, as found: {case.request.duty}",)
    return Measure(case.kind, case.title, case.held, case.limits, figures, (), steps, gaps.result())
