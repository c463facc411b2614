"""A part as triangles and edge lines, for pictures and for the page: plain arrays, and their bytes.

Bytes: the magic text, the length of the header (uint32), a JSON header (schema, counts, box), then the arrays one
after the other, little-endian: points float32 (n, 3), triangles uint32 (m, 3), faces uint32 (m,), edge_points float32
(k, 3), edge_starts uint32 (e + 1,), edges uint32 (e,). Padded so that each array begins at a multiple of four bytes.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

SCHEMA = "sidewise.mesh/1"
MAGIC = b"SWMESH1\n"
FLOAT, INDEX = np.dtype("<f4"), np.dtype("<u4")


@dataclass(frozen=True, eq=False)
class Mesh:
    """Lengths mm, in the file's own axes.

    points: (n, 3); faces do not share points, so that normals can be smoothed within a face only. triangles: (m, 3)
    indices into points, counter-clockwise seen from outside. faces: (m,) index of each triangle's face in the features
    document. edge_points: (k, 3), the edges' lines one after the other. edge_starts: (e + 1,) where each begins, and
    the end. edges: (e,) index of each line's edge. deviation: mm that the triangles may lie off the part.
    """

    points: NDArray[np.float32]
    triangles: NDArray[np.uint32]
    faces: NDArray[np.uint32]
    edge_points: NDArray[np.float32]
    edge_starts: NDArray[np.uint32]
    edges: NDArray[np.uint32]
    deviation: float

    def to_bytes(self) -> bytes:
        """The mesh in the form that the head of this file describes."""
        arrays = self._arrays()
        header = {
            "schema": SCHEMA,
            "points": len(self.points),
            "triangles": len(self.triangles),
            "edge_points": len(self.edge_points),
            "edges": len(self.edges),
            "deviation": self.deviation,
            "min": [float(v) for v in arrays[0].min(axis=0)],
            "max": [float(v) for v in arrays[0].max(axis=0)],
        }
        text = json.dumps(header).encode()
        text += b" " * (-len(text) % 4)
        return b"".join([MAGIC, struct.pack("<I", len(text)), text, *(a.tobytes() for a in arrays)])

    def _arrays(self) -> list[NDArray]:
        floats = (self.points, self.edge_points)
        points, edge_points = (np.ascontiguousarray(a, FLOAT) for a in floats)
        whole = (self.triangles, self.faces, self.edge_starts, self.edges)
        triangles, faces, starts, edges = (np.ascontiguousarray(a, INDEX) for a in whole)
        return [points, triangles, faces, edge_points, starts, edges]

    @classmethod
    def from_bytes(cls, data: bytes) -> Mesh:
        """The mesh in `data`. Raises ValueError where it is none."""
        if not data.startswith(MAGIC):
            raise ValueError("these bytes are no mesh")
        at = len(MAGIC) + 4
        (length,) = struct.unpack_from("<I", data, len(MAGIC))
        header = json.loads(data[at : at + length])
        at += length
        n, m, k, e = (header[name] for name in ("points", "triangles", "edge_points", "edges"))
        arrays: list[NDArray] = []
        for kind, shape in (
            (FLOAT, (n, 3)),
            (INDEX, (m, 3)),
            (INDEX, (m,)),
            (FLOAT, (k, 3)),
            (INDEX, (e + 1,)),
            (INDEX, (e,)),
        ):
            count = int(np.prod(shape))
            arrays.append(np.frombuffer(data, kind, count, at).reshape(shape))
            at += count * 4
        points, triangles, faces, edge_points, starts, edges = arrays
        return cls(points, triangles, faces, edge_points, starts, edges, header["deviation"])


PACK = b"SWPACK1\n"


def packed(meshes: list[tuple[dict[str, Any], Mesh]]) -> bytes:
    """Several meshes in one: the magic text, the length of the header (uint32), a JSON list of what is said of each with
    the number of its bytes, then the bytes of one after the other.
    """
    bodies = [mesh.to_bytes() for _, mesh in meshes]
    header = [about | {"bytes": len(body)} for (about, _), body in zip(meshes, bodies, strict=True)]
    text = json.dumps(header).encode()
    text += b" " * (-len(text) % 4)
    return b"".join([PACK, struct.pack("<I", len(text)), text, *bodies])


def unpacked(data: bytes) -> list[tuple[dict[str, Any], bytes]]:
    """What packed() put together: what is said of each mesh, and its bytes. Raises ValueError where it is nothing such."""
    if not data.startswith(PACK):
        raise ValueError("these bytes are no pack of meshes")
    at = len(PACK) + 4
    (length,) = struct.unpack_from("<I", data, len(PACK))
    header = json.loads(data[at : at + length])
    ends = np.cumsum([at + length, *(row["bytes"] for row in header)]).tolist()
    return [(row, data[a:b]) for row, a, b in zip(header, ends[:-1], ends[1:], strict=True)]
