// The page: one state, drawn anew when it changes.

import * as api from "./api";
import { COLOURS, css, EARLIER, GOUGED, IN_THE_WAY, NOW, RAW, STAYS } from "./colours";
import { cautions, details, figures } from "./details";
import type { Feature, Job, Vector } from "./documents";
import { capital, direction, fill, h, words } from "./dom";
import { comparison } from "./comparison";
import { jobForm, type Wanted } from "./jobform";
import { featureList, setupList, warningList, type Wishes } from "./lists";
import { decode } from "./mesh";
import { names, REACH_COLOURS, REACH_WORDS, reached } from "./reach";
import { startView } from "./start";
import { chosenSetup, EMPTY, setupsOfFeatures, warnings, type Shown, type State, type Tab } from "./state";
import { forgetPieces, operationAt, pieceColours, pieceOf } from "./workpiece";
import "./style.css";
import { Viewer } from "./viewer";

const SETUP_COLOURS = [0x1f5fa8, 0xf2b134, 0x12876f, 0xcfa3d6, 0xd9691e, 0x9ecae9, 0x7a2f0b, 0xe9dfa0];
const NOT_CUT = 0xa1001a;
const STAGES: Record<string, string> = {
  queued: "Waiting for its turn …",
  reading: "Reading the part …",
  recognising: "Finding its features …",
  drawing: "Making the picture …",
  planning: "Planning setups and operations …",
};

const ORDER = ["queued", "reading", "recognising", "drawing", "planning", "done"];
let state: State = { ...EMPTY };
let following = new AbortController();
const root = document.getElementById("app")!;
const canvas = h("canvas", { id: "view", role: "img", "aria-label": "The part in 3-D" });
const stage = h("div", { class: "stage" }, canvas);
const viewer = new Viewer(canvas, (face, ofWorkpiece) => (ofWorkpiece ? pickCut(face) : pickFace(face)));
const bar = h("header");
const tabs = h("div", { class: "tabs", role: "tablist", "aria-label": "Lists" });
const left = h("div", { class: "list", id: "list", role: "tabpanel", tabindex: 0 });
const right = h("aside", { class: "right", "aria-label": "Details" });
const steps = h("nav", { class: "steps", "aria-label": "Setups" });
const legend = h("div", { class: "legend", "aria-live": "polite" });
const said = h("div", { class: "said", role: "status", "aria-live": "polite" });
stage.append(steps, legend);
const work = h("main", { class: "work" }, h("section", { class: "left", "aria-label": "Lists" }, tabs, left), stage, right);

function set(change: Partial<State>): void {
  state = { ...state, ...change };
  draw();
}

const wishes: Wishes = {
  chooseFeature: (id) => set({ feature: id, operation: null, face: null }),
  chooseOperation: (operation, setup) => {
    showSetup(setup);
    set({ operation: operation.id, feature: operation.features[0] ?? null, face: null });
  },
  chooseSetup: (index) => showSetup(index),
  chooseFaces: (faces) => set({ face: faces[0] ?? null, feature: null, operation: null }),
  hideKind: (kind, hidden) => {
    const all = new Set(state.hidden);
    if (hidden) all.add(kind);
    else all.delete(kind);
    set({ hidden: all });
  },
  group: (grouped) => set({ grouped }),
};

/** A face of the workpiece was picked: the operation that cut it is chosen. */
function pickCut(number: number | null): void {
  const operation = number ? operationAt(state, number) : null;
  set({ operation: operation?.id ?? null, feature: operation?.features[0] ?? null, face: null });
}

function pickFace(face: number | null): void {
  const feature = face === null ? null : (state.features?.faces[face]?.feature ?? null);
  set({ face, feature, operation: null });
}

function showSetup(index: number | null): void {
  if (index === state.setup) return;
  set({ setup: index, operation: null, tab: "setups" });
  clamp();
  if (index === null) viewer.lookFrom([1, -1.4, 1], [0, 0, 1]);
  if (index !== null && !state.pieces) void seePieces();
  else void showPiece();
}

/** The stock is drawn in lines where the finished part is shown in it. */
function clamp(): void {
  viewer.clamp(chosenSetup(state), state.setup === null || (state.shown !== "part" && state.pieces?.length) ? null : stock());
}

const seePieces = (): Promise<void> =>
  attempt("Cutting the workpiece …", async () => {
    const job = state.job!;
    const pieces = await api.workpieces(job.id);
    if (state.job?.id !== job.id) return;
    set({ pieces, shown: pieces.length ? state.shown : "part" });
    clamp();
    await showPiece();
  });

