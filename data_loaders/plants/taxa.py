"""Where a name is in the taxonomy of the store: its id, its genus, the ranks it is
under.
"""

import re
import unicodedata

from service.values.vocabulary import PlantId, Rank

_INFRASPECIFIC_MARK = re.compile(r"\s(?:subsp|ssp|var|f)\.\s")


def plant_id_of(accepted_name: str) -> PlantId:
    """Slug of an accepted name: ``Typha × glauca`` and ``Typha x glauca`` both give
    ``typha-x-glauca``.
    """
    plain = (
        unicodedata.normalize("NFKD", accepted_name.replace("×", " x "))
        .encode("ascii", "ignore")
        .decode()
    )
    return PlantId(re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-"))


def genus_of(accepted_name: str) -> str:
    return accepted_name.replace("× ", "").split(" ", 1)[0].lstrip("×")


def tidy(accepted_name: str) -> str:
    """One spelling of the hybrid sign and of the blanks."""
    return re.sub(r"\s+", " ", re.sub(r"(?<=\s)x(?=\s)", "×", accepted_name)).strip()


def rank_of(accepted_name: str, listed_rank: Rank) -> Rank:
    """Rank of the taxon that a name denotes.

    A list may name a strain of a species; the taxon is then the species.
    """
    if " × " in accepted_name:
        return "hybrid"
    if _INFRASPECIFIC_MARK.search(accepted_name):
        return (
            "variety"
            if " var. " in accepted_name
            else "form"
            if " f. " in accepted_name
            else "subspecies"
        )
    if " " not in accepted_name:
        return "family" if listed_rank == "family" else "genus"
    return (
        "species"
        if listed_rank in ("genus", "strain", "subspecies", "variety", "form")
        else listed_rank
    )


def species_above(accepted_name: str) -> str | None:
    """The species of an infraspecific name."""
    found = _INFRASPECIFIC_MARK.search(accepted_name)
    return accepted_name[: found.start()] if found else None


def formula_parents(accepted_name: str) -> tuple[str, ...]:
    """Parents of a hybrid formula such as ``Myriophyllum spicatum × Myriophyllum sibiricum``;
    none for a name.
    """
    parts = [part.strip() for part in accepted_name.split(" × ")]
    return tuple(parts) if len(parts) > 1 and all(" " in part for part in parts) else ()
