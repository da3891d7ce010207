"""Waters and flow out of files of the national hydrography data sets, old and new, and of
anybody's own.
"""

import sqlite3
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import shapely
from shapely import LineString

from data_loaders.geography.mapping import WaterMapping, read_mapping
from data_loaders.geography.waters import load_waters
from data_loaders.progress import LoadProgress
from data_loaders.report import LoadReport, NothingKept
from service.errors import BadFile, StoreMissing
from service.store.waters import read_water
from service.store.waters_flow import trace_from
from service.values.vocabulary import WaterId
from tests.data_loaders.geography.stores import connect, fresh_store
from tests.data_loaders.geography.vector_files import Columns, write_geojson, write_layer

A, B, C, D = (-84.30, 41.60), (-84.29, 41.60), (-84.28, 41.60), (-84.27, 41.61)
SIDE = (-84.28, 41.59)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return fresh_store(tmp_path)


@pytest.fixture
def opened(store: Path) -> Iterator[sqlite3.Connection]:
    connection = connect(store)
    yield connection
    connection.close()


def links(path: Path) -> set[tuple[str, str, str]]:
    connection = connect(path)
    found = {tuple(row) for row in connection.execute("SELECT from_id, to_id, how FROM flow_link")}
    connection.close()
    return found


def links_of(report: LoadReport) -> dict[str, int]:
    """Links that came in, by how they are known."""
    return {
        what.removeprefix("links by "): count
        for what, count in report.totals.items()
        if what.startswith("links by ")
    }


def write_nhd(path: Path) -> None:
    """Three reaches of a named creek and a tributary, a pond, a marsh, and things that are no
    waters.
    """
    write_layer(
        path,
        "NHDFlowline",
        [
            LineString([A, B]),
            LineString([B, C]),
            LineString([C, D]),
            LineString([SIDE, C]),
            LineString([A, D]),
            LineString([A, SIDE]),
        ],
        {
            "Permanent_Identifier": ["1", "2", "3", "4", "5", "6"],
            "GNIS_ID": ["01234", "01234", "01234", None, None, None],
            "GNIS_Name": ["Coined Creek", "Coined Creek", "Coined Creek", None, None, None],
            "FCode": [46006, 46006, 46003, 46007, 56600, 42801],
            "FlowDir": [1, 1, 1, 1, 1, 1],
        },
    )
    pond = shapely.Point(-84.31, 41.62).buffer(0.0005)
    lake = shapely.Point(-84.33, 41.62).buffer(0.005)
    write_layer(
        path,
        "NHDWaterbody",
        [
            pond,
            lake,
            shapely.Point(-84.35, 41.62).buffer(0.001),
            shapely.Point(-84.36, 41.62).buffer(0.001),
        ],
        {
            "Permanent_Identifier": ["11", "12", "13", "14"],
            "FType": [390, 436, 466, 378],
            "FCode": [39004, 43600, 46600, 37800],
        },
    )
    write_layer(
        path,
        "NHDFlow",
        None,
        {
            "From_Permanent_Identifier": ["1", "2", "4", "3", "77"],
            "To_Permanent_Identifier": ["2", "3", "3", "99", "78"],
        },
    )
    write_layer(
        path,
        "WBDHU12",
        [shapely.box(-84.4, 41.5, -84.2, 41.7)],
        {"HUC12": ["041000010101"], "Name": ["Coined"]},
    )


def test_the_older_data_set_is_read_with_its_flow_table(
    store: Path, tmp_path: Path, opened: sqlite3.Connection
) -> None:
    write_nhd(tmp_path / "nhd.gpkg")
    report = load_waters(store, [tmp_path / "nhd.gpkg"])
    opened.close()
    assert (report.rows_read, report.rows_kept) == (10, 8)
    assert report.set_apart == {
        "not a water: feature code 56600": 1,
        "not a water: feature code 37800": 1,
    }
    assert links_of(report) == {"flow-table": 4}
    assert report.totals["links leaving"] == 1
    assert (
        "layer WBDHU12 passed over (1 rows): no columns of waters or flow" in report.files[0].notes
    )
    assert links(store) == {
        ("nhd:1", "nhd:2", "flow-table"),
        ("nhd:2", "nhd:3", "flow-table"),
        ("nhd:4", "nhd:3", "flow-table"),
        ("nhd:3", "nhd:99", "flow-table"),
    }


