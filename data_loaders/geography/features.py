"""Reading vector files as people have them: layers, columns in any case, any coordinate system,
geometry mended.

GeoPackage, shapefile (alone, or zipped with its parts), file geodatabase, GeoJSON, and bare tables
in dBASE or CSV.
"""

import glob
import tempfile
import warnings
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyogrio
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

from data_loaders.archives import is_zip, open_archive, refuse_by_name
from data_loaders.build import bytes_sha256, file_sha256
from data_loaders.geography.geometry import (
    is_on_earth,
    is_swapped,
    mended,
    split_at_antimeridian,
    swapped,
)
from data_loaders.report import Tally
from service.errors import BadFile

BATCH_ROWS = 20_000
MAX_GEOJSON_BYTES = 1 << 30
"""GeoJSON is read whole into memory, at several times its size."""

_STARTS = {
    ".gpkg": (b"SQLite format 3\x00",),
    ".shp": (b"\x00\x00\x27\x0a",),
    ".geojson": (b"{", b"\xef\xbb\xbf{", b"\n", b" ", b"\r", b"\t"),
    ".json": (b"{", b"\xef\xbb\xbf{", b"\n", b" ", b"\r", b"\t"),
    ".dbf": (),
    ".csv": (),
}
"""Endings that are read, and how such a file begins: what a file is must not be left to be
guessed from its content.
"""

Shapes = NDArray[np.object_]
"""Geometries, None where a row has none."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer or table of a vector file. ``columns`` are spelled as in the file."""

    file: Path
    name: str
    columns: tuple[str, ...]
    has_geometry: bool
    crs: str | None
    rows: int


@dataclass(frozen=True, slots=True)
class Feature:
    """One row.

    ``values`` by column in lower case; ``geometry`` valid, not empty, WGS84, within -180 to 180.
    """

    values: Mapping[str, object]
    geometry: BaseGeometry


@dataclass(frozen=True, slots=True)
class Reading:
    """How to read a layer where the file does not say it, or says it wrongly.

    Attributes:
        crs: of the coordinates, such as ``EPSG:26917``, in place of what the file states.
        swap_axes: latitude stands first in the file.
    """

    crs: str | None = None
    swap_axes: bool = False


class ColumnNames:
    """Columns of a layer, found by any of several names: case does not matter, nor a cut to ten
    letters.
    """

    def __init__(self, columns: Sequence[str]) -> None:
        self._columns = {column.casefold(): column.casefold() for column in columns}

    def any(self, names: Sequence[str]) -> str | None:
        """The first of the names that is there, in lower case."""
        for name in names:
            for form in (name.casefold(), name.casefold()[:10]):
                if form in self._columns:
                    return form
        return None

    def text(self, values: Mapping[str, object], names: Sequence[str]) -> str:
        """The value as text, empty when missing or null; whole numbers without a decimal point."""
        column = self.any(names)
        return as_text(values.get(column)) if column else ""


def as_text(value: object) -> str:
    """A cell as text: identifiers read as floating-point numbers get their digits back."""
    if value is None:
        return ""
    if isinstance(value, float | np.floating):
        if not np.isfinite(value):
            return ""
        return str(int(value)) if float(value).is_integer() else str(float(value))
    return str(value).strip()


