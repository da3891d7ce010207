"""Which lines make one stream: by the geographic name's identifier, by name along the flow, by
an unbranched course.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from data_loaders.geography.hydrography import kind_of_line
from data_loaders.geography.lines import FlowLink, Line
from service.values.vocabulary import Flow, WaterKind

KeyOf = Callable[[Line], str]


@dataclass(frozen=True, slots=True)
class Stream:
    """Lines that are one water."""

    water_id: str
    name: str
    kind: WaterKind
    flow: Flow
    code: str
    lines: tuple[Line, ...]


def streams_of(lines: Sequence[Line], links: Iterable[FlowLink]) -> list[Stream]:
    """The streams that lines make up, by identifier.

    Pipes and unnamed paths through a wide water make none.
    """
    own = {line.flowline_id: line for line in lines if _is_stream(line)}
    groups = _Groups(own)
    followers: defaultdict[str, list[str]] = defaultdict(list)
    leaders: defaultdict[str, list[str]] = defaultdict(list)
    across = set()
    for link in links:
        if link.through_id is not None:
            across.add(link.from_id)
        followers[link.from_id].append(link.to_id)
        leaders[link.to_id].append(link.from_id)
        above, below = own.get(link.from_id), own.get(link.to_id)
        if (
            above
            and below
            and above.name
            and above.name == below.name
            and not (above.gnis_id or below.gnis_id)
        ):
            groups.join(link.from_id, link.to_id)
    for from_id, to_ids in followers.items():
        above, below = own.get(from_id), own.get(to_ids[0])
        unbranched = len(to_ids) == 1 and len(leaders[to_ids[0]]) == 1 and from_id not in across
        if (
            above
            and below
            and unbranched
            and not above.name
            and not below.name
            and above.feature.kind == below.feature.kind
        ):
            groups.join(from_id, to_ids[0])
    _join_by(groups, own, lambda line: f"gnis:{line.gnis_id}" if line.gnis_id else "")
    _join_by(
        groups,
        own,
        lambda line: f"mainstem:{line.mainstem}" if line.mainstem and not line.name else "",
    )
    return [_stream(members) for members in groups.members()]


def _is_stream(line: Line) -> bool:
    if line.feature.role == "connector":
        return bool(line.gnis_id or line.name)
    return not (line.feature.role == "path" and line.through_id and not (line.gnis_id or line.name))


def _stream(members: list[Line]) -> Stream:
    gnis_id = members[0].gnis_id
    name = Counter(line.name for line in members if line.name).most_common(1)
    called = name[0][0] if name else ""
    orders = [line.order for line in members if line.order is not None]
    kinds = [line.feature.kind for line in members if line.feature.kind is not None]
    plain = next((line for line in members if line.feature.role in ("line", "water")), members[0])
    return Stream(
        f"gnis:{gnis_id}" if gnis_id else min(line.flowline_id for line in members),
        called,
        kinds[0] if kinds else kind_of_line(called, max(orders, default=None)),
        plain.feature.flow,
        plain.code,
        tuple(members),
    )


def _join_by(groups: "_Groups", own: Mapping[str, Line], key_of: KeyOf) -> None:
    first: dict[str, str] = {}
    for line in own.values():
        key = key_of(line)
        if key:
            groups.join(first.setdefault(key, line.flowline_id), line.flowline_id)


class _Groups:
    """Disjoint sets of lines."""

    def __init__(self, lines: Mapping[str, Line]) -> None:
        self._lines = lines
        self._parent = {name: name for name in lines}

    def join(self, first: str, second: str) -> None:
        one, other = self._root(first), self._root(second)
        self._parent[max(one, other)] = min(one, other)

    def members(self) -> list[list[Line]]:
        found: defaultdict[str, list[Line]] = defaultdict(list)
        for name in sorted(self._lines):
            found[self._root(name)].append(self._lines[name])
        return [found[root] for root in sorted(found)]

    def _root(self, name: str) -> str:
        while self._parent[name] != name:
            self._parent[name] = self._parent[self._parent[name]]
            name = self._parent[name]
        return name
