from dataclasses import replace

import numpy as np
import pytest

from service.escape import PlannedMeasure, assess, sensitivity
from service.escape.model import case_of, inputs_of, run
from service.escape.parameters import default_parameters
from service.escape.sensitivity import _Model
from service.escape.setting import setting
from service.values.site import Climate, Place
from service.values.waters import Reached
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE, POND, records

P = default_parameters()
IRIS = plants()["Iris pseudacorus"]
WATERS = [Reached(BROOK, "contains", 0.0), Reached(LAKE, "downstream", 400.0, 600.0, 1)]
OPEN = Place("little said", "pond", outlet=True)


def test_the_sampled_chain_ends_where_the_interval_ends() -> None:
    for evidence in (None, records(1, 200)):
        there = setting(OPEN, Climate("6a"), WATERS, P)
        inputs = inputs_of(case_of(IRIS, there, (PlannedMeasure("outlet-screen"),), evidence))
        model = _Model(inputs)
        ends = np.array([np.zeros(len(model.names)), np.ones(len(model.names))])
        assert model.at(ends).tolist() == pytest.approx(run(inputs).overall.tolist(), abs=1e-12)


def test_effects_are_ordered_by_total_index_and_lie_within_the_interval() -> None:
    found = sensitivity(IRIS, OPEN, Climate("6a"), WATERS[1:], None, base_samples=128)
    assert found.interval == assess(IRIS, OPEN, Climate("6a"), WATERS[1:], None).interval
    totals = [round(effect.total, 9) for effect in found.effects]
    assert totals == sorted(totals, reverse=True)
    assert found.samples == 128 * (len(found.effects) + 2)
    assert found.mean in found.interval
    for effect in found.effects:
        assert effect.low in found.interval
        assert effect.high in found.interval
        assert (
            effect.low <= effect.high + 1e-12
        )  # every part of the chain raises what follows from it
        assert effect.narrows_by >= -1e-12


def test_total_indices_are_not_below_first_order_ones_and_first_order_ones_do_not_pass_one() -> (
    None
):
    # Saltelli et al. 2010, Computer Physics Communications 181:259-270
    found = sensitivity(IRIS, POND, Climate("6a"), WATERS[1:], None, base_samples=512)
    for effect in found.effects:
        assert effect.total >= effect.first_order - 3 * effect.first_order_half_width - 0.02
    assert sum(effect.first_order for effect in found.effects) < 1.1


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


def test_a_result_that_nothing_moves_has_indices_of_nothing() -> None:
    traits = replace(IRIS.traits, spread_modes=("seed",))
    parameters = P
    for key in P.keys_under("growth.rating"):
        parameters = parameters.changed(f"growth.rating.{key}", 0.0, 0.0)
    found = sensitivity(
        replace(IRIS, traits=traits), POND, Climate("6a"), WATERS, None, parameters=parameters
    )
    assert found.standard_deviation == 0.0
    assert all(effect.total == effect.first_order == 0.0 for effect in found.effects)


def test_no_water_given_is_answered_too() -> None:
    found = sensitivity(IRIS, POND, Climate("6a"), [], None, base_samples=64)
    assert "travel: by water" in {effect.name for effect in found.effects}
    assert found.interval.low == 0.0
