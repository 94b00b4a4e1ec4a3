// The rows of the dishes that move. Rows are kept from answer to answer, so that what was opened stays open.

const SHOWN = 60;
const kept = new Map();
let all = [];
let limit = SHOWN;

const table = document.getElementById("moved");
const body = table.tBodies[0];
const more = document.getElementById("more");

more.addEventListener("click", () => {
  limit = all.length;
  draw();
});

/** Show these dishes; `tryMend(kind, dish, value)` goes on from one, `findMends(dish)` asks what would mend it. */
export function showDishes(dishes, tryMend, findMends) {
  find = findMends;
  all = dishes.map((dish) => ({ ...dish, off: off(dish.after) })).sort(byAttention);
  limit = SHOWN;
  draw(tryMend);
}

let mend = () => {};
let find = async () => null;

function draw(tryMend = mend) {
  mend = tryMend;
  const shown = all.slice(0, limit);
  table.hidden = shown.length === 0;
  body.replaceChildren(...shown.flatMap(row));
  more.hidden = all.length <= shown.length;
  more.textContent = `Show the other ${all.length - shown.length}`;
}

/** Those that leave their target, then those outside, then by how much the percentage moves. */
function byAttention(one, other) {
  return standing(one) - standing(other) || change(other) - change(one) || one.name.localeCompare(other.name);
}

function standing(dish) {
  const [before, after] = [dish.before?.within_target, dish.after?.within_target];
  if (after === false) return before === true ? 0 : 2;
  if (after === true) return before === false ? 3 : 4;
  return 1;
}

const WORDS = ["leaves its target", "would not be known", "stays outside", "comes back within", ""];

function words(dish) {
  const unknown = standing(dish) === 1 && dish.before?.within_target == null;
  return unknown ? "is not complete" : WORDS[standing(dish)];
}

function change(dish) {
  return Math.abs(Number(dish.after?.food_cost_percent ?? 0) - Number(dish.before?.food_cost_percent ?? 0));
}

function off(figures) {
  if (figures?.food_cost_percent == null) return null;
  return Math.round(Number(figures.food_cost_percent) * 100 - Number(figures.target_food_cost_percent) * 100) / 100;
}

function row(dish) {
  let made = kept.get(dish.dish);
  if (!made) kept.set(dish.dish, (made = blank(dish)));
  const which = ["leaves", "", "stays", "back", ""][standing(dish)];
  const outside = dish.after?.within_target === false;
  made.line.className = outside ? `${which} has-mends` : which;
  made.under.className = `mends ${which}`;
  made.word.textContent = words(dish);
  pair(made.percent, dish.before?.food_cost_percent, dish.after?.food_cost_percent);
  made.off.textContent = dish.off == null ? "–" : `${dish.off < 0 ? "−" : "+"}${Math.abs(dish.off).toFixed(2)}`;
  pair(made.cost, dish.before?.food_cost, dish.after?.food_cost);
  pair(made.profit, dish.before?.gross_profit, dish.after?.gross_profit);
  if (outside && made.how.open) void showMends(made, dish.dish);
  return outside ? [made.line, made.under] : [made.line];
}

function blank(dish) {
  const line = element("tr", { role: "row" });
  const head = element("th", { scope: "row", role: "rowheader" });
  const link = element("a", { href: `/dishes/${dish.dish}${elsewhen()}` });
  link.textContent = dish.name;
  const word = element("small");
  head.append(link, " ", word);
  const under = element("tr", { role: "row" });
  const wide = element("td", { role: "cell", colspan: "5" });
  const how = element("details");
  const summary = element("summary");
  summary.textContent = `What would mend ${dish.name}`;
  const list = element("ul");
  how.append(summary, list);
  how.addEventListener("toggle", () => {
    if (how.open) void showMends(kept.get(dish.dish), dish.dish);
  });
  wide.append(how);
  under.append(wide);
  const cells = ["percent", "off", "cost", "profit"].map((name) => element("td", { role: "cell", class: `number ${name}` }));
  line.append(head, ...cells);
  const [percent, offCell, cost, profit] = cells;
  return { line, under, word, how, list, percent, off: offCell, cost, profit };
}

/** What the address of a dish at the page's own day and revision ends in. */
function elsewhen() {
  const here = new URLSearchParams(location.search);
  const asked = ["as_of", "known_at"].filter((name) => here.get(name)).map((name) => [name, here.get(name)]);
  return asked.length ? `?${new URLSearchParams(asked)}` : "";
}

/** Ask what would mend a dish, and show it unless something newer was asked meanwhile. */
async function showMends(made, dish) {
  const asked = (made.asked = Symbol("asked"));
  if (!made.list.childElementCount) made.list.replaceChildren(item("Looking for what would mend it."));
  let found = null;
  try {
    found = await find(dish);
  } catch (problem) {
    if (made.asked === asked) made.list.replaceChildren(item(problem.message));
    return;
  }
  if (made.asked !== asked || !found) return;
  const items = [];
  if (found.menu_price) items.push(item(`Sell it at ${found.menu_price}`, () => mend("menu_prices", dish, found.menu_price)));
  if (found.portions) {
    items.push(item(`Portions of ${found.portion_percent} %: ${found.portions} from the same lines`,
                    () => mend("portions", dish, found.portions)));
  }
  for (const price of found.ingredient_prices.slice(0, 3)) {
    items.push(item(`${price.name} at ${price.unit_price} per ${price.base_unit} at most, ${price.change_percent.replace("-", "−")} %`));
  }
  made.list.replaceChildren(...(items.length ? items : [item("Nothing alone: take several together.")]));
}

function item(words, act) {
  const one = element("li");
  const told = element("span");
  told.textContent = words;
  one.append(told);
  if (act) {
    const button = element("button", { type: "button", class: "quiet no-print" });
    button.textContent = "Try";
    button.setAttribute("aria-label", `Try: ${words}`);
    button.addEventListener("click", act);
    one.append(button);
  }
  return one;
}

function pair(cell, before, after) {
  const was = element("span", { class: "was" });
  was.textContent = before ?? "–";
  const arrow = element("span", { class: "unseen" });
  arrow.textContent = " today, then ";
  const then = element("b");
  then.textContent = after ?? "–";
  if (before === after) cell.replaceChildren(then);
  else cell.replaceChildren(was, arrow, then);
}

function element(name, attributes = {}) {
  const made = document.createElement(name);
  for (const [attribute, value] of Object.entries(attributes)) made.setAttribute(attribute, value);
  return made;
}
