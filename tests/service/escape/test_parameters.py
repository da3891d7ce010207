import re
from dataclasses import replace
from importlib import resources
from typing import get_args

import numpy as np
import pytest

from service.errors import BadFile
from service.escape.draws import Array
from service.escape.model import run
from service.escape.parameters import default_parameters, read_parameters
from service.escape.setting import setting
from service.escape.values import PlannedMeasure
from service.values.plants import History, Range, Traits
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction, MeasureKind, SpreadMode, WaterKind
from tests.service.escape.samples import LAKE, POND, plant_named

TEXT = resources.files("service.escape").joinpath("parameters.toml").read_text(encoding="utf-8")


def test_every_coefficient_says_its_range_unit_source_and_why() -> None:
    for key, coefficient in default_parameters().coefficients.items():
        assert coefficient.low <= coefficient.value <= coefficient.high, key
        assert coefficient.unit, key
        assert coefficient.source, key
        assert len(coefficient.why.split()) >= 2, key
        assert default_parameters().directions[key] in ("raises", "lowers", "either"), key


def test_a_coefficient_from_memory_says_so() -> None:
    assert all(
        one.source.endswith("(from memory)")
        for one in default_parameters().coefficients.values()
        if one.known.how_known == "memory"
    )


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("storm = {", "strom = {", "open.chance.storm", "has no"),
        ("low = 0.40, high = 0.95, why = \"ten years", "low = 0.95, high = 0.40, why = \"ten years", "open.chance.storm", "order"),
        ("low = 0.40, high = 0.95, why = \"ten years", "low = 0.40, high = 1.95, why = \"ten years", "open.chance.storm", "share"),
        ("why = \"ten years bring", "wherefore = \"ten years bring", "open.chance.storm", "Field required"),
        ("why = \"ten years bring several storms that pass a rim able to overflow\"", "why = \" \"", "open.chance.storm", "why"),
        ("unit = \"L/s\"", "unit = \"cups\"", "open.flow.unit", "Input should be"),
        ("how_known = \"measured\"\nsource = ", "how_known = \"common-practice\"\nsource = ", "history.weight", "source"),
        ("[measure.freeboard.overflow]", "[measure.freeboard.rim]", "measure.freeboard.rim.all", "not known"),
        ("[season.needed]", "[season.wanted]", "season.needed.days", "has no"),
    ],
)  # fmt: skip
def test_a_wrong_file_is_refused_with_its_place(old: str, new: str, place: str, words: str) -> None:
    assert old in TEXT
    with pytest.raises(BadFile, match=re.escape(words)) as caught:
        read_parameters(TEXT.replace(old, new, 1), file="mine.toml")
    assert caught.value.file == "mine.toml"
    assert caught.value.place.startswith(place)


def test_a_coefficient_that_no_part_reads_is_refused() -> None:
    extra = (
        '[extra]\nabout = "x"\nunit = "m"\ndirection = "raises"\nhow_known = "common-practice"\n'
    )
    with pytest.raises(BadFile, match=r"no part of the model reads extra\.thing"):
        read_parameters(f'{TEXT}\n{extra}thing = {{ low = 1, high = 2, why = "no reason" }}\n')


def test_a_measure_left_out_is_refused() -> None:
    cut = re.sub(r"\[measure\.harvest\.all\].*?\n\n", "", TEXT, flags=re.DOTALL)
    with pytest.raises(BadFile, match="says nothing of harvest"):
        read_parameters(cut)


def test_text_that_is_no_toml_is_refused() -> None:
    with pytest.raises(BadFile, match=r"parameters\.toml"):
        read_parameters("[open")


