// What a percentage point of lean in the bin costs in a year, at a volume that is typed; the API says it in words.

import { ask } from "../frame/api.js";

const form = document.getElementById("lean");

async function tell(event) {
  event.preventDefault();
  const field = document.getElementById("volume");
  const query = new URLSearchParams({ input_kg_per_year: field.value.trim().replace(",", "."), as_of: form.dataset.asOf,
    known_at: form.dataset.knownAt });
  const said = document.getElementById("lean-said");
  try {
    said.textContent = (await ask("GET", `/v1/breakdowns/${form.dataset.breakdown}/lean-loss?${query}`)).in_words;
    said.className = "";
    field.removeAttribute("aria-invalid");
  } catch (problem) {
    if (problem.told === undefined) throw problem;
    const wrong = problem.errors.length > 0;
    said.textContent = wrong ? "Give the kilograms a year as a number above nil, as 1200 or 1200.5." : problem.message;
    said.className = "wrong";
    if (wrong) field.setAttribute("aria-invalid", "true");
  }
}

if (form) {
  form.hidden = false;
  form.addEventListener("submit", tell);
}
