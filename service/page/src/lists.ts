// The left column: warnings, setups with their operations, features by kind.

import { COLOURS, css } from "./colours";
import type { Feature, Operation, Setup } from "./documents";
import { capital, direction, h, minutes, words } from "./dom";
import { area, length } from "./lengths";
import { setupsOfFeatures, warnings, type State } from "./state";

export interface Wishes {
  chooseFeature(id: string | null): void;
  chooseOperation(operation: Operation, setup: number): void;
  chooseSetup(index: number | null): void;
  chooseFaces(faces: number[]): void;
  hideKind(kind: string, hidden: boolean): void;
  group(by: State["grouped"]): void;
}

/** Sizes of a feature as a drawing gives them; of a flat its side and its area. */
export function sizes(feature: Feature, { features }: State): string {
  const d = feature.dimensions;
  const parts = [];
  if (d.diameter) parts.push(`⌀ ${length(d.diameter)}`);
  if (d.length) parts.push(`${length(d.length)} × ${length(d.width ?? 0)}`);
  if (d.depth) parts.push(`${length(d.depth)} deep`);
  if (d.radius) parts.push(`R ${length(d.radius)}`);
  if (parts.length || !features) return parts.join(", ");
  const all = feature.faces.reduce((sum, face) => sum + features.faces[face].area, 0);
  return `${direction(feature.views[0]?.direction ?? [0, 0, 0], features.part.frame)}, ${area(all)}`;
}

export function warningList(state: State, wishes: Wishes): HTMLElement {
  const all = warnings(state);
  if (!all.length) return h("p", { class: "quiet" }, state.plan ? "Nothing to warn of." : "Waiting for the plan …");
  return h(
    "ul",
    { class: "rows" },
    all.map((w) =>
      h(
        "li",
        {},
        h(
          "button",
          {
            class: `row ${w.severity}`,
            onclick: () => (operationIn(state, w.message) ? wishes.chooseOperation(...operationIn(state, w.message)!) : w.features.length ? wishes.chooseFeature(w.features[0]) : wishes.chooseFaces(w.faces)),
          },
          h("strong", {}, { error: "✖ Error: ", warning: "▲ Warning: ", note: "· Note: " }[w.severity] ?? ""),
          w.message,
          w.hint && h("small", {}, w.hint),
        ),
      ),
    ),
  );
}

/** The operation that a warning begins with, "s4-o5: ...", and the number of its setup. */
function operationIn(state: State, message: string): [Operation, number] | null {
  const id = /^s\d+-o\d+/.exec(message)?.[0];
  const at = state.plan?.setups.findIndex((s) => s.operations.some((o) => o.id === id)) ?? -1;
  return at < 0 ? null : [state.plan!.setups[at].operations.find((o) => o.id === id)!, at];
}

export function setupList(state: State, wishes: Wishes): HTMLElement {
  const plan = state.plan;
  if (!plan) return h("p", { class: "quiet" }, state.busy ?? "No plan yet.");
  return h(
    "div",
    {},
    plan.setups.map((setup, n) => setupGroup(state, setup, n, wishes)),
    h(
      "section",
      { class: "proof" },
      h("h2", {}, "Why so many setups"),
      h("ul", {}, plan.proof.setups.witness.map((line) => h("li", {}, line))),
    ),
  );
}

function setupGroup(state: State, setup: Setup, n: number, wishes: Wishes): HTMLElement {
  const shown = state.setup === n;
  const clamping = state.plan!.clampings.find((c) => c.id === setup.clamping);
  return h(
    "section",
    { class: shown ? "group shown" : "group" },
    h(
      "h2",
      {},
      h(
        "button",
        { class: "head", "aria-expanded": shown, onclick: () => wishes.chooseSetup(shown ? null : n) },
        `Setup ${n + 1}`,
        h("span", {}, `from ${direction(setup.direction, state.features!.part.frame)}`),
        h("span", {}, minutes(setup.minutes)),
      ),
    ),
    shown && clamping && h("p", { class: "quiet" }, `Rests on ${clamping.rest_on}; clamped on ${clamping.clamp_on}.`),
    shown &&
      h(
        "ol",
        { class: "rows" },
        setup.operations.map((operation) => operationRow(state, operation, n, wishes)),
      ),
  );
}

