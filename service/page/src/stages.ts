// What a job waits for, in the order of the stages, and how the page says it.

export const STAGES: Record<string, string> = {
  queued: "Waiting for its turn …",
  reading: "Reading the part …",
  recognising: "Finding its features …",
  drawing: "Making the picture …",
  planning: "Planning setups and operations …",
};

export const ORDER = ["queued", "reading", "recognising", "drawing", "planning", "done"];
