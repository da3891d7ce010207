"""What stands outside the scientific names: vernacular names, colours, sizes, sales words."""

import re
from dataclasses import dataclass, field

from service.names.lexicon import (
    COLOURS,
    DESCRIPTIVE,
    ENGLISH_NAME_WORDS,
    GROUP_WORDS,
    RANK_MARKS,
    SALES_PHRASES,
    SALES_WORDS,
    Lexicon,
)
from service.names.normal import fold, vernacular_form
from service.names.tokens import Token

_MAX_PHRASE_WORDS = 8


@dataclass(slots=True)
class Run:
    """Neighbouring words outside the scientific names.

    Attributes:
        start: place of the first token.
        words: all words of the run, as the label spells them.
        common: the vernacular names read in it.
        known: whether those were found in the lexicon, not only guessed.
        genera: genus names that stand alone in it, with the places of their tokens.
        leftover: words that are neither name nor sales talk, colours among them.
        bracketed: written in brackets.
    """

    start: int
    words: tuple[str, ...]
    common: tuple[str, ...] = ()
    known: bool = False
    genera: tuple[tuple[int, str], ...] = ()
    leftover: tuple[str, ...] = ()
    bracketed: bool = False
    trimmed: tuple[str, ...] = field(default=())

    @property
    def text(self) -> str:
        return " ".join(self.words)


def read_runs(tokens: list[Token], lexicon: Lexicon | None) -> list[Run]:
    """Name every word that no scientific name took, run by run."""
    runs: list[Run] = []
    depth = 0
    place = 0
    while place < len(tokens):
        token = tokens[place]
        depth += {"open": 1, "close": -1}.get(token.kind, 0)
        if token.kind != "word" or token.part is not None:
            place += 1
            continue
        end = place
        while end < len(tokens) and tokens[end].kind == "word" and tokens[end].part is None:
            end += 1
        after_name = place > 0 and tokens[place - 1].part in (
            "genus",
            "species",
            "infraspecific",
            "author",
        )
        runs.append(
            _read_run(tokens, place, end, lexicon, after_name=after_name, bracketed=depth > 0)
        )
        place = end
    return runs


def _read_run(
    tokens: list[Token],
    start: int,
    end: int,
    lexicon: Lexicon | None,
    *,
    after_name: bool,
    bracketed: bool,
) -> Run:
    words = [
        token.text.rstrip(".") if len(token.text) > 1 else token.text for token in tokens[start:end]
    ]
    run = Run(start, tuple(words), bracketed=bracketed)
    for token in tokens[start:end]:
        if token.text.endswith(".") and token.word in RANK_MARKS:
            token.part = "rest"  # a rank mark that no epithet follows
    if lexicon is not None:
        _mark_known(tokens, start, end, words, lexicon, run)
    _mark_sales(tokens, start, end)
    _mark_designations(tokens, start, end)
    _mark_group(tokens, start, end)
    open_places = [place for place in range(start, end) if tokens[place].part is None]
    content = [place for place in open_places if not _is_plain(tokens[place].word)]
    run.trimmed = tuple(
        tokens[place].text.rstrip(".")
        for place in range(start, end)
        if tokens[place].part != "sales"
    )
    if open_places and not run.known:
        english = any(tokens[place].word in ENGLISH_NAME_WORDS for place in open_places)
        if content and (english or not after_name):
            first, last = open_places[0], open_places[-1]
            for place in open_places:
                tokens[place].part = "common"
            for place in range(first, last + 1):
                if tokens[place].part == "sales" and _between(tokens, place):
                    tokens[place].part = "common"
            run.common = (
                " ".join(tokens[place].text.rstrip(".") for place in range(first, last + 1)),
            )
            return run
    for place in open_places:
        word = tokens[place].word
        tokens[place].part = "colour" if word in COLOURS else "rest"
    run.leftover = tuple(tokens[place].text for place in open_places)
    return run


def _between(tokens: list[Token], place: int) -> bool:
    return tokens[place - 1].part == "common" and tokens[place + 1].part == "common"


def _is_plain(word: str) -> bool:
    return word in COLOURS or (word in DESCRIPTIVE and word not in ENGLISH_NAME_WORDS)


def _mark_known(
    tokens: list[Token], start: int, end: int, words: list[str], lexicon: Lexicon, run: Run
) -> None:
    """The longest phrases that the lexicon knows, from the left; then genus names that stand
    alone.
    """
    place = start
    common: list[str] = []
    genera: list[tuple[int, str]] = []
    count = end - start
    while place < end:
        stop = _known_phrase(words, place - start, count, lexicon)
        if stop:
            phrase = " ".join(words[place - start : stop])
            single_genus = stop - (place - start) == 1 and lexicon.is_genus(fold(phrase))
            for covered in range(place, start + stop):
                tokens[covered].part = "genus" if single_genus else "common"
            common.append(phrase)
            if single_genus:
                genera.append((place, phrase))
            place = start + stop
            continue
        word = words[place - start]
        if lexicon.is_genus(fold(word)):
            tokens[place].part = "genus"
            genera.append((place, word))
        place += 1
    run.common, run.known, run.genera = tuple(common), bool(common or genera), tuple(genera)


def _known_phrase(words: list[str], first: int, count: int, lexicon: Lexicon) -> int:
    for stop in range(min(count, first + _MAX_PHRASE_WORDS), first, -1):
        form = vernacular_form(" ".join(words[first:stop]))
        if form and lexicon.is_common(form):
            return stop
    return 0


def _mark_sales(tokens: list[Token], start: int, end: int) -> None:
    place = start
    while place < end:
        if tokens[place].part is not None:
            place += 1
            continue
        word = tokens[place].word
        follower = tokens[place + 1].word if place + 1 < end else ""
        if (word, follower) in SALES_PHRASES and tokens[place + 1].part is None:
            tokens[place].part = tokens[place + 1].part = "sales"
            place += 2
            continue
        if word in SALES_WORDS:
            tokens[place].part = "sales"
        place += 1


def _mark_group(tokens: list[Token], start: int, end: int) -> None:
    """``(Mishmiense Group)``: capitalised words before the word Group."""
    for place in range(start + 1, end):
        if tokens[place].word in GROUP_WORDS and tokens[place].part in (
            None,
            "sales",
        ):
            first = place
            while (
                first > start
                and tokens[first - 1].part is None
                and tokens[first - 1].text[:1].isupper()
            ):
                first -= 1
            for token in tokens[first : place + 1] if first < place else ():
                token.part = "group"


_REGISTERED = re.compile(r"[™®]")


def _mark_designations(tokens: list[Token], start: int, end: int) -> None:
    """Capitalised words before a trade mark sign are a trade designation."""
    if end < len(tokens) and _REGISTERED.match(tokens[end].text):
        place = end - 1
        all_capitals = tokens[place].text.isupper()
        while (
            place >= start
            and tokens[place].text.isupper() is all_capitals
            and tokens[place].part in (None, "sales")
            and tokens[place].text[:1].isupper()
        ):
            tokens[place].part = "trade-designation"
            place -= 1
