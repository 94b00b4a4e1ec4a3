// The board answers as one types: rows whose dish, code or section lack a word are hidden, and sections left empty.

const words = document.getElementById("q");
const section = document.getElementById("section");
const found = document.getElementById("found");
const rows = [...document.querySelectorAll("main tbody tr")].map((row) => {
  const head = row.cells[0];
  const small = head.querySelector("small:not(.alert)");
  const code = head.querySelector("a").pathname.slice("/dishes/".length);
  return { row, group: row.closest("section"), section: small ? small.textContent : "",
           text: `${head.textContent} ${code}`.toLowerCase() };
});
const groups = [...document.querySelectorAll("main section")];
let waiting = false;
let noting = 0;
const whole = !new URLSearchParams(location.search).get("q") && !(section && section.value);

function filter() {
  const asked = words.value.toLowerCase().split(/\s+/).filter(Boolean);
  const kept = new Map(groups.map((group) => [group, 0]));
  for (const one of rows) {
    const fits = (!section || !section.value || one.section === section.value) &&
      asked.every((word) => one.text.includes(word));
    if (one.row.hidden === fits) one.row.hidden = !fits;
    if (fits) kept.set(one.group, kept.get(one.group) + 1);
  }
  let shown = 0;
  for (const [group, count] of kept) {
    group.hidden = count === 0;
    group.querySelector(".count").textContent = count;
    shown += count;
  }
  found.textContent = shown === rows.length ? "" : `${shown} of ${rows.length} dishes`;
  clearTimeout(noting);
  noting = setTimeout(note, 400);
}

/** What is typed shows first, then the rows follow; keys that come quickly are answered together. */
function soon() {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => setTimeout(() => {
    waiting = false;
    filter();
  }));
}

/** The address says what is shown, so that it can be kept and shared. */
function note() {
  const query = new URLSearchParams(location.search);
  for (const field of [words, section]) {
    if (field && field.value) query.set(field.name, field.value);
    else if (field) query.delete(field.name);
  }
  history.replaceState(null, "", query.size ? `?${query}` : location.pathname);
}

if (whole) { // what was searched by the service holds only what it found: there typing is sent on with Enter
  words.addEventListener("input", soon);
  section?.addEventListener("change", soon);
}
