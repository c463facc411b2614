// The page: drawn anew from its state whenever that changes.

import * as api from "./api";
import { comparison } from "./comparison";
import { cautions, details, faults, figures } from "./details";
import { fill, h } from "./dom";
import { drawBar, taken } from "./header";
import { jobForm } from "./jobform";
import { again, attempt, demo, follow, open } from "./jobs";
import { featureList, setupList, warningList, type Wishes } from "./lists";
import { drawLegend, paint } from "./painting";
import { showSetup } from "./setups";
import { bar, left, picked, right, root, said, tabs, work } from "./shell";
import { startView } from "./start";
import { change, drawWith, state, warnings, type Tab } from "./state";
import { drawSteps } from "./stepbar";
import "./style.css";
import type { Viewer } from "./viewer";
import { operationAt } from "./workpiece";

const wishes: Wishes = {
  chooseFeature: (id) => change({ feature: id, operation: null, face: null }),
  chooseOperation: (operation, setup) => {
    showSetup(setup);
    change({ operation: operation.id, feature: operation.features[0] ?? null, face: null });
  },
  chooseSetup: (index) => showSetup(index),
  chooseFaces: (faces) => change({ face: faces[0] ?? null, feature: null, operation: null }),
  hideKind: (kind, hidden) => {
    const all = new Set(state.hidden);
    if (hidden) all.add(kind);
    else all.delete(kind);
    change({ hidden: all });
  },
  group: (grouped) => change({ grouped }),
};

/** A face of the workpiece was picked: the operation that cut it is chosen. */
picked.cut = (number) => {
  const operation = number ? operationAt(state, number) : null;
  change({ operation: operation?.id ?? null, feature: operation?.features[0] ?? null, face: null });
};

picked.face = (face) => {
  const feature = face === null ? null : (state.features?.faces[face]?.feature ?? null);
  change({ face, feature, operation: null });
};

let halves: Viewer[] = [];

function draw(): void {
  fill(said, state.problem ? "" : (state.busy ?? ""));
  drawBar();
  if (!state.job) {
    if (!root.querySelector(".start")) fill(root, bar, said, startView(open, demo, (job) => void attempt("Opening …", () => follow(job, true))));
    if (state.problem) root.querySelector(".start")?.prepend(problemBox());
    return;
  }
  if (!work.isConnected) fill(root, bar, said, work);
  const shown = root.querySelector(".comparison");
  if (state.compared && !shown) {
    const { box, viewers } = comparison(state.compared.found, state.compared, () => change({ compared: null }));
    work.append(box);
    halves = viewers;
  }
  if (!state.compared && shown) {
    shown.remove();
    halves.forEach((viewer) => viewer.end());
    halves = [];
  }
  drawTabs();
  const kept = left.scrollTop;
  fill(left, { warnings: warningList, setups: setupList, features: featureList }[state.tab](state, wishes));
  left.scrollTop = kept;
  drawRight();
  drawSteps();
  drawLegend();
  paint();
}

function problemBox(): HTMLElement {
  return h("div", { class: "problem", role: "alert" }, h("strong", {}, state.problem!.message), h("p", {}, state.problem!.hint));
}

function drawTabs(): void {
  const counts = warnings(state).filter((w) => w.severity !== "note").length;
  const names: [Tab, string][] = [["warnings", `Warnings (${counts})`], ["setups", "Setups"], ["features", "Features"]];
  const focused = tabs.contains(document.activeElement);
  fill(
    tabs,
    names.map(([tab, name], n) =>
      h("button", {
        role: "tab", "aria-selected": state.tab === tab, "aria-controls": "list", tabindex: state.tab === tab ? 0 : -1,
        onclick: () => change({ tab }),
        onkeydown: (e) => {
          const step = { ArrowRight: 1, ArrowLeft: -1 }[(e as KeyboardEvent).key];
          if (step) change({ tab: names[(n + step + names.length) % names.length][0] });
        },
      }, name),
    ),
  );
  if (focused) tabs.querySelector<HTMLElement>("[aria-selected=true]")?.focus();
}

const trouble = h("div");
const chosenBox = h("section");
const planBox = h("section");
const jobBox = h("section");
const cautionBox = h("div");
right.append(trouble, chosenBox, planBox, jobBox, cautionBox);
let formOf = "";
let top: unknown[] = []; // what stood at the top of the right column

function drawRight(): void {
  fill(trouble, state.problem && problemBox(), faults(state));
  fill(chosenBox, h("h2", {}, "Chosen"), details(state));
  const now = [state.problem, state.feature, state.face, state.operation];
  if (now.some((v, k) => v && v !== top[k])) right.scrollTop = 0; // or nobody sees what has just been said or chosen
  top = now;
  fill(planBox, h("h2", {}, "Plan"), figures(state));
  if (formOf !== state.job!.id) {
    // made anew for another job only: nobody should lose what they are typing
    formOf = state.job!.id;
    fill(jobBox, h("h2", {}, "Job"), jobForm(state.job!, state.batch, (wanted) => void again(wanted)));
  }
  fill(cautionBox, cautions(state));
}

// ---- a file dropped anywhere

addEventListener("dragover", (e) => {
  e.preventDefault();
  document.body.classList.add("dropping");
});
addEventListener("dragleave", (e) => e.relatedTarget === null && document.body.classList.remove("dropping"));
addEventListener("drop", (e) => {
  e.preventDefault();
  document.body.classList.remove("dropping");
  const file = e.dataTransfer?.files[0];
  if (file) void open(file);
});
addEventListener("keydown", (e) => {
  if (e.key !== "Escape") return;
  taken.open = false;
  change({ compared: null, feature: null, face: null, operation: null });
});

drawWith(draw);
const linked = location.hash.slice(1);
if (linked) void attempt("Opening …", async () => follow(await api.job(linked), true));
draw();