def test_kind_and_flow_come_from_feature_codes_and_size(store: Path, tmp_path: Path) -> None:
    write_nhd(tmp_path / "nhd.gpkg")
    load_waters(store, [tmp_path / "nhd.gpkg"])
    connection = connect(store)
    found = {
        row["water_id"]: (row["kind"], row["flow"], row["name"])
        for row in connection.execute("SELECT * FROM water")
    }
    assert found == {
        "gnis:1234": ("stream", "moving", "Coined Creek"),
        "nhd:4": ("stream", "moving", ""),
        "nhd:11": ("pond", "still", ""),
        "nhd:12": ("lake", "still", ""),
        "nhd:13": ("wetland", "still", ""),
    }
    pipe = connection.execute(
        "SELECT water_id FROM flowline JOIN water_part USING (part_id) WHERE flowline_id = 'nhd:6'"
    ).fetchone()
    assert pipe["water_id"] is None
    creek = read_water(connection, WaterId("gnis:1234"))
    assert creek.states == ("US-OH",)
    connection.close()


def test_the_same_file_again_changes_nothing_and_another_of_its_name_adds_or_replaces(
    store: Path, tmp_path: Path
) -> None:
    path = tmp_path / "nhd.gpkg"
    write_nhd(path)
    first = load_waters(store, [path])
    content = store.read_bytes()
    again = load_waters(store, [path])
    assert again.unchanged
    assert (again.rows_read, again.rows_kept, again.set_apart) == (
        first.rows_read,
        first.rows_kept,
        first.set_apart,
    )
    assert store.read_bytes() == content
    path.unlink()
    write_layer(
        path,
        "NHDWaterbody",
        [shapely.box(-84, 41, -83.99, 41.01)],
        {"permanent_identifier": ["50"], "fcode": [39004]},
    )
    before = first.totals["waters"]
    more = store.with_name("more.db")
    more.write_bytes(content)
    assert load_waters(more, [path]).totals["waters"] == before + 1
    assert links(more) == links(store)
    assert load_waters(store, [path], replace="nhd.gpkg").totals["waters"] == 1
    assert not links(store)


def test_two_files_of_one_name_in_one_load_are_both_read_and_both_told(
    store: Path, tmp_path: Path
) -> None:
    paths = [tmp_path / place / "ponds.geojson" for place in ("north", "south")]
    for number, path in enumerate(paths):
        path.parent.mkdir()
        shape = shapely.box(-84, 41 + number, -83.999, 41.001 + number)
        write_geojson(path, [(shape, {"name": f"Pond {number}"})])
    report = load_waters(store, paths)
    assert [(one.file, one.rows_kept) for one in report.files] == [("ponds.geojson", 1)] * 2
    assert len({one.source_id for one in report.files}) == 2
    assert report.totals["waters"] == 2
    assert load_waters(store, paths).unchanged


def test_a_name_that_no_earlier_file_has_replaces_nothing(store: Path, tmp_path: Path) -> None:
    write_nhd(tmp_path / "nhd.gpkg")
    before = store.read_bytes()
    with pytest.raises(BadFile, match="no source is called so"):
        load_waters(store, [tmp_path / "nhd.gpkg"], replace="other.gpkg")
    assert store.read_bytes() == before


