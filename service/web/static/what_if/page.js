// What if: a lever moves, the address says so, the service is asked, and the dishes that move are shown.

import { ask } from "/static/frame/api.js";
import { askNewest, forget } from "/static/what_if/ask.js";
import { blame, clear, onMove, setLevers } from "/static/what_if/controls.js";
import { showAnswer, showNothing, showTrouble } from "/static/what_if/show.js";
import { fromAddress, isEmpty, number, question, toAddress } from "/static/what_if/state.js";

const PAUSE = 40; // milliseconds without a move before the service is asked
const tried = document.getElementById("tried");
const which = document.getElementById("which-dish");
const price = document.getElementById("set-price");
const portions = document.getElementById("set-portions");
const problem = document.getElementById("set-problem");
const day = document.getElementById("as_of");
const shared = document.getElementById("shared");

let state = fromAddress(location.search);
let timer = 0;

function changed() {
  history.replaceState(null, "", location.pathname + toAddress(state, location.search));
  shared.textContent = "";
  showTried();
  clearTimeout(timer);
  timer = setTimeout(askNow, PAUSE);
}

function askNow() {
  if (isEmpty(state)) {
    forget();
    clear();
    showTrouble("");
    showNothing();
    return;
  }
  const asked = question(state);
  askNewest(asked, (came) => requestAnimationFrame(() => show(came, asked)));
}

function show({ answer, problem: refused }, { places }) {
  if (isEmpty(state)) return;
  clear();
  showTrouble("");
  if (answer) {
    showAnswer(answer, tryMend, findMends);
    return;
  }
  const elsewhere = (refused.errors.length ? refused.errors : [refused.told]).filter((fault) => {
    const [, list, place] = /^#\/(prices|yields)\/(\d+)/.exec(fault.pointer ?? "") ?? [];
    return !(list && blame(places[list][place], fault.detail));
  });
  showTrouble(elsewhere.map((fault) => fault.detail).join(" "));
  showNothing("Not worked out: look at what is marked as wrong."); // figures of an earlier question would be taken for its
}

/** What would mend a dish under all that is supposed now. */
async function findMends(dish) {
  const { body } = question(state);
  const answer = await ask("POST", "/v1/what-if", { json: { ...body, mends_for: [dish] } });
  return answer.dishes.find((one) => one.dish === dish)?.mends ?? null;
}

function tryMend(kind, dish, value) {
  state[kind].set(dish, value);
  changed();
  tried.scrollIntoView({ block: "nearest" });
}

function showTried() {
  const items = [];
  for (const [kind, words] of [["menu_prices", "at"], ["portions", "portions:"]]) {
    for (const [dish, value] of state[kind]) {
      const item = document.createElement("li");
      const button = document.createElement("button");
      button.type = "button";
      button.className = "quiet";
      button.textContent = "Take back";
      button.setAttribute("aria-label", `Take back: ${nameOf(dish)} ${words} ${value}`);
      button.addEventListener("click", () => {
        state[kind].delete(dish);
        changed();
      });
      item.append(`${nameOf(dish)} ${words} ${value} `, button);
      items.push(item);
    }
  }
  tried.replaceChildren(...items);
}

function nameOf(dish) {
  return which.querySelector(`option[value="${CSS.escape(dish)}"]`)?.textContent ?? dish;
}

function setDish() {
  const values = { menu_prices: number(price.value), portions: number(portions.value) };
  const wrong = !which.value ? "Choose a dish."
    : (price.value && !values.menu_prices) || (portions.value && !values.portions) ? "Give plain numbers, such as 23.50."
    : !price.value && !portions.value ? "Give a menu price, or portions." : "";
  problem.textContent = wrong;
  problem.hidden = !wrong;
  if (wrong) return;
  for (const [kind, value] of Object.entries(values)) if (value) state[kind].set(which.value, value);
  changed();
}

function showItsOwn() {
  const chosen = which.selectedOptions[0];
  price.placeholder = chosen.dataset.price ?? "";
  portions.placeholder = chosen.dataset.portions ?? "";
}

which.addEventListener("change", showItsOwn);
document.getElementById("set-dish").addEventListener("click", setDish);
for (const field of [price, portions]) {
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      setDish();
    }
  });
}
onMove((kind, key, value) => {
  if (kind === "all_prices") state.all_prices = value;
  else if (value) state[kind].set(key, value);
  else state[kind].delete(key);
  changed();
});
day.addEventListener("change", () => {
  // Another day has other prices and yields to begin with: the page is made anew.
  state.as_of = day.value;
  location.assign(location.pathname + toAddress(state, location.search));
});
document.getElementById("share").addEventListener("click", async () => {
  try {
    await navigator.clipboard.writeText(location.href);
    shared.textContent = "The link is copied.";
  } catch {
    shared.textContent = "Copy it from the address bar: it says all that is tried.";
  }
});
document.getElementById("reset").addEventListener("click", () => {
  state = { ...fromAddress(""), as_of: state.as_of, known_at: state.known_at };
  setLevers(state);
  changed();
});
window.addEventListener("popstate", () => location.reload());

setLevers(state);
showItsOwn();
showTried();
askNow();
