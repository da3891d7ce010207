"""Reading structure out of the words of exceptions, areas and conditions, by the rules of
``phrases.toml``.
"""

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any

from data_loaders.regulations.listfile import WHOLE_JURISDICTION, ClassModel, TermModel
from service.regulation.law import TermKind
from service.values.vocabulary import Act

_QUOTED = re.compile(r"'([^']+)'")
_COUNTY_LIST = re.compile(r"[A-Z][A-Za-z.' -]+(?: County)?(?:;[A-Z][A-Za-z.' -]+(?: County)?)*")

_REGION_WITHOUT = re.compile(
    r"region \d except (?P<counties>[A-Z][A-Za-z ,]*?) (?:County|counties)"
    r"(?: and, in (?P<county>[A-Z][A-Za-z ]*) County, (?P<waters>.+))?"
)
_COUNTY = r"[A-Z][A-Za-z]*(?:[ &]+[A-Z][A-Za-z]*)*"
_NAMED_COUNTIES = re.compile(rf"(?P<counties>{_COUNTY}(?:(?:, | and ){_COUNTY})+) counties")
_COUNTIES_OF = re.compile(r"(?P<counties>[A-Z][A-Za-z ,]*?) (?:County|counties)(?: of region \d)?")


@dataclass(frozen=True)
class _Rule:
    pattern: re.Pattern[str]
    kind: TermKind
    acts: tuple[Act, ...]
    day_before: bool
    also: TermKind | None


@cache
def _rules() -> tuple[_Rule, ...]:
    return tuple(
        _Rule(
            re.compile(rule["pattern"]),
            rule["kind"],
            tuple(rule.get("acts", ())),
            rule.get("day_before", False),
            rule.get("also"),
        )
        for rule in _table()["rule"]
    )


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("phrases.toml").read_text(encoding="utf-8"))


def terms_of(exceptions: str, area: str, condition: str) -> tuple[TermModel, ...]:
    """Terms for the words of an entry, in the order of the words."""
    terms = [
        term for phrase in (*_phrases(exceptions), *_phrases(condition)) for term in _terms(phrase)
    ]
    return (*terms, *_area_terms(area))


def structured_class(list_id: str, plain: ClassModel) -> ClassModel:
    """A class with what its text says beyond the tables."""
    for rule in _table()["class"]:
        if list_id in rule["lists"] and plain.name in rule.get("classes", [plain.name]):
            extra = {
                key: rule[key]
                for key in ("permit_for", "every_aquatic_plant", "open_definition", "terms")
                if key in rule
            }
            return ClassModel.model_validate({**plain.model_dump(), **extra})
    return plain


def _phrases(words: str) -> Iterable[str]:
    return (phrase.strip() for phrase in words.split(";") if phrase.strip())


def _terms(phrase: str) -> Iterable[TermModel]:
    for rule in _rules():
        found = rule.pattern.fullmatch(phrase)
        if found:
            yield _filled(rule, phrase, found.groupdict())
            if rule.also:
                yield TermModel(kind=rule.also, words=phrase, acts=rule.acts)
            return
    yield TermModel(kind="unstructured", words=phrase)


def _filled(rule: _Rule, phrase: str, groups: dict[str, str | None]) -> TermModel:
    day = next((groups[name] for name in ("on", "on2", "on3") if groups.get(name)), None)
    return TermModel(
        kind=rule.kind,
        words=phrase,
        acts=rule.acts,
        taxa=tuple(_taxa(groups.get("taxa") or groups.get("species") or "")),
        cultivars=tuple(_cultivars(groups.get("cultivars") or "")),
        counties=tuple(
            name.strip() for name in (groups.get("counties") or "").split(",") if name.strip()
        ),
        on=date.fromisoformat(day) - timedelta(days=rule.day_before) if day else None,
    )


def _taxa(words: str) -> Iterable[str]:
    """Taxa of an enumeration, a genus cut to its letter spelled out from the one before."""
    genus = ""
    for name in re.split(r", | and ", words):
        first, _, rest = name.strip().partition(" ")
        if not rest:
            continue
        genus = genus if re.fullmatch(r"[A-Z]\.", first) else first
        yield f"{genus} {rest}"


def _cultivars(words: str) -> Iterable[str]:
    quoted = _QUOTED.findall(words)
    return (word.casefold() for word in (quoted or [words]) if word)


def _area_terms(area: str) -> Iterable[TermModel]:
    if not area.strip() or area.strip() in WHOLE_JURISDICTION:
        return ()
    named = _NAMED_COUNTIES.fullmatch(area)
    if named:
        counties = tuple(_counties(named["counties"]))
        return (TermModel(kind="only-counties", words=area, counties=counties),)
    if _COUNTY_LIST.fullmatch(area):
        return (
            TermModel(
                kind="only-counties",
                words=area,
                counties=tuple(county.strip() for county in area.split(";")),
            ),
        )
    return tuple(_region_terms(area))


def _region_terms(area: str) -> Iterable[TermModel]:
    """Terms for regions by number: what the words say of counties by name is kept as such, the
    regions themselves stay words.
    """
    inside: list[str] = []
    for part in area.split(";"):
        left_out = _REGION_WITHOUT.fullmatch(part)
        counties = _COUNTIES_OF.fullmatch(part)
        if left_out:
            yield TermModel(
                kind="except-counties", words=part, counties=tuple(_counties(left_out["counties"]))
            )
            if left_out["waters"]:
                yield TermModel(kind="except-waters", words=part, counties=(left_out["county"],))
        elif counties:
            inside += _counties(counties["counties"])
    yield TermModel(kind="only-regions", words=area, counties=tuple(inside))


def _counties(words: str) -> Iterable[str]:
    return (name.strip().replace("&", "and") for name in re.split(r", | and ", words))
