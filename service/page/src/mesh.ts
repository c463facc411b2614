// The bytes of shared/mesh.py as typed arrays.

export interface Mesh {
  points: Float32Array;
  triangles: Uint32Array;
  faces: Uint32Array;
  edgePoints: Float32Array;
  edgeStarts: Uint32Array;
  edges: Uint32Array;
  min: number[];
  max: number[];
}

const MAGIC = "SWMESH1\n";

export function decode(buffer: ArrayBuffer): Mesh {
  const magic = new TextDecoder().decode(new Uint8Array(buffer, 0, MAGIC.length));
  if (magic !== MAGIC) throw new Error("these bytes are no mesh");
  const length = new DataView(buffer).getUint32(MAGIC.length, true);
  let at = MAGIC.length + 4;
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, at, length)));
  at += length;
  const take = <T>(Kind: { new (b: ArrayBuffer, o: number, n: number): T }, count: number): T => {
    const array = new Kind(buffer, at, count);
    at += 4 * count;
    return array;
  };
  const points = take(Float32Array, 3 * header.points);
  const triangles = take(Uint32Array, 3 * header.triangles);
  const faces = take(Uint32Array, header.triangles);
  const edgePoints = take(Float32Array, 3 * header.edge_points);
  const edgeStarts = take(Uint32Array, header.edges + 1);
  const edges = take(Uint32Array, header.edges);
  return { points, triangles, faces, edgePoints, edgeStarts, edges, min: header.min, max: header.max };
}