function operationRow(state: State, operation: Operation, n: number, wishes: Wishes): HTMLElement {
  const { top, bottom } = operation.levels;
  return h(
    "li",
    {},
    h(
      "button",
      {
        class: "row",
        "aria-pressed": state.operation === operation.id,
        onclick: () => wishes.chooseOperation(operation, n),
      },
      h("span", { class: "what" }, capital(operation.name)),
      h("span", { class: "time" }, minutes(operation.minutes)),
      h("small", {}, `⌀ ${length(operation.tool.DCX || operation.tool.DC)} ${words(operation.tool.kind)}, ${length(top)} → ${length(bottom)}`),
    ),
  );
}

export function featureList(state: State, wishes: Wishes): HTMLElement {
  if (!state.features) return h("p", { class: "quiet" }, state.busy ?? "No features yet.");
  const grouping = h("select", { "aria-label": "Group features" }, (["kind", "setup"] as const).map((v) => h("option", { value: v, selected: v === state.grouped }, `Grouped by ${v}`)));
  grouping.addEventListener("change", () => wishes.group(grouping.value as State["grouped"]));
  return h("div", {}, grouping, state.grouped === "setup" ? bySetup(state, wishes) : byKind(state, wishes));
}

function bySetup(state: State, wishes: Wishes): HTMLElement[] {
  const all = state.features!.features;
  const setups = setupsOfFeatures(state.plan);
  const groups = (state.plan?.setups ?? []).map((setup, n): [string, Feature[]] => [
    `Setup ${n + 1} from ${direction(setup.direction, state.features!.part.frame)}`,
    all.filter((f) => setups.get(f.id)?.includes(n)),
  ]);
  const rest = all.filter((f) => !setups.has(f.id));
  return [...groups, [state.plan ? "Not cut" : "Not planned yet", rest] as [string, Feature[]]]
    .filter(([, members]) => members.length)
    .map(([title, members]) =>
      h("section", { class: "group" }, h("h2", {}, `${title} (${members.length})`), h("ul", { class: "rows" }, members.map((f) => featureRow(state, f, true, wishes)))),
    );
}

function byKind(state: State, wishes: Wishes): HTMLElement[] {
  const features = state.features!.features;
  const kinds = [...new Set(features.map((f) => f.kind))];
  const order = Object.keys(COLOURS);
  kinds.sort((a, b) => order.indexOf(a) - order.indexOf(b));
  return kinds.map((kind) => {
    const members = features.filter((f) => f.kind === kind);
    const seen = h("input", {
      type: "checkbox",
      checked: !state.hidden.has(kind),
      onchange: (e) => wishes.hideKind(kind, !(e.target as HTMLInputElement).checked),
    });
    const swatch = h("i", { class: "swatch", style: `background:${css(COLOURS[kind] ?? 0xffffff)}` });
    return h(
      "section",
      { class: "group" },
      h("h2", {}, h("label", {}, seen, swatch, `${capital(words(kind))} (${members.length})`)),
      h("ul", { class: "rows" }, members.map((f) => featureRow(state, f, false, wishes))),
    );
  });
}

function featureRow(state: State, f: Feature, kind: boolean, wishes: Wishes): HTMLElement {
  const setups = setupsOfFeatures(state.plan).get(f.id);
  const text = [kind && capital(words(f.kind)), sizes(f, state) || (kind ? "" : f.id)].filter(Boolean).join(" ");
  return h(
    "li",
    {},
    h(
      "button",
      { class: "row", "aria-pressed": state.feature === f.id, onclick: () => wishes.chooseFeature(f.id) },
      h("span", { class: "what" }, text),
      h("span", { class: "time" }, setups?.map((s) => `S${s + 1}`).join(" ") ?? (state.plan ? "not cut" : "")),
    ),
  );
}
