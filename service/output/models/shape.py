"""How a value of the domain is written as JSON, and its schema: from the value's own class, so that
nothing is written down twice.

A dataclass needs nothing here: every field is a key, under its own name, described by the
``Attributes:`` of its docstring. A class that differs from that in the contract says in which way
with a ``Shape``, once, and is then written so wherever another value has it (``usual``).

>>> from dataclasses import dataclass
>>> @dataclass(frozen=True)
... class Water:
...     '''A water.
...
...     Attributes:
...         depth_cm: at its deepest; None where it is not known.
...     '''
...     depth_cm: float | None
>>> written(Water(40.5)).decode()
'{"depth_cm":40.5}'
>>> schema_class(Water).__name__
'Water'
"""

import inspect
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import cache, reduce
from operator import attrgetter, or_
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, SerializationInfo, TypeAdapter
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

Getter = Callable[..., Any]

_NO_DEFAULT: Any = object()


@dataclass(frozen=True, slots=True)
class _Key:
    """One key of what is written.

    Attributes:
        kind: its type, with dataclasses still as they are.
        get: reads it from the value; with the asking as well where ``asked`` is set.
        default: what the contract says for a key that may be left out; it never is here.
    """

    name: str
    kind: Any
    get: Getter
    about: str = ""
    asked: bool = False
    default: Any = _NO_DEFAULT


@dataclass(frozen=True, eq=False)
class Shape:
    """In which ways a class is written otherwise than field by field.

    Attributes:
        name: of its schema; that of the class where none is said.
        about: description of its schema; the docstring of the class where none is said.
        order: keys that stand first, with spaces between; the others follow, or stand at ``...``.
        without: fields that are not written.
        rename: key by field.
        spread: fields whose own keys are written in place of them.
        places: decimal places by field.
        kinds: types by field, where the contract promises less than the domain does, or a value
            has another shape here than its usual one (``Annotated[Water, SHORT_WATER]``).
        also: by key, a dotted path to a field or property further in, or a function of the value,
            or of the value and of what is asked beside it, whose return type and docstring are
            those of the key.
        notes: descriptions by key, where the docstring's is not meant for this.
        optional: defaults of keys that the contract lets be left out; here they never are.
    """

    of: type
    name: str = ""
    about: str = ""
    order: str = ""
    without: str = ""
    rename: Mapping[str, str] = field(default_factory=dict)
    spread: str = ""
    places: Mapping[str, int] = field(default_factory=dict)
    kinds: Mapping[str, Any] = field(default_factory=dict)
    also: Mapping[str, str | Getter] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    optional: Mapping[str, Any] = field(default_factory=dict)

    def parts(self) -> list[_Key]:
        """What is written, in order.

        Raises:
            ValueError: the shape names what its class has not.
        """
        found = {key.name: self._noted(key) for key in (*self._of_fields(), *self._of_also())}
        self._refuse(
            {*self.order.replace("...", "").split(), *self.notes, *self.optional} - set(found)
        )
        first, _, last = self.order.partition("...")
        begin = [found.pop(name) for name in first.split()]
        end = [found.pop(name) for name in last.split()]
        return [*begin, *found.values(), *end]

    def _of_fields(self) -> Iterator[_Key]:
        hints, about = get_type_hints(self.of, include_extras=True), _attributes_of(self.of)
        without, spread = {*self.without.split(), *self.also}, self.spread.split()
        own = {one.name for one in fields(self.of)}
        self._refuse({*spread, *self.rename, *self.places, *self.kinds} - own)
        for one in fields(self.of):
            if one.name in spread:
                inner_keys = _shape_of(hints[one.name]).parts()
                own |= {inner.name for inner in inner_keys}
                for inner in inner_keys:
                    if inner.name not in without:
                        yield _within(one.name, inner)
            elif one.name not in without:
                get: Getter = _Field(one.name)
                if one.name in self.places:
                    get = _rounded(get, self.places[one.name])
                yield _Key(
                    self.rename.get(one.name, one.name),
                    self.kinds.get(one.name, hints[one.name]),
                    get,
                    about.get(one.name, ""),
                    default=one.metadata.get("default", _NO_DEFAULT),
                )
        self._refuse(set(self.without.split()) - own)

    def _of_also(self) -> Iterator[_Key]:
        for name, way in self.also.items():
            if isinstance(way, str):
                yield _Key(name, *_along(self.of, way.split(".")))
                continue
            kind = get_type_hints(way, include_extras=True)["return"]
            asked = len(inspect.signature(way).parameters) > 1
            yield _Key(name, kind, way, _plain(_begin(way)), asked)

    def _refuse(self, unknown: set[str]) -> None:
        if unknown:
            raise ValueError(f"{self.of.__qualname__} has no {', '.join(sorted(unknown))}")

    def _noted(self, key: _Key) -> _Key:
        return replace(
            key,
            about=self.notes.get(key.name, key.about),
            default=self.optional.get(key.name, key.default),
        )


