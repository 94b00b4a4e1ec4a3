// The review of one proposal: what the file is, how its rows stand, what it would do to the menu, what became of it.

import { ask } from "./api.js";
import { Choice } from "./choice.js";
import { showDecision } from "./decide.js";
import { busy, byId, cell, focusOn, make, say, show, tell } from "./dom.js";
import { day, instant, listed, money, percent, several, signed, useCurrency, words } from "./figures.js";
import { loadRows, numbersOf, prepareRows, useRows } from "./rows.js";
import { holder } from "./sign_in.js";

const FORMATS = { csv: "CSV", xlsx: "XLSX", ubl_catalogue: "UBL Catalogue", ubl_invoice: "UBL Invoice" };
const DISHES_AT_FIRST = 8;

const choices = new Map(); // what was ticked and typed, by proposal: kept while the page is open
let current = null;

export function prepareReview() {
  prepareRows(() => showDecision(current, choices.get(current.id), showReview));
  byId("look").addEventListener("click", () => busy(byId("look"), "Looking again", look));
  byId("effect-more").addEventListener("click", () => {
    fillEffect(current.effect.dishes);
    show("effect-more", false);
    byId("effect-table").tBodies[0].rows[DISHES_AT_FIRST].querySelector("th").focus();
  });
}

/** Read a proposal and show its review. */
export async function openReview(id) {
  const { body } = await ask("GET", `/v1/price-proposals/${encodeURIComponent(id)}`);
  await showReview(body);
}

/** Show the review of a proposal that was read. What should have the focus gets it at once; the rows follow. */
export async function showReview(proposal, focus = null) {
  const same = current !== null && current.id === proposal.id;
  current = proposal;
  if (!choices.has(proposal.id)) choices.set(proposal.id, new Choice());
  fill(proposal);
  useRows(proposal, choices.get(proposal.id), same);
  showDecision(proposal, choices.get(proposal.id), showReview);
  if (focus !== null) focusOn(focus);
  await loadRows();
}

function fill(proposal) {
  const name = proposal.reference || proposal.file_name || `List ${proposal.id}`;
  const supplier = proposal.supplier_name ?? proposal.supplier;
  useCurrency(proposal.currency);
  byId("review-title").textContent = `${supplier}: ${name}`;
  document.title = `${supplier}: ${name} - Seamcost`;
  byId("review-about").textContent = about(proposal);
  fillLayout(proposal.layout);
  fillCounts(proposal.counts);
  byId("document-findings").replaceChildren(...proposal.findings.map((one) => make("li", {}, one.detail)));
  show("document-findings", proposal.findings.length > 0);
  showOutOfDate(proposal);
  showEffect(proposal);
  showMissing(proposal);
  showEnd(proposal);
}

function about(proposal) {
  const starts = proposal.effective_from ? ` Prices start on ${day(proposal.effective_from)}, unless a row says otherwise.` : "";
  const spread = proposal.spread_charges ? " What the invoice charges beside its lines is spread by weight." : "";
  return `${proposal.file_name || "A file"}, ${FORMATS[proposal.format] ?? proposal.format}, `
    + `${several(proposal.rows, "row", "rows")}.${starts}${spread} `
    + `Proposed ${instant(proposal.made_at)} by ${proposal.who}.`;
}

function fillLayout(layout) {
  show("layout", layout !== null);
  if (layout === null) return;
  const told = [
    ...layout.columns.map(({ means, header }) => [words(means), header]),
    ["header in line", String(layout.header_line)],
    ["decimals", layout.decimal_mark === "," ? "with a comma" : "with a point"],
    ["sheet", layout.sheet], ["encoding", layout.encoding],
  ].filter(([, said]) => said);
  byId("layout-words").replaceChildren(...told.map(([means, said]) => make("div", {}, make("dt", {}, means), make("dd", {}, said))));
}

function fillCounts(counts) {
  const told = [["rows", counts.rows], ["clean", counts.clean], ["questioned", counts.questioned],
    ["blocked", counts.blocked], ["unchanged", counts.unchanged]];
  byId("counts").replaceChildren(...told.map(([name, count]) => make(
    "div", { class: name }, make("dt", {}, name), make("dd", {}, String(count)))));
}

function showOutOfDate(proposal) {
  show("out-of-date", proposal.out_of_date && proposal.state === "open");
  byId("out-of-date-words").textContent = `What ${proposal.moved_rows.length === 1 ? "row" : "rows"} `
    + `${listed(proposal.moved_rows)} ${proposal.moved_rows.length === 1 ? "was" : "were"} reviewed against has changed `
    + "since. Before anything is accepted somebody has to look again.";
  show("look", holder.scopes.has("prices:write"));
}