/** Draws the workpiece that the state asks for; what was asked for in the meantime wins. */
async function showPiece(): Promise<void> {
  const asked = pieceKey();
  const piece = await pieceOf(state).catch(() => null);
  if (asked !== pieceKey()) return;
  viewer.piece(piece && { ...piece, colour: pieceColours(state) });
  canvas.dataset.shows = piece ? asked : "part";
}

const pieceKey = (): string => `${state.job?.id} ${state.setup} ${state.shown}`;

function show(shown: Shown): void {
  set({ shown });
  clamp();
  void showPiece();
}

/** The stock's box in the part's own axes. */
function stock(): { min: Vector; max: Vector; frame: Vector[] } | null {
  const { plan, features } = state;
  if (!plan || !features) return null;
  const box = (features.part as unknown as { frame_box: { min: Vector; max: Vector } }).frame_box;
  const a = plan.job.stock.allowance;
  return {
    min: box.min.map((v, k) => v - a[2 * k]) as Vector,
    max: box.max.map((v, k) => v + a[2 * k + 1]) as Vector,
    frame: features.part.frame,
  };
}

// ---- opening and following a job

async function attempt(doing: string, work: () => Promise<void>): Promise<void> {
  set({ busy: doing, problem: null });
  try {
    await work();
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") return;
    if (error instanceof api.Problem && error.status === 401) return askForKey();
    const problem = error instanceof api.Problem ? { message: error.message, hint: error.hint } : { message: String(error), hint: "Reload the page." };
    set({ problem });
  }
  set({ busy: null });
}

function askForKey(): void {
  const key = prompt("This service needs an API key:");
  if (key) {
    api.keepKey(key);
    location.reload();
  }
}

const open = (file: File): Promise<void> => attempt(`Sending ${file.name} …`, async () => follow(await api.upload(file, {}), true));
const demo = (name: string): Promise<void> => attempt("Opening the demo part …", async () => follow(await api.openDemo(name), true));

async function follow(job: Job, fresh: boolean): Promise<void> {
  following.abort();
  following = new AbortController();
  const { signal } = following;
  if (fresh) {
    viewer.clear();
    forgetPieces();
    state = { ...EMPTY, job, busy: STAGES[job.stage] ?? null };
  } else {
    state = { ...state, job, plan: null, quote: null, reach: null, pieces: null, operation: null, setup: null };
    forgetPieces();
    viewer.piece(null);
    viewer.clamp(null, null);
  }
  history.replaceState(null, "", `#${job.id}`);
  draw();
  await api.follow(job.id, (now) => void stepped(now, signal), signal);
  await stepped(await api.job(job.id), signal);
}

async function stepped(job: Job, signal: AbortSignal): Promise<void> {
  if (signal.aborted || job.id !== state.job?.id) return;
  set({ job, busy: STAGES[job.stage] ?? null });
  const at = ORDER.indexOf(job.stage);
  const failed = job.state === "failed";
  if ((job.stage === "recognising" || at > ORDER.indexOf("drawing") || failed) && !state.mesh) await picture(job, signal);
  if ((at > ORDER.indexOf("recognising") || failed) && !state.features) await features(job, signal);
  if (job.state === "done" && !state.plan) await planned(job, signal);
  if (job.state === "failed") set({ problem: job.error, busy: null });
}

async function features(job: Job, signal: AbortSignal): Promise<void> {
  const found = await api.features(job.id).catch(() => null);
  if (found && !signal.aborted && !state.features) set({ features: found });
}

async function picture(job: Job, signal: AbortSignal): Promise<void> {
  const bytes = await api.mesh(job.id).catch(() => null);
  if (!bytes || signal.aborted || state.mesh) return;
  const mesh = decode(bytes);
  viewer.show(mesh);
  set({ mesh });
}

async function planned(job: Job, signal: AbortSignal): Promise<void> {
  const plan = await api.plan(job.id);
  if (signal.aborted || state.plan) return;
  set({ plan, busy: null });
  void price(job);
  if (warnings(state).some((w) => w.severity === "error")) set({ tab: "warnings" });
}

const again = ({ job, files, drop, batch }: Wanted): Promise<void> =>
  attempt("Planning again …", async () => {
    state = { ...state, batch, quote: null };
    await follow(await api.planAgain(state.job!.id, job, files, drop), false);
  });

async function price(job: Job): Promise<void> {
  const found = await api.quote(job.id, state.batch).catch(() => null);
  if (found && state.job?.id === job.id) set({ quote: found });
}

