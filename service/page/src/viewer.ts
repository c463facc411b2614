// The part in 3-D: coloured faces, edges, picking, the work plane of a setup, the stock.

import * as THREE from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import { CHOSEN, UNKNOWN } from "./colours";
import type { Setup, Vector } from "./documents";
import type { Mesh } from "./mesh";
import { edgeLines, jawBox, paint, shine, solid, stockLines } from "./solids";

const DIMMED = 0.28;
const [ROUND, ROOM] = [1.12, 1.16]; // of the picture to what is seen in it: bars lie over its ends
/** Pixels of the picture to one of the screen: while it is turned by slow graphics, and else, which smooths its edges. */
const [COARSE, FINE] = [1, 2];
const [QUICK_MS, SLOW_MS] = [25, 45]; // between two pictures
const ENOUGH = 5; // pictures in a row that show what the graphics can do
const [KEY_TURN, KEY_ZOOM] = [Math.PI / 24, 1.15]; // radians and share a key press
const STILL_MS = 180; // without a new picture before the fine one is drawn

/** A workpiece: its mesh, a colour by operation (0: raw), what lies over it whole, jaws as boxes along the frame. */
export interface Piece {
  mesh: Mesh;
  colour: (operation: number) => number;
  over: { mesh: Mesh; colour: number }[];
  jaws: [Vector, Vector][];
  frame: Vector[];
}

