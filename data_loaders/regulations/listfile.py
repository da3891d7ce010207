"""The file format of a list: one TOML file a version, readable beside the statute.

The words of the law's exceptions, areas and conditions are kept as they are; ``terms`` beside them
say what each does. An empty text is a thing that is not known, and stays one.
"""

import tomllib
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from service.errors import BadFile
from service.input.json_document import parse_toml
from service.regulation.law import Completeness, Duty, InstrumentKind, Permit, Scope, TermKind
from service.values.vocabulary import JURISDICTION_NAMES, Act, Rank

Read = Literal["read", "partly-read", "memory"]


def _blank_to_none(value: object) -> object:
    return None if value == "" else value


def valid_jurisdiction(value: str) -> str:
    """The code itself.

    Raises:
        ValueError: it is not one.
    """
    if value not in JURISDICTION_NAMES:
        raise ValueError(
            f"{value!r} is not a valid jurisdiction: US or an ISO 3166-2 code such as US-OH"
        )
    return value


def _address(value: str) -> str:
    if value and not value.startswith(("http://", "https://")):
        raise ValueError(f"{value!r} is not a valid web address")
    return value


Day = Annotated[date | None, BeforeValidator(_blank_to_none)]
Address = Annotated[str, BeforeValidator(_address)]
Text = Annotated[str, Field(max_length=4_000)]
ListIdText = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=80)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


class TermModel(_Strict):
    """What one phrase does; see ``service.regulation.law.TermKind`` for the kinds."""

    kind: TermKind
    words: Text
    acts: tuple[Act, ...] = ()
    taxa: tuple[str, ...] = ()
    cultivars: tuple[str, ...] = ()
    counties: tuple[str, ...] = ()
    on: Day = None

    @model_validator(mode="after")
    def _complete(self) -> "TermModel":
        needed = {
            "from-date": self.on,
            "sold-off-until": self.on,
            "only-counties": self.counties,
            "except-counties": self.counties,
        }
        if self.kind in needed and not needed[self.kind]:
            field = "counties" if self.kind.endswith("counties") else "on"
            raise ValueError(f"a term of kind {self.kind} needs {field}")
        return self


class ClassModel(_Strict):
    """A class and the acts it restricts.

    Attributes:
        acts_known: whether these are all. A file that does not say: yes where acts are given, no
            where none are.
        every_aquatic_plant: it reaches every aquatic plant, without entries.
        open_definition: it reaches plants by what they do, without a list.
    """

    name: Annotated[str, Field(min_length=1, max_length=200)]
    acts: tuple[Act, ...] = ()
    acts_known: bool = True
    duty: Duty = "unknown"
    permit: Permit = "unknown"
    permit_for: tuple[str, ...] = ()
    every_aquatic_plant: bool = False
    open_definition: bool = False
    summary: Text = ""
    how_known: Read
    terms: tuple[TermModel, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _acts_known_unless_none(cls, table: Any) -> Any:
        if isinstance(table, dict) and "acts_known" not in table:
            return {**table, "acts_known": bool(table.get("acts"))}
        return table


class EntryModel(_Strict):
    """A taxon as the list has it."""

    class_name: Annotated[str, Field(alias="class", min_length=1)]
    name_as_listed: Text = ""
    common_as_listed: Text = ""
    accepted_name: Annotated[str, Field(min_length=1, max_length=200)]
    rank: Rank
    scope: tuple[Scope, ...] = ()
    exceptions: Text = ""
    area: Text = ""
    condition: Text = ""
    how_known: Read
    read_url: Address = ""
    terms: tuple[TermModel, ...] = ()

    @property
    def words_without_terms(self) -> tuple[str, ...]:
        """Phrases of exceptions, area and condition that no term says anything of."""
        given = [term.words.casefold() for term in self.terms]
        return tuple(
            phrase
            for phrase in _phrases(self.exceptions, self.area, self.condition)
            if not any(_same_words(phrase.casefold(), words) for words in given)
        )

    @property
    def all_terms(self) -> tuple[TermModel, ...]:
        """The terms, and one without structure for each phrase that has none: what the words
        limit is then open, and they are shown.
        """
        return (
            *self.terms,
            *(TermModel(kind="unstructured", words=words) for words in self.words_without_terms),
        )


WHOLE_JURISDICTION = frozenset({"statewide", "nationwide"})
"""Areas that limit nothing."""


def _phrases(*cells: str) -> tuple[str, ...]:
    phrases = (phrase.strip() for cell in cells for phrase in cell.split(";"))
    return tuple(phrase for phrase in phrases if phrase and phrase not in WHOLE_JURISDICTION)


def _same_words(phrase: str, words: str) -> bool:
    return bool(words) and (phrase in words or words in phrase)


class ListFile(_Strict):
    """One version of one list.

    Attributes:
        read_sha256: of the document that was read by machine; empty where none was.
    """

    list_id: ListIdText
    jurisdiction: Annotated[str, BeforeValidator(valid_jurisdiction)]
    title: Annotated[str, Field(min_length=1, max_length=400)]
    authority: Text
    citation: Text
    kind: InstrumentKind
    url: Address = ""
    effective_from: Day = None
    amended: Day = None
    superseded_on: Day = None
    how_known: Read
    read_url: Address = ""
    read_copy_date: Text = ""
    read_sha256: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = ""
    completeness: Completeness
    missing: Text = ""
    note: Text = ""
    classes: tuple[ClassModel, ...] = ()
    entries: tuple[EntryModel, ...] = ()

    @model_validator(mode="after")
    def _joined(self) -> "ListFile":
        names = [rule.name for rule in self.classes]
        if len(set(names)) < len(names):
            raise ValueError("two classes have the same name")
        for index, entry in enumerate(self.entries):
            if entry.class_name not in names:
                raise ValueError(
                    f"entries[{index}].class: {entry.class_name!r} is none of the classes {names}"
                )
        if self.superseded_on and self.effective_from and self.superseded_on <= self.effective_from:
            raise ValueError("superseded_on is not after effective_from")
        return self


def read_list_file(path: Path) -> ListFile:
    """Read and check one list file.

    Raises:
        BadFile: names the file, the entry and the field.
    """
    try:
        content = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(path.name, f"it cannot be read as UTF-8 text: {error}") from error
    try:
        return ListFile.model_validate(parse_toml(content))
    except tomllib.TOMLDecodeError as error:
        raise BadFile(path.name, f"it is not valid TOML: {error}") from error
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise BadFile(
            path.name,
            first["msg"],
            place=_place(first["loc"], content),
            next_step=f"{error.error_count()} such in all.",
        ) from error


def _place(location: tuple[int | str, ...], content: str) -> str:
    """``entries[3] (Trapa natans), rank``."""
    if not location:
        return ""
    parts: list[str] = []
    for step in location:
        if isinstance(step, int) and parts:
            parts[-1] += f"[{step}]{_label(parts[-1], step, content)}"
        else:
            parts.append(str(step))
    return ", ".join(parts)


def _label(table: str, index: int, content: str) -> str:
    raw: Any = parse_toml(content).get(table)
    if not isinstance(raw, list) or index >= len(raw) or not isinstance(raw[index], dict):
        return ""
    name = (
        raw[index].get("name_as_listed")
        or raw[index].get("accepted_name")
        or raw[index].get("name")
    )
    return f" ({name})" if name else ""
