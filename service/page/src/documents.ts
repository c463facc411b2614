// The parts of the documents that the page reads. The schemas are at /api/schemas/features and /plan.

export type Vector = [number, number, number];

export interface Finding {
  code: string;
  severity: "error" | "warning" | "note";
  message: string;
  hint: string;
  faces: number[];
  features: string[];
}

export interface View {
  direction: Vector;
  kind: string;
  reachable: boolean;
  reach_share: number;
  depth: number;
  top: number;
  bottom: number;
}

export interface Feature {
  id: string;
  kind: string;
  faces: number[];
  bottom_condition: string | null;
  open_sides: number;
  closed_sides: number;
  views: View[];
  dimensions: Record<string, number>;
  inside: string[];
  pattern: string | null;
  hints: { text: string; source: string }[];
  because: string[];
}

export interface Features {
  part: { file: string; unit: string; volume: number; bounding_box: { min: Vector; max: Vector }; frame: Vector[] };
  faces: { index: number; surface: string; area: number; feature: string | null; reason: string | null }[];
  features: Feature[];
  findings: Finding[];
}

export interface Tool {
  id: string;
  LU?: number | null;
  kind: string;
  DC: number;
  DCX?: number | null;
  RE: number;
}

export interface Operation {
  id: string;
  features: string[];
  faces: number[];
  name: string;
  kind: string;
  tool: Tool;
  levels: { top: number; bottom: number; break_through: number };
  passes: { axial_depth: number; axial_count: number; radial_depth: number; radial_count: number };
  strategy: string;
  entry: string;
  speed: number;
  feed: number;
  minutes: number;
  because: string[];
}

export interface Setup {
  id: string;
  clamping: string;
  direction: Vector;
  origin: Vector;
  x_axis: Vector;
  clearance: number;
  operations: Operation[];
  minutes: number;
  because: string[];
}

export interface Clamping {
  id: string;
  rest_faces: number[];
  clamp_faces: number[];
  rest_on: string;
  clamp_on: string;
}

export interface Plan {
  part: { file: string };
  job: { stock: { size: Vector; allowance: number[]; source: string }; axes: number; material: string; tools: string; machine?: { name: string } | string | null };
  cautions: string[];
  clampings: Clamping[];
  setups: Setup[];
  proof: {
    setups: { count: number; lower_bound: number; status: string; witness: string[] };
    checker: Finding[];
    left_uncut: number | null;
    gouged: number | null;
  };
  totals: { features: number; setups: number; operations: number; tools: number; tool_changes: number; minutes: number };
  unplanned: { feature: string; reason: string }[];
  findings: Finding[];
}

/** A mesh of the workpiece: `stock`, the id of the setup after which it is so, `left` or `gouged`. */
export interface Workpiece {
  name: string;
  volume: number;
  triangles: number;
  jaws: [Vector, Vector][];
}

export interface Job {
  id: string;
  name: string;
  state: "queued" | "running" | "done" | "failed" | "cancelled";
  stage: string;
  job: { stock: number | number[]; axes: number; material: string } & Record<string, unknown>;
  files: string[];
  error: { code: string; message: string; hint: string } | null;
  links: Record<string, string>;
}

export interface Quote {
  prices: { quantity: number; each: number; total: number }[];
  rates: Record<string, unknown>;
  drivers: { what: string; costs: number[]; text: string; features: string[] }[];
}

export interface FaceView {
  direction: number;
  seen: number;
  touched: number;
  largest: string | null;
  stick_out: number | null;
  blockers: { reason: string; faces: number[]; share: number; text: string }[];
}

export interface Reach {
  verdict: "reached" | "warning" | "not_reached";
  directions: { vector: Vector; source: string; seen: number; touched: number }[];
  faces: { index: number; verdict: "reached" | "warning" | "not_reached"; reasons: string[]; views: FaceView[] }[];
}

export interface FeatureChange {
  kind: string;
  new_kind: string | null;
  old: string | null;
  new: string | null;
  moved_by: Vector | null;
  sizes: { name: string; old: number | null; new: number | null }[];
  because: string[];
}

export interface Compare {
  old: { file: string; features: number };
  new: { file: string; features: number };
  placement: { kind: string; because: string[] };
  added: FeatureChange[];
  removed: FeatureChange[];
  moved: FeatureChange[];
  resized: FeatureChange[];
  unchanged: { kind: string; old: string; new: string }[];
  plan: {
    totals_old: Plan["totals"];
    totals_new: Plan["totals"];
    operations: { what: string; name: string; because: string[] }[];
    cutters_added: Tool[];
    cutters_removed: Tool[];
  } | null;
}
