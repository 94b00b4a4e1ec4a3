// Which rows are to become prices: clean ones are ticked unless somebody unticks them, questioned ones are not until
// somebody ticks them and says why. Kept by row number, so that filters, orders and pages never lose a tick.

export class Choice {
  constructor() {
    this.cleanTicked = true;
    this.otherwise = new Set(); // clean rows that are not as `cleanTicked` says
    this.reasons = new Map(); // questioned rows that are ticked, each with its reason so far
  }

  takes(row) {
    return row.standing === "clean" ? this.cleanTicked !== this.otherwise.has(row.row) : this.reasons.has(row.row);
  }

  set(row, ticked) {
    if (row.standing === "clean") {
      if (ticked === this.cleanTicked) this.otherwise.delete(row.row);
      else this.otherwise.add(row.row);
    } else if (ticked) this.reasons.set(row.row, this.reasons.get(row.row) ?? "");
    else this.reasons.delete(row.row);
  }

  setAllClean(ticked) {
    this.cleanTicked = ticked;
    this.otherwise.clear();
    if (!ticked) this.reasons.clear();
  }

  count(clean) {
    const taken = this.cleanTicked ? clean - this.otherwise.size : this.otherwise.size;
    return { withReason: this.reasons.size, all: taken + this.reasons.size };
  }

  /** Ticked rows that still lack their reason. */
  silent() {
    return [...this.reasons].filter(([, reason]) => reason.trim() === "").map(([row]) => row).sort((a, b) => a - b);
  }

  /** After another look: forget what was said of rows that stand otherwise now. */
  keepTo(clean, questioned) {
    this.otherwise = new Set([...this.otherwise].filter((row) => clean.has(row)));
    this.reasons = new Map([...this.reasons].filter(([row]) => questioned.has(row)));
  }

  get isUntouched() {
    return this.cleanTicked && this.otherwise.size === 0 && this.reasons.size === 0;
  }

  /** What an acceptance sends. `cleanRows` gives the numbers of all clean rows, asked for only when it matters. */
  async body(cleanRows) {
    const overrides = [...this.reasons].map(([row, reason]) => ({ row, reason: reason.trim() }));
    if (this.cleanTicked && this.otherwise.size === 0) return { overrides };
    const rows = this.cleanTicked ? (await cleanRows()).filter((row) => !this.otherwise.has(row)) : [...this.otherwise];
    return { rows, overrides };
  }
}