const seeReach = (): Promise<void> =>
  attempt("Working out what the cutters reach …", async () => {
    const job = state.job!;
    const found = await api.reach(job.id);
    if (state.job?.id !== job.id) return;
    const all = names(found, state.features!);
    set({ reach: found, towards: all.includes(state.towards) ? state.towards : all[0] });
  });

const compareWith = (file: File): Promise<void> =>
  attempt(`Reading and planning ${file.name} …`, async () => {
    const job = state.job!;
    const other = await api.upload(file, job.job);
    await api.follow(other.id, (now) => set({ busy: `${file.name}: ${STAGES[now.stage] ?? now.stage}` }), new AbortController().signal);
    const old = { features: state.features!, mesh: state.mesh! };
    const found = await api.compare(job.id, other.id);
    const now = { features: await api.features(other.id), mesh: decode(await api.mesh(other.id)) };
    if (state.job?.id === job.id) set({ compared: { found, old, now } });
    document.querySelector<HTMLElement>(".comparison")?.focus();
  });

let halves: Viewer[] = [];

// ---- drawing

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
    const { box, viewers } = comparison(state.compared.found, state.compared, () => set({ compared: null }));
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

function drawBar(): void {
  const job = state.job;
  fill(
    bar,
    h("a", { class: "brand", href: "#", onclick: (e) => (e.preventDefault(), home()) }, "Sidewise"),
    job && h("h1", { class: "name" }, job.name),
    h("span", { class: "grow" }),
    job && fileButton(),
    job && state.features && downloads(job),
    job && state.plan && compareButton(),
    job && ["queued", "running"].includes(job.state) && h("button", { onclick: () => void api.stop(job.id) }, "Stop"),
  );
}

/** What can be taken away; the sheets on either paper, in either unit. */
function downloads(job: Job): HTMLElement {
  const paper = h("select", { "aria-label": "Paper" }, h("option", { value: "a4" }, "A4"), h("option", { value: "letter" }, "Letter"));
  const units = h("select", { "aria-label": "Lengths" }, h("option", { value: "mm" }, "mm"), h("option", { value: "inch" }, "inches"));
  paper.value = taken.paper;
  units.value = taken.units;
  paper.addEventListener("change", () => (taken.paper = paper.value));
  units.addEventListener("change", () => (taken.units = units.value));
  const get = (text: string, path: string, ending: string, needsPlan = true): HTMLElement | false =>
    (!needsPlan || !!state.plan) &&
    h("button", { onclick: () => void attempt(`Making ${text} …`, () => api.download(`/api/jobs/${job.id}/${path}`, `${job.name}.${ending}`)) }, text);
  const sheets = (format: string): string => `report?format=${format}&paper=${taken.paper}&units=${taken.units}&quantities=${quantities()}`;
  const sheet = (text: string, format: string): HTMLElement | false =>
    !!state.plan && h("button", { onclick: () => void attempt(`Making ${text} …`, () => api.download(`/api/jobs/${job.id}/${sheets(format)}`, `${job.name}.${format}`)) }, text);
  const menu = h(
    "details",
    { class: "downloads", open: taken.open },
    h("summary", {}, "Download"),
    h(
      "div",
      {},
      get("Plan (JSON)", "plan", "plan.json"),
      get("Features (JSON)", "features", "features.json", false),
      get("Reach (JSON)", "reach", "reach.json", false),
      get("Quote (JSON)", `quote?quantities=${quantities()}`, "quote.json"),
      state.plan && h("button", { onclick: () => operationTable() }, "Operations (CSV)"),
      state.plan && h("span", { class: "pair" }, paper, units),
      sheet("Sheets (PDF)", "pdf"),
      sheet("Sheets (HTML)", "html"),
    ),
  );
  menu.addEventListener("toggle", () => (taken.open = menu.open));
  return menu;
}

const taken = { paper: "a4", units: "mm", open: false };
const quantities = (): string => [...new Set([1, state.batch, 10, 100])].join(",");

function fileButton(): HTMLElement {
  const input = h("input", { type: "file", accept: ".step,.stp,.p21", class: "out-of-sight", tabindex: -1, "aria-label": "Another STEP file" });
  input.addEventListener("change", () => input.files?.[0] && void open(input.files[0]));
  return h("span", {}, h("button", { onclick: () => input.click() }, "Open …"), input);
}

function compareButton(): HTMLElement {
  const input = h("input", { type: "file", accept: ".step,.stp,.p21", class: "out-of-sight", tabindex: -1, "aria-label": "New revision" });
  input.addEventListener("change", () => input.files?.[0] && void compareWith(input.files[0]));
  return h("span", {}, h("button", { onclick: () => input.click() }, "Compare with …"), input);
}

