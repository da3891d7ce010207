"""Occurrence records from the live interface into the store: by plant, and by polygon or state."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, nullcontext
from dataclasses import dataclass
from pathlib import Path

import httpx
import shapely
from shapely.geometry.polygon import orient

from data_loaders.darwin_core import cell_value
from data_loaders.occurrences.journal import Journal, QueryState
from data_loaders.occurrences.live_api import MAX_OFFSET, LiveApi, LiveSettings
from data_loaders.occurrences.load import DEFAULT_RULES, storing
from data_loaders.occurrences.merge import merge
from data_loaders.occurrences.names import ExactMatcher, StoreNames
from data_loaders.occurrences.plain import JOINTS, PLAIN
from data_loaders.occurrences.quality import Row
from data_loaders.occurrences.report import QualityRules
from data_loaders.occurrences.source_row import SourceRow
from data_loaders.occurrences.tables import RecordTable
from data_loaders.occurrences.terms import ALIASES, TERM_INDEX, TERMS
from data_loaders.polite import Parameters
from data_loaders.progress import Meter, Progress
from data_loaders.report import EXAMPLES, LoadReport, Tally
from service.errors import BadRequest
from service.store.database import Build
from service.values.vocabulary import FEDERAL, JURISDICTION_NAMES, Jurisdiction, PlantId

MAX_TURNS = 3
"""How often a query is asked through while its total keeps changing."""
MAX_VERTICES = 200
"""Of a polygon; the query travels in the address of the request."""


@dataclass(frozen=True, slots=True)
class LiveQuery:
    """The records of one plant, or of several, in one area.

    Attributes:
        name: scientific name; synonyms and lower ranks come along.
        names: several of them, asked for at once.
        taxon_key: of the interface's own taxonomy, instead of a name.
        checklist_key: the taxonomy of that key, where it is not the default one.
        polygon_wkt: POLYGON or MULTIPOLYGON in WGS84 degrees, longitude first.
        state: instead of a polygon.
    """

    name: str = ""
    names: tuple[str, ...] = ()
    taxon_key: str = ""
    checklist_key: str = ""
    polygon_wkt: str = ""
    state: Jurisdiction | None = None

    def parameters(self) -> dict[str, str | list[str]]:
        """As the interface takes them.

        Raises:
            BadRequest: no plant, no area, or not a usable one.
        """
        names = [name for name in (self.name, *self.names) if name]
        if bool(names) == bool(self.taxon_key):
            raise BadRequest("A live query needs a scientific name or a taxon key, and not both.")
        if bool(self.polygon_wkt) == (self.state is not None):
            raise BadRequest("A live query needs a polygon or a state, and not both.")
        plant: dict[str, str | list[str]] = {"taxonKey": self.taxon_key}
        if names:
            plant = {"scientificName": names[0] if len(names) == 1 else names}
        if self.checklist_key:
            plant["checklistKey"] = self.checklist_key
        if self.state is not None:
            if self.state == FEDERAL or self.state not in JURISDICTION_NAMES:
                raise BadRequest(
                    f"{self.state} is not a state.", next_step="Use a code such as US-OH."
                )
            return {**plant, "country": "US", "stateProvince": JURISDICTION_NAMES[self.state]}
        return {**plant, "geometry": query_polygon(self.polygon_wkt)}


def queries_for_plants(
    store: Path,
    *,
    polygon_wkt: str = "",
    state: Jurisdiction | None = None,
    plant_ids: Sequence[PlantId] = (),
) -> list[LiveQuery]:
    """One query a plant of the store in one area.

    Forms below a species come along with the species, so they are not asked for again; genera and
    families are left out, since they would bring plants that the store does not hold.

    Args:
        plant_ids: these plants only; all by default.
    """
    with closing(Build(store)) as build:
        rows = build.connection.execute(
            "SELECT plant_id, accepted_name FROM plant WHERE rank IN ('species', 'hybrid')"
            " OR (rank IN ('subspecies', 'variety', 'form') AND parent_id IS NULL) ORDER BY"
            " accepted_name"
        ).fetchall()
    wanted = set(plant_ids)
    return [
        LiveQuery(name=name, polygon_wkt=polygon_wkt, state=state)
        for plant_id, name in rows
        if not wanted or plant_id in wanted
    ]


def query_polygon(wkt: str) -> str:
    """A polygon as the interface takes it: rings anticlockwise outside, four decimals.

    Raises:
        BadRequest: it cannot be read, is not valid, or has too many vertices.
    """
    try:
        shape = shapely.from_wkt(wkt)
    except shapely.errors.GEOSException as error:
        raise BadRequest(
            f"The polygon cannot be read ({error}).", next_step="Give it as WKT."
        ) from error
    if (
        not isinstance(shape, shapely.Polygon | shapely.MultiPolygon)
        or shape.is_empty
        or not shape.is_valid
    ):
        raise BadRequest(
            "The area is not a valid polygon.",
            next_step="Give a POLYGON or MULTIPOLYGON without crossings.",
        )
    west, south, east, north = shape.bounds
    if west < -180 or east > 180 or south < -90 or north > 90:
        raise BadRequest(
            "The polygon leaves the range of degrees.",
            next_step="Give longitude first, then latitude.",
        )
    if shapely.get_num_coordinates(shape) > MAX_VERTICES:
        raise BadRequest(
            f"The polygon has more than {MAX_VERTICES} vertices.", next_step="Simplify it."
        )
    parts = [orient(part) for part in getattr(shape, "geoms", [shape])]
    turned = parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
    return str(shapely.to_wkt(turned, rounding_precision=4, trim=True))


def load_live(
    target: Path,
    queries: Sequence[LiveQuery],
    settings: LiveSettings,
    *,
    matcher: ExactMatcher | None = None,
    rules: QualityRules = DEFAULT_RULES,
    progress: Progress | None = None,
    client: httpx.Client | None = None,
    api: LiveApi | None = None,
) -> LoadReport:
    """Fetch the records of queries and add them to the store at ``target``.

    Pages go to a journal beside the store first. A load that fails or is killed goes on from there
    when it is asked again; one that is through takes its journal away.

    Args:
        client: of httpx, to share or to test with.

    Raises:
        BadRequest: a query cannot be asked, or matches more records than paging reaches.
        LiveError: the interface does not answer.
        StoreMissing, StoreError: as ``drafting``.
    """
    asked = [query.parameters() for query in queries]
    if not asked:
        raise BadRequest("No live query was given.")
    digest = hashlib.sha256(
        json.dumps([settings.base_url, *asked], sort_keys=True).encode()
    ).hexdigest()
    with closing(Build(target)):
        pass  # a missing or damaged store is reported before anything is fetched
    journal = Journal(target.parent / f".{target.name}.live-{digest[:12]}.jsonl", len(asked))
    try:
        with nullcontext(client) if client else httpx.Client(follow_redirects=True) as session:
            _fetch(api or LiveApi(settings, session), asked, journal, progress)
    finally:
        journal.close()
    report = _store(target, journal, asked, matcher, rules)
    journal.remove()
    return report


def _fetch(
    api: LiveApi, asked: Sequence[Parameters], journal: Journal, progress: Progress | None
) -> None:
    meter = Meter("live", progress)

    def run(place: int) -> None:
        _fetch_query(api, asked[place], journal, place, meter)

    open_queries = [place for place, state in enumerate(journal.states) if not state.done]
    if api.settings.concurrency == 1:
        for place in open_queries:
            run(place)
    else:
        with ThreadPoolExecutor(api.settings.concurrency) as pool:
            try:
                list(pool.map(run, open_queries))
            except BaseException:
                pool.shutdown(cancel_futures=True)
                raise
    for key in journal.dataset_keys():
        if key not in journal.datasets:
            journal.add_dataset(key, api.dataset(key))


def _fetch_query(
    api: LiveApi, parameters: Parameters, journal: Journal, place: int, meter: Meter
) -> None:
    state = journal.states[place]
    while not state.done:
        page = api.page(parameters, state.offset)
        _check_total(page.total, api.settings.max_records)
        changed = state.total is not None and page.total != state.total
        if changed and state.turn + 1 < MAX_TURNS:
            # Records may have moved over the edge of a page, so the query is asked through again.
            journal.begin_again(place)
            continue
        journal.add_page(place, page)
        meter.stage("fetching", *_reached(journal.states))
    if state.turn + 1 < MAX_TURNS and state.total is not None and len(state.keys) < state.total:
        journal.begin_again(place)
        _fetch_query(api, parameters, journal, place, meter)


def _check_total(total: int, max_records: int) -> None:
    reachable = min(max_records, MAX_OFFSET)
    if total > reachable:
        raise BadRequest(
            f"A query matches {total:,} records; paging reaches {reachable:,}.",
            next_step="Ask for a smaller area, or order a download and load its file.",
        )


def _reached(states: Sequence[QueryState]) -> tuple[int, float]:
    fetched = sum(len(state.keys) for state in states)
    shares = [
        1.0 if state.done else min(1.0, state.offset / state.total) if state.total else 0.0
        for state in states
    ]
    return fetched, sum(shares) / len(shares)


def _store(
    target: Path,
    journal: Journal,
    asked: Sequence[Parameters],
    matcher: ExactMatcher | None,
    rules: QualityRules,
) -> LoadReport:
    name = f"live occurrence search, {len(asked)} quer{'y' if len(asked) == 1 else 'ies'}"
    sha256 = _content_hash(journal)
    undelivered = sum(max(0, (state.total or 0) - len(state.keys)) for state in journal.states)
    with closing(Build(target)) as present:
        source = SourceRow(name, sha256, rules, matcher or StoreNames(present.connection))
        held = source.held(present.connection)
        if held is not None:
            return LoadReport("occurrences", (held,))
    with storing(target, matcher, rules) as work:
        tally, meter = Tally(), Meter("live", None)
        table = _as_table(journal, work.workspace / "live.tsv")
        rows = work.workspace / "live.parquet"
        work.engine.judge(table, rows, meter).add_to(tally, EXAMPLES)
        merge(
            work.draft.connection,
            [rows],
            tally,
            journal.datasets,
            workspace=work.workspace,
            meter=meter,
        )
        work.kept += tally.rows_kept
        tally.undelivered = undelivered
        report = SourceRow(name, sha256, rules, work.names).record(
            work.draft,
            tally,
            title="Occurrence records from the live search",
            licence="stated record by record",
        )
    return LoadReport("occurrences", (report,))


def _as_table(journal: Journal, path: Path) -> RecordTable:
    """The records of a journal as a text table, in the order of ``terms.TERMS``."""
    with path.open("w", encoding="utf-8") as out:
        for record in journal.records():
            out.write("\t".join(cell.translate(JOINTS) for cell in row_of(record)) + "\n")
    return RecordTable(
        path=path,
        kind="delimited",
        columns=dict(TERM_INDEX),
        fallback_dataset="live occurrence search",
        dialect=PLAIN,
        width=len(TERMS),
        size_bytes=path.stat().st_size,
        datasets=journal.datasets,
    )


def row_of(record: Mapping[str, str]) -> Row:
    """A record of the interface as a row of the terms that are read."""
    row = [""] * len(TERMS)
    for name, value in record.items():
        term = name.lower()
        place = TERM_INDEX.get(ALIASES.get(term, term))
        if place is not None:
            row[place] = row[place] or cell_value(value)
    return row


def _content_hash(journal: Journal) -> str:
    """Of the records, whatever the order in which pages came."""
    rows: Iterator[bytes] = (
        json.dumps(list(row_of(record))).encode() for record in journal.records()
    )
    digest = hashlib.sha256()
    for line in sorted({hashlib.sha256(row).digest() for row in rows}):
        digest.update(line)
    return digest.hexdigest()
