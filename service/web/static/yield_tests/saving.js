// Recording: looked at by the service first, confirmed where something is out of line, sent under a key that makes a
// repeat harmless, and told of in words when it is refused. What is typed stays, whatever happens.

import { ask } from "/static/frame/api.js";
import { attemptKey } from "/static/yield_tests/draft.js";
import { byId, fieldAt, form, mark, problems } from "/static/yield_tests/form.js";

const AT_LEAST = 800; // milliseconds that what is to be confirmed must have been seen: no second tap of a double tap
export const path = `/v1/breakdowns/${form.dataset.breakdown}/yield-tests`;

let asked = null; // what is asked to be confirmed: `{ body, since }`

/** The outcome of one press of the button: "recorded" with the test, or null with the page saying what to do. */
export async function record(body, state, keepState) {
  const checked = await ask("POST", `${path}/check`, { json: body });
  if (checked.warnings.length && !confirmed(body, checked)) return null;
  const whole = checked.confirmation_needed ? { ...body, unaccounted_confirmed: true } : body;
  state.attempt ??= { key: attemptKey(), sent: null };
  const before = state.attempt.sent;
  state.attempt.sent ??= whole;
  keepState();
  try {
    return await send(whole, state.attempt.key);
  } catch (problem) {
    if (problem.told?.type?.endsWith("/idempotency-key-reused") && before) return alreadyThere(before, state, keepState);
    if (problem.status >= 400 && problem.status < 500 && before === null) state.attempt = null; // refused: nothing was recorded
    keepState();
    throw problem;
  }
}

function send(body, key) {
  return ask("POST", path, { json: body, headers: { "Idempotency-Key": `"${key}"` } });
}

/** The first attempt came through, though its answer was lost: lead to it, and let what changed since be sent anew. */
async function alreadyThere(before, state, keepState) {
  const first = await send(before, state.attempt.key);
  state.attempt = null;
  keepState();
  const link = document.createElement("a");
  link.href = addressOf(first);
  link.textContent = "See what was recorded";
  tell("It was recorded at the first attempt", [
    "The answer was lost on the way. What you changed since then is not in it: if that is another test, record it now.", link]);
  return null;
}

export function addressOf(test) {
  return `/yield-tests?breakdown=${encodeURIComponent(test.breakdown)}&test=${encodeURIComponent(test.id)}`;
}

/** Whether somebody has seen these very warnings and said that the weights are right; else ask. */
function confirmed(body, checked) {
  const same = asked !== null && asked.body === JSON.stringify(body);
  if (same && byId("confirmed").checked) return true;
  if (same) {
    mark("confirmed", "Tick this if the weights are right; else mend them above.");
    byId("confirmed").focus();
    return false;
  }
  byId("confirm-list").replaceChildren(...warningsOf(checked).map(item));
  byId("confirmed").checked = false;
  mark("confirmed", "");
  asked = { body: JSON.stringify(body), since: performance.now() };
  byId("confirm").hidden = false;
  show(byId("confirm"));
  return false;
}

/** What the service warns of, each thing once; the mend for programs is left out. */
export function warningsOf({ warnings }) {
  const needed = warnings.some((one) => one.code === "confirmation_needed");
  return warnings.filter((one) => !(needed && one.code === "unaccounted"))
    .map((one) => (one.code === "confirmation_needed" ? `${one.text.split("; if it is so")[0]}.` : one.text));
}

/** What was confirmed is confirmed of those weights alone. */
export function takeBackConfirming() {
  asked = null;
  byId("confirm").hidden = true;
  byId("confirmed").checked = false;
  mark("confirmed", "");
}

/** Sum up the fields' problems before anything is sent; true when there is none. */
export function fieldsAreFine() {
  const found = problems(true);
  if (found.size) tell(countedInWords(found.size), [...found].map(([id, text]) => linkTo(id, text)));
  return found.size === 0;
}

/** Tell a refusal: at the fields that it names, and in a summary that gets the focus. */
export function tellProblem(problem) {
  if (problem.status === 401) {
    const link = document.createElement("a");
    link.href = location.pathname + location.search;
    link.textContent = "Sign in and go on";
    tell("The session has ended: not recorded yet", ["What you typed is kept on this device.", link]);
    return;
  }
  if (problem.status === 0 || problem.status >= 500) {
    tell("Not known to be recorded", [problem.message, "Press Record again: however often it is sent, it is recorded once."]);
    return;
  }
  const told = problem.errors.length ? problem.errors : [{ detail: problem.message }];
  const items = told.map((error) => {
    const id = fieldAt(error.pointer);
    if (id) mark(id, error.detail);
    return id ? linkTo(id, error.detail) : error.detail;
  });
  tell(countedInWords(items.length), items);
}

export function tell(title, items) {
  byId("trouble-title").textContent = title;
  byId("trouble-list").replaceChildren(...items.map(item));
  byId("trouble").hidden = false;
  show(byId("trouble"));
}

function countedInWords(count) {
  return `Not recorded: ${count === 1 ? "one thing" : `${count} things`} to look at`;
}

function linkTo(id, text) {
  const link = document.createElement("a");
  link.href = `#${id}`;
  link.textContent = text;
  link.addEventListener("click", (event) => {
    event.preventDefault();
    byId(id).focus();
  });
  return link;
}

function item(content) {
  const line = document.createElement("li");
  line.append(content);
  return line;
}

function show(place) {
  place.focus({ preventScroll: true });
  place.scrollIntoView({ block: "center" });
}

byId("confirmed").addEventListener("click", (event) => {
  if (asked === null || performance.now() - asked.since < AT_LEAST) event.preventDefault();
  else mark("confirmed", "");
});