def test_a_feature_of_another_file_is_not_taken_twice(store: Path, tmp_path: Path) -> None:
    write_nhd(tmp_path / "one.gpkg")
    write_nhd(tmp_path / "two.gpkg")
    first = load_waters(store, [tmp_path / "one.gpkg"])
    before = store.read_bytes()
    with pytest.raises(NothingKept, match="--replace FILE") as refused:
        load_waters(store, [tmp_path / "two.gpkg"])
    assert refused.value.report.set_apart["identifier already loaded"] == first.rows_kept
    assert store.read_bytes() == before


def test_a_shapefile_with_names_cut_to_ten_letters_is_recognised(
    store: Path, tmp_path: Path
) -> None:
    columns: Columns = {
        "Permanent_": ["1", "2"],
        "GNIS_Name": ["Coined Creek"] * 2,
        "FCode": [46006, 46006],
        "WBArea_Per": [None, None],
    }
    write_layer(
        tmp_path / "NHDFlowline.shp",
        "NHDFlowline",
        [LineString([A, B]), LineString([B, C])],
        columns,
        kind="LineString",
        driver="ESRI Shapefile",
    )
    write_layer(
        tmp_path / "NHDFlow.dbf",
        "NHDFlow",
        None,
        {"From_Perma": ["1"], "To_Permane": ["2"]},
        driver="ESRI Shapefile",
    )
    with zipfile.ZipFile(tmp_path / "nhd.zip", "w") as archive:
        for part in sorted(tmp_path.glob("NHDFlow*")):
            archive.write(part, part.name)
    report = load_waters(store, [tmp_path / "nhd.zip"])
    assert report.totals["flowlines"] == 2
    assert links_of(report) == {"flow-table": 1}


def test_the_high_resolution_data_set_links_by_nodes_and_marks_the_lesser_branch(
    store: Path, tmp_path: Path
) -> None:
    path = tmp_path / "hr.gpkg"
    ids = [55_000_800_000_001.0, 55_000_800_000_002.0, 55_000_800_000_003.0, 55_000_800_000_004.0]
    shapes = [LineString([A, B]), LineString([B, C]), LineString([B, SIDE, C]), LineString([C, D])]
    write_layer(
        path,
        "NHDFlowline",
        shapes,
        {"NHDPlusID": ids, "FCode": [46006] * 4, "Permanent_Identifier": list("abcd")},
    )
    write_layer(
        path,
        "NHDPlusFlowlineVAA",
        None,
        {
            "NHDPlusID": ids,
            "FromNode": [10.0, 20.0, 20.0, 30.0],
            "ToNode": [20.0, 30.0, 30.0, 40.0],
            "Divergence": [0, 1, 2, 0],
            "StreamOrde": [8, 8, 8, 8],
        },
    )
    report = load_waters(store, [path])
    assert links_of(report) == {"nodes": 4}
    connection = connect(store)
    main = {
        (row["from_id"], row["to_id"]): row["main"]
        for row in connection.execute("SELECT * FROM flow_link")
    }
    assert main == {
        ("nhd:a", "nhd:b"): 1,
        ("nhd:a", "nhd:c"): 0,
        ("nhd:b", "nhd:d"): 1,
        ("nhd:c", "nhd:d"): 1,
    }
    kinds = {row["kind"] for row in connection.execute("SELECT kind FROM water")}
    assert kinds == {"river"}  # order 8
    connection.close()


def test_the_newest_data_set_links_by_sequence_and_reads_its_labels(
    store: Path, tmp_path: Path
) -> None:
    path = tmp_path / "3dhp.gpkg"
    write_layer(
        path,
        "flowline",
        [LineString([A, B]), LineString([B, C])],
        {
            "id3dhp": ["A1B2C3D", "A1B2C3E"],
            "gnisid": [1234, None],
            "gnisidlabel": ["Coined River", None],
            "featuretype": [4, 4],
            "featuretypelabel": ["Stream/River", "Stream/River"],
            "hydrosequence": [200, 100],
            "dnhydrosequence": [100, 0],
        },
    )
    lake = shapely.Point(-84.33, 41.62).buffer(0.005)
    write_layer(
        path,
        "waterbody",
        [lake],
        {"id3dhp": ["B000001"], "featuretype": [3], "featuretypelabel": ["Lake"]},
    )
    report = load_waters(store, [path])
    assert links_of(report) == {"sequence": 1}
    connection = connect(store)
    found = {
        row["water_id"]: row["kind"]
        for row in connection.execute("SELECT water_id, kind FROM water")
    }
    assert found == {"gnis:1234": "river", "3dhp:A1B2C3E": "stream", "3dhp:B000001": "lake"}
    connection.close()


