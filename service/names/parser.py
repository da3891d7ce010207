"""Label text -> named parts, by the botanical codes (ICN for names, ICNCP for cultivars and
Groups).

Three passes over the tokens: scientific names where the words look like them, vernacular names and
    trade words in what
is left, and how the names stand to each other. Without a lexicon the words are judged by their form
alone.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from service.names.botanical import NameReader
from service.names.lexicon import COMBINATIONS, CONNECTORS, Lexicon
from service.names.tokens import Token, mend, tokenize
from service.names.trade_words import Run, read_runs
from service.names.values import ParsedLabel, Part, PartKind, Relation, ScientificName

MAX_LABEL_LETTERS = 600
"""Longer labels are read to here; the remainder is kept as ``rest``."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A parsed label with the runs of words outside the scientific names, for the resolver."""

    parsed: ParsedLabel
    runs: tuple[Run, ...]


def parse_label(label: str, *, lexicon: Lexicon | None = None) -> ParsedLabel:
    """Take a label apart. Never raises; what cannot be named ends in ``rest``.

    Args:
        lexicon: genera, epithets and vernacular names of a catalogue, to tell ``Water lettuce``
            from ``Pistia stratiotes`` where the form of the words does not.
    """
    return read_label(label, lexicon).parsed


def read_label(label: str, lexicon: Lexicon | None) -> Reading:
    """As ``parse_label``, with the runs of words outside the scientific names."""
    text = mend(label)
    tokens = tokenize(text[:MAX_LABEL_LETTERS])
    if len(text) > MAX_LABEL_LETTERS:
        tokens.append(
            Token("fixed", text[MAX_LABEL_LETTERS:], MAX_LABEL_LETTERS, len(text), "rest")
        )
    found = NameReader(tokens, lexicon).read()
    runs = read_runs(tokens, lexicon)
    alone = [*_genera_alone(runs)]
    if alone:
        found = sorted([*found, *alone], key=lambda pair: pair[0])
    relation, cuts = _relation(tokens, found, runs)
    kinds = {token.part for token in tokens}
    parsed = ParsedLabel(
        label=label,
        text=text,
        parts=tuple(parts_of(text, tokens)),
        names=tuple([name for _, name in found]),
        common=tuple([phrase for run in runs for phrase in run.common]),
        cultivar=next(token.inner or token.text for token in tokens if token.part == "cultivar")
        if "cultivar" in kinds
        else None,
        group=_joined(text, tokens, "group") if "group" in kinds else None,
        trade_designation=_joined(text, tokens, "trade-designation")
        if "trade-designation" in kinds
        else None,
        relation=relation,
        segments=tuple(_segments(text, tokens, cuts)) if relation == "several" else (),
        repaired=text != label,
    )
    return Reading(parsed, tuple(runs))


def _genera_alone(runs: list[Run]) -> Iterator[tuple[int, ScientificName]]:
    for run in runs:
        for place, word in run.genera:
            yield place, ScientificName(word.capitalize())


def _joined(text: str, tokens: list[Token], part: str) -> str:
    chosen = [token for token in tokens if token.part == part]
    return text[chosen[0].start : chosen[-1].end]


def _relation(
    tokens: list[Token], found: list[tuple[int, ScientificName]], runs: list[Run]
) -> tuple[Relation, list[int]]:
    """How the names stand to each other, and for several plants the tokens to cut the line at."""
    named = [(place, True) for place, _ in found] + [
        (run.start, False) for run in runs if run.common
    ]
    if len(named) < 2:
        return "one", []
    named.sort()
    kinds: set[Relation] = set()
    cuts: list[int] = []
    combined = any(token.kind == "word" and token.word in COMBINATIONS for token in tokens)
    for (first, first_botanical), (second, second_botanical) in pairwise(named):
        link, at = _link(tokens, first, second, first_botanical and second_botanical)
        if combined and link == "same" and not (first_botanical or second_botanical):
            link, at = _listed(tokens, first, second)
        kinds.add(link)
        if link == "several":
            cuts.append(at)
    ordered: tuple[Relation, ...] = ("several", "formula", "graft")
    return next((kind for kind in ordered if kind in kinds), "same"), cuts


def _link(
    tokens: list[Token], first: int, second: int, both_botanical: bool
) -> tuple[Relation, int]:
    between = [
        place for place in range(first, second) if tokens[place].part not in ("author", "cultivar")
    ]
    opened = any(tokens[place].kind == "open" for place in between)
    if any(_connects(tokens[place]) == "same" for place in between):
        return "same", second
    grafts = [place for place in between if tokens[place].part == "graft-sign"]
    if grafts:
        return ("graft", second) if both_botanical else ("several", grafts[0])
    if both_botanical and tokens[second].part == "hybrid-sign" and second - first > 1:
        return "formula", second
    for place in between:
        if _connects(tokens[place]) == "several":
            return "several", place
    if both_botanical and not opened:
        cut = next((place for place in between if tokens[place].kind == "separator"), second)
        return "several", cut
    return "same", second


def _listed(tokens: list[Token], first: int, second: int) -> tuple[Relation, int]:
    """``Hyacinth/Lettuce combo``: where several plants are sold as one, a separator lists them."""
    for place in range(first, second):
        if tokens[place].kind == "separator" and tokens[place].text in "/,|":
            return "several", place
    return "same", second


def _connects(token: Token) -> str:
    if token.part == "connector":
        return CONNECTORS.get(token.text.rstrip(".").lower(), "several")
    if token.kind == "separator" and token.part is None:
        return {"=": "same", "&": "several", ";": "several", "\n": "several"}.get(token.text, "")
    return ""


def _segments(text: str, tokens: list[Token], cuts: list[int]) -> Iterator[str]:
    start = 0
    for cut in cuts:
        token = tokens[cut]
        yield text[start : token.start]
        start = (
            token.end
            if _connects(token) or token.part == "graft-sign" or token.kind == "separator"
            else token.start
        )
    yield text[start:]


_ALNUM = re.compile(r"[^\W_]")
_STAND_ALONE: frozenset[PartKind] = frozenset(
    {
        "cultivar",
        "genus",
        "species",
        "infraspecific",
        "rank",
        "hybrid-sign",
        "sku",
        "price",
    }
)


def parts_of(text: str, tokens: list[Token]) -> Iterator[Part]:
    """Neighbouring tokens of one kind become one part. Bare punctuation is not a part."""
    open_kind: PartKind | None = None
    start = end = 0
    for token in tokens:
        kind = token.part or ("rest" if token.kind == "sign" or _ALNUM.search(token.text) else None)
        if kind is None:
            continue
        if open_kind == kind and kind not in _STAND_ALONE and not _breaks(text[end : token.start]):
            end = token.end
            continue
        if open_kind:
            yield Part(open_kind, text[start:end], start, end)
        open_kind, start, end = kind, token.start, token.end
    if open_kind:
        yield Part(open_kind, text[start:end], start, end)


def _breaks(gap: str) -> bool:
    return gap != " " and any(not letter.isspace() and letter not in "-,.&'" for letter in gap)
