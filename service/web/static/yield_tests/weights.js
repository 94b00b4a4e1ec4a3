// Weights as they are typed and shown: whole millionths in BigInt, never a float, so that what the page adds up is what
// the service adds up. Pure: nothing here touches the page.

export const MILLION = 1_000_000n;
const SHOWN = { kg: 3, g: 0, lb: 3, oz: 1 }; // decimals, as kitchen scales show
const TYPED = /^(\d{0,12})(?:[.,](\d{1,6}))?$/;

/** What a field holds: `{ value }` in millionths, `{ empty }`, or `{ wrong }` in words. A comma is a decimal comma. */
export function read(text, unit) {
  const typed = text.trim();
  if (typed === "") return { empty: true };
  const [found, whole, decimals = ""] = TYPED.exec(typed) ?? [];
  if (!found || (whole === "" && decimals === "")) {
    return { wrong: `“${typed.slice(0, 30)}” is no weight: write it as 0.742, with 6 decimals at most.` };
  }
  if (typed.includes(",") && decimals.length === 3 && unit !== "kg" && whole !== "0" && whole !== "") {
    return { wrong: `“${typed}” could be ${whole}${decimals} or ${whole}.${decimals}: write it without the comma, or with a point.` };
  }
  return { value: BigInt(whole || "0") * MILLION + BigInt(decimals.padEnd(6, "0")) };
}

/** Plain text of millionths, for the service. */
export function plain(value) {
  const decimals = String(value % MILLION).padStart(6, "0").replace(/0+$/, "");
  return decimals ? `${value / MILLION}.${decimals}` : String(value / MILLION);
}

/** A weight in words, as a scale shows it: `0.742 kg`. */
export function inWords(value, unit) {
  return `${rounded(value, MILLION, SHOWN[unit])} ${unit}`;
}

/** A part of a whole in percent, with so many decimals. */
export function percent(part, whole, places = 1) {
  return rounded(part * 100n, whole, places);
}

/** What so many millionths of a weight are. */
export function share(weight, millionths) {
  return (weight * BigInt(millionths) + (millionths < 0 ? -MILLION / 2n : MILLION / 2n)) / MILLION;
}

/** A fraction with so many decimals, half away from zero. */
function rounded(numerator, denominator, places) {
  const scaled = (numerator < 0n ? -numerator : numerator) * 10n ** BigInt(places);
  const units = (2n * scaled + denominator) / (2n * denominator);
  const text = String(units).padStart(places + 1, "0");
  const sign = numerator < 0n && units > 0n ? "−" : "";
  return places === 0 ? sign + text : `${sign}${text.slice(0, -places)}.${text.slice(-places)}`;
}
