// Opening a part and following its job until its plan is there; planning it again; what is fetched when it is asked for.

import * as api from "./api";
import { ORDER, STAGES } from "./stages";
import type { Job } from "./documents";
import type { Wanted } from "./jobform";
import { decode } from "./mesh";
import { names } from "./reach";
import { root, viewer } from "./shell";
import { change, EMPTY, state, warnings, type State } from "./state";
import { forgetPieces } from "./workpiece";

let following = new AbortController();
/** What is being done, in the order in which it began: the last one is shown. */
const doing: string[] = [];
/** Files and demo parts by the order in which they were opened: one that arrives after a later one is not shown. */
let opened = 0;
let shown = 0;

/** Does something that may fail: says what is being done, and what went wrong. `about` is named before the message. */
export async function attempt(what: string, work: () => Promise<void>, about = ""): Promise<void> {
  doing.push(what);
  change({ busy: what, problem: null });
  try {
    await work();
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") return;
    if (error instanceof api.Problem && error.status === 401) return askForKey();
    change({ problem: told(error, about) });
  } finally {
    doing.splice(doing.indexOf(what), 1);
  }
  change({ busy: doing.at(-1) ?? null });
}

function told(error: unknown, about: string): { message: string; hint: string } {
  const { message, hint } = error instanceof api.Problem ? error : { message: String(error), hint: "Reload the page." };
  return { message: about && !message.includes(about) ? `${about}: ${message}` : message, hint };
}

function askForKey(): void {
  const key = prompt("This service needs an API key:");
  if (key) {
    api.keepKey(key);
    location.reload();
  }
}

export const open = (file: File): Promise<void> => show(`Sending ${file.name} …`, () => api.upload(file, {}), file.name);
export const demo = (name: string): Promise<void> => show("Opening the demo part …", () => api.openDemo(name), "");

/** Shows a part, unless one that was opened later is there already. */
function show(what: string, send: () => Promise<Job>, about: string): Promise<void> {
  const mine = ++opened;
  return attempt(
    what,
    async () => {
      const job = await send();
      if (mine < shown) return;
      shown = mine;
      await follow(job, true);
    },
    about,
  );
}

export async function follow(job: Job, fresh: boolean): Promise<void> {
  following.abort();
  following = new AbortController();
  const { signal } = following;
  let begin: Partial<State>;
  if (fresh) {
    viewer.clear();
    forgetPieces();
    begin = { ...EMPTY, job, busy: STAGES[job.stage] ?? null, problem: state.problem }; // of another file, meanwhile
  } else {
    begin = { job, plan: null, quote: null, reach: null, pieces: null, operation: null, setup: null };
    forgetPieces();
    viewer.piece(null);
    viewer.clamp(null, null);
  }
  history.replaceState(null, "", `#${job.id}`);
  change(begin);
  await api.follow(job.id, (now) => void stepped(now, signal), signal);
  const ended = await api.job(job.id);
  await stepped(ended, signal);
  // Told here only, once: a step that is still fetching would tell it again when another file is there already.
  if (ended.state === "failed" && following.signal === signal) change({ problem: ended.error, busy: null });
}

async function stepped(job: Job, signal: AbortSignal): Promise<void> {
  if (signal.aborted || job.id !== state.job?.id) return;
  change({ job, busy: STAGES[job.stage] ?? null });
  const at = ORDER.indexOf(job.stage);
  const failed = job.state === "failed";
  if ((job.stage === "recognising" || at > ORDER.indexOf("drawing") || failed) && !state.mesh) await picture(job, signal);
  if ((at > ORDER.indexOf("recognising") || failed) && !state.features) await features(job, signal);
  if (job.state === "done" && !state.plan) await planned(job, signal);
}

async function features(job: Job, signal: AbortSignal): Promise<void> {
  const found = await api.features(job.id).catch(() => null);
  if (found && !signal.aborted && !state.features) change({ features: found });
}

async function picture(job: Job, signal: AbortSignal): Promise<void> {
  const bytes = await api.mesh(job.id).catch(() => null);
  if (!bytes || signal.aborted || state.mesh) return;
  const mesh = decode(bytes);
  viewer.show(mesh);
  change({ mesh });
}

async function planned(job: Job, signal: AbortSignal): Promise<void> {
  const plan = await api.plan(job.id);
  if (signal.aborted || state.plan) return;
  change({ plan, busy: null });
  void price(job);
  if (warnings(state).some((w) => w.severity !== "note")) change({ tab: "warnings" });
}

export const again = ({ job, files, drop, batch }: Wanted): Promise<void> =>
  attempt("Planning again …", async () => {
    change({ batch, quote: null });
    await follow(await api.planAgain(state.job!.id, job, files, drop), false);
  });

async function price(job: Job): Promise<void> {
  const found = await api.quote(job.id, state.batch).catch(() => null);
  if (found && state.job?.id === job.id) change({ quote: found });
}

export const seeReach = (): Promise<void> =>
  attempt("Working out what the cutters reach …", async () => {
    const job = state.job!;
    const found = await api.reach(job.id);
    if (state.job?.id !== job.id) return;
    const all = names(found, state.features!);
    change({ reach: found, towards: all.includes(state.towards) ? state.towards : all[0] });
  });

export const compareWith = (file: File): Promise<void> =>
  attempt(`Reading and planning ${file.name} …`, async () => {
    const job = state.job!;
    const other = await api.upload(file, job.job);
    await api.follow(other.id, (now) => change({ busy: `${file.name}: ${STAGES[now.stage] ?? now.stage}` }), new AbortController().signal);
    const old = { features: state.features!, mesh: state.mesh!, quote: await api.quote(job.id, state.batch).catch(() => null) };
    const found = await api.compare(job.id, other.id);
    const now = { features: await api.features(other.id), mesh: decode(await api.mesh(other.id)), quote: await api.quote(other.id, state.batch).catch(() => null) };
    if (state.job?.id === job.id) change({ compared: { found, old, now } });
    document.querySelector<HTMLElement>(".comparison")?.focus();
  });

export function home(): void {
  following.abort();
  history.replaceState(null, "", "#");
  root.replaceChildren();
  change({ ...EMPTY });
}
