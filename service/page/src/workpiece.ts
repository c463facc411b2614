// The workpiece as it is in each setup: which mesh, in which colours.

import * as api from "./api";
import { CHOSEN, EARLIER, GOUGED, NOW, RAW, STAYS } from "./colours";
import type { Operation } from "./documents";
import { decode, type Mesh } from "./mesh";
import { chosenSetup, type State } from "./state";
import type { Piece } from "./viewer";

const known = new Map<string, Promise<Mesh>>();

/** Meshes already fetched are kept until another job is opened. */
export function forgetPieces(): void {
  known.clear();
}

function meshOf(job: string, name: string): Promise<Mesh> {
  const key = `${job} ${name}`;
  let found = known.get(key);
  if (!found) {
    found = api.workpiece(job, name).then(decode);
    found.catch(() => known.delete(key));
    known.set(key, found);
  }
  return found;
}

/** Number of the operation that cut a triangle, from 1 in the order of the plan. */
export const operationAt = (state: State, number: number): Operation | null =>
  state.plan?.setups.flatMap((s) => s.operations)[number - 1] ?? null;

/** Colour by the number of the operation: raw, earlier, in this setup, chosen. */
export function pieceColours(state: State): (operation: number) => number {
  const setups = state.plan!.setups;
  const first = setups.slice(0, state.setup!).reduce((sum, s) => sum + s.operations.length, 0);
  const all = setups.flatMap((s) => s.operations);
  return (n) => {
    if (n === 0) return RAW;
    if (all[n - 1]?.id === state.operation) return CHOSEN;
    return n > first ? NOW : EARLIER;
  };
}

/** What is to be drawn for the state, or null where the part itself is. Fetches what it needs. */
export async function pieceOf(state: State): Promise<Piece | null> {
  const setup = chosenSetup(state);
  if (!setup || state.shown === "part" || !state.pieces || !state.features) return null;
  const n = state.setup!;
  const has = (name: string): boolean => state.pieces!.some((p) => p.name === name);
  const name = state.shown === "after" ? setup.id : n === 0 ? "stock" : state.plan!.setups[n - 1].id;
  if (!has(name)) return null;
  const last = n === state.plan!.setups.length - 1 && state.shown === "after";
  const wrong = last ? ([["left", STAYS], ["gouged", GOUGED]] as const).filter(([w]) => has(w)) : [];
  const [mesh, ...over] = await Promise.all([name, ...wrong.map(([w]) => w)].map((w) => meshOf(state.job!.id, w)));
  return {
    mesh,
    colour: pieceColours(state),
    over: over.map((m, k) => ({ mesh: m, colour: wrong[k][1] })),
    jaws: state.pieces.find((p) => p.name === setup.id)?.jaws ?? [],
    frame: state.features.part.frame,
  };
}
