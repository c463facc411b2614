// A part's triangles and edges as three.js draws them.

import * as THREE from "three";
import type { Vector } from "./documents";
import type { Mesh } from "./mesh";

const JAW = 0x4a5560;

/** Triangles that share no corners, so that each may have its own colour; smooth within a face. */
export function solid(mesh: Mesh, offset = 1): THREE.Mesh {
  const geometry = new THREE.BufferGeometry();
  const index = mesh.triangles;
  const positions = new Float32Array(index.length * 3);
  const smooth = new THREE.BufferGeometry();
  smooth.setAttribute("position", new THREE.BufferAttribute(mesh.points, 3));
  smooth.setIndex(new THREE.BufferAttribute(index, 1));
  smooth.computeVertexNormals();
  const normals = new Float32Array(positions.length);
  const from = smooth.getAttribute("normal").array;
  for (let i = 0; i < index.length; i++) {
    for (let k = 0; k < 3; k++) {
      positions[3 * i + k] = mesh.points[3 * index[i] + k];
      normals[3 * i + k] = from[3 * index[i] + k];
    }
  }
  geometry.setAttribute("position", new THREE.BufferAttribute(positions, 3));
  geometry.setAttribute("normal", new THREE.BufferAttribute(normals, 3));
  geometry.setAttribute("color", new THREE.BufferAttribute(new Float32Array(positions.length).fill(0.8), 3));
  const material = new THREE.MeshLambertMaterial({
    vertexColors: true,
    side: THREE.DoubleSide,
    polygonOffset: true,
    polygonOffsetFactor: offset,
    polygonOffsetUnits: offset,
  });
  return new THREE.Mesh(geometry, material);
}

/** Colours each triangle by its face. */
export function paint(made: THREE.Mesh, mesh: Mesh, colourOf: (face: number) => number): void {
  const attribute = made.geometry.getAttribute("color") as THREE.BufferAttribute;
  const all = attribute.array as Float32Array;
  const known = new Map<number, THREE.Color>();
  mesh.faces.forEach((face, triangle) => {
    let colour = known.get(face);
    if (!colour) known.set(face, (colour = new THREE.Color(colourOf(face))));
    for (let k = 0; k < 3; k++) colour.toArray(all, 9 * triangle + 3 * k);
  });
  attribute.needsUpdate = true;
}

export function edgeLines(mesh: Mesh): THREE.LineSegments {
  const points: number[] = [];
  for (let e = 0; e < mesh.edges.length; e++) {
    for (let i = mesh.edgeStarts[e]; i + 1 < mesh.edgeStarts[e + 1]; i++) {
      for (let k = 0; k < 6; k++) points.push(mesh.edgePoints[3 * i + k]);
    }
  }
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.Float32BufferAttribute(points, 3));
  return new THREE.LineSegments(geometry, new THREE.LineBasicMaterial({ color: 0x22262b }));
}

/** Some faces of a mesh, seen through whatever stands before them. */
export function shine(mesh: Mesh, faces: Set<number>, colour: number): THREE.Mesh {
  const corners = [...mesh.faces.keys()].filter((t) => faces.has(mesh.faces[t])).flatMap((t) => [...mesh.triangles.subarray(3 * t, 3 * t + 3)]);
  const geometry = new THREE.BufferGeometry();
  geometry.setAttribute("position", new THREE.BufferAttribute(mesh.points, 3));
  geometry.setIndex(corners);
  return new THREE.Mesh(geometry, new THREE.MeshBasicMaterial({ color: colour, transparent: true, opacity: 0.3, side: THREE.DoubleSide, depthTest: false, depthWrite: false }));
}

/** A jaw of the vise: a box along the part's own axes that one looks through. */
export function jawBox([low, high]: [Vector, Vector], frame: Vector[]): THREE.Object3D {
  const made = new THREE.Mesh(
    new THREE.BoxGeometry(...(high.map((v, k) => v - low[k]) as Vector)),
    new THREE.MeshLambertMaterial({ color: JAW, transparent: true, opacity: 0.4, depthWrite: false }),
  );
  const [x, y, z] = frame.map((a) => new THREE.Vector3(...a));
  made.applyMatrix4(new THREE.Matrix4().makeBasis(x, y, z));
  made.position.set(0, 0, 0);
  [x, y, z].forEach((axis, k) => made.position.addScaledVector(axis, (low[k] + high[k]) / 2));
  return made;
}

/** The stock's box in dashes. radius: of the part, which says how long they are. */
export function stockLines(stock: { min: Vector; max: Vector; frame: Vector[] }, radius: number): THREE.LineSegments {
  const size = stock.max.map((v, k) => v - stock.min[k]) as Vector;
  const lines = new THREE.LineSegments(
    new THREE.EdgesGeometry(new THREE.BoxGeometry(...size)),
    new THREE.LineDashedMaterial({ color: 0x6b4f1d, dashSize: radius / 30, gapSize: radius / 50 }),
  );
  const [x, y, z] = stock.frame.map((a) => new THREE.Vector3(...a));
  const centre = new THREE.Vector3();
  [x, y, z].forEach((axis, k) => centre.addScaledVector(axis, (stock.min[k] + stock.max[k]) / 2));
  lines.applyMatrix4(new THREE.Matrix4().makeBasis(x, y, z));
  lines.position.copy(centre);
  lines.computeLineDistances();
  return lines;
}
