// One question at a time, then the newest: while one is under way, later ones wait, and only the last of them is asked.

import { ask } from "/static/frame/api.js";

let underWay = false;
let next = null;

/** Ask what would be; `answered` hears of the answer or problem, in the order of the questions that were asked. */
export function askNewest(question, answered) {
  next = { question, answered };
  if (!underWay) void run();
}

/** What was to be asked is not asked any more. */
export function forget() {
  next = null;
}

async function run() {
  underWay = true;
  while (next) {
    const { question, answered } = next;
    next = null;
    const came = await outcome(question);
    answered(came); // also while a newer question waits: a slider that keeps moving would show nothing else
  }
  underWay = false;
}

async function outcome(question) {
  try {
    return { answer: await ask("POST", "/v1/what-if", { json: question.body }) };
  } catch (problem) {
    return { problem };
  }
}
