"""Harvest interval from logistic growth, mass to take out, and where it goes; the last removal in
autumn.
"""

from service.containment.case import Case, Gaps, at_most
from service.containment.parameters import coefficients
from service.containment.values import Check, Figure, Measure
from service.values.growth import days_between_shares, growth_rate_per_day
from service.values.quantities import Quantity
from service.values.seasons import day_in_words, days_before
from service.values.workings import BY_USER, WORKED_OUT, Given

LOGISTIC = "Verhulst's logistic growth"


def harvest(case: Case) -> Measure:
    """How often to cut cover back so that it stays at the share wanted."""
    gaps = Gaps()
    figures: list[Figure] = []
    checks: list[Check] = []
    wanted = gaps.need("wanted_cover_share", case.request.wanted_cover_share, "harvest interval")
    doubling = _doubling(case, gaps)
    if wanted is not None and 0 < wanted < 1:
        open_share = coefficients()["cover_least_open"]
        checks.append(
            at_most(
                "cover wanted",
                wanted,
                1 - open_share.value,
                "share",
                open_share.known,
                "Keep a third of the water open.",
            )
        )
        cut = wanted * coefficients()["cut_to"].value
        if doubling is not None:
            _growth_figures(case, gaps, wanted, cut, doubling, figures)
        _mass_figures(case, gaps, wanted - cut, figures)
    heap = coefficients()["heap_distance"]
    steps = (
        (
            "Net or rake from the outlet inward, with the outlet screened, and pick up every "
            "broken piece."
        ),
        "Cut flower heads before seed is ripe.",
        f"Drain and dry what is taken out on dry ground {heap.span().text()} from any water "
        "and above flood level; never in "
        "a ditch, a stream or another pond.",
        (
            "Ask the state agency before moving harvested plants off the site; some species need "
            "a permit to carry."
        ),
    )
    return case.measure(figures, checks, steps, gaps.result())


def _doubling(case: Case, gaps: Gaps) -> Given | None:
    stated, trait = case.request.doubling_days, case.plant.traits.doubling_days
    if stated is not None:
        return Given("doubling time", Quantity(stated[0], stated[1], "days"), BY_USER)
    if trait is not None:
        return case.trait_range(
            "doubling_days", "doubling time", Quantity(trait.low, trait.high, "days")
        )
    gaps.note("doubling_days", "harvest interval")
    return None


def _growth_figures(
    case: Case, gaps: Gaps, wanted: float, cut: float, doubling: Given, figures: list[Figure]
) -> None:
    assert doubling.quantity is not None
    fast = growth_rate_per_day(doubling.quantity.low)
    slow = growth_rate_per_day(doubling.quantity.high)
    rate = Quantity(slow, fast, "per day")
    figures.append(Figure("growth rate r", "ln 2 / doubling time", (doubling,), rate, (LOGISTIC,)))
    growth = Given("growth rate r", rate, WORKED_OUT)
    full = Given.by_user("cover wanted f1", wanted, "share")
    left = Given(
        "cover left by a harvest f0", Quantity.exact(cut, "share"), coefficients()["cut_to"].known
    )
    formula = "ln(f1 (1 - f0) / (f0 (1 - f1))) / r"
    interval = Quantity(
        days_between_shares(cut, wanted, fast), days_between_shares(cut, wanted, slow), "days"
    )
    planted = gaps.need(
        "planted_cover_share", case.request.planted_cover_share, "days to the first harvest"
    )
    if planted is not None and 0 < planted < wanted:
        first = Quantity(
            days_between_shares(planted, wanted, fast),
            days_between_shares(planted, wanted, slow),
            "days",
        )
        start = Given.by_user("cover planted f0", planted, "share")
        figures.append(
            Figure("days to the first harvest", formula, (start, full, growth), first, (LOGISTIC,))
        )
    source = coefficients()["cut_to"].source
    figures.append(
        Figure("days between harvests", formula, (left, full, growth), interval, (LOGISTIC, source))
    )
    season = gaps.need("season_days", case.request.season_days, "number of harvests in a season")
    if season is not None:
        count = Quantity(season / interval.high, season / interval.low, "count")
        inputs = (
            Given.by_user("season", season, "days"),
            Given("days between harvests", interval, WORKED_OUT),
        )
        figures.append(
            Figure(
                "harvests in a season", "season / days between harvests", inputs, count, (LOGISTIC,)
            )
        )


def _mass_figures(case: Case, gaps: Gaps, share: float, figures: list[Figure]) -> None:
    area_m2 = gaps.need("place.area_m2", case.place.area_m2, "mass to take out")
    mass = _fresh_mass(case, gaps)
    if area_m2 is None or mass is None or mass.quantity is None:
        return
    taken = Quantity(
        share * area_m2 * mass.quantity.low, share * area_m2 * mass.quantity.high, "kg"
    )
    inputs = (
        Given.by_user("water surface", area_m2, "m2"),
        Given("share taken", Quantity.exact(share, "share"), coefficients()["cut_to"].known),
        mass,
    )
    source = mass.known.source or (
        "given" if mass.known.how_known == "user" else "common practice, no source"
    )
    figures.append(
        Figure(
            "wet mass of one harvest",
            "area x share x mass of closed cover",
            inputs,
            taken,
            (source,),
        )
    )


def _fresh_mass(case: Case, gaps: Gaps) -> Given | None:
    if case.request.fresh_mass_kg_m2 is not None:
        return Given.by_user("wet mass of closed cover", case.request.fresh_mass_kg_m2, "kg/m2")
    form = gaps.need("plant.growth_form", case.plant.traits.growth_form, "mass to take out")
    if form is None:
        return None
    typical = coefficients()[f"fresh_mass_{form.replace('-', '_')}"]
    return Given(typical.name, typical.span(), typical.known)


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
    return case.measure(figures, (), steps, gaps.result())
