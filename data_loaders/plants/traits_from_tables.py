"""Trait tables gathered elsewhere, into the project's own compact form.

    python -m data_loaders.plants.traits_from_tables FOLDER

FOLDER holds ``naturalised_elsewhere.csv``, ``traits_measured.csv``, ``life_history.csv`` and
``world_trade.csv``. Written to ``data_loaders/reference/plants/traits``: ``history.csv`` (one row a
taxon), ``measured.csv`` (one row a measured value) and ``sources.csv``. May be run again on newer
tables; the same tables give the same files. What the columns mean and where they mislead is in
``README.md`` there.
"""

import csv
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

TARGET = Path(__file__).parents[1] / "reference" / "plants" / "traits"

Row = Mapping[str, str]

HISTORY = {
    "accepted_name": "accepted_name",
    "like_climate_regions": "n_cts_excl_canada_mexico",
    "open_like_climate_regions": "cts_regions_open_to_it",
    "open_share_with_neighbours": "share_of_open_cts_regions",
    "tropical_regions": "n_with_tropical",
    "regions": "n_regions_alien",
    "invasive_regions": "n_regions_flagged_invasive",
    "in_canada": "recorded_alien_in_canada",
    "in_mexico": "recorded_alien_in_mexico",
    "cryptogenic_records": "n_cryptogenic_records",
    "native_in_europe": "native_in_europe_floraveg",
    "name_found": "in_any_checklist",
    "name_searchable": "name_searchable",
    "where": "regions",
}
"""Column of ``history.csv`` -> column of the gathered table."""

MEASURED = {
    "clonal_lateral_spread": "lateral_spread_cm_a_year",
    "clonal_offspring_freely_dispersible": "pieces_travel",
    "clonal_offspring": "offspring_a_year",
    "seed_mass": "seed_mass_mg",
    "seed_floating_rank": "seed_floating_rank",
    "seed_bank_longevity_index": "seed_bank_index",
    "fragment_regeneration_pct": "fragments_regenerating_pct",
    "apical_fragment_rooting_pct": "fragments_rooting_pct",
    "fragment_root_formation_pct": "fragments_rooting_pct",
    "desiccation_survival": "fragment_survival_dry_h",
    "doubling_time": "doubling_days",
}
"""Trait as gathered -> trait here; traits that nothing reads are left out."""

NOT_TAKEN = ("secondary",)
"""Evidence levels left out: a page that repeats a figure whose paper was not seen."""


def main(folder: Path, target: Path = TARGET) -> None:
    """Convert every table of ``folder``."""
    target.mkdir(parents=True, exist_ok=True)
    life = {row["accepted_name"]: row for row in _read(folder / "life_history.csv")}
    trade = {row["accepted_name"]: row for row in _read(folder / "world_trade.csv")}
    history = [
        {
            **{ours: row[theirs].strip() for ours, theirs in HISTORY.items()},
            **_life(life.get(row["accepted_name"], {})),
            **_trade(trade.get(row["accepted_name"], {})),
        }
        for row in _read(folder / "naturalised_elsewhere.csv")
    ]
    _write(target / "history.csv", history)
    taken = [
        row
        for row in _read(folder / "traits_measured.csv")
        if row["trait"] in MEASURED and row["evidence"] not in NOT_TAKEN
    ]
    keys = sorted({(row["source"], row["url_or_repo"], row["licence"]) for row in taken})
    number = {key: f"T{position:02d}" for position, key in enumerate(keys, start=1)}
    _write(
        target / "measured.csv",
        [
            {
                "taxon": row["taxon"],
                "trait": MEASURED[row["trait"]],
                "value": row["value"],
                "unit": row["unit"],
                "evidence": row["evidence"],
                "source_id": number[(row["source"], row["url_or_repo"], row["licence"])],
            }
            for row in taken
        ],
    )
    _write(
        target / "sources.csv",
        [
            {"source_id": number[key], "title": key[0], "where": key[1], "licence": key[2]}
            for key in keys
        ],
    )


def _life(row: Row) -> dict[str, str]:
    return {
        "life_span": row.get("life_span", ""),
        "sterile": row.get("sterile_in_cultivation", ""),
        "life_how_known": row.get("how_known", "").replace("memory/common practice", "memory"),
    }


def _trade(row: Row) -> dict[str, str]:
    return {
        "pond_trade": row.get("pond_trade", ""),
        "aquarium_trade": row.get("aquarium_trade", ""),
    }


def _read(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _write(file: Path, rows: Sequence[Row]) -> None:
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=_columns(rows), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _columns(rows: Iterable[Row]) -> list[str]:
    return list(next(iter(rows)))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(Path(sys.argv[1]))
