"""Acts as a person names them."""

from collections.abc import Sequence

from service.errors import UnknownValue
from service.values.vocabulary import ACTS, Act


def read_act(text: str, pointer: str = "act") -> Act:
    """One act, in any case.

    Raises:
        UnknownValue: an act outside the vocabulary.
    """
    plain = text.strip().lower()
    for act in ACTS:
        if act == plain:
            return act
    raise UnknownValue("Act", text, ACTS, pointer=pointer)


def read_acts(
    values: Sequence[str], pointer: str = "act", *, default: Act | None = "sell"
) -> tuple[Act, ...]:
    """Several acts, each once, given one by one or separated by commas; ``default`` if none is.

    >>> read_acts(["sell, Import", "sell"]), read_acts([])
    (('sell', 'import'), ('sell',))

    Raises:
        UnknownValue: an act outside the vocabulary.
    """
    named = [part for value in values for part in value.split(",") if part.strip()]
    acts = tuple(dict.fromkeys(read_act(part, pointer) for part in named))
    return acts or ((default,) if default is not None else ())
