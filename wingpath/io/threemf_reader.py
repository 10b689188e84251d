"""Reading 3MF packages, also ones that were made to do harm.

Read with the standard library's zip and XML parser, straight from the package: nothing is unpacked to disk,
documents with a DTD are refused, as the specification wants, and what a file may cost in memory is bounded
before it is spent.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import unquote
from xml.parsers import expat

import numpy as np

from wingpath.core.arrays import FloatArray, IntArray
from wingpath.core.errors import MeshFileError
from wingpath.core.units import MM_PER_UNIT
from wingpath.io.threemf import MODEL_RELATION, PRODUCTION

__all__ = ["read_3mf"]

MOST_BYTES = 1_000_000_000
MOST_RATIO = 200
RATIO_FROM_BYTES = 1_000_000
"""The parts may unpack to so many bytes, and one that is longer than the third number to so many times its
packed size. Meshes as XML pack to a fifth or a tenth; a package beyond these bounds is built to do harm."""

MOST_TRIANGLES = 20_000_000
"""So many triangles may come of all copies of all objects together; a part of a wing has a hundredth."""

READ_BYTES = 1 << 20
"""Parts are unpacked in blocks of so many bytes."""

DEEPEST = 32
"""Objects may be made of objects so many levels deep."""

SOLID_TYPES = ("model", "surface")
"""Types of object that are part of the model; supports and others are not."""

Key = tuple[str, str]
"""Where an object is found: its part of the package, and its number there."""


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """An object and where it goes: points are rows, and turn into row @ matrix."""

    key: Key
    matrix: FloatArray


@dataclass(slots=True)
class _Object:
    kind: str
    vertices: array[float] = field(default_factory=lambda: array("d"))
    faces: array[int] = field(default_factory=lambda: array("q"))
    parts: list[_Placed] = field(default_factory=list)


@dataclass(slots=True)
class _Model:
    unit: str = "millimeter"
    objects: dict[str, _Object] = field(default_factory=dict)
    items: list[_Placed] = field(default_factory=list)


def read_3mf(data: bytes, *, source: str) -> tuple[FloatArray, IntArray]:
    """Read all objects that a package builds, as one mesh.

    Parameters
    ----------
    data : bytes
        The package.
    source : str
        Its name, for messages.

    Returns
    -------
    vertices : array, shape (n, 3)
        Corner points; units, copies and transforms are worked in [mm].
    faces : array of int, shape (m, 3)
        Corner numbers.

    Raises
    ------
    MeshFileError
        When the package or its model is broken, or would unpack beyond the bounds above.

    Notes
    -----
    Objects of other parts (the production extension's ``path``) are followed. Supports are left out. When
    nothing is built, the objects that no other object is made of are taken.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _Package(archive, source).mesh()
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise MeshFileError(
            f"{source}: got a broken zip package ({error}); a 3MF file is a whole zip package without "
            "password. Export or copy it again."
        ) from error


class _Package:
    """The parts of a package, read when they are asked for."""

    def __init__(self, archive: zipfile.ZipFile, source: str) -> None:
        self.archive = archive
        self.source = source
        self.entries = {entry.filename.lstrip("/").lower(): entry for entry in archive.infolist()}
        self.models: dict[str, _Model] = {}
        self.unpacked = 0
        self.collected = 0

    def fault(self, text: str) -> MeshFileError:
        return MeshFileError(f"{self.source}: {text}. Export the file again.")

    def parse(self, part: str, start: Callable[[str, dict[str, str]], None]) -> None:
        entry = self.entries.get(part)
        if entry is None:
            raise self.fault(f"the package refers to the part {_short(part)}, which it does not hold")
        self.unpacked += entry.file_size
        packed = max(entry.compress_size, 1)
        dense = entry.file_size > RATIO_FROM_BYTES and entry.file_size > MOST_RATIO * packed
        if self.unpacked > MOST_BYTES or dense:
            raise self.fault(
                f"the part {_short(part)} would unpack from {packed} to {entry.file_size} bytes; allowed are "
                f"{MOST_BYTES} bytes in all and {MOST_RATIO} times the packed size"
            )
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartElementHandler = start
        parser.StartDoctypeDeclHandler = self.refuse_dtd
        try:
            # The stream ends where the entry says, so no more can come than was counted above.
            with self.archive.open(entry) as stream:
                while block := stream.read(READ_BYTES):
                    parser.Parse(block, False)
            parser.Parse(b"", True)
        except MeshFileError:
            raise
        except expat.ExpatError as error:
            raise self.fault(f"the part {_short(part)} is not sound XML ({error})") from error
        except (LookupError, ValueError, OverflowError) as error:
            raise self.fault(
                f"the part {_short(part)}, line {parser.CurrentLineNumber}: "
                f"a number or a name is missing or wrong ({str(error)[:80]})"
            ) from error

    def refuse_dtd(self, *_: object) -> None:
        raise self.fault("got XML with a DTD, which 3MF does not allow")

    def root(self) -> str:
        relations = _Relations()
        if "_rels/.rels" in self.entries:
            self.parse("_rels/.rels", relations.start)
        if relations.target:
            return _part_name(relations.target)
        for part in self.entries:
            if part.endswith(".model"):
                return part
        raise self.fault("got a zip package without a 3D model part, so this is no 3MF file")

    def model(self, part: str) -> _Model:
        if part not in self.models:
            reader = _ModelReader(part, self)
            self.parse(part, reader.start)
            self.models[part] = reader.model
        return self.models[part]

    def object_at(self, key: Key) -> _Object:
        found = self.model(key[0]).objects.get(key[1])
        if found is None:
            raise self.fault(f"the model refers to object {_short(key[1])}, which it does not hold")
        return found

    def mesh(self) -> tuple[FloatArray, IntArray]:
        root = self.root()
        model = self.model(root)
        items = [item for item in model.items if self.object_at(item.key).kind in SOLID_TYPES]
        if not model.items:
            used = {placed.key for thing in model.objects.values() for placed in thing.parts}
            items = [
                _Placed((root, number), np.eye(4))
                for number, thing in model.objects.items()
                if thing.kind in SOLID_TYPES and (root, number) not in used
            ]
        weights: dict[Key, int] = {}
        if sum(self.weight(item.key, 0, weights) for item in items) > MOST_TRIANGLES:
            raise self.fault(f"the model holds more than {MOST_TRIANGLES} triangles, counting copies")
        vertices: list[FloatArray] = [np.empty((0, 3))]
        faces: list[IntArray] = [np.empty((0, 3), np.int64)]
        for item in items:
            self.collect(item, vertices, faces)
        return np.concatenate(vertices), np.concatenate(faces)

    def weight(self, key: Key, depth: int, known: dict[Key, int]) -> int:
        """Return the triangles of an object and all it is made of, and one for each copy of an object."""
        if depth > DEEPEST:
            raise self.fault(
                f"object {_short(key[1])} is made of itself, or of objects more than {DEEPEST} levels deep"
            )
        if key not in known:
            thing = self.object_at(key)
            parts = sum(self.weight(placed.key, depth + 1, known) for placed in thing.parts)
            known[key] = 1 + len(thing.faces) // 3 + parts
        return known[key]

    def collect(self, placed: _Placed, vertices: list[FloatArray], faces: list[IntArray]) -> None:
        thing = self.object_at(placed.key)
        matrix = placed.matrix
        if len(thing.faces):
            unit = MM_PER_UNIT[self.model(placed.key[0]).unit]
            corners = np.array(thing.vertices, np.float64).reshape(-1, 3) * unit
            triangles = np.array(thing.faces, np.int64).reshape(-1, 3)
            if triangles.min() < 0 or triangles.max() >= len(corners):
                raise self.fault(
                    f"object {_short(placed.key[1])}: a triangle refers to a corner outside "
                    f"0..{len(corners) - 1}"
                )
            with np.errstate(all="ignore"):  # what is not finite is told by the caller
                vertices.append(corners @ matrix[:3, :3] + matrix[3, :3])
                mirrored = np.linalg.det(matrix[:3, :3]) < 0.0
            faces.append((triangles[:, ::-1] if mirrored else triangles) + self.collected)
            self.collected += len(corners)
        for inner in thing.parts:
            with np.errstate(all="ignore"):
                self.collect(_Placed(inner.key, inner.matrix @ matrix), vertices, faces)


def _short(name: str) -> str:
    """Return a name of the package as a message shows it."""
    return repr(name if len(name) <= 60 else f"{name[:60]}...")


def _part_name(path: str) -> str:
    return unquote(path).lstrip("/").lower()


class _Relations:
    """Finds the model part in the relations of the package."""

    def __init__(self) -> None:
        self.target = ""

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag.endswith(" Relationship") and attributes.get("Type") == MODEL_RELATION and not self.target:
            self.target = attributes["Target"]


class _ModelReader:
    """Takes objects and build items from a model part."""

    def __init__(self, part: str, package: _Package) -> None:
        self.part = part
        self.package = package
        self.model = _Model()
        self.prefix: str | None = None
        self.current: _Object | None = None
        self.vertex_tag = self.triangle_tag = ""
        stray = _Object("")  # takes what stands outside any object
        self.add_vertex, self.add_face = stray.vertices.extend, stray.faces.extend

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        # Corners and triangles come by the million, so they are asked for first.
        if tag == self.vertex_tag:
            self.add_vertex((float(attributes["x"]), float(attributes["y"]), float(attributes["z"])))
        elif tag == self.triangle_tag:
            self.add_face((int(attributes["v1"]), int(attributes["v2"]), int(attributes["v3"])))
        elif self.prefix is None:
            self.begin(tag, attributes)
        elif tag == f"{self.prefix}object":
            self.current = _Object(attributes.get("type", "model"))
            self.model.objects[attributes["id"]] = self.current
            self.add_vertex, self.add_face = self.current.vertices.extend, self.current.faces.extend
        elif tag == f"{self.prefix}component" and self.current is not None:
            self.current.parts.append(self.placed(attributes))
        elif tag == f"{self.prefix}item":
            self.model.items.append(self.placed(attributes))

    def begin(self, tag: str, attributes: dict[str, str]) -> None:
        name = tag.rpartition(" ")[2]
        if name != "model":
            raise self.package.fault(
                f"the part {_short(self.part)} begins with {_short(name)}, not with a 3D model"
            )
        # namespace and a blank, or nothing for a part without one
        self.prefix = tag.removesuffix("model")
        self.vertex_tag, self.triangle_tag = f"{self.prefix}vertex", f"{self.prefix}triangle"
        self.model.unit = attributes.get("unit", "millimeter")
        if self.model.unit not in MM_PER_UNIT:
            allowed = ", ".join(MM_PER_UNIT)
            raise self.package.fault(f"got the unit {_short(self.model.unit)}; allowed: {allowed}")

    def placed(self, attributes: dict[str, str]) -> _Placed:
        part = _part_name(attributes.get(f"{PRODUCTION} path", "")) or self.part
        matrix = np.eye(4)
        if "transform" in attributes:
            numbers = [float(word) for word in attributes["transform"].split()]
            if len(numbers) != 12:
                raise self.package.fault(f"got a transform of {len(numbers)} numbers; it has twelve")
            matrix[:, :3] = np.reshape(numbers, (4, 3))
            matrix[3, :3] *= MM_PER_UNIT[self.model.unit]
        return _Placed((part, attributes["objectid"]), matrix)