async function look() {
  try {
    const { body } = await ask("POST", `/v1/price-proposals/${current.id}/look`, { json: {} });
    const choice = choices.get(body.id);
    current = body;
    if (!choice.isUntouched) {
      choice.keepTo(new Set(await numbersOf(body.id, "clean")), new Set(await numbersOf(body.id, "questioned")));
    }
    await showReview(body, "review-title");
    say("Looked again: this is the review as of now.");
  } catch (problem) {
    tell("trouble", problem);
  }
}

function showEffect({ effect, state }) {
  const { dishes_moved: moved, leaving_target: leaving, returning_to_target: returning } = effect;
  const when = `${state === "open" ? "If all clean rows are accepted" : "As reviewed, with all clean rows"}, `;
  byId("effect-words").textContent = moved === 0 ? `${when}no dish's food cost moves.`
    : `${when}the food cost of ${several(moved, "dish", "dishes")} moves, as of ${day(effect.as_of)}. `
      + `${leaving === 0 ? "None leaves" : several(leaving, "leaves", "leave")} the food-cost target`
      + `${returning ? `, ${several(returning, "comes", "come")} back within it` : ""}.`;
  show("effect-table", moved > 0);
  fillEffect(effect.dishes.slice(0, DISHES_AT_FIRST));
  show("effect-more", effect.dishes.length > DISHES_AT_FIRST);
  byId("effect-more").textContent = `Show all ${effect.dishes.length} dishes`;
}

function fillEffect(dishes) {
  byId("effect-table").tBodies[0].replaceChildren(...dishes.map((dish) => make("tr", { role: "row" },
    make("th", { scope: "row", role: "rowheader", tabindex: "-1" }, dish.name),
    cell("Food cost", { class: "number" }, fromTo(money(dish.food_cost_before), money(dish.food_cost_after))),
    cell("Change", { class: "number" }, signed(dish.change)),
    cell("Food-cost %", { class: "number" }, fromTo(percent(dish.food_cost_percent_before), percent(dish.food_cost_percent_after))),
    cell("Target", { class: "number" }, percent(dish.target_food_cost_percent)),
    cell("Meaning", { class: `meaning ${leaves(dish) ? "leaves" : ""}` }, meaning(dish)))));
}

function fromTo(before, after) {
  return before || after ? `${before || "none"} to ${after || "none"}` : "";
}

function leaves(dish) {
  return dish.within_target_before === true && dish.within_target_after === false;
}

function meaning(dish) {
  if (leaves(dish)) return "leaves its target";
  if (dish.within_target_after === null) return "";
  if (dish.within_target_after) return dish.within_target_before === false ? "back within its target" : "stays within";
  return "stays above";
}

function showMissing({ counts, missing_items: items }) {
  show("missing", counts.missing_items > 0);
  byId("missing-words").textContent = `${several(counts.missing_items, "item", "items")} of the supplier's last list `
    + `${counts.missing_items === 1 ? "is" : "are"} not on this one`;
  byId("missing-items").replaceChildren(...items.map((item) => make(
    "li", {}, make("strong", {}, item.item), ` ${item.name}`, item.ingredient ? ` (${item.ingredient})` : "")),
    counts.missing_items > items.length ? make("li", {}, `and ${counts.missing_items - items.length} more`) : "");
}

/** How the proposal ended; what was left, and why, is filled in once the rows are read. */
function showEnd({ acceptance, rejection }) {
  const ended = byId("ended");
  ended.hidden = acceptance === null && rejection === null;
  if (rejection !== null) {
    ended.replaceChildren(make("p", {}, make("strong", {}, "Rejected"), ` ${instant(rejection.at)} by ${rejection.who}: `
      + `${rejection.reason} Nothing of it is in force.`));
  } else if (acceptance !== null) {
    ended.replaceChildren(
      make("p", {}, make("strong", {}, "Accepted"), ` ${instant(acceptance.at)} by ${acceptance.who}, as revision `
        + `${acceptance.revision}: ${several(acceptance.accepted, "row is a price", "rows are prices")} now, `
        + `${acceptance.left === 0 ? "none was" : several(acceptance.left, "was", "were")} left.`),
      ...acceptance.overrides.length ? [make("ul", {}, ...acceptance.overrides.map(({ row, reason }) => make(
        "li", {}, `Row ${row} was taken with a reason: ${reason}`)))] : [],
      make("div", { id: "left" }));
  }
}
