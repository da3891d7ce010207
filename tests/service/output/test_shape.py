"""A value is written by its own class; where the contract differs, by its shape."""

import json
from dataclasses import dataclass, fields
from typing import Annotated, Any

import pytest
from pydantic import PlainSerializer, TypeAdapter

from service.output.models import law  # noqa: F401  the shapes of the law's values
from service.output.models.shape import Shape, schema_class, usual, usual_form, written
from service.regulation.finding import Citation, Finding
from service.values.vocabulary import Jurisdiction


@dataclass(frozen=True)
class Depth:
    """How deep.

    Attributes:
        least, most: in metres; None where nobody has measured.
    """

    least: float | None
    most: float | None


@dataclass(frozen=True)
class Pool:
    """A pool.

    Further words for those who read the code.

    Attributes:
        name: as its owner calls it; two of a
            name are told apart by number.
        depth: of its water.
    """

    name: str
    number: int
    depth: Depth
    secret: str = "hidden"

    @property
    def known(self) -> bool:
        """Whether anybody has measured it."""
        return self.depth.most is not None


POOL = Pool("Mill", 2, Depth(0.123456, None))


def as_json(shape: Shape | type, value: object, asked: object = None) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(schema_class(shape))
    return json.loads(adapter.dump_json(value, context=asked))


def schema(shape: Shape) -> dict[str, Any]:
    return TypeAdapter(schema_class(shape)).json_schema(mode="serialization")


def test_without_a_shape_every_field_is_a_key_with_the_words_of_the_docstring() -> None:
    assert written(POOL) == (
        b'{"name":"Mill","number":2,"depth":{"least":0.123456,"most":null},"secret":"hidden"}'
    )
    found = TypeAdapter(schema_class(Pool)).json_schema(mode="serialization")
    assert (found["title"], found["description"]) == ("Pool", "A pool.")
    assert found["required"] == ["name", "number", "depth", "secret"]
    about = {key: part.get("description") for key, part in found["properties"].items()}
    assert about == {
        "name": "as its owner calls it; two of a name are told apart by number",
        "number": None,
        "depth": "of its water",
        "secret": None,
    }
    least = found["$defs"]["Depth"]["properties"]["least"]
    assert least["description"] == "in metres; null where nobody has measured"


def test_a_shape_says_in_which_ways_a_class_is_written_otherwise() -> None:
    def doubled(pool: Pool, asked: int) -> int:
        """Twice what was asked."""
        return 2 * asked

    shape = Shape(
        Pool,
        name="Water",
        order="number ... known doubled",
        without="secret",
        rename={"name": "called"},
        spread="depth",
        kinds={"number": float},
        also={"known": "known", "doubled": doubled},
        notes={"called": "what it is called"},
        optional={"called": ""},
    )
    assert list(as_json(shape, POOL, 21).items()) == [
        ("number", 2.0),
        ("called", "Mill"),
        ("least", 0.123456),
        ("most", None),
        ("known", False),
        ("doubled", 42),
    ]
    found = schema(shape)
    assert found["title"] == "Water"
    assert "called" not in found["required"]
    keys = found["properties"]
    assert (keys["called"]["default"], keys["called"]["description"]) == ("", "what it is called")
    assert keys["known"]["description"] == "Whether anybody has measured it"
    assert keys["doubled"] == {
        "description": "Twice what was asked",
        "title": "Doubled",
        "type": "integer",
    }


def test_numbers_are_rounded_to_the_places_said_and_null_stays_null() -> None:
    shape = Shape(Depth, places={"least": 2, "most": 2})
    assert as_json(shape, POOL.depth) == {"least": 0.12, "most": None}


def test_an_annotation_names_another_shape_than_the_usual_one() -> None:
    short = Shape(Depth, name="Short", without="most")
    shape = Shape(Pool, kinds={"depth": Annotated[Depth, short]}, without="secret")
    assert as_json(shape, POOL) == {"name": "Mill", "number": 2, "depth": {"least": 0.123456}}
    assert "Short" in schema(shape)["$defs"]


@pytest.mark.parametrize(
    "wrong",
    [
        Shape(Pool, rename={"nam": "called"}),
        Shape(Pool, order="name colour"),
        Shape(Pool, places={"width": 1}),
        Shape(Pool, without="depht"),
        Shape(Pool, optional={"colour": ""}),
        Shape(Pool, spread="shore"),
    ],
    ids=["rename", "order", "places", "without", "optional", "spread"],
)
def test_a_shape_that_names_what_its_class_has_not_is_an_error(wrong: Shape) -> None:
    with pytest.raises(ValueError, match="Pool has no"):
        wrong.parts()


def test_a_class_has_one_usual_shape_said_before_it_is_first_written() -> None:
    @dataclass(frozen=True)
    class Late:
        name: str

    written(Late("first"))
    with pytest.raises(ValueError, match="Late has its usual shape"):
        usual(Shape(Late, rename={"name": "called"}))


def test_a_class_that_is_no_dataclass_is_written_by_its_form() -> None:
    usual_form(complex, Annotated[Any, PlainSerializer(str, return_type=str)])

    @dataclass(frozen=True)
    class Wave:
        at: complex | None

    assert written(Wave(1j)) == b'{"at":"1j"}'
    assert written(Wave(None)) == b'{"at":null}'


def test_every_field_of_a_finding_is_sent_save_those_kept_back() -> None:
    finding = Finding(
        "prohibited", "sell", Jurisdiction("US-OH"), "complete", True, ("A reason.",), "An office"
    )
    assert set(json.loads(written(finding))) == {one.name for one in fields(Finding)} - {"gaps"}


def test_the_law_s_class_is_called_class() -> None:
    blank: dict[str, Any] = {one.name: "" for one in fields(Citation)}
    with_values = blank | {"acts": (), "effective_from": None, "class_name": "Noxious"}
    assert as_json(Citation, Citation(**with_values))["class"] == "Noxious"
