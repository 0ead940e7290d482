// Requests to the server beside which this page stands, and nothing else.

import { own } from "./own.js";

/** A line as a sentence. */
export const sentence = (line) => `${line.charAt(0).toUpperCase()}${line.slice(1)}${/[.!?]$/.test(line) ? "" : "."}`;

/** What went wrong, in the server's words; `look` when the tracing was changed meanwhile. */
export class Refused extends Error {
  constructor(status, say, look) {
    super(sentence(say));
    this.status = status;
    this.look = look ?? null;
  }
}

const GONE = "The server does not answer. Look whether `ruboff review` still runs, and open the address it prints.";

const answer = async (request) => {
  let response;
  try {
    response = await request;
  } catch (fault) {
    if (fault.name === "AbortError") throw fault;
    throw new Refused(0, GONE);
  }
  let told = null;
  try {
    told = await response.json();
  } catch (fault) {
    if (fault.name === "AbortError") throw fault;
  }
  if (response.ok && told !== null) return told;
  throw new Refused(response.status, told?.say ?? `The server answered with ${response.status} and no word. Reload the page.`, told?.look);
};

export const address = (what, words) => `${what}?${new URLSearchParams(words)}`;

export const get = (what, words = {}, signal = undefined) =>
  answer(fetch(address(what, { ...words, by: own.by }), { signal, headers: { Accept: "application/json" } }));

/** Tells the server something; gives the tracing as it is then. */
export const post = async (what, body) => {
  const headers = { "Content-Type": "application/json" };
  const told = await answer(fetch(what, { method: "POST", headers, body: JSON.stringify({ ...body, by: own.by }) }));
  return told.look;
};
