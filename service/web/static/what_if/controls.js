// The levers: a slider and a box for the exact number, which say the same; and the list of what is tried of dishes.

import { number } from "/static/what_if/state.js";

const form = document.getElementById("levers");
const levers = new Map();

for (const lever of form.querySelectorAll(".lever")) {
  const [range, exact] = lever.querySelectorAll("input");
  const now = range.dataset.now ?? "0";
  levers.set(name(range.dataset.kind, range.dataset.key), { lever, range, exact, now, wrong: lever.querySelector(".wrong") });
}

function name(kind, key) {
  return key ? `${kind}:${key}` : kind;
}

/** Have every lever say what the state does. */
export function setLevers(state) {
  for (const [called, one] of levers) {
    const [kind, key] = split(called);
    const value = kind === "all_prices" ? state.all_prices : state[kind].get(key);
    show(one, value || one.now);
    if (value && kind === "prices") reveal(one);
    const fold = one.lever.closest("details");
    if (value && fold) fold.open = true;
  }
}

/** Hear of each move: `moved(kind, key, value)`; value "" is as it is today. */
export function onMove(moved) {
  for (const [called, one] of levers) {
    const [kind, key] = split(called);
    const take = (text) => {
      const value = number(text);
      one.exact.setAttribute("aria-invalid", String(!value));
      if (value) moved(kind, key, Number(value) === Number(one.now) ? "" : value);
    };
    one.range.addEventListener("input", () => {
      one.exact.value = one.range.value;
      say(one, one.range.value);
      take(one.range.value);
    });
    one.exact.addEventListener("input", () => {
      const value = number(one.exact.value);
      if (value) { // what is half typed moves no slider: without a value it would jump to its middle
        one.range.value = value;
        say(one, value);
      }
      take(one.exact.value);
    });
  }
  document.getElementById("more-prices")?.addEventListener("change", (event) => {
    const one = levers.get(name("prices", event.target.value));
    event.target.value = "";
    if (one) {
      reveal(one);
      one.range.focus();
    }
  });
  form.addEventListener("submit", (event) => event.preventDefault());
}

/** Say beside a lever what is wrong with it; true when there is such a lever. */
export function blame([kind, key], words) {
  const fold = kind === "breakdown" ? form.querySelector(`[data-breakdown="${CSS.escape(key)}"]`) : null;
  const place = fold ? fold.querySelector(":scope > .wrong") : levers.get(name(kind, key))?.wrong;
  if (!place) return false;
  if (fold) fold.open = true;
  place.textContent = words;
  place.hidden = false;
  return true;
}

/** Nothing is wrong any more. */
export function clear() {
  for (const place of form.querySelectorAll(".wrong")) place.hidden = true;
}

function show(one, value) {
  one.range.value = value;
  one.exact.value = value;
  one.exact.removeAttribute("aria-invalid");
  say(one, value);
}

function say(one, value) {
  one.range.setAttribute("aria-valuetext", `${value} ${one.range.dataset.unit}`);
  one.lever.classList.toggle("moved", Number(value) !== Number(one.now));
}

function reveal(one) {
  one.lever.hidden = false;
}

function split(called) {
  const at = called.indexOf(":");
  return at < 0 ? [called, ""] : [called.slice(0, at), called.slice(at + 1)];
}
