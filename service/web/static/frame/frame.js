// What every page does.

window.addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload(); // brought back from the browser's memory: the session may be another's
});
