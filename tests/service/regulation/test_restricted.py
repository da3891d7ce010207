"""Where a plant is barred or limited for sale or planting."""

from datetime import date

import pytest

from service.regulation.law import Term
from service.regulation.restricted import restricted_in
from service.store.library import Library
from service.values.vocabulary import Act, CountyFips, Jurisdiction, PlantId
from tests.service.regulation.builders import ON, a_class, a_list, a_subject, an_entry, law

TRAPA = a_subject()


@pytest.mark.parametrize(
    ("acts", "counted"),
    [
        (("sell",), True),
        (("plant", "transport"), True),
        (("import", "transport", "release", "possess"), False),
        ((), False),
    ],
)
def test_a_list_counts_where_its_class_restricts_sale_or_planting(
    acts: tuple[Act, ...], counted: bool
) -> None:
    book = law(a_list(an_entry(), classes=(a_class(acts=acts),)))
    assert restricted_in(book, TRAPA, ON) == (("US-OH",) if counted else ())


def test_states_come_in_the_order_of_their_names_and_federal_law_first() -> None:
    book = law(
        *(
            a_list(an_entry(), list_id=f"l-{place.lower()}", jurisdiction=Jurisdiction(place))
            for place in ("US-WI", "US-AL", "US", "US-OH")
        )
    )
    assert restricted_in(book, TRAPA, ON) == ("US", "US-AL", "US-OH", "US-WI")


def test_a_limit_to_counties_is_a_limit() -> None:
    term = Term("only-counties", "Lucas County", counties=(CountyFips("39095"),))
    assert restricted_in(law(a_list(an_entry(terms=(term,)))), TRAPA, ON) == ("US-OH",)


def test_seed_lots_are_not_plants() -> None:
    book = law(a_list(an_entry(terms=(Term("seeds-only", "seed rule"),))))
    assert restricted_in(book, TRAPA, ON) == ()


def test_a_plant_left_out_of_an_entry_is_not_restricted_by_it() -> None:
    out = Term("except-taxa", "except Trapa natans", taxa=(PlantId("trapa-natans"),))
    book = law(a_list(an_entry("trapa", rank="genus", terms=(out,))))
    assert restricted_in(book, TRAPA, ON) == ()
    assert restricted_in(book, a_subject("trapa-bispinosa"), ON) == ("US-OH",)


def test_a_genus_is_not_restricted_because_one_species_of_it_is() -> None:
    genus = a_subject("trapa", rank="genus", below=(PlantId("trapa-natans"),))
    assert restricted_in(law(a_list(an_entry())), genus, ON) == ()


def test_only_the_law_of_the_day_and_of_the_state_counts() -> None:
    later = a_list(an_entry(), effective_from=date(2030, 1, 1))
    ordinance = a_list(an_entry(), list_id="town", kind="ordinance")
    own = a_list(an_entry(), list_id="own", kind="own-rule")
    assert restricted_in(law(later, ordinance, own), TRAPA, ON) == ()
    assert restricted_in(law(later), TRAPA, date(2030, 1, 1)) == ("US-OH",)


def test_a_rule_on_every_aquatic_plant_says_nothing_of_this_one() -> None:
    sweeping = a_list(classes=(a_class(every_aquatic_plant=True),))
    assert restricted_in(law(sweeping), TRAPA, ON) == ()


def test_water_hyacinth_is_restricted_in_many_states_and_pickerelweed_in_none(
    library: Library,
) -> None:
    def places(plant: str) -> tuple[str, ...]:
        return restricted_in(library.law, library.taxonomy.subject(PlantId(plant)), ON)

    # Tex. Parks & Wild. Code 66.007 and 31 TAC 57.112; Wis. Admin. Code NR 40.04.
    assert {"US-TX", "US-WI"} <= set(places("pontederia-crassipes"))
    assert places("pontederia-cordata") == ()


def test_hybrids_only_of_listed_parents_count_where_both_are_listed_on_the_day() -> None:
    term = Term("hybrids-of-listed-parents", "hybrids only where both parents are regulated")
    parents = (PlantId("nelumbo-nucifera"), PlantId("nelumbo-lutea"))
    group = a_subject("nelumbo-hybrids", rank="cultivar group", hybrid_parents=parents)
    one = a_list(an_entry("nelumbo-nucifera", terms=(term,)))
    other = a_list(an_entry("nelumbo-lutea"), list_id="us-oh-b", effective_from=date(2028, 1, 1))
    assert restricted_in(law(one, other), group, ON) == ()
    assert restricted_in(law(one, other), group, date(2028, 1, 1)) == ("US-OH",)


def test_a_term_counts_for_the_act_and_the_day_it_names() -> None:
    """Conn. Gen. Stat. § 22a-381d from 1 October 2028; Maine's sale bar from 2024-01-01."""
    day = date(2028, 10, 1)
    begins = Term("from-date", "from 2028-10-01", acts=("sell", "plant"), on=day)
    book = law(a_list(an_entry(terms=(begins,)), classes=(a_class(acts=("sell", "plant")),)))
    assert restricted_in(book, TRAPA, date(2028, 9, 30)) == ()
    assert restricted_in(book, TRAPA, day) == ("US-OH",)
    of_sale_alone = Term("from-date", "sale barred from 2028-10-01", acts=("sell",), on=day)
    both = (a_class(acts=("sell", "plant")),)
    book = law(a_list(an_entry(terms=(of_sale_alone,)), classes=both))
    assert restricted_in(book, TRAPA, ON) == ("US-OH",)