function home(): void {
  following.abort();
  state = { ...EMPTY };
  history.replaceState(null, "", "#");
  root.replaceChildren();
  draw();
}

/** The operation list as CSV; a text that begins like a formula is set off. */
function operationTable(): void {
  const cell = (v: unknown) => {
    const text = String(v ?? "");
    return `"${(/^[=+@\t]/.test(text) ? `'${text}` : text).replaceAll('"', '""')}"`;
  };
  const rows = [["setup", "operation", "what", "features", "cutter", "DC", "top", "bottom", "rev/min", "mm/min", "minutes", "why"]];
  state.plan!.setups.forEach((s, n) =>
    s.operations.forEach((o) =>
      rows.push([n + 1, o.id, o.name, o.features.join(" "), o.tool.kind, o.tool.DC, o.levels.top, o.levels.bottom, o.speed, o.feed, o.minutes, o.because.join("; ")].map(String)),
    ),
  );
  api.saveBlob(new Blob([rows.map((r) => r.map(cell).join(",")).join("\r\n")], { type: "text/csv" }), `${state.job!.name}.operations.csv`);
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
        onclick: () => set({ tab }),
        onkeydown: (e) => {
          const step = { ArrowRight: 1, ArrowLeft: -1 }[(e as KeyboardEvent).key];
          if (step) set({ tab: names[(n + step + names.length) % names.length][0] });
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

function drawRight(): void {
  fill(trouble, state.problem && problemBox());
  fill(chosenBox, h("h2", {}, "Chosen"), details(state));
  fill(planBox, h("h2", {}, "Plan"), figures(state));
  if (formOf !== state.job!.id) {
    // made anew for another job only: nobody should lose what they are typing
    formOf = state.job!.id;
    fill(jobBox, h("h2", {}, "Job"), jobForm(state.job!, state.batch, (wanted) => void again(wanted)));
  }
  fill(cautionBox, cautions(state));
}

function drawSteps(): void {
  const setups = state.plan?.setups ?? [];
  const button = (index: number | null, text: string, label: string) =>
    h("button", { "aria-pressed": state.setup === index, "aria-label": label, onclick: () => showSetup(index) }, text);
  fill(
    steps,
    button(null, "Part", "The bare part"),
    setups.map((s, n) => button(n, `${n + 1}`, `Setup ${n + 1} from ${direction(s.direction, state.features?.part.frame)}`)),
    h("span", { class: "grow" }),
    state.setup !== null && state.pieces && state.pieces.length > 0 && h("span", { class: "shown", role: "group", "aria-label": "What is shown" }, (["before", "after", "part"] as const).map((v) => h("button", { "aria-pressed": state.shown === v, onclick: () => show(v) }, { before: "As clamped", after: "After the cuts", part: "Finished part" }[v]))),
    !ofWorkpiece() && h("label", {}, "Colour ", colouring()),
    !ofWorkpiece() && state.colouring === "reach" && state.reach && h("label", {}, "from ", towards()),
  );
}

/** Whether the workpiece is shown rather than the part. */
const ofWorkpiece = (): boolean => state.setup !== null && state.shown !== "part" && !!state.pieces?.length;

function colouring(): HTMLElement {
  const made = h("select", {}, (["kind", "setup", "reach"] as const).map((v) => h("option", { value: v, selected: v === state.colouring }, { kind: "by kind", setup: "by setup", reach: "by reach" }[v])));
  made.addEventListener("change", () => {
    set({ colouring: made.value as State["colouring"] });
    if (state.colouring === "reach" && !state.reach) void seeReach();
  });
  return made;
}

function towards(): HTMLElement {
  const all = state.reach ? names(state.reach, state.features!) : [];
  const made = h("select", { "aria-label": "Reach from" }, all.map((v) => h("option", { value: v, selected: v === state.towards }, v)));
  made.addEventListener("change", () => {
    set({ towards: made.value });
    const d = state.reach!.directions[all.indexOf(made.value)].vector;
    viewer.lookFrom(d, Math.abs(d[2]) > 0.9 ? [0, 1, 0] : [0, 0, 1]);
  });
  return made;
}

function drawLegend(): void {
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

function paint(): void {
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
  set({ compared: null, feature: null, face: null, operation: null });
});

const linked = location.hash.slice(1);
if (linked) void attempt("Opening …", async () => follow(await api.job(linked), true));
draw();
