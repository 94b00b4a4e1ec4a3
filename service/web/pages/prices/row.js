// One row of the table: what the file says, what it would record, what was found; its tick, and its reason.

import { cell, make, mark } from "./dom.js";
import { day, money, signed, signedPercent, several, words } from "./figures.js";

/** `take` says what its first cell is: a tick, what was decided, or nothing. */
export function rowOf(row, { take, choice, changed, proposal }) {
  const line = make("tr", { role: "row", id: `row-${row.row}`, class: `row ${row.standing}` });
  const findings = cell("Standing", { class: "standing-cell" }, make("span", { class: `standing ${row.standing}` }, row.standing), findingsOf(row),
    row.override ? make("p", { class: "reason" }, `Taken with a reason: ${row.override}`) : null);
  if (take === "tick") line.append(tickOf(row, choice, changed, line, findings));
  if (take === "decision") line.append(cell("Taken", {}, decisionOf(row)));
  line.append(
    make("th", { scope: "row", role: "rowheader", tabindex: "-1" }, String(row.row), make("span", { class: "soft below" }, row.place)),
    cell("Item", { class: "item" }, row.item ? make("span", { class: "code" }, row.item) : null, row.name ? ` ${row.name}` : null,
      row.ingredient ? make("span", { class: "soft below" }, `is ${row.ingredient_name ?? row.ingredient}`) : null),
    cell("As read", { class: "number" }, row.amount_text || null,
      below([row.per ? `per ${row.per}` : "", row.pack ?? ""])),
    cell("Per unit", { class: "number" }, row.unit_price === null ? null : `${money(row.unit_price)} / ${row.base_unit}`,
      below([datesOf(row, proposal)])),
    cell("In force", { class: "number" }, money(row.price_in_force), row.price_in_force_supplier === proposal.supplier ? null : below([row.price_in_force_supplier])),
    cell("Change", { class: "number" }, signed(row.change), below([signedPercent(row.change_percent)])),
    cell("On the menu", { class: "number" }, signed(row.menu_effect), row.dishes ? below([several(row.dishes, "dish", "dishes")]) : null),
    findings);
  return line;
}

function below(parts) {
  const told = parts.filter(Boolean);
  return told.length ? told.map((part) => make("span", { class: "soft below" }, part)) : null;
}

/** When the price holds, where that is not what the whole list says. */
function datesOf(row, proposal) {
  if (row.effective_from === null) return "";
  if (row.effective_to !== null) return `${day(row.effective_from)} to ${day(row.effective_to)}`;
  return row.effective_from === proposal.effective_from ? "" : `from ${day(row.effective_from)}`;
}

function findingsOf(row) {
  if (row.findings.length === 0) return null;
  return make("ul", { class: "findings" }, ...row.findings.map((found) => make("li", {},
    make("strong", {}, words(found.code)), ` ${found.detail}`,
    found.closest?.length ? ` Closest: ${found.closest.map((one) => `${one.kind} ${one.code}`).join(", ")}.` : "")));
}

function decisionOf(row) {
  if (row.decision !== "accepted") return "left";
  return `taken as ${row.price}`;
}

/** A tick for what may be taken. A questioned row that is ticked asks for its reason. */
function tickOf(row, choice, changed, line, findings) {
  if (row.standing !== "clean" && row.standing !== "questioned") return cell("Take", { class: "take" });
  const tick = make("input", { type: "checkbox", "aria-label": `Take row ${row.row}, ${row.name || row.item}` });
  const follow = () => {
    tick.checked = choice.takes(row);
    line.classList.toggle("taken", tick.checked);
    if (row.standing === "questioned") askReason(row, choice, findings, changed);
  };
  tick.addEventListener("change", () => {
    choice.set(row, tick.checked);
    follow();
    changed();
  });
  line.addEventListener("choice", follow);
  follow();
  return cell("Take", { class: "take" }, tick);
}

function askReason(row, choice, findings, changed) {
  const asked = findings.querySelector(".reason");
  if (!choice.reasons.has(row.row)) asked?.remove();
  if (!choice.reasons.has(row.row) || asked !== null) return;
  const id = `reason-${row.row}`;
  const field = make("input", { id, type: "text", maxlength: "500", list: "reasons", "aria-describedby": `${id}-problem` });
  field.value = choice.reasons.get(row.row);
  field.addEventListener("input", () => {
    choice.reasons.set(row.row, field.value);
    mark(id, "");
    changed();
  });
  findings.append(make("div", { class: "reason field" }, make("label", { for: id }, `Why row ${row.row} is right`), field,
    make("p", { class: "wrong", id: `${id}-problem`, hidden: true })));
}