class VectorFile:
    """The layers of one file, or of the files in one zip."""

    def __init__(self, shown_name: str, files: Sequence[Path], reading: Reading) -> None:
        self.name = shown_name
        self.reading = reading
        self.layers = tuple(layer for file in files for layer in _layers(shown_name, file))

    def features(
        self, layer: Layer, tally: Tally, *, columns: Collection[str] | None = None
    ) -> Iterator[Feature]:
        """The rows with usable geometry.

        Every row is counted as read; an unusable one is set apart with the reason.
        """
        transformer = self._transformer(layer)
        for values, wkb in self._batches(layer, columns, geometry=True):
            shapes = self._placed(shapely.from_wkb(wkb, on_invalid="fix"), transformer)
            tally.read(len(shapes))
            for row, shape in zip(values, shapes, strict=True):
                geometry = self._usable(shape, tally)
                if geometry is not None:
                    yield Feature(row, geometry)

    def rows(
        self, layer: Layer, *, columns: Collection[str] | None = None
    ) -> Iterator[Mapping[str, object]]:
        """The rows of a table, without geometry and without counting."""
        for values, _ in self._batches(layer, columns, geometry=False):
            yield from values

    def _placed(self, shapes: Shapes, transformer: Transformer | None) -> Shapes:
        """Shapes in longitude and latitude, a whole batch at once."""
        if self.reading.swap_axes:
            shapes = shapely.transform(shapes, lambda xy: xy[:, ::-1])
        if transformer is None:
            return shapes
        placed: Shapes = shapely.transform(
            shapes, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))
        )
        return placed

    def _usable(self, shape: BaseGeometry | None, tally: Tally) -> BaseGeometry | None:
        if shape is None:
            tally.apart("no geometry")
            return None
        if shape.is_empty:
            tally.apart("empty geometry")
            return None
        if not is_on_earth(shape):
            turned = swapped(shape)
            tally.apart(
                "latitude and longitude swapped"
                if is_on_earth(turned)
                else "coordinates off the earth"
            )
            return None
        if is_swapped(shape):
            tally.apart("latitude and longitude swapped")
            return None
        return _whole(shape, tally)

    def _transformer(self, layer: Layer) -> Transformer | None:
        stated = self.reading.crs or layer.crs
        if stated is None:
            raise BadFile(
                self.name,
                "it does not state its coordinate system.",
                place=f"layer {layer.name}",
                next_step="Add the .prj file, or say which with crs, for example EPSG:4269.",
            )
        try:
            crs = CRS.from_user_input(stated)
        except CRSError as error:
            raise BadFile(
                self.name,
                f"coordinate system {stated[:60]!r} is not known.",
                place=f"layer {layer.name}",
            ) from error
        wgs84 = CRS.from_epsg(4326)
        return None if crs == wgs84 else Transformer.from_crs(crs, wgs84, always_xy=True)

    def _batches(
        self, layer: Layer, columns: Collection[str] | None, *, geometry: bool
    ) -> Iterator[tuple[list[dict[str, object]], Sequence[bytes | None]]]:
        wanted = [name for name in layer.columns if columns is None or name.casefold() in columns]
        lower = [name.casefold() for name in wanted]
        done = 0
        while True:
            with warnings.catch_warnings():
                warnings.filterwarnings("ignore", message="Measured", category=UserWarning)
                try:
                    _, _, wkb, fields = pyogrio.raw.read(
                        layer.file,
                        layer=layer.name,
                        columns=wanted,
                        read_geometry=geometry,
                        force_2d=True,
                        skip_features=done,
                        max_features=BATCH_ROWS,
                        datetime_as_string=True,
                    )
                except (
                    pyogrio.errors.DataSourceError,
                    pyogrio.errors.DataLayerError,
                    RuntimeError,
                    ValueError,
                ) as error:
                    raise BadFile(
                        self.name, f"rows cannot be read ({error}).", place=f"layer {layer.name}"
                    ) from error
            count = len(wkb) if geometry else len(fields[0]) if len(fields) else 0
            cells = [field.tolist() for field in fields]
            rows = [dict(zip(lower, row, strict=True)) for row in zip(*cells, strict=True)] or [
                {} for _ in range(count)
            ]
            yield rows, wkb if geometry else ()
            done += count
            if count < BATCH_ROWS:
                return


def _whole(shape: BaseGeometry, tally: Tally) -> BaseGeometry | None:
    """The shape valid and within -180 to 180, what was done to it counted; None when nothing of
    it can be used.
    """
    whole = shape
    if shapely.get_dimensions(shape) == 1:
        whole = mended(shape)
    elif not shapely.is_valid(shape):
        whole = mended(shape)
        tally.remark("invalid geometry", int(not whole.is_empty))
    if whole.is_empty:
        tally.apart("geometry that cannot be repaired")
        return None
    west, _, east, _ = whole.bounds
    if east - west > 180 or west < -180 or east > 180:
        split = split_at_antimeridian(whole)
        tally.remark("split at the antimeridian", int(split is not whole))
        return split
    return whole