export class Viewer {
  private readonly scene = new THREE.Scene();
  private readonly camera = new THREE.OrthographicCamera(-1, 1, 1, -1, -1e5, 1e5);
  private readonly renderer: THREE.WebGLRenderer;
  private readonly controls: OrbitControls;
  private readonly marks = new THREE.Group();
  private part: THREE.Mesh | null = null;
  private lines: THREE.LineSegments | null = null;
  private mesh: Mesh | null = null;
  private radius = 1;
  private readonly centre = new THREE.Vector3();
  private readonly pieces = new THREE.Group();
  private readonly chosen = new THREE.Group();
  private work: { made: THREE.Mesh; mesh: Mesh } | null = null;
  private readonly sizes: ResizeObserver;
  private following = false;
  private asked = false;
  private before = 0; // when the last picture was drawn, ms
  private graphics: "unknown" | "quick" | "slow" = "unknown";
  private shown = 0; // pictures in a row that speak for something else
  private still = 0;
  private fresh = false;
  drawn = 0;

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly picked: (face: number | null, ofWorkpiece: boolean) => void,
    private readonly turned: () => void = () => undefined,
  ) {
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: false, alpha: true });
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.addEventListener("change", () => {
      this.draw();
      if (!this.following) this.turned();
    });
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0x8d8d93, 1.9), this.marks, this.pieces, this.chosen);
    const sun = new THREE.DirectionalLight(0xffffff, 1.6);
    sun.position.set(0.4, 0.7, 1);
    this.camera.add(sun);
    this.scene.add(this.camera);
    this.listenForPicks();
    this.listenForKeys();
    this.sizes = new ResizeObserver(() => this.fit());
    this.sizes.observe(canvas.parentElement!);
  }

  show(mesh: Mesh): void {
    this.clear();
    this.mesh = mesh;
    this.fresh = true;
    this.part = solid(mesh);
    this.lines = edgeLines(mesh);
    this.scene.add(this.part, this.lines);
    this.centre.set((mesh.min[0] + mesh.max[0]) / 2, (mesh.min[1] + mesh.max[1]) / 2, (mesh.min[2] + mesh.max[2]) / 2);
    this.radius = Math.hypot(...mesh.max.map((v, k) => v - mesh.min[k])) / 2;
    this.lookFrom([1, -1.4, 1], [0, 0, 1]);
  }

  clear(): void {
    for (const old of [this.part, this.lines]) {
      if (!old) continue;
      this.scene.remove(old);
      old.geometry.dispose();
    }
    this.part = this.lines = this.mesh = null;
    this.shineThrough(new Set());
    this.marks.clear();
    this.piece(null);
    this.draw();
  }

  /** Shows a workpiece in the part's place, or the part again: its triangles are coloured by the operation that cut them. */
  piece(shown: Piece | null): void {
    this.pieces.traverse((old) => (old as THREE.Mesh).geometry?.dispose());
    this.pieces.clear();
    this.work = null;
    if (this.part) this.part.visible = !shown;
    if (this.lines) this.lines.visible = !shown;
    if (shown) {
      const made = solid(shown.mesh);
      paint(made, shown.mesh, shown.colour);
      this.work = { made, mesh: shown.mesh };
      this.pieces.add(made, edgeLines(shown.mesh));
      for (const { mesh, colour } of shown.over) {
        const over = solid(mesh, -2);
        paint(over, mesh, () => colour);
        this.pieces.add(over);
      }
      for (const jaw of shown.jaws) this.pieces.add(jawBox(jaw, shown.frame));
    }
    this.fit();
  }

  /** Other colours for the workpiece that is shown. */
  recolour(colour: (operation: number) => number): void {
    if (this.work) paint(this.work.made, this.work.mesh, colour);
    this.draw();
  }

  /** Turns as another view has turned. */
  turnAs(other: Viewer): void {
    this.following = true;
    this.stand(other.camera.up);
    this.camera.position.copy(other.camera.position).sub(other.controls.target).setLength(4 * this.radius).add(this.controls.target);
    this.camera.zoom = other.camera.zoom;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.following = false;
  }

  /** Gives the graphics memory back; the viewer is of no use afterwards. */
  end(): void {
    this.clear();
    this.controls.dispose();
    this.sizes.disconnect();
    clearTimeout(this.still);
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }

  /** Colours by face; faces that are missing are white. Hidden ones are drawn as a ghost. */
  colour(colours: Map<number, number>, chosen: Set<number>, hidden: Set<number>): void {
    if (!this.part || !this.mesh) return;
    const ghost = new THREE.Color(0xf4f5f7);
    const made = new THREE.Color();
    paint(this.part, this.mesh, (face) => {
      made.setHex(chosen.has(face) ? CHOSEN : (colours.get(face) ?? UNKNOWN));
      return hidden.has(face) && !chosen.has(face) ? made.lerp(ghost, 1 - DIMMED).getHex() : made.getHex();
    });
    this.shineThrough(this.part.visible ? chosen : new Set());
    this.draw();
  }

  /** What is chosen is seen even where it lies behind the rest. */
  private shineThrough(faces: Set<number>): void {
    this.chosen.children.forEach((old) => (old as THREE.Mesh).geometry.dispose());
    this.chosen.clear();
    if (this.mesh && faces.size) this.chosen.add(shine(this.mesh, faces, CHOSEN));
  }

  /** Turns the view so that `from` points at the person and `up` points up on the screen. */
  lookFrom(from: Vector | number[], up: Vector | number[]): void {
    const way = new THREE.Vector3(...(from as Vector)).normalize();
    this.stand(new THREE.Vector3(...(up as Vector)));
    this.controls.target.copy(this.centre);
    this.camera.position.copy(this.centre).addScaledVector(way, 4 * this.radius);
    this.camera.zoom = 1;
    this.controls.update();
    this.fit();
  }

  /** Which way is up. OrbitControls asks only once, when it is made, so its own two turns are set here as well. */
  private stand(up: THREE.Vector3): void {
    this.camera.up.copy(up);
    const inner = this.controls as unknown as { _quat: THREE.Quaternion; _quatInverse: THREE.Quaternion };
    inner._quat.setFromUnitVectors(up.clone().normalize(), new THREE.Vector3(0, 1, 0));
    inner._quatInverse.copy(inner._quat).invert();
  }

  /** A setup as it stands on the machine: its Z up, its work plane's axes drawn at the origin, the stock around. */
  clamp(setup: Setup | null, stock: { min: Vector; max: Vector; frame: Vector[] } | null): void {
    this.marks.clear();
    if (stock) this.marks.add(stockLines(stock, this.radius));
    if (setup) {
      const z = new THREE.Vector3(...setup.direction);
      const x = new THREE.Vector3(...setup.x_axis);
      const y = new THREE.Vector3().crossVectors(z, x);
      const origin = new THREE.Vector3(...setup.origin);
      const length = 0.45 * this.radius;
      const axes: [THREE.Vector3, number][] = [[x, 0xc62f2f], [y, 0x2c8a3c], [z, 0x2455c3]];
      for (const [axis, colour] of axes) {
        this.marks.add(new THREE.ArrowHelper(axis, origin, length, colour, 0.16 * length, 0.08 * length));
      }
      const plane = new THREE.Mesh(
        new THREE.PlaneGeometry(length, length),
        new THREE.MeshBasicMaterial({ color: 0x2455c3, transparent: true, opacity: 0.13, side: THREE.DoubleSide, depthWrite: false }),
      );
      plane.applyMatrix4(new THREE.Matrix4().makeBasis(x, y, z));
      plane.position.copy(origin).addScaledVector(x, length / 2).addScaledVector(y, length / 2);
      this.marks.add(plane);
      const from = z.clone().multiplyScalar(0.75).addScaledVector(y, -1).addScaledVector(x, 0.45);
      this.lookFrom(from.toArray(), setup.direction);
    }
    this.draw();
  }

  private fit(): void {
    const box = this.canvas.parentElement!.getBoundingClientRect();
    if (!box.width || !box.height) return;
    this.renderer.setSize(box.width, box.height, false);
    const aspect = box.width / box.height;
    const half = this.halfHeight(aspect);
    Object.assign(this.camera, { left: -half * aspect, right: half * aspect, top: half, bottom: -half });
    this.camera.near = -20 * this.radius;
    this.camera.far = 20 * this.radius;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  /** Half of what is seen from top to bottom: the part however it is turned, or a workpiece and its jaws as they stand. */
  private halfHeight(aspect: number): number {
    if (!this.work) return ROUND * this.radius * Math.max(1, 1 / aspect);
    const box = new THREE.Box3().expandByObject(this.pieces);
    this.camera.updateMatrixWorld();
    const [right, up] = [new THREE.Vector3(), new THREE.Vector3()];
    this.camera.matrixWorld.extractBasis(right, up, new THREE.Vector3());
    let half = 0;
    for (let corner = 0; corner < 8; corner++) {
      const at = new THREE.Vector3(...([0, 1, 2].map((k) => (corner & (1 << k) ? box.max : box.min).getComponent(k)) as Vector)).sub(this.controls.target);
      half = Math.max(half, Math.abs(at.dot(up)), Math.abs(at.dot(right)) / aspect);
    }
    return ROOM * half;
  }

  private draw(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame((now) => {
      this.asked = false;
      this.time(now - this.before);
      this.before = now;
      this.render(this.graphics === "quick" ? FINE : COARSE);
    });
  }

  /** Learns from the time between two pictures what the graphics can do; slow ones are not tried again. */
  private time(took: number): void {
    if (took > 10 * STILL_MS) return; // nothing was moving
    const other = this.graphics === "unknown" ? took < QUICK_MS : this.graphics === "quick" && took > SLOW_MS;
    this.shown = other ? this.shown + 1 : 0;
    if (this.shown < ENOUGH) return;
    this.graphics = this.graphics === "unknown" ? "quick" : "slow";
    this.shown = 0;
  }

  /** Draws at so many pixels to one of the screen; a coarse picture is followed by a fine one as soon as nothing moves. */
  private render(ratio: number): void {
    clearTimeout(this.still);
    if (this.renderer.getPixelRatio() !== ratio) this.renderer.setPixelRatio(ratio);
    this.renderer.render(this.scene, this.camera);
    if (this.fresh && this.part) performance.mark("sidewise-picture"); // for tests.benchmarks.first_picture
    this.fresh = this.part ? false : this.fresh;
    this.drawn++;
    this.canvas.dataset.drawn = String(this.drawn);
    this.canvas.dataset.from = this.camera.position.clone().sub(this.controls.target).normalize().toArray().map((v) => v.toFixed(3)).join(" ");
    if (ratio !== FINE) this.still = setTimeout(() => this.render(FINE), STILL_MS);
  }

  /** A click that is no drag picks the face under it. */
  private listenForPicks(): void {
    let at = [0, 0];
    this.canvas.addEventListener("pointerdown", (e) => (at = [e.clientX, e.clientY]));
    this.canvas.addEventListener("pointerup", (e) => {
      if (Math.hypot(e.clientX - at[0], e.clientY - at[1]) < 5) this.picked(this.faceAt(e.clientX, e.clientY), this.work !== null);
    });
  }

  /** Arrow keys turn what is seen, plus and minus bring it nearer and farther. */
  private listenForKeys(): void {
    const inner = this.controls as unknown as { _rotateLeft(angle: number): void; _rotateUp(angle: number): void };
    const keys: Record<string, () => void> = {
      ArrowLeft: () => inner._rotateLeft(KEY_TURN), ArrowRight: () => inner._rotateLeft(-KEY_TURN),
      ArrowUp: () => inner._rotateUp(KEY_TURN), ArrowDown: () => inner._rotateUp(-KEY_TURN),
      "+": () => (this.camera.zoom *= KEY_ZOOM), "-": () => (this.camera.zoom /= KEY_ZOOM),
    };
    this.canvas.addEventListener("keydown", (e) => {
      const act = keys[e.key];
      if (!act || e.ctrlKey || e.altKey || e.metaKey) return;
      e.preventDefault();
      act();
      this.camera.updateProjectionMatrix();
      this.controls.update();
      this.draw();
    });
  }

  /** The face under a point of the window, or null; of a workpiece the number of the operation that cut it. */
  faceAt(clientX: number, clientY: number): number | null {
    const seen = this.work?.made ?? this.part;
    const mesh = this.work?.mesh ?? this.mesh;
    if (!seen || !mesh) return null;
    const box = this.canvas.getBoundingClientRect();
    const at = new THREE.Vector2(
      (2 * (clientX - box.left)) / box.width - 1,
      1 - (2 * (clientY - box.top)) / box.height,
    );
    const ray = new THREE.Raycaster();
    ray.setFromCamera(at, this.camera);
    const [hit] = ray.intersectObject(seen);
    return hit ? mesh.faces[hit.faceIndex!] : null;
  }
}
