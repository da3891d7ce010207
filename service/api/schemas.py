"""The schemas of the contract: bodies that routes read for themselves, and values that many parts
share, each once and by a name of its own, from which a client names its class.
"""

import json
from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from service.input.geometry_schema import FEATURE_COLLECTION, GEOMETRIES, GEOMETRY
from service.values import vocabulary as words

REFERENCE = "#/components/schemas/"
Schema = dict[str, Any]

_BODIES: dict[str, type[BaseModel]] = {}


def body_schema(model: type[BaseModel]) -> Schema:
    """The schema of a body, for ``openapi_extra``; its parts go into the components."""
    _BODIES[model.__name__] = model
    return {"$ref": f"{REFERENCE}{model.__name__}"}


def body_components() -> dict[str, Schema]:
    """The schemas of the bodies that the loaded routes read, and of their parts."""
    _, schema = models_json_schema(
        [(model, "validation") for model in _BODIES.values()],
        by_alias=True,
        ref_template=f"{REFERENCE}{{model}}",
    )
    found: dict[str, Schema] = schema.get("$defs", {})
    return found


def _enum(values: tuple[str, ...]) -> Schema:
    return {"type": "string", "enum": list(values)}


SHARED: dict[str, Schema] = {
    "Jurisdiction": _enum(tuple(words.JURISDICTION_NAMES)),
    "Act": _enum(words.ACTS),
    "Outcome": _enum(words.OUTCOMES),
    "Coverage": _enum(get_args(words.Coverage)),
    "HowKnown": _enum(get_args(words.HowKnown)),
    "Match": _enum(get_args(words.Match)),
    "Rank": _enum(get_args(words.Rank)),
    "Flow": _enum(get_args(words.Flow)),
    "Light": _enum(get_args(words.Light)),
    "WaterKind": _enum(get_args(words.WaterKind)),
    "Geometry": GEOMETRY,
    **GEOMETRIES,
    "FeatureCollection": FEATURE_COLLECTION,
}
"""Values used in many places, by the name that they have in the contract."""


def share(document: dict[str, Any]) -> None:
    """Put a reference wherever a shared value is written out, and the value into the components."""
    names = {_form(schema): name for name, schema in SHARED.items()}
    used: set[str] = set()
    for node in _nodes(document):
        form = _form(node)
        name = names.get(form)
        if name is not None:
            used.add(name)
            for key in SHARED[name]:
                node.pop(key, None)
            node["$ref"] = f"{REFERENCE}{name}"
    schemas = document["components"]["schemas"]
    for name in sorted(used):
        schemas[name] = json.loads(json.dumps(SHARED[name]))
    if "Geometry" in used:
        schemas |= {name: json.loads(json.dumps(kind)) for name, kind in GEOMETRIES.items()}
        schemas["Geometry"] = {"oneOf": [{"$ref": f"{REFERENCE}{name}"} for name in GEOMETRIES]}
    document["components"]["schemas"] = dict(sorted(schemas.items()))


def name_choices(document: dict[str, Any]) -> None:
    """Give an enumeration that may be null, and is written out in a key of a schema, the name of
    schema and key: generators number what has no name.
    """
    schemas = document["components"]["schemas"]
    for owner, schema in list(schemas.items()):
        for key, node in schema.get("properties", {}).items():
            options = node.get("anyOf", ())
            values = [value for option in options for value in option.get("enum", ())]
            if values:
                name = owner + "".join(word.capitalize() for word in key.split("_"))
                schemas[name] = {"type": "string", "enum": list(dict.fromkeys(values))}
                others = [option for option in options if "enum" not in option]
                node["anyOf"] = [{"$ref": f"{REFERENCE}{name}"}, *others]


def complete_arrays(document: dict[str, Any]) -> None:
    """Give every tuple ``items`` beside its parts, which some tools want of each array."""
    for node in _nodes(document):
        if node.get("type") == "array" and "prefixItems" in node:
            node.setdefault("items", {})


_BESIDE = frozenset(
    ("description", "title", "default", "example", "examples", "deprecated", "readOnly")
)
_NO_SCHEMA = frozenset(("example", "examples", "default", "enum", "const"))


def _form(node: Schema) -> str:
    """A schema without what is said beside it, to compare by."""
    return json.dumps(
        {key: value for key, value in node.items() if key not in _BESIDE}, sort_keys=True
    )


def _nodes(value: Any) -> Iterator[Schema]:
    """Every object of a document that may be a schema, outermost first."""
    if isinstance(value, dict):
        yield value
        for key, part in list(value.items()):
            if key not in _NO_SCHEMA:
                yield from _nodes(part)
    elif isinstance(value, list):
        for part in value:
            yield from _nodes(part)