MODES: tuple[SpreadMode, ...] = get_args(SpreadMode)
SEEDING: tuple[SpreadMode, ...] = ("seed",)
PAST = History(like_climate_regions=1)
SAMPLES = (
    Traits(growth_form="free-floating", height_cm=Range(5, 30), spread_modes=("seed",), zone_min=9, zone_max=11,
           frost_kill="yes", spread_rate="moderate", flow=("still",), light=("sun",), native_north_america="no", history=PAST),
    Traits(growth_form="emergent", height_cm=Range(5, 90), depth_cm=Range(0, 30), spread_modes=MODES, zone_min=6, zone_max=8,
           frost_kill="top-only", spread_rate="fast", flow=("slow",), light=("shade",), native_north_america="part", history=PAST),
    Traits(growth_form="submerged", depth_cm=Range(200, 300), spread_modes=MODES, zone_min=7, zone_max=9,
           frost_kill="no", flow=("still",), light=("sun", "shade"), native_north_america="yes", native_regions=("midwest",)),
    Traits(growth_form="wet-soil", spread_modes=SEEDING, perennating_organ="seed (annual)", zone_min=8, zone_max=9,
           frost_kill="yes", spread_rate="moderate", flow=("slow",), native_north_america="yes", native_regions=("hawaii",)),
    Traits(growth_form="floating-leaved", spread_modes=SEEDING, spread_rate="fast", frost_kill="top-only",
           native_north_america="no", flow=("moving",), light=("sun",)),
    Traits(growth_form="floating-leaved", depth_cm=Range(55, 90), spread_modes=MODES, zone_max=9, frost_kill="yes",
           native_north_america="no", light=("shade",), spread_rate="moderate", history=PAST),
)  # fmt: skip
SHUT = Place("shut", "pond", area_m2=3.0, outlet=False, overflow=False, flood_prone=False, bank_contact=False,
             visited=False, surplus=True)  # fmt: skip
LINED = replace(SHUT, bank_contact=True, lined=True, flood_prone=True)
KINDS: tuple[WaterKind, ...] = get_args(WaterKind)
WATERS = (
    *(Reached(replace(LAKE, kind=kind, flow="slow"), "downstream", 4.0, 30.0) for kind in KINDS),
    Reached(replace(LAKE, flow="moving"), "downstream", 5.0, 900.0, 1),
    *(Reached(replace(LAKE, kind=kind, flow="still"), "upstream", 9.0) for kind in KINDS),
)
PLACES = (
    (POND, Climate("6a", first_frost="08-25"), WATERS),
    (SHUT, Climate("6b", first_frost="08-25"), WATERS),
    (LINED, Climate("10a", first_frost="10-25"), WATERS),
    (Place("nothing said", "pond"), Climate("8a"), WATERS),
    (POND, Climate("6b"), ()),
)
EVERY_MEASURE = tuple(PlannedMeasure(kind, 4.0) for kind in get_args(MeasureKind))


def _rows(key: str, low: float, high: float) -> Array:
    """The likely, mildest and worst rows for every plant and place with one coefficient changed."""
    parameters = default_parameters().changed(key, low, high)
    planned = EVERY_MEASURE if key.startswith(("measure.", "propagule_size.")) else ()
    found = []
    for place, climate, waters in PLACES:
        there = setting(place, climate, waters, Jurisdiction("US-OH"), parameters)
        for number, traits in enumerate(SAMPLES):
            outcome = run(plant_named(f"Planta {number}", traits), there.for_plant(traits), planned)
            draws = outcome.setting.draws
            found.append(np.concatenate((outcome.overall()[: draws.count], outcome.overall()[-3:])))
    return np.stack(found)


_CONVENTIONS = ("classes.", "sampling.", "presence", "history.weight.", "history.range.")
DIRECTED = [
    key
    for key, way in default_parameters().directions.items()
    if way != "either" and not key.startswith(_CONVENTIONS)
]


@pytest.mark.parametrize("key", DIRECTED)
def test_more_of_a_coefficient_moves_every_draw_only_the_way_it_says(key: str) -> None:
    coefficient = default_parameters().coefficient(key)
    step = 0.1 * (coefficient.high - coefficient.low) + 0.02 * abs(coefficient.low) + 0.01
    roof = 1.0 if coefficient.unit == "share" else float("inf")
    sign = 1 if default_parameters().directions[key] == "raises" else -1
    shifted = min(roof, coefficient.low + step), min(roof, coefficient.high + step)
    if key.startswith("propagule_size."):  # past the opening of the screen
        shifted = max(5.0, shifted[0]), max(5.0, shifted[1])
    before, after = _rows(key, coefficient.low, coefficient.high), _rows(key, *shifted)
    moved = sign * (after - before)
    assert (moved >= -1e-12).all()
    assert (moved > 0).any(), "moves nothing in any case tried"
