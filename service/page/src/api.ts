// Talks to the service. Errors are Problems with a hint, whatever went wrong.

import type { Compare, Features, Job, Plan, Quote, Reach, Workpiece } from "./documents";

export class Problem extends Error {
  constructor(
    message: string,
    readonly hint: string,
    readonly code: string,
    readonly status: number,
  ) {
    super(message);
  }
}

const KEY = "sidewise-key";

export function keepKey(key: string): void {
  sessionStorage.setItem(KEY, key);
}

async function ask(path: string, init: RequestInit = {}): Promise<Response> {
  const key = sessionStorage.getItem(KEY);
  const headers = new Headers(init.headers);
  if (key) headers.set("Authorization", `Bearer ${key}`);
  let answer: Response;
  try {
    answer = await fetch(path, { ...init, headers });
  } catch {
    throw new Problem("The service does not answer.", "Is `sidewise serve` still running?", "away", 0);
  }
  if (answer.ok) return answer;
  const told = await answer.json().catch(() => ({}));
  throw new Problem(told.detail ?? answer.statusText, told.hint ?? "", told.code ?? "error", answer.status);
}

const json = async <T>(path: string, init?: RequestInit): Promise<T> => (await ask(path, init)).json();

export const demos = (): Promise<{ name: string; title: string }[]> => json("/api/demos");
export const openDemo = (name: string): Promise<Job> => json(`/api/demos/${name}`, { method: "POST" });
export const job = (id: string): Promise<Job> => json(`/api/jobs/${id}`);
export const recent = (): Promise<Job[]> => json("/api/jobs?most=12");
export const features = (id: string): Promise<Features> => json(`/api/jobs/${id}/features`);
export const plan = (id: string): Promise<Plan> => json(`/api/jobs/${id}/plan`);
export const quote = (id: string, batch: number): Promise<Quote> => json(`/api/jobs/${id}/quote?quantities=${quantities(batch)}`);
export const quantities = (batch: number): string => [...new Set([1, batch, 10, 100])].join(",");
export const reach = (id: string): Promise<Reach> => json(`/api/jobs/${id}/reach`);
export const compare = (old: string, now: string): Promise<Compare> =>
  json("/api/compare", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ old, new: now }) });
export const mesh = async (id: string): Promise<ArrayBuffer> => (await ask(`/api/jobs/${id}/mesh`)).arrayBuffer();
export const workpieces = (id: string): Promise<Workpiece[]> => json(`/api/jobs/${id}/workpieces`);
export const workpiece = async (id: string, name: string): Promise<ArrayBuffer> => (await ask(`/api/jobs/${id}/workpieces/${name}`)).arrayBuffer();
export const stop = (id: string): Promise<Response> => ask(`/api/jobs/${id}`, { method: "DELETE" });

export function upload(file: File, wanted: object): Promise<Job> {
  const form = new FormData();
  form.set("file", file);
  form.set("job", JSON.stringify(wanted));
  return json("/api/jobs", { method: "POST", body: form });
}

/** Plans a part again for another job and other files; the model is not read again. */
export function planAgain(id: string, wanted: object, files: Map<string, File>, drop: string[]): Promise<Job> {
  const form = new FormData();
  form.set("job", JSON.stringify(wanted));
  form.set("drop", drop.join(","));
  for (const [field, file] of files) form.set(field, file);
  return json(`/api/jobs/${id}/files`, { method: "POST", body: form });
}

/** Calls `seen` with each state of a job until it has ended. Server-sent events, read by hand so that a key can be sent. */
export async function follow(id: string, seen: (job: Job) => void, signal: AbortSignal): Promise<void> {
  const answer = await ask(`/api/jobs/${id}/events`, { signal });
  const reader = answer.body!.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    text += value;
    const events = text.split("\n\n");
    text = events.pop()!;
    for (const event of events) {
      const data = event.split("\n").find((line) => line.startsWith("data: "));
      if (data) seen(JSON.parse(data.slice(6)));
    }
  }
}

/** Fetches a document and hands it to the browser as a download. */
export async function download(path: string, name: string): Promise<void> {
  const blob = await (await ask(path)).blob();
  saveBlob(blob, name);
}

export function saveBlob(blob: Blob, name: string): void {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
