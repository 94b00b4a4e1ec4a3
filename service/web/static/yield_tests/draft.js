// What was typed, kept for each breakdown until it is recorded or started afresh: for this tab alone, on this device.
// With it the attempt to record it, so that one whose answer was lost is repeated and never recorded twice.

const PREFIX = "seamcost-yield-test:";

/** The draft of a breakdown: `{ values, at, attempt }`, or null. */
export function kept(breakdown) {
  try {
    return JSON.parse(sessionStorage.getItem(PREFIX + breakdown));
  } catch {
    return null; // no storage, or not ours
  }
}

export function keep(breakdown, draft) {
  try {
    sessionStorage.setItem(PREFIX + breakdown, JSON.stringify({ ...draft, at: new Date().toISOString() }));
  } catch {
    // A browser that keeps nothing: what is typed stays on the page.
  }
}

export function forget(breakdown) {
  try {
    sessionStorage.removeItem(PREFIX + breakdown);
  } catch {
    // nothing was kept
  }
}

/** A key for one attempt: 128 random bits. (`randomUUID` is not there on a plain address of the house.) */
export function attemptKey() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
