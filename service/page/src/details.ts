// The right column: what is chosen and why it is so; the plan in figures; the job's form.

import type { Feature, Operation, Quote } from "./documents";
import { capital, direction, h, minutes, number, words } from "./dom";
import { sizes } from "./lists";
import { inTheWay, names } from "./reach";
import { featureById, setupsOfFeatures, type State } from "./state";

const pairs = (rows: [string, string | number | null | undefined][]): HTMLElement =>
  h(
    "dl",
    {},
    rows.filter(([, value]) => value !== null && value !== undefined && value !== "").flatMap(([name, value]) => [
      h("dt", {}, name),
      h("dd", {}, String(value)),
    ]),
  );

const reasons = (because: string[]): HTMLElement =>
  h("details", { open: true }, h("summary", {}, "Why"), h("ul", {}, because.map((line) => h("li", {}, line))));

export function details(state: State): HTMLElement {
  const operation = state.plan?.setups.flatMap((s) => s.operations).find((o) => o.id === state.operation);
  if (operation) return operationDetails(operation);
  const feature = featureById(state, state.feature);
  if (feature) return featureDetails(state, feature);
  if (state.face !== null) return faceDetails(state, state.face);
  return h("p", { class: "quiet" }, "Pick a face of the part, a feature or an operation to see what it is and why.");
}

function featureDetails(state: State, feature: Feature): HTMLElement {
  const frame = state.features!.part.frame;
  const setups = setupsOfFeatures(state.plan).get(feature.id);
  return h(
    "div",
    {},
    h("h3", {}, capital(words(feature.kind))),
    pairs([
      ["id", feature.id],
      ["Size", sizes(feature)],
      ["Bottom", feature.bottom_condition && words(feature.bottom_condition)],
      ["Sides", feature.open_sides + feature.closed_sides ? `${feature.open_sides} open, ${feature.closed_sides} closed` : ""],
      ["Cut from", feature.views.filter((v) => v.reachable).map((v) => direction(v.direction, frame)).join(", ") || "no side"],
      ["Setup", setups?.map((s) => String(s + 1)).join(", ") ?? (state.plan ? "none" : "")],
      ["Opens on", feature.inside.join(", ")],
      ["Pattern", feature.pattern],
      ["Faces", feature.faces.join(", ")],
    ]),
    reach(state, feature.faces),
    reasons(feature.because),
    feature.hints.length > 0 &&
      h("details", {}, h("summary", {}, "May be"), h("ul", {}, feature.hints.map((x) => h("li", {}, `${x.text} (${x.source})`)))),
  );
}

/** From the direction that the part is coloured for. */
function reach(state: State, faces: number[]): HTMLElement | null {
  if (state.colouring !== "reach" || !state.reach || !state.features) return null;
  return inTheWay(state.reach, faces, names(state.reach, state.features).indexOf(state.towards));
}

function operationDetails(operation: Operation): HTMLElement {
  const { levels, passes } = operation;
  return h(
    "div",
    {},
    h("h3", {}, capital(operation.name)),
    pairs([
      ["id", operation.id],
      ["Cutter", `⌀ ${number(operation.tool.DCX || operation.tool.DC)} ${words(operation.tool.kind)}${operation.tool.RE ? `, RE ${number(operation.tool.RE)}` : ""}`],
      ["Levels", `${number(levels.top)} → ${number(levels.bottom)}${levels.break_through ? `, ${number(levels.break_through)} past it` : ""}`],
      ["Steps", `${passes.axial_count} × ${number(passes.axial_depth)} deep, ${passes.radial_count} × ${number(passes.radial_depth)} wide`],
      ["Entry", words(operation.entry)],
      ["Strategy", words(operation.strategy)],
      ["Speed", `${Math.round(operation.speed)} rev/min`],
      ["Feed", `${Math.round(operation.feed)} mm/min`],
      ["Time", minutes(operation.minutes)],
      ["On", operation.features.join(", ")],
    ]),
    reasons(operation.because),
  );
}

function faceDetails(state: State, index: number): HTMLElement {
  const face = state.features!.faces[index];
  return h(
    "div",
    {},
    h("h3", {}, `Face ${index}`),
    pairs([
      ["Surface", words(face.surface)],
      ["Area", `${number(face.area, 1)} mm²`],
      ["Feature", face.feature ?? "none"],
      ["Why", face.reason],
    ]),
    reach(state, [index]),
  );
}

export function figures(state: State): HTMLElement {
  const plan = state.plan;
  if (!plan) return h("p", { class: "quiet" }, state.busy ?? "");
  const { totals, proof } = plan;
  const proven = proof.setups.status === "optimal" ? "proven fewest" : `at least ${proof.setups.lower_bound}`;
  return pairs([
    ["Setups", `${totals.setups} (${proven})`],
    ["Operations", totals.operations],
    ["Cutters", `${totals.tools}, ${totals.tool_changes} changes`],
    ["Time", `${minutes(totals.minutes)} without loading`],
    ["Price", state.quote ? price(state.quote) : ""],
    ["Stock", plan.job.stock.size.map((v) => number(v)).join(" × ") + " mm"],
    ["Not planned", plan.unplanned.length || ""],
    ["Checker", proof.checker.length ? `${proof.checker.length} faults` : "found nothing wrong"],
  ]);
}

function price(quote: Quote): string {
  const currency = String(quote.rates.currency ?? "");
  return quote.prices.map((p) => `${p.each.toFixed(2)} ${currency} each for ${p.quantity}`).join(", ") + " (assumed rates)";
}

export function cautions(state: State): HTMLElement | null {
  if (!state.plan) return null;
  return h("details", { class: "cautions", open: true }, h("summary", {}, "Before anything is cut"), h("ul", {}, state.plan.cautions.map((c) => h("li", {}, c))));
}
