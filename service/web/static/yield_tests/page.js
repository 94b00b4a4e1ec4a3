// Recording a test at the block: the balance runs along, each weight stands beside what is expected of it, and what is
// typed is kept until it is recorded.

import { ask, session } from "/static/frame/api.js";
import { balance, expectedInWords, outOfLine } from "/static/yield_tests/balance.js";
import { forget, keep, kept } from "/static/yield_tests/draft.js";
import { byId, expectedOf, facts, form, mark, outputs, problems, typedIn, warn, weights } from "/static/yield_tests/form.js";
import { addressOf, fieldsAreFine, path, record, takeBackConfirming, tellProblem, warningsOf } from "/static/yield_tests/saving.js";
import { inWords, plain } from "/static/yield_tests/weights.js";

const PAUSE = 600; // milliseconds without a key before a weight is judged, and read out
const SOON = 250; // milliseconds after a field was left
const breakdown = form.dataset.breakdown;
const expected = expectedOf(form);
const asServed = new Map(typedIn.map((field) => [field.id, field.value]));
const place = byId("balance");

let state = { values: {}, attempt: null };
let mayRecord = false;
let busy = false;
let pause = 0;
let looking = null; // the check under way
let tried = false; // to record it: from then on a field left empty is told of
const marked = new Set(); // fields whose problem was found here: those of the service stay until they are typed in

function showBalance() {
  const now = weights();
  const told = balance(now, expected);
  place.dataset.state = told.state;
  byId("b-input").textContent = now.input === null ? "–" : inWords(now.input, now.unit);
  byId("b-sum").textContent = inWords(told.sum, now.unit);
  byId("b-left").textContent = told.left === undefined ? "–" : inWords(told.left, now.unit);
  byId("b-percent").textContent = told.left === undefined ? "" : `${told.left_percent} %`;
  byId("b-name").textContent = told.state === "going" ? "Left to weigh" : "Not accounted for";
  byId("b-words").textContent = told.words;
  byId("b-bar").value = now.input ? Number((told.sum * 1000n) / now.input) : 0; // a picture, to a thousandth
  for (const { id, expected: of } of outputs) byId(`${id}-hint`).textContent = expectedInWords(now.input, now.unit, of);
  return told;
}

/** Judge what is typed: problems and warnings beside the fields, and, once all is weighed, what the service says. */
function judge(except) {
  const told = showBalance();
  const now = weights();
  markProblems(problems(tried), except);
  outputs.forEach(({ id, expected: of }, number) => warn(id, outOfLine(now.outputs[number], now.input, now.unit, of)));
  byId("in-the-bin").hidden = true;
  const whole = told.state === "good" || told.state === "ask";
  if (whole && mayRecord && problems(true).size === 0) void look();
  return told;
}

/** Problems beside the fields, but not beside one that is still being typed in. */
function markProblems(found, except) {
  for (const { id } of typedIn) {
    if (found.has(id) && id !== except) {
      mark(id, found.get(id));
      marked.add(id);
    } else if (!found.has(id) && marked.delete(id)) {
      mark(id, "");
    }
  }
}

/** What the service says of the whole test: its word stands. Nothing is stored. */
async function look() {
  looking?.abort();
  looking = new AbortController();
  const { signal } = looking;
  try {
    const checked = await ask("POST", `${path}/check`, { json: facts(plain), signal });
    const words = new Map(checked.warnings.filter((one) => one.cut).map((one) => [one.cut, one.text]));
    for (const { id, cut, name } of outputs) warn(id, (words.get(cut) ?? "").replace(`${name}: `, ""));
    const lean = checked.warnings.find((one) => one.code === "lean_into_the_bin");
    byId("in-the-bin").textContent = lean?.text ?? "";
    byId("in-the-bin").hidden = lean === undefined;
    if (lean && !byId("said").textContent.includes(lean.text)) say(`${byId("said").textContent} ${lean.text}`);
  } catch {
    // Looked at again before it is recorded: then problems are told.
  }
}

