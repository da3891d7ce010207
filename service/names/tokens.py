"""Cutting a label into tokens: sizes, counts, codes, prices, quoted epithets, words, signs."""

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final, Literal

from service.names.normal import fold
from service.names.values import PartKind

TokenKind = Literal[
    "word", "quoted", "cv", "sign", "number", "open", "close", "separator", "mark", "other", "fixed"
]

_NUMBER = r"(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?\s?[½¼¾⅓⅔]?|[½¼¾⅓⅔])"
_UNIT = (
    r"(?:inch(?:es)?|ins?|[\"”″]|''|cm|mm|feet|foot|ft|gal(?:lon)?s?|qts?|quarts?|pts?|pints?|lit(?:er|re)s?|ltr|lt"
    r"|grams?|gr|kg|oz|ounces?|lbs?|pounds?|(?-i:[glm]|(?<=\d)[GL]))"
)
_PACKAGE = (
    r"(?:packages?|packs?|pkgs?|pkts?|pks?|bundles?|bunch(?:es)?|trays?|flats?|cases?|box(?:es)?"
    r"|bags?|sets?|lots?)"
)
_PIECE = (
    r"(?:count|ct|cnt|pcs?|pieces?|plants?|plugs?|bulbs?|tubers?|stems?|rhizomes?|seedlings?"
    r"|cuttings?|cells?|ea|each)"
)

_PLAIN = (
    rf"(?!(?i:{_PACKAGE}|sku|upc|ean|item|art|ref|code|part|stock|qty|quantity|cvs?|x+[ls])\b)"
    r"(?:[A-Za-z][a-z]+|[A-Z]{3,})(?=\s|\Z)"
)
"""A word that no other kind of token can begin with; most are."""
# Python before 3.11.5 matches too much where the outer repetition is possessive.
_PLAIN_WORDS = re.compile(rf"(?:\ *+{_PLAIN})*")

_TOKEN = re.compile(
    rf"""
    \ *+(?:(?P<plain>(?-i:{_PLAIN}))
   |(?P<price>[$€£]\s?\d[\d,]*(?:\.\d+)?(?:\s?(?:/\s?)?(?:each|ea)\b\.?)?
       |\d+(?:[.,]\d\d)?\s?(?:usd\b|dollars?\b|€))
   |(?P<size>(?<!\w){_NUMBER}\s?-?\s?{_UNIT}?\s?(?:x|×|-|–|to|by)\s?{_NUMBER}\s?-?\s?{_UNIT}(?![^\W_])\.?
       |(?<!\w){_NUMBER}\s?-?\s?{_UNIT}(?![^\W_])\.?
       |\#\s?\d{{1,2}}\b
       |(?-i:\b(?:P|C|SP|T)\s?\d{{1,2}}(?:[.,]\d)?\b)
       |(?-i:\b(?:X{{1,3}}[LS])\b(?!\.)))
   |(?P<sku>\b(?:sku|upc|ean|item|art|ref|code|part|stock\s?no)\b\.?\s?(?:no\b\.?|nr\b\.?|number\b)?\s?
       (?:[:\#]\s?\#?[a-z]{{0,5}}-?\d[\w-]*|[a-z]{{0,5}}-?\d{{2,}}[\w-]*)
       |\#\s?\d{{3,}}\b
       |(?-i:\b[A-Z]{{2,6}}-?\d{{2,}}[A-Z0-9-]*\b|\b[A-Z]{{1,3}}-\d[A-Z0-9-]*\b|\b[A-Z]\d{{3,}}[A-Z0-9-]*\b)
       |\b\d{{2,}}-[a-z0-9-]*\d[a-z0-9-]*\b
       |\b\d{{5,}}\b)
   |(?P<count>\b(?:qty|quantity)\b\.?\s?[:=]?\s?\d+
       |\b{_PACKAGE}\b\.?\s?(?:of\b|:|=|/)\s?\d+
       |\b(?:pack|pkg|pk|pkt)\b\.?\s?\d+(?![\d.,]*\s?-?\s?{_UNIT}(?![^\W_]))
       |(?<!\w)\d+\s?[-/]?\s?(?:per\s|/\s?)?(?:{_PACKAGE}|{_PIECE})\b\.?
       |(?<!\w)[x×]\s?\d{{1,5}}(?![\w.])
       |(?<![\w.])\d{{1,5}}\s?[x×](?!\w)
       |\(\s?\d{{1,5}}\s?\))
   |(?P<cv>\bcvs?\b\.?\s+['‘’"“”]?(?P<cv_name>[^\W\d_][\w'’-]*(?:\s(?-i:[A-Z])[\w'’-]*)*)['‘’"“”]?)
   |(?P<quoted>(?:(?<![^\W_])|(?=.(?-i:[A-Z][a-z])))['‘’‛`´](?=[^\s'‘’‛`´])(?P<single>[^"“”\n'‘’]{{1,40}}s['’]\s[^"“”\n'‘’]{{1,40}}|[^"“”\n]{{1,60}}?)['‘’‛`´](?![^\W_])
       |["“”„″«](?=\S)(?P<double>[^"“”„″»\n]{{1,60}}?)["“”″»](?![^\W_])
       |''(?=[^\s'])(?P<doubled>[^'"\n]{{1,60}}?)'')
   |(?P<mark>(?<![^\W_])s\.\s?(?:lat|str|l|s)\.(?![^\W_]))
   |(?P<sign>[×✕✖⨯�])
   |(?P<word>(?:[^\W\d_](?:['’ʼ-](?=[^\W\d_])(?!(?-i:[A-Z][a-z])[^'’]*['’](?![^\W_])))?\u0301?|(?<=[^\W\d_])\.-(?=[^\W\d_]))+(?:(?<=s)['’](?=\s[^\W\d_])|\.)?)
   |(?P<number>\d+(?:[.,]\d+)*)
   |(?P<open>[(\[{{])
   |(?P<close>[)\]}}])
   |(?P<separator>[,;:/|\\=&+–—•·\n\t]|(?<!\w)-|-(?!\w))
   |(?P<other>\S))
    """,
    re.VERBOSE | re.IGNORECASE,
)
"""A token with the blanks before it."""

