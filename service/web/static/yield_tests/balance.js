// The running balance of a test, and each weight beside what is expected of it: exact, and in words. Pure.

import { MILLION, inWords, percent, share } from "/static/yield_tests/weights.js";

/**
 * The balance of what is weighed so far. `expected` holds millionths: low, high, much, tolerance.
 * `state`: "waiting" (no input yet), "going" (outputs left to weigh), "good", "ask" (out of line), "bad" (cannot be).
 */
export function balance({ input, opened, outputs, unit }, expected) {
  const weighed = outputs.filter((one) => one !== null);
  const sum = weighed.reduce((total, one) => total + one, 0n);
  if (input === null || input === 0n) return { state: "waiting", sum, words: "Start with the weight paid for." };
  const left = input - sum;
  const to = { sum, left, left_percent: percent(left, input) };
  const block = opened ?? input;
  if (sum * MILLION > block * (MILLION + BigInt(expected.tolerance))) {
    return { ...to, state: "bad", words: `More came off than lay on the block: ${inWords(sum - block, unit)} too much. Weigh again.` };
  }
  const missing = outputs.length - weighed.length;
  if (missing > 0) {
    const counted = missing === 1 ? "1 output is" : `${missing} outputs are`;
    return { ...to, state: "going", words: `${inWords(left, unit)} left on the block, ${counted} to be weighed.` };
  }
  const drained = opened === null || opened > input ? 0n : input - opened;
  const much = left - drained > 0n && (left - drained) * MILLION > BigInt(expected.much) * input;
  const side = sideOf(left, input, expected);
  const of = drained > 0n ? `, ${inWords(drained, unit)} of it drained off` : "";
  const usual = side > 0 ? `more than usual, ${range(expected)}` : side < 0 ? `less than usual, ${range(expected)}` : `usually ${range(expected)}`;
  const words = `${inWords(left, unit)}, ${to.left_percent} % not accounted for${of}: ${usual}.`;
  return { ...to, state: side === 0 ? "good" : "ask", much, words: much ? `${words} Was a weight forgotten or misread?` : words };
}

/** What is expected of an output, in words: in percent until the input is weighed. */
export function expectedInWords(input, unit, expected) {
  if (input === null || input === 0n) return `expect ${range(expected)}`;
  const [low, high] = [expected.low, expected.high].map((bound) => inWords(share(input, bound), unit));
  return `expect ${low.split(" ")[0]} to ${high} (${range(expected)})`;
}

/** Why a weight is out of line, in words; "" when it is not, or the input is not weighed yet. */
export function outOfLine(weight, input, unit, expected) {
  const side = weight === null || input === null || input === 0n ? 0 : sideOf(weight, input, expected);
  if (side === 0) return "";
  const [more, most, bound] = side > 0 ? ["more", "most", expected.high] : ["less", "least", expected.low];
  return `${inWords(weight, unit)} (${percent(weight, input, 2)} %) is ${more} than is expected, at ${most} ${inWords(share(input, bound), unit)}.`;
}

function sideOf(weight, input, { low, high }) {
  if (weight * MILLION > BigInt(high) * input) return 1;
  return weight * MILLION < BigInt(low) * input ? -1 : 0;
}

function range({ low, low_percent: from, high_percent: to }) {
  return low <= 0 ? `up to ${to} %` : `${from} to ${to} %`;
}