class _Field:
    """Reads a field or property of a value, at the end of a dotted path."""

    def __init__(self, path: str) -> None:
        self.path = path
        self._get = attrgetter(path)

    def __call__(self, value: Any) -> Any:
        return self._get(value)


_SHAPES: dict[type, Shape] = {}


def usual(*shapes: Shape) -> None:
    """Write these classes so wherever another value has them.

    Raises:
        ValueError: a class has its usual shape, or was written without one.
    """
    for shape in shapes:
        if shape.of in _SHAPES:
            raise ValueError(f"{shape.of.__qualname__} has its usual shape")
        _SHAPES[shape.of] = shape


_ELSEWHERE: dict[type, Any] = {}


def usual_form(of: type, form: Any) -> None:
    """Write values of a class that is no dataclass as a type with a serializer says."""
    _ELSEWHERE[of] = form


def may_be_left_out(default: Any) -> Any:
    """A field that the contract lets be left out, with its default; it never is here."""
    return field(default=default, metadata={"default": default})


def written(value: object, asked: object = None, indent: int | None = None) -> bytes:
    """A value as JSON.

    Args:
        asked: handed to the functions of ``also`` that want it.
    """
    of: Any = type(value)
    return _adapter(of).dump_json(value, context=asked, indent=indent)


@cache
def schema_class(of: type | Shape) -> type:
    """The class that stands for a value class, or for a shape of one, in annotations that pydantic
    reads. It has no values of its own.
    """
    found = of if isinstance(of, Shape) else _shape_of(of)
    name = found.name or found.of.__name__
    return type(name, (_Written,), {"shape": found, "__module__": found.of.__module__})


