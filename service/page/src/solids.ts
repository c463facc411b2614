// A part's triangles and edges as three.js draws them.

import * as THREE from "three";
import type { Mesh } from "./mesh";

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
