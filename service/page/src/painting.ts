// Colours of the part's faces for what is asked for, and the legend that explains them.

import { COLOURS, css, EARLIER, GOUGED, IN_THE_WAY, NOW, RAW, STAYS } from "./colours";
import type { Feature } from "./documents";
import { capital, fill, h, words } from "./dom";
import { names, REACH_COLOURS, REACH_WORDS, reached } from "./reach";
import { ofWorkpiece } from "./setups";
import { legend, viewer } from "./shell";
import { setupsOfFeatures, state } from "./state";
import { pieceColours } from "./workpiece";

const SETUP_COLOURS = [0x1f5fa8, 0xf2b134, 0x12876f, 0xcfa3d6, 0xd9691e, 0x9ecae9, 0x7a2f0b, 0xe9dfa0];
const NOT_CUT = 0xa1001a;

export function drawLegend(): void {
  const entry = (colour: number, text: string) => h("span", {}, h("i", { class: "swatch", style: `background:${css(colour)}` }), text);
  const kinds = Object.keys(COLOURS).filter((k) => state.features?.features.some((f) => f.kind === k));
  if (ofWorkpiece()) {
    const last = state.shown === "after" && state.setup === state.plan!.setups.length - 1;
    const wrong = (name: string): boolean => last && state.pieces!.some((p) => p.name === name);
    fill(legend, entry(RAW, "Raw"), entry(EARLIER, "Cut in an earlier setup"), state.shown === "after" && entry(NOW, "Cut in this setup"), wrong("left") && entry(STAYS, "Stays that should not"), wrong("gouged") && entry(GOUGED, "Gouged"));
    return;
  }
  fill(
    legend,
    state.colouring === "kind" && kinds.map((k) => entry(COLOURS[k], capital(words(k)))),
    state.colouring === "setup" && (state.plan?.setups ?? []).map((_, n) => entry(SETUP_COLOURS[n % SETUP_COLOURS.length], `Setup ${n + 1}`)),
    state.colouring === "reach" && (Object.keys(REACH_COLOURS) as (keyof typeof REACH_COLOURS)[]).map((k) => entry(REACH_COLOURS[k], capital(REACH_WORDS[k]))),
    state.colouring === "reach" && blocking().size > 0 && entry(IN_THE_WAY, "In the way of what is chosen"),
  );
}

export function paint(): void {
  const { features } = state;
  if (!features) return;
  const setups = setupsOfFeatures(state.plan);
  const colours = new Map<number, number>();
  const hidden = new Set<number>();
  for (const feature of features.features)
    for (const face of feature.faces) {
      colours.set(face, colourOf(feature, face, setups));
      if (state.hidden.has(feature.kind)) hidden.add(face);
    }
  for (const face of blocking()) colours.set(face, IN_THE_WAY);
  viewer.colour(colours, chosenFaces(), hidden);
  if (ofWorkpiece() && state.plan) viewer.recolour(pieceColours(state));
}

/** Faces in the way of the chosen ones, from the direction that reach is coloured for. */
function blocking(): Set<number> {
  const { reach, features, colouring } = state;
  if (colouring !== "reach" || !reach || !features) return new Set();
  const towards = names(reach, features).indexOf(state.towards);
  const chosen = chosenFaces();
  const blockers = [...chosen].flatMap((face) => reach.faces[face]?.views.find((v) => v.direction === towards)?.blockers ?? []);
  return new Set(blockers.flatMap((b) => b.faces).filter((face) => !chosen.has(face)));
}

function chosenFaces(): Set<number> {
  const operation = state.plan?.setups.flatMap((s) => s.operations).find((o) => o.id === state.operation);
  if (operation) {
    const faces = operation.faces.length ? operation.faces : operation.features.flatMap((id) => state.features!.features.find((f) => f.id === id)?.faces ?? []);
    return new Set(faces);
  }
  const feature = state.features!.features.find((f) => f.id === state.feature);
  if (feature) return new Set(feature.faces);
  return new Set(state.face === null ? [] : [state.face]);
}

function colourOf(feature: Feature, face: number, setups: Map<string, number[]>): number {
  if (state.colouring === "setup") {
    const first = setups.get(feature.id)?.[0];
    return first === undefined ? NOT_CUT : SETUP_COLOURS[first % SETUP_COLOURS.length];
  }
  if (state.colouring === "reach") {
    if (!state.reach) return REACH_COLOURS.unseen;
    return REACH_COLOURS[reached(state.reach, face, names(state.reach, state.features!).indexOf(state.towards))];
  }
  return COLOURS[feature.kind] ?? 0xffffff;
}
