"""Plant tables as they are compiled, turned into the project's own."""

from data_loaders.plants.from_tables import names


def test_a_name_that_is_used_abroad_alone_opens_nothing_here() -> None:
    lines = [
        {
            "name": "pickerelweed",
            "kind": "common",
            "accepted_name": "Pontederia cordata",
            "note": "also Pontederia vaginalis",
        },
        {
            "name": "pickerelweed",
            "kind": "common",
            "accepted_name": "Pontederia vaginalis",
            "note": "Asian rice-field use; usually Pontederia cordata in US trade",
        },
        {
            "name": "Pontederia cordata",
            "kind": "accepted",
            "accepted_name": "Pontederia cordata",
            "note": "",
        },
    ]
    found = names(lines)
    assert [(row["accepted_name"], row["sense"]) for row in found] == [
        ("Pontederia cordata", ""),
        ("Pontederia cordata", ""),
    ]
