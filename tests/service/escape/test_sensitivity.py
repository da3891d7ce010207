from dataclasses import replace

from service.escape import assess, default_parameters, sensitivity
from service.escape.sensitivity import input_name
from service.values.site import Climate, Place, Reached
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE, POND

P = default_parameters()
IRIS = plants()["Iris pseudacorus"]
WATERS = [Reached(BROOK, "contains", 0.0), Reached(LAKE, "downstream", 400.0, 600.0, 1)]
OPEN = Place("little said", "pond", outlet=True)


def test_effects_are_ordered_by_total_index_and_lie_within_the_interval() -> None:
    found = sensitivity(IRIS, OPEN, Climate("6a"), WATERS[1:], None, base_samples=128)
    assert found.interval == assess(IRIS, OPEN, Climate("6a"), WATERS[1:], None).interval
    totals = [round(effect.total, 9) for effect in found.effects]
    assert totals == sorted(totals, reverse=True)
    assert found.samples == 128 * (len(found.effects) + 2)
    for effect in found.effects:
        assert effect.narrows_by == abs(effect.high - effect.low) > 0.0


def test_total_indices_are_not_below_first_order_ones_and_first_order_ones_do_not_pass_one() -> (
    None
):
    # Saltelli et al. 2010, Computer Physics Communications 181:259-270
    found = sensitivity(IRIS, POND, Climate("6a"), WATERS[1:], None, base_samples=512)
    for effect in found.effects:
        assert effect.total >= effect.first_order - 3 * effect.first_order_half_width - 0.05
    assert sum(effect.first_order for effect in found.effects) < 1.15


def test_a_part_known_exactly_is_no_input() -> None:
    names = {
        effect.name for effect in sensitivity(IRIS, POND, Climate("6a"), WATERS[1:], None).effects
    }
    assert "shedding: seed" in names
    assert "shedding: spore" not in names
    assert "depth of the water" not in names


def test_the_same_question_gives_the_same_figures() -> None:
    first, second = (
        sensitivity(IRIS, POND, Climate("6a"), WATERS, None, base_samples=64) for _ in range(2)
    )
    assert first == second


def test_a_result_that_nothing_moves_has_no_effects() -> None:
    stays = replace(IRIS, traits=replace(IRIS.traits, spread_modes=("seed",)))
    parameters = P.changed("founding.seed", 0.0, 0.0)
    found = sensitivity(stays, POND, Climate("6a"), WATERS, None, parameters=parameters)
    assert found.standard_deviation == 0.0
    assert found.effects == ()


def test_every_coefficient_of_the_chain_belongs_to_an_input() -> None:
    conventions = ("classes", "sampling", "presence", "history.range", "history.weight")
    names = {input_name(key) for key in P.coefficients if not key.startswith(conventions)}
    assert {"winter", "founding", "way out: the outlet", "travel: given away"} <= names