class _Written:
    """What pydantic asks a class for its schema and for its way into JSON."""

    shape: Shape

    @classmethod
    def __get_pydantic_core_schema__(cls, _: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        keys = cls.shape.parts()
        typed = {}
        for key in keys:
            kind = handler.generate_schema(_annotation(key.kind))
            if key.default is not _NO_DEFAULT:
                kind = core_schema.with_default_schema(kind, default=key.default)
            required = key.default is _NO_DEFAULT
            typed[key.name] = core_schema.typed_dict_field(kind, required=required)
        return core_schema.is_instance_schema(
            cls.shape.of,
            ref=f"{cls.__module__}.{cls.__qualname__}:{id(cls)}",
            serialization=core_schema.plain_serializer_function_ser_schema(
                _writer(keys),
                info_arg=any(key.asked for key in keys),
                return_schema=core_schema.typed_dict_schema(typed),
            ),
        )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        found = handler(schema)
        described = handler.resolve_ref_schema(found)
        described["title"] = cls.__name__
        about = cls.shape.about or _begin(cls.shape.of)
        if about:
            described["description"] = about
        for key in cls.shape.parts():
            if key.about:
                described["properties"][key.name]["description"] = key.about
        return found


def _shape_of(kind: Any) -> Shape:
    """The shape that an annotation names, else the usual one of its class."""
    if get_origin(kind) is Annotated:
        return next(part for part in get_args(kind) if isinstance(part, Shape))
    return _SHAPES.setdefault(kind, Shape(kind))


@cache
def _adapter(of: type | Shape) -> TypeAdapter[Any]:
    return TypeAdapter(schema_class(of))


def _writer(keys: list[_Key]) -> Getter:
    """From a value to its keys and values, which pydantic writes further."""
    names = [key.name for key in keys]
    if not any(key.asked for key in keys):
        paths = [key.get.path for key in keys if isinstance(key.get, _Field)]
        if len(paths) == len(keys) > 1:
            # All of them in one step: most of the time of writing short values is spent here.
            read = attrgetter(*paths)
            return lambda value: dict(zip(names, read(value), strict=True))
        getters = [key.get for key in keys]
        return lambda value: dict(zip(names, [get(value) for get in getters], strict=True))

    def with_asked(value: Any, info: SerializationInfo) -> dict[str, Any]:
        return {
            key.name: key.get(value, info.context) if key.asked else key.get(value) for key in keys
        }

    return with_asked


def _along(of: type, path: list[str]) -> tuple[Any, Getter, str]:
    """Type, getter and description of what a path leads to."""
    for name in path[:-1]:
        of = get_type_hints(of)[name]
    last = getattr(of, path[-1], None)
    if isinstance(last, property):
        kind = get_type_hints(last.fget, include_extras=True)["return"]
        return kind, _Field(".".join(path)), _plain(_begin(last))
    kind = get_type_hints(of, include_extras=True)[path[-1]]
    return kind, _Field(".".join(path)), _attributes_of(of).get(path[-1], "")


def _within(name: str, key: _Key) -> _Key:
    """A key of a field's value, read from the value that has the field."""
    outer, inner = attrgetter(name), key.get
    if isinstance(inner, _Field):
        get: Getter = _Field(f"{name}.{inner.path}")
    elif key.asked:
        get = lambda value, asked: inner(outer(value), asked)  # noqa: E731
    else:
        get = lambda value: inner(outer(value))  # noqa: E731
    return replace(key, get=get, default=_NO_DEFAULT)


def _rounded(get: Getter, places: int) -> Getter:
    def rounded(value: Any) -> float | None:
        number = get(value)
        return None if number is None else round(number, places)

    return rounded


def _annotation(kind: Any) -> Any:
    """A type with the classes that stand for its dataclasses in place of them."""
    if isinstance(kind, type) and is_dataclass(kind):
        return schema_class(kind)
    if isinstance(kind, type) and kind in _ELSEWHERE:
        return _ELSEWHERE[kind]
    origin, parts = get_origin(kind), get_args(kind)
    if origin is Annotated:
        own = next((part for part in parts[1:] if isinstance(part, Shape)), None)
        inner = schema_class(own) if own else _annotation(parts[0])
        rest = [part for part in parts[1:] if not isinstance(part, Shape)]
        return Annotated[(inner, *rest)] if rest else inner
    if origin is None or origin is Literal:
        return kind
    inner = tuple(part if part is Ellipsis else _annotation(part) for part in parts)
    return reduce(or_, inner) if origin in (Union, UnionType) else origin[inner]


def _text(of: Any) -> str:
    """A docstring as the contract has it, with JSON's words."""
    text = inspect.cleandoc(of.__doc__ or "")
    for python, json in (("None", "null"), ("True", "true"), ("False", "false")):
        text = re.sub(rf"\b{python}\b", json, text)
    return text


def _begin(of: Any) -> str:
    """The first paragraph of a docstring, on one line."""
    return " ".join(_text(of).split("\n\n")[0].split())


def _attributes_of(of: type) -> dict[str, str]:
    """What the docstrings of a dataclass, and of those that it is made from, say of its fields.

    An entry is ``name: text`` or ``name, other: text``; its further lines are set in.
    """
    found: dict[str, str] = {}
    for base in reversed(of.__mro__):
        _, _, block = _text(base).partition("\n\nAttributes:\n")
        for entry in re.split(r"\n    (?=\S)", "\n" + block.rstrip())[1:]:
            names, _, text = " ".join(entry.split()).partition(": ")
            found |= dict.fromkeys(names.split(", "), _plain(text))
    return found


def _plain(text: str) -> str:
    """One sentence without its stop."""
    return text[:-1] if text.endswith(".") and ". " not in text else text
