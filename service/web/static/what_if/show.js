// The answer on the page: one sentence for the whole menu, what to look at, then the dishes.

import { showDishes } from "/static/what_if/rows.js";

const said = document.getElementById("said");
const findings = document.getElementById("findings");
const trouble = document.getElementById("trouble");

/** Nothing is supposed, or nothing came of it. */
export function showNothing(words = "Nothing is moved yet.") {
  said.textContent = words;
  findings.hidden = true;
  showDishes([], () => {}, async () => null);
}

/** Show what would be. */
export function showAnswer(answer, tryMend, findMends) {
  const { before, after } = answer.menu;
  said.textContent = [
    sentence(answer.leaves_target.length, "leaves its target", "leave their target"),
    sentence(answer.re_enters_target.length, "comes back within it", "come back within it"),
    sentence(answer.dishes.length, "moves", "move"),
    before.food_cost_percent === after.food_cost_percent ? `The menu stays at ${after.food_cost_percent ?? "–"} %.`
      : `The menu goes from ${before.food_cost_percent ?? "–"} % to ${after.food_cost_percent ?? "–"} %.`,
  ].filter(Boolean).join(" ");
  findings.replaceChildren(...answer.findings.map((finding) => {
    const item = document.createElement("li");
    item.textContent = finding.detail;
    return item;
  }));
  findings.hidden = answer.findings.length === 0;
  showDishes(answer.dishes, tryMend, findMends);
}

/** Say what went wrong, or that nothing does. */
export function showTrouble(words) {
  trouble.textContent = words;
  trouble.hidden = !words;
}

function sentence(count, one, several) {
  return count === 0 ? "" : `${count} dish${count === 1 ? ` ${one}` : `es ${several}`}.`;
}