def test_lines_without_any_table_are_joined_where_they_end_and_cut_where_another_meets_them(
    store: Path, tmp_path: Path
) -> None:
    main = LineString([A, C, D])
    tributary = LineString([SIDE, C])  # ends on a vertex within the main line
    path = write_geojson(
        tmp_path / "creeks.geojson",
        [(main, {"what": "creek", "no": "m"}), (tributary, {"what": "creek", "no": "t"})],
    )
    report = load_waters(
        store, [path], mapping=WaterMapping(id="no", kind="what", kinds={"creek": "stream"})
    )
    assert report.totals["flowlines"] == 3
    assert links(store) == {
        ("creeks:m", "creeks:m.2", "end-points"),
        ("creeks:t", "creeks:m.2", "end-points"),
    }
    connection = connect(store)
    found = trace_from(connection, *SIDE)
    assert [line.flowline_id for line in found.lines] == ["creeks:t", "creeks:m.2"]
    connection.close()


def test_ends_a_few_metres_apart_are_joined_and_farther_ones_are_not(
    store: Path, tmp_path: Path
) -> None:
    near, far = (B[0], B[1] + 3e-5), (C[0], C[1] + 3e-4)  # 3.3 m and 33 m
    shapes = [LineString([A, B]), LineString([near, C]), LineString([far, D])]
    path = write_geojson(
        tmp_path / "creeks.geojson", [(shape, {"no": str(n)}) for n, shape in enumerate(shapes)]
    )
    load_waters(store, [path], mapping=WaterMapping(id="no", default_kind="stream"))
    assert links(store) == {("creeks:0", "creeks:1", "end-points")}


def test_a_lake_without_a_line_is_crossed_from_inflow_to_outflow(
    store: Path, tmp_path: Path
) -> None:
    lake = shapely.box(-84.295, 41.595, -84.285, 41.605)
    features = [
        (lake, {"no": "lake", "type": "lake"}),
        (LineString([A, (-84.295, 41.60)]), {"no": "in", "type": "stream"}),
        (LineString([(-84.285, 41.60), C]), {"no": "out", "type": "stream"}),
    ]
    path = write_geojson(tmp_path / "w.geojson", features)
    mapping = WaterMapping(id="no", kind="type", kinds={"lake": "lake", "stream": "stream"})
    report = load_waters(store, [path], mapping=mapping)
    assert links_of(report) == {"across": 1}
    connection = connect(store)
    found = trace_from(connection, *A)
    # 0.01 degrees of the parallel 41.6: 833 m (WGS84; pyproj.Geod).
    out = next(line for line in found.lines if line.flowline_id == "w:out")
    assert out.from_m == pytest.approx(0.015 / 0.01 * 833.2, rel=0.002)
    assert [(water.water_id, water.lakes_passed) for water in found.waters] == [
        ("w:in", 0),
        ("w:lake", 0),
        ("w:out", 1),
    ]
    from_lake = trace_from(connection, -84.29, 41.601)
    assert [line.flowline_id for line in from_lake.lines] == ["w:out"]
    connection.close()


def test_a_line_whose_direction_is_not_known_leads_nowhere(store: Path, tmp_path: Path) -> None:
    write_layer(
        tmp_path / "f.gpkg",
        "NHDFlowline",
        [LineString([A, B]), LineString([B, C])],
        {"permanent_identifier": ["1", "2"], "fcode": [46006, 46006], "flowdir": [0, 1]},
    )
    assert links_of(load_waters(store, [tmp_path / "f.gpkg"])) == {}


