// What the page knows and what is chosen; everything that is drawn follows from it.

import type { Compare, Feature, Features, Job, Plan, Quote, Reach, Setup, Workpiece } from "./documents";
import type { Mesh } from "./mesh";

export type Tab = "warnings" | "setups" | "features";

/** A part beside another: what is needed to draw it. */
export interface Side {
  features: Features;
  mesh: Mesh;
  quote: Quote | null;
}

/** What is seen of a setup: the workpiece as it is clamped, after the cuts, or the finished part. */
export type Shown = "before" | "after" | "part";

export interface State {
  job: Job | null;
  features: Features | null;
  plan: Plan | null;
  mesh: Mesh | null;
  tab: Tab;
  feature: string | null;
  face: number | null;
  operation: string | null;
  setup: number | null; // index of the setup that is shown, null for the bare part
  hidden: Set<string>; // kinds
  colouring: "kind" | "setup" | "reach";
  towards: string; // direction of the reach colouring, for example +z
  busy: string | null;
  reach: Reach | null; // fetched when somebody wants to see it
  quote: Quote | null;
  batch: number;
  compared: { found: Compare; old: Side; now: Side } | null;
  shown: Shown;
  pieces: Workpiece[] | null; // fetched when somebody steps through the setups
  grouped: "kind" | "setup"; // the list of features
  problem: { message: string; hint: string } | null;
}

export const EMPTY: State = {
  job: null,
  features: null,
  plan: null,
  mesh: null,
  tab: "setups",
  feature: null,
  face: null,
  operation: null,
  setup: null,
  hidden: new Set(),
  colouring: "kind",
  towards: "+z",
  busy: null,
  reach: null,
  quote: null,
  batch: 1,
  compared: null,
  shown: "after",
  pieces: null,
  grouped: "kind",
  problem: null,
};

export const featureById = (state: State, id: string | null): Feature | null =>
  state.features?.features.find((f) => f.id === id) ?? null;

export const chosenSetup = (state: State): Setup | null =>
  state.setup === null ? null : (state.plan?.setups[state.setup] ?? null);

/** Setup number (from 0) that cuts each feature, by feature id. */
export function setupsOfFeatures(plan: Plan | null): Map<string, number[]> {
  const found = new Map<string, number[]>();
  plan?.setups.forEach((setup, n) => {
    for (const operation of setup.operations)
      for (const id of operation.features) {
        const list = found.get(id) ?? [];
        if (!list.includes(n)) list.push(n);
        found.set(id, list);
      }
  });
  return found;
}

/** All that people should know before they use the plan, worst first. */
export function warnings(state: State): { severity: string; message: string; hint: string; features: string[]; faces: number[] }[] {
  const found = [...(state.features?.findings ?? []), ...(state.plan?.findings ?? []), ...(state.plan?.proof.checker ?? [])];
  const unplanned = (state.plan?.unplanned ?? []).map((u) => ({
    severity: "error",
    message: `Not planned: ${u.feature}: ${u.reason}`,
    hint: "",
    features: [u.feature],
    faces: [],
  }));
  const order = ["error", "warning", "note"];
  return [...unplanned, ...found].sort((a, b) => order.indexOf(a.severity) - order.indexOf(b.severity));
}

/** All that the page knows. It is replaced, never changed in place, by change(), which draws the page anew. */
export let state: State = { ...EMPTY };
let draw = (): void => undefined;

export function drawWith(drawing: () => void): void {
  draw = drawing;
}

export function change(some: Partial<State>): void {
  state = { ...state, ...some };
  draw();
}