_FIXED: Final[dict[str, PartKind]] = {
    "price": "price",
    "sku": "sku",
    "size": "size",
    "count": "count",
}
_KINDS: Final[frozenset[str]] = frozenset(
    {"word", "sign", "number", "open", "close", "separator", "mark", "other"}
)


@dataclass(slots=True)
class Token:
    """A piece of the text.

    ``part`` is set once it is known what the piece is; ``inner`` is a quoted epithet; ``word`` is
    the text folded, without its full stop.
    """

    kind: TokenKind
    text: str
    start: int
    end: int
    part: PartKind | None = None
    inner: str = ""
    word: str = field(init=False)

    def __post_init__(self) -> None:
        self.word = fold(self.text).rstrip(".")


def mend(label: str) -> str:
    """The label with broken encoding mended: ``Typha Ã— glauca`` is ``Typha × glauca``. ASCII
    stays as it is.
    """
    if label.isascii() and "&" not in label:
        return label
    import ftfy  # its tables take longer to load than most labels to read

    return ftfy.fix_text(
        label, uncurl_quotes=False, fix_latin_ligatures=False, fix_character_width=True
    )


def tokenize(text: str) -> list[Token]:
    """Cut a text into tokens; between them stands nothing but white space."""
    words = _PLAIN_WORDS.match(text)
    words_end = words.end() if words else 0
    tokens: list[Token] = []
    start = 0
    for word in text[:words_end].split(" "):
        if word:
            tokens.append(Token("word", word, start, start + len(word)))
        start += len(word) + 1
    tail = text[words_end:]
    cut = _cut if len(tail) > _SHORT_TAIL else _cut_before
    tokens += [
        Token(kind, piece, words_end + first, words_end + last, part, inner)
        for kind, piece, first, last, part, inner in cut(tail)
    ]
    return tokens


_Cut = tuple[TokenKind, str, int, int, PartKind | None, str]
_SHORT_TAIL = 24


@lru_cache(maxsize=4_096)
def _cut_before(text: str) -> list[_Cut]:
    """What stands behind the plain words of a label comes again and again: ``4in``, ``1 gal``."""
    return _cut(text)


def _cut(text: str) -> list[_Cut]:
    cuts: list[_Cut] = []
    for found in _TOKEN.finditer(text):
        kind = found.lastgroup or "other"
        start, end = found.span(kind)
        piece = text[start:end]
        if kind == "plain":
            cuts.append(("word", piece, start, end, None, ""))
        elif kind in _FIXED:
            cuts.append(("fixed", piece, start, end, _FIXED[kind], ""))
        elif kind in _KINDS:
            cuts.append((kind, piece, start, end, None, ""))  # type: ignore[arg-type]
        elif found["cv"]:
            cuts.append(("cv", piece, start, end, "cultivar", found["cv_name"]))
        else:
            inner = found["single"] or found["double"] or found["doubled"] or ""
            cuts.append(("quoted", piece, start, end, "cultivar", inner.strip()))
    return cuts