def test_an_unknown_file_needs_a_mapping_and_says_so(store: Path, tmp_path: Path) -> None:
    path = write_geojson(
        tmp_path / "p.geojson", [(shapely.box(-84, 41, -83.99, 41.01), {"typ": "P"})]
    )
    before = store.read_bytes()
    with pytest.raises(BadFile, match="no columns of waters"):
        load_waters(store, [path])
    assert store.read_bytes() == before
    mapping = WaterMapping(kind="typ", kinds={"P": "pond"}, flows={}, data_set="mine")
    load_waters(store, [path], mapping=mapping)
    connection = connect(store)
    assert read_water(connection, WaterId("mine:row-1")).kind == "pond"
    connection.close()


def test_values_that_the_mapping_does_not_know_are_counted(store: Path, tmp_path: Path) -> None:
    pond = shapely.box(-84, 41, -83.99, 41.01)
    path = write_geojson(
        tmp_path / "p.geojson",
        [(pond, {"typ": "P"}), (pond, {"typ": "Q"}), (pond, {"typ": None}), (shapely.Point(A), {})],
    )
    report = load_waters(store, [path], mapping=WaterMapping(kind="typ", kinds={"P": "pond"}))
    assert report.set_apart == {
        "feature code not known: Q": 1,
        "no feature code": 1,
        "a point, not the shape of a water": 1,
    }


def test_a_column_that_the_mapping_names_and_the_file_lacks_is_an_error(
    store: Path, tmp_path: Path
) -> None:
    path = write_geojson(
        tmp_path / "p.geojson",
        [(shapely.box(-84, 41, -83.99, 41.01), {"typ": "P", "title": "Coined Pond"})],
    )
    with pytest.raises(BadFile, match=r"no column 'name'.*typ, title"):
        load_waters(store, [path], mapping=WaterMapping(name="name", default_kind="pond"))


def test_layers_that_a_data_set_was_made_with_are_not_read_as_more_waters(
    store: Path, tmp_path: Path
) -> None:
    pond = shapely.box(-84, 41, -83.99, 41.01)
    for layer, number in (("NHDWaterbody", 1.0), ("NHDPlusBurnWaterbody", 2.0)):
        write_layer(tmp_path / "hr.gpkg", layer, [pond], {"nhdplusid": [number], "fcode": [39004]})
    assert load_waters(store, [tmp_path / "hr.gpkg"]).rows_kept == 1


