"""Autumn removal: when, and where it goes."""

from datetime import date, timedelta

from service.containment.case import Case, Gaps
from service.containment.parameters import coefficients
from service.containment.values import Figure, Measure
from service.errors import BadRequest
from service.quantities import Quantity
from service.workings import BY_USER, Given

_YEAR = 2001
"""Any year of 365 days; only month and day are told."""


def autumn_removal(case: Case) -> Measure:
    """Take the plant out before frost breaks it up and sets its pieces and buds adrift."""
    gaps = Gaps()
    lead, heap = coefficients()["frost_lead"], coefficients()["heap_distance"]
    figures: tuple[Figure, ...] = ()
    steps: tuple[str, ...] = ()
    frost = gaps.need("climate.first_frost", case.climate.first_frost, "date of removal")
    if frost is not None:
        latest, earliest = removal_date(frost, lead.low), removal_date(frost, lead.high)
        inputs = (Given("mean first frost", None, BY_USER, frost), Given(lead.name, lead.span(), lead.known))
        figures = (
            Figure(
                f"take out between {earliest} and {latest}",
                "mean first frost - lead",
                inputs,
                Quantity(lead.low, lead.high, "days"),
                (lead.source,),
            ),
        )
        steps = (f"Take the plants out between {earliest} and {latest} (month-day), before the first hard freeze.",)
    steps += (
        "Screen the outlet first; take roots, runners, buds and floating pieces, and net again a week later.",
        f"Dry what is taken out on dry ground {heap.span().text()} from any water and above flood level, then compost, bury "
        "or bin it as local rules say; never hand it on or tip it into water.",
    )
    if case.request.duty:
        steps += (f"The law's duty, as found: {case.request.duty}",)
    return Measure(case.kind, case.title, case.held, case.limits, figures, (), steps, gaps.result())


def removal_date(first_frost: str, lead_days: float) -> str:
    """``MM-DD`` so many days before the mean first frost.

    Raises:
        BadRequest: ``first_frost`` is no ``MM-DD``.
    """
    try:
        frost = date.fromisoformat(f"{_YEAR}-{first_frost}")
    except ValueError as error:
        raise BadRequest(
            f"The first frost {first_frost!r} is no month and day.",
            pointer="/climate/first_frost",
            next_step="Write it as MM-DD, such as 10-15.",
        ) from error
    return (frost - timedelta(days=round(lead_days))).strftime("%m-%d")
