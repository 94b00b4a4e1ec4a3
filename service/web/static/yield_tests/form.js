// The fields of the form: what they hold, what is wrong with them, and where a problem of the service belongs.

import { read } from "/static/yield_tests/weights.js";

export const form = document.getElementById("test");
export const byId = (id) => document.getElementById(id);
export const outputs = [...form.querySelectorAll(".output")].map((place, number) => ({
  cut: place.dataset.cut, name: place.dataset.name, id: `w-${number}`, expected: expectedOf(place),
}));
export const typedIn = [...form.querySelectorAll("input:not([type=checkbox]), select, textarea")];
const WEIGHTS = ["input_weight", "opened_weight"];
const WORDS = ["supplier", "butcher", "grade", "note"];

/** What is expected, from a place's data: millionths as numbers, percents as they are read. */
export function expectedOf({ dataset }) {
  const numbers = Object.fromEntries(["low", "high", "much", "tolerance"].map((name) => [name, Number(dataset[name])]));
  return { ...numbers, low_percent: dataset.lowPercent, high_percent: dataset.highPercent };
}

/** The weights as far as they can be read: millionths, null where nothing readable stands. */
export function weights() {
  const unit = byId("unit").value;
  const valueOf = (id) => read(byId(id).value, unit).value ?? null;
  return {
    unit, input: valueOf("input_weight"), opened: valueOf("opened_weight"), outputs: outputs.map(({ id }) => valueOf(id)),
  };
}

/** What is wrong with what is typed: by the field's id, in words; what is left empty counts only `whole`. */
export function problems(whole) {
  const found = new Map();
  const unit = byId("unit").value;
  const look = (id, missing) => {
    const { wrong, empty, value } = read(byId(id).value, unit);
    if (wrong) found.set(id, wrong);
    else if (whole && empty && missing) found.set(id, missing);
    return value ?? null;
  };
  const input = look("input_weight", "Give the weight paid for.");
  if (input === 0n) found.set("input_weight", "The input weighs something: give a weight above zero.");
  const opened = look("opened_weight", "");
  if (opened !== null && input !== null && (opened > input || opened === 0n)) {
    found.set("opened_weight", "What is left after draining weighs something, and no more than the weight paid for.");
  }
  for (const { id, name } of outputs) look(id, `${name} is not weighed: type its weight, or press “none”.`);
  const minutes = read(byId("minutes").value, "kg");
  if (minutes.wrong) found.set("minutes", "Give the minutes as a number, such as 24.");
  if (!/^[1-9]\d{0,5}$/.test(byId("pieces").value.trim() || "1")) found.set("pieces", "Give how many pieces were broken down: 1 or more.");
  if (whole && !byId("tested_on").value) found.set("tested_on", "Give the day of the breakdown.");
  return found;
}

/** The test as the service takes it; `plain` writes a weight. Only to be asked of a form without problems. */
export function facts(plain) {
  const written = (id) => plain(read(byId(id).value, byId("unit").value).value);
  const told = { tested_on: byId("tested_on").value, unit: byId("unit").value };
  for (const id of WEIGHTS) if (byId(id).value.trim()) told[id] = written(id);
  if (byId("minutes").value.trim()) told.minutes = plain(read(byId("minutes").value, "kg").value);
  told.pieces = Number(byId("pieces").value.trim() || "1");
  for (const id of WORDS) if (byId(id).value.trim()) told[id] = byId(id).value.trim();
  return { ...told, outputs: outputs.map(({ cut, id }) => ({ cut, weight: written(id) })) };
}

/** The field that a problem of the service is about: its id, or null. */
export function fieldAt(pointer) {
  const [, name, place] = /^#\/(\w+)(?:\/(\d+))?/.exec(pointer ?? "") ?? [];
  if (name === "outputs") return place === undefined ? null : outputs[Number(place)]?.id ?? null;
  return name !== undefined && typedIn.some((field) => field.id === name) ? name : null;
}

/** Tell what is wrong with a field beside it; "" takes it back. */
export function mark(id, text) {
  const place = byId(`${id}-problem`);
  place.textContent = text;
  place.hidden = text === "";
  if (text) byId(id).setAttribute("aria-invalid", "true");
  else byId(id).removeAttribute("aria-invalid");
}

/** Warn of a weight beside its field; "" takes it back. */
export function warn(id, text) {
  const place = byId(`${id}-warning`);
  if (place.textContent === text) return;
  place.textContent = text;
  place.hidden = text === "";
}