function typed(event) {
  state.values[event.target.id] = event.target.value;
  keep(breakdown, state);
  takeBackConfirming();
  looking?.abort();
  showBalance();
  if (event.target.getAttribute("aria-invalid")) mark(event.target.id, "");
  clearTimeout(pause);
  pause = setTimeout(() => tellOf(event.target), PAUSE);
}

/** After a pause: judge, and read out what concerns the field that was typed in, then the balance. */
function tellOf(field) {
  const told = judge(document.activeElement === field ? field.id : null);
  const warning = byId(`${field.id}-warning`)?.textContent ?? "";
  const name = outputs.find(({ id }) => id === field.id)?.name;
  say([warning && `${name}: ${warning}`, /weight|^w-/.test(field.id) ? told.words : ""].filter(Boolean).join(" "));
}

function say(text) {
  byId("said").textContent = text;
}

/** Enter goes on to the next field, as down a list at the block; it never records. */
function goOn(event) {
  if (event.key !== "Enter" || !event.target.matches("input:not([type=checkbox])")) return;
  event.preventDefault();
  const next = typedIn[typedIn.indexOf(event.target) + 1] ?? byId("record");
  next.focus();
}

async function submit(event) {
  event.preventDefault();
  if (busy || !mayRecord) return;
  clearTimeout(pause);
  byId("trouble").hidden = true;
  tried = true;
  for (const { id } of typedIn) mark(id, "");
  judge(null);
  if (!fieldsAreFine()) return;
  busy = true;
  byId("record").setAttribute("aria-disabled", "true");
  say("Recording");
  try {
    const recorded = await record(facts(plain), state, () => keep(breakdown, state));
    if (recorded) {
      forget(breakdown);
      location.assign(addressOf(recorded));
      return; // stays busy: what comes is another page
    }
  } catch (problem) {
    tellProblem(problem);
  }
  say("");
  busy = false;
  byId("record").removeAttribute("aria-disabled");
}

function restore() {
  const draft = kept(breakdown);
  if (draft === null) return;
  state = { values: draft.values ?? {}, attempt: draft.attempt ?? null };
  const known = Object.entries(state.values).filter(([id, value]) => asServed.has(id) && asServed.get(id) !== value);
  for (const [id, value] of known) byId(id).value = value;
  if (known.length === 0 && state.attempt === null) return;
  byId("restored-at").textContent = new Date(draft.at).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
  byId("restored").hidden = false;
}

function startAfresh() {
  forget(breakdown);
  state = { values: {}, attempt: null };
  for (const field of typedIn) field.value = asServed.get(field.id);
  byId("restored").hidden = true;
  byId("trouble").hidden = true;
  tried = false;
  for (const { id } of typedIn) mark(id, "");
  takeBackConfirming();
  judge(null);
  byId("tested_on").focus();
}

async function whoRecords() {
  try {
    const { scopes = [] } = await session();
    mayRecord = scopes.includes("kitchen:write") || scopes.includes("admin");
    byId("may-not").hidden = mayRecord;
    byId("record").hidden = !mayRecord;
  } catch {
    mayRecord = true; // not known: the service says so when it is recorded
  }
}

form.addEventListener("input", (event) => event.target.id !== "confirmed" && typed(event));
form.addEventListener("change", (event) => {
  if (event.target.id === "confirmed") return;
  clearTimeout(pause);
  // Not at once: what appears below a field must not move the button away under the finger that left the field for it.
  pause = setTimeout(() => tellOf(event.target), SOON);
});
form.addEventListener("keydown", goOn);
form.addEventListener("submit", submit);
form.addEventListener("click", (event) => {
  const button = event.target.closest("button.none");
  if (button === null) return;
  const field = byId(button.dataset.for);
  field.value = "0";
  typed({ target: field });
  field.focus();
});
byId("afresh").addEventListener("click", startAfresh);

await whoRecords();
restore();
judge(null);
form.dataset.ready = "";