def test_a_mapping_file_is_read_and_its_mistakes_named(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_text('id = "no"\nkind = "type"\nkinds = { P = "pond" }\n')
    assert read_mapping(path) == WaterMapping(id="no", kind="type", kinds={"P": "pond"})
    path.write_text('kinds = { P = "puddle" }\n')
    with pytest.raises(BadFile, match=r"kinds\.P"):
        read_mapping(path)
    path.write_text("kinds = {\n")
    with pytest.raises(BadFile, match="TOML"):
        read_mapping(path)


def test_without_a_store_nothing_is_written(tmp_path: Path) -> None:
    write_nhd(tmp_path / "nhd.gpkg")
    with pytest.raises(StoreMissing):
        load_waters(tmp_path / "none.db", [tmp_path / "nhd.gpkg"])


def test_two_files_of_one_river_make_one_water_and_one_can_be_taken_out_again(
    store: Path, tmp_path: Path
) -> None:
    def part(name: str, number: str, shape: LineString) -> Path:
        columns: Columns = {
            "permanent_identifier": [number],
            "gnis_id": ["77"],
            "gnis_name": ["Coined River"],
            "fcode": [46006],
        }
        write_layer(tmp_path / name, "NHDFlowline", [shape], columns)
        return tmp_path / name

    first, second = part("a.gpkg", "1", LineString([A, B])), part("b.gpkg", "2", LineString([B, C]))
    load_waters(store, [first])
    one = _length(store)
    load_waters(store, [second])
    assert _length(store) == pytest.approx(2 * one, rel=1e-3)
    second.unlink()
    newer = part("b.gpkg", "3", LineString([B, (B[0] + 0.001, B[1])]))
    load_waters(store, [newer], replace="b.gpkg")
    assert _length(store) == pytest.approx(1.1 * one, rel=1e-3)


def _length(store: Path) -> float:
    connection = connect(store)
    (row,) = connection.execute("SELECT length_m FROM water WHERE water_id = 'gnis:77'").fetchall()
    connection.close()
    return float(row["length_m"])


def test_progress_reaches_the_end(store: Path, tmp_path: Path) -> None:
    write_nhd(tmp_path / "nhd.gpkg")
    seen: list[LoadProgress] = []
    report = load_waters(store, [tmp_path / "nhd.gpkg"], progress=seen.append)
    assert (seen[-1].rows, seen[-1].done) == (report.rows_read, 1.0)


def test_a_drawn_geojson_needs_no_more_than_a_name(store: Path, tmp_path: Path) -> None:
    pond = shapely.Point(-84.31, 41.62).buffer(0.0005)
    drawn = write_geojson(
        tmp_path / "drawn.geojson",
        [
            (LineString([A, B, C]), {"name": "Drawn Creek"}),
            (pond, {"name": "Behind the barn"}),
            (shapely.Point(-84.35, 41.62).buffer(0.001), {"name": "Alder Swamp"}),
            (LineString([C, D]), {"name": "West lateral", "kind": "ditch"}),
            (shapely.Point(-84.3, 41.6), {"name": "A gauge"}),
        ],
    )
    report = load_waters(store, [drawn])
    assert (report.rows_read, report.rows_kept) == (5, 4)
    assert report.set_apart == {"a point, not the shape of a water": 1}
    connection = connect(store)
    rows = connection.execute("SELECT name, kind, flow FROM water ORDER BY name").fetchall()
    connection.close()
    assert [tuple(row) for row in rows] == [
        ("Alder Swamp", "wetland", "still"),
        ("Behind the barn", "pond", "still"),
        ("Drawn Creek", "stream", "moving"),
        ("West lateral", "canal", "slow"),
    ]


def test_formats_that_are_not_read_are_refused_by_name(store: Path, tmp_path: Path) -> None:
    topology = tmp_path / "waters.json"
    topology.write_text('{"type": "Topology", "objects": {}, "arcs": []}')
    packed = tmp_path / "waters.tar.gz"
    with tarfile.open(packed, "w:gz") as archive:
        archive.add(topology, "waters.json")
    avro = tmp_path / "waters.avro"
    avro.write_bytes(b"Obj\x01\x04")
    for path, what, step in (
        (topology, "TopoJSON", "ogr2ogr waters.geojson waters.json"),
        (packed, "a tar archive", "tar -xf"),
        (avro, "an Avro file", "Parquet or CSV"),
    ):
        with pytest.raises(BadFile, match=what) as refused:
            load_waters(store, [path])
        assert step in refused.value.next_step


def test_a_zip_made_again_on_a_desktop_is_read(store: Path, tmp_path: Path) -> None:
    drawn = write_geojson(tmp_path / "d.geojson", [(LineString([A, B]), {"name": "Drawn Creek"})])
    with zipfile.ZipFile(tmp_path / "d.zip", "w") as archive:
        archive.write(drawn, "waters/d.geojson")
        archive.writestr("__MACOSX/waters/._d.geojson", b"\x00\x05\x16\x07")
        archive.writestr("waters/.DS_Store", b"\x00\x00\x00\x01Bud1")
    assert load_waters(store, [tmp_path / "d.zip"]).rows_kept == 1