@contextmanager
def open_vector(path: Path, *, reading: Reading | None = None) -> Iterator[VectorFile]:
    """Open a vector file.

    Raises:
        BadFile: not a file of a kind that is read, or one that may not be opened.
    """
    refuse_by_name(existing(path))
    how = reading or Reading()
    if path.is_dir():
        if path.suffix.casefold() != ".gdb":
            raise BadFile(
                path.name, "this is a folder.", next_step="Name the file, or a .gdb folder."
            )
        yield VectorFile(path.name, [path], how)
    elif is_zip(path):
        with tempfile.TemporaryDirectory(prefix="reedgate-") as folder:
            yield VectorFile(path.name, _unpacked(path, Path(folder)), how)
    else:
        yield VectorFile(path.name, [_checked(path, path.name)], how)


def existing(path: Path) -> Path:
    """The path, or a word that nothing is there."""
    if not path.exists():
        raise BadFile(path.name, "there is no such file.")
    return path


def content_sha256(path: Path) -> str:
    """Content hash of a vector file: with the parts of a shapefile beside it, or all files of a
    geodatabase folder.
    """
    if path.is_dir():
        parts = sorted(part for part in path.rglob("*") if part.is_file())
    elif path.suffix.casefold() == ".shp":
        parts = sorted(
            part
            for part in path.parent.glob(f"{glob.escape(path.stem)}.*")
            if part.suffix.casefold() in _SHAPE_PARTS
        )
    else:
        return file_sha256(path)
    return bytes_sha256(
        "".join(f"{part.suffix.casefold()} {file_sha256(part)}\n" for part in parts).encode()
    )


_SHAPE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")


def _unpacked(path: Path, folder: Path) -> list[Path]:
    with open_archive(path) as archive:
        for name in archive.names:
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            archive.unpack(name, target)
    geodatabases = [found for found in sorted(folder.rglob("*.gdb")) if found.is_dir()]
    shapes = {
        found.with_suffix("").name
        for found in folder.rglob("*")
        if found.suffix.casefold() == ".shp"
    }
    files = [
        _checked(found, path.name)
        for found in sorted(folder.rglob("*"))
        if found.is_file()
        and found.suffix.casefold() in _STARTS
        and not any(geodatabase in found.parents for geodatabase in geodatabases)
        and not (found.suffix.casefold() == ".dbf" and found.stem in shapes)
    ]
    if not files and not geodatabases:
        raise BadFile(
            path.name,
            "it holds no vector file.",
            next_step=f"Expected one of: {', '.join(_STARTS)}, .gdb.",
        )
    return geodatabases + files


def _checked(path: Path, shown_name: str) -> Path:
    ending = path.suffix.casefold()
    starts = _STARTS.get(ending)
    if starts is None:
        raise BadFile(
            shown_name,
            "files of this ending are not read.",
            next_step=f"Give one of: {', '.join(_STARTS)}, .zip, .gdb.",
        )
    with path.open("rb") as stream:
        begin = stream.read(16)
    if starts and not begin.startswith(starts):
        raise BadFile(shown_name, f"it does not begin as a {ending} file does.")
    if ending in (".geojson", ".json") and path.stat().st_size > MAX_GEOJSON_BYTES:
        raise BadFile(
            shown_name,
            f"GeoJSON of more than {MAX_GEOJSON_BYTES:,} bytes is not read.",
            next_step="Convert it to GeoPackage: ogr2ogr waters.gpkg waters.geojson.",
        )
    return path


def _layers(shown_name: str, file: Path) -> list[Layer]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore", RuntimeWarning
            )  # what matters of them comes back as the error
            listed = pyogrio.list_layers(file)
            infos = [
                pyogrio.read_info(file, layer=name, force_feature_count=True) for name, _ in listed
            ]
    except UnicodeDecodeError as error:
        raise BadFile(
            shown_name,
            "the name of a column or layer is not UTF-8 text.",
            next_step="Save it as UTF-8.",
        ) from error
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, RuntimeError) as error:
        raise BadFile(shown_name, f"it cannot be read as a vector file ({error}).") from error
    return [
        Layer(
            file,
            str(name),
            tuple(str(c) for c in info["fields"]),
            kind is not None,
            info["crs"],
            int(info["features"]),
        )
        for (name, kind), info in zip(listed, infos, strict=True)
    ]
