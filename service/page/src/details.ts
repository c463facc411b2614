// The right column: what is chosen and why it is so; the plan in figures; the job's form.

import type { Feature, Operation, Plan, Quote } from "./documents";
import { capital, direction, h, minutes, number, words } from "./dom";
import { area, feed, length, unit } from "./lengths";
import { sizes } from "./lists";
import { inTheWay, names } from "./reach";
import { featureById, setupsOfFeatures, type State } from "./state";

const MOST_DRIVERS = 6;

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
      ["Size", sizes(feature, state)],
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
  const { levels, passes, tool } = operation;
  return h(
    "div",
    {},
    h("h3", {}, capital(operation.name)),
    pairs([
      ["id", operation.id],
      ["Cutter", `⌀ ${length(tool.DCX || tool.DC)} ${words(tool.kind)}${tool.RE ? `, RE ${length(tool.RE)}` : ""} (${tool.id})`],
      ["Stick-out", tool.LU ? `${length(tool.LU)} ${unit()}, as simulated` : ""],
      ["Levels", `${length(levels.top)} → ${length(levels.bottom)}${levels.break_through ? `, ${length(levels.break_through)} past it` : ""}`],
      ["Steps", `${passes.axial_count} × ${length(passes.axial_depth)} deep, ${passes.radial_count} × ${length(passes.radial_depth)} wide`],
      ["Entry", words(operation.entry)],
      ["Strategy", words(operation.strategy)],
      ["Speed", `${Math.round(operation.speed)} rev/min`],
      ["Feed", feed(operation.feed)],
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
      ["Area", area(face.area)],
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
  const rows = pairs([
    ["Setups", `${totals.setups} (${proven})`],
    ["Operations", totals.operations],
    ["Cutters", `${totals.tools}, ${totals.tool_changes} changes`],
    ["Time", `${minutes(totals.minutes)} without loading`],
    ["Price", state.quote ? price(state, state.quote) : ""],
    ["Stock", `${plan.job.stock.size.map(length).join(" × ")} ${unit()}`],
    ["Not planned", plan.unplanned.length || ""],
    ["Simulated", simulated(plan)],
    ["Checker", proof.checker.length ? `${proof.checker.length} ${proof.checker.length === 1 ? "fault" : "faults"}` : "found nothing wrong"],
  ]);
  return h("div", {}, rows, state.quote && costs(state.quote));
}

function simulated({ proof }: Plan): string {
  if (proof.left_uncut === null || proof.gouged === null) return "no";
  const said = (mm3: number, what: string): string => (mm3 > 0 ? `${number(mm3, 1)} mm³ ${what}` : `nothing ${what}`);
  return `${said(proof.left_uncut, "left uncut")}, ${said(proof.gouged, "gouged")}`;
}

/** What stands before everything else where a plan fails its own proof. */
export function faults(state: State): HTMLElement | null {
  const found = state.plan?.proof.checker.filter((f) => f.severity === "error") ?? [];
  if (!found.length) return null;
  return h("div", { class: "problem", role: "alert" }, h("strong", {}, `DO NOT CUT: the plan fails its own proof in ${found.length} place(s)`), h("ul", {}, found.map((f) => h("li", {}, f.message))));
}

/** The price at other quantities, and what makes the part dear. */
function costs(quote: Quote): HTMLElement {
  const currency = String(quote.rates.currency ?? "");
  return h(
    "details",
    {},
    h("summary", {}, "Price by batch, and what drives it"),
    h("table", { class: "prices" }, h("tbody", {}, quote.prices.map((p) => h("tr", {}, h("th", { scope: "row" }, `${p.quantity}`), h("td", {}, `${p.each.toFixed(2)} ${currency} each`), h("td", {}, `${p.total.toFixed(2)} ${currency}`))))),
    h("ul", {}, quote.drivers.slice(0, MOST_DRIVERS).map((d) => h("li", {}, `${d.what}, ${Math.max(...d.costs).toFixed(2)} ${currency} a part at most: ${d.text}`))),
  );
}

function price(state: State, quote: Quote): string {
  const asked = quote.prices.find((p) => p.quantity === state.batch) ?? quote.prices[0];
  const whose = state.job?.files.some((f) => f.startsWith("rates: ")) ? "your rates" : "assumed rates";
  return `${asked.each.toFixed(2)} ${quote.rates.currency ?? ""} each for ${asked.quantity} (${whose})`;
}

export function cautions(state: State): HTMLElement | null {
  if (!state.plan) return null;
  return h("details", { class: "cautions", open: true }, h("summary", {}, "Before anything is cut"), h("ul", {}, state.plan.cautions.map((c) => h("li", {}, c))));
}
