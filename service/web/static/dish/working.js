// Opening the working: all of it at once, as for printing, or down to the step that a link names.

const working = document.querySelector(".working");
const steps = [...working.querySelectorAll("details")];

function openAll(open) {
  for (const step of steps) step.open = open;
}

function reveal() {
  const named = document.getElementById(location.hash.slice(1));
  for (let step = named; step && working.contains(step); step = step.parentElement) if (step.open === false) step.open = true;
  if (named && working.contains(named)) named.scrollIntoView({ block: "center" });
}

document.getElementById("unfold").hidden = false;
document.getElementById("open-all").addEventListener("click", () => openAll(true));
document.getElementById("close-all").addEventListener("click", () => openAll(false));
window.addEventListener("hashchange", reveal);
reveal();
