"""Downstream links from what the data set itself says: flow tables, nodes, sequence numbers, a
downstream id.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from data_loaders.geography.lines import FlowLink, Line

_NOWHERE = frozenset({"", "0", "-1"})


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row of a flow table: raw identifiers as the table has them."""

    data_set: str
    from_id: str
    to_id: str
    source_id: str


def stated_links(
    lines: Sequence[Line], aliases: Mapping[str, str], table: Iterable[TableRow]
) -> list[FlowLink]:
    """Every link that the data state, each line by the first way that speaks of it: table, nodes,
    sequence, id.

    Args:
        aliases: every identifier of a line, data set before a colon, to its flowline id. An
            identifier that is not among them belongs to a line of another file and is kept as it
            stands.
    """
    by_id = {line.flowline_id: line for line in lines}
    found = _from_table(by_id, aliases, table)
    spoken = {link.from_id for link in found}
    for links in (_from_nodes(lines), _from_sequence(lines), _from_ids(lines, aliases)):
        fresh = [link for link in links if link.from_id not in spoken]
        spoken |= {link.from_id for link in fresh}
        found += fresh
    unique = {
        (link.from_id, link.to_id): link for link in reversed(found) if link.from_id != link.to_id
    }
    return sorted(unique.values(), key=lambda link: (link.from_id, link.to_id))


def _from_table(
    by_id: Mapping[str, Line], aliases: Mapping[str, str], table: Iterable[TableRow]
) -> list[FlowLink]:
    links = []
    for row in table:
        if row.from_id in _NOWHERE or row.to_id in _NOWHERE:
            continue
        ends = [f"{row.data_set}:{raw}" for raw in (row.from_id, row.to_id)]
        from_id, to_id = (aliases.get(end, end) for end in ends)
        if from_id in by_id or to_id in by_id:
            links.append(
                FlowLink(
                    from_id, to_id, "flow-table", row.source_id, main=_is_main(by_id.get(to_id))
                )
            )
    return links


def _from_nodes(lines: Sequence[Line]) -> list[FlowLink]:
    starting: defaultdict[str, list[Line]] = defaultdict(list)
    for line in lines:
        if line.from_node not in _NOWHERE:
            starting[line.from_node].append(line)
    return [
        FlowLink(line.flowline_id, below.flowline_id, "nodes", line.source_id, main=_is_main(below))
        for line in lines
        if line.to_node not in _NOWHERE
        for below in starting.get(line.to_node, ())
    ]


def _from_sequence(lines: Sequence[Line]) -> list[FlowLink]:
    flowing = {line.sequence: line for line in lines if line.sequence not in _NOWHERE}
    return [
        FlowLink(
            line.flowline_id, flowing[line.down_sequence].flowline_id, "sequence", line.source_id
        )
        for line in lines
        if line.down_sequence in flowing
    ]


def _from_ids(lines: Sequence[Line], aliases: Mapping[str, str]) -> list[FlowLink]:
    return [
        FlowLink(
            line.flowline_id,
            aliases.get(line.downstream_id, line.downstream_id),
            "downstream-id",
            line.source_id,
        )
        for line in lines
        if line.downstream_id
    ]


def _is_main(below: Line | None) -> bool:
    return below is None or below.divergence != 2
