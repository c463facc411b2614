// The bar over the picture: which setup, what is shown of it, what the colours say.

import { seeReach } from "./jobs";
import { direction, fill, h } from "./dom";
import { names } from "./reach";
import { ofWorkpiece, show, showSetup } from "./setups";
import { steps, viewer } from "./shell";
import { change, state, type State } from "./state";

export function drawSteps(): void {
  const setups = state.plan?.setups ?? [];
  const button = (index: number | null, text: string, label: string) =>
    h("button", { "aria-pressed": state.setup === index, "aria-label": label, onclick: () => showSetup(index) }, text);
  fill(
    steps,
    button(null, "Part", "The bare part"),
    setups.length > 0 && h("span", {}, "Setup"),
    setups.map((s, n) => button(n, `${n + 1}`, `Setup ${n + 1} from ${direction(s.direction, state.features?.part.frame)}`)),
    h("span", { class: "grow" }),
    state.setup !== null && state.pieces && state.pieces.length > 0 && h("span", { class: "shown", role: "group", "aria-label": "What is shown" }, (["before", "after", "part"] as const).map((v) => h("button", { "aria-pressed": state.shown === v, onclick: () => show(v) }, { before: "As clamped", after: "After the cuts", part: "Finished part" }[v]))),
    !ofWorkpiece() && h("label", {}, "Colour ", colouring()),
    !ofWorkpiece() && state.colouring === "reach" && state.reach && h("label", {}, "from ", towards()),
  );
}

function colouring(): HTMLElement {
  const made = h("select", {}, (["kind", "setup", "reach"] as const).map((v) => h("option", { value: v, selected: v === state.colouring }, { kind: "by kind", setup: "by setup", reach: "by reach" }[v])));
  made.addEventListener("change", () => {
    change({ colouring: made.value as State["colouring"] });
    if (state.colouring === "reach" && !state.reach) void seeReach();
  });
  return made;
}

function towards(): HTMLElement {
  const all = state.reach ? names(state.reach, state.features!) : [];
  const made = h("select", { "aria-label": "Reach from" }, all.map((v) => h("option", { value: v, selected: v === state.towards }, v)));
  made.addEventListener("change", () => {
    change({ towards: made.value });
    const d = state.reach!.directions[all.indexOf(made.value)].vector;
    viewer.lookFrom(d, Math.abs(d[2]) > 0.9 ? [0, 1, 0] : [0, 0, 1]);
  });
  return made;
}
