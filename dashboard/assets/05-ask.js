// The one way by which these pages ask the server. Every request has a time limit: an answer that was swallowed on its
// way, as when a phone changes its Wi-Fi, would otherwise be waited for without end.
(() => {
  "use strict";
  // An answer that was swallowed and what comes before the next try are together below five seconds, in which a page is
  // to recover. Only a server that lives and is slow is waited for longer.
  const LIMIT_MS = 3000;
  const ALIVE_MS = 1000;
  // Browsers keep six to a host (HTTP/1.1).
  const CONNECTIONS = 6;
  const SLOW_MS = 24000;
  const PAUSES_MS = [250, 500, 1000, 1500];
  // An entry is written to a disk, and a sum may be long.
  const PATIENT_MS = 8000;
  const TRIES = 3;
  // What was asked before the phone woke and longer ago than this may never be answered.
  const STALE_MS = 1000;

  // status: of a refusal, 0 where no answer came. told: what the server said as JSON, else null. late: whether the time
  // limit was reached.
  class AskError extends Error {
    constructor(words, { status = 0, told = null, late = false } = {}) {
      super(words);
      Object.assign(this, { name: "AskError", status, told, late });
    }
  }

  // Whether the server may answer another time: it is not there, busy, or wants the key anew.
  const mayPass = (error) => [0, 401, 408, 421, 429].includes(error.status) || error.status >= 500;

  function refusal(status, text) {
    try {
      const told = JSON.parse(text);
      return new AskError(told.error, { status, told });
    } catch {
      return new AskError(text, { status });
    }
  }

  // Gives the answer's JSON or text. body: sent by POST. Throws AskError; the limit holds for head and body each.
  async function ask(path, { body, limit = body === undefined ? LIMIT_MS : PATIENT_MS, signal, as = "json" } = {}) {
    const giveUp = new AbortController();
    const stop = () => giveUp.abort();
    if (signal) signal.addEventListener("abort", stop);
    let timer = setTimeout(stop, limit);
    try {
      const post = { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
      // Kept out of the browser's store, where a request waits for another one of the same address.
      const answer = await fetch(path, { ...(body === undefined ? {} : post), cache: "no-store", signal: giveUp.signal });
      clearTimeout(timer);
      timer = setTimeout(stop, limit);
      const text = await answer.text();
      if (answer.status === 401) location.reload();
      if (!answer.ok) throw refusal(answer.status, text);
      return as === "json" ? JSON.parse(text) : text;
    } catch (error) {
      if (error instanceof AskError) throw error;
      throw new AskError("No answer from kettleside.", { late: giveUp.signal.aborted && !(signal && signal.aborted) });
    } finally {
      clearTimeout(timer);
      if (signal) signal.removeEventListener("abort", stop);
    }
  }

  // Whether the server answers anything. Asked on every connection that the browser may have kept: those that a change of
  // network killed are given up with it, and would else each cost the next requests their time limit.
  async function isAlive(signal) {
    const one = () => ask("/healthz", { as: "text", limit: ALIVE_MS, signal }).then(() => true, () => false);
    return (await Promise.all(Array.from({ length: CONNECTIONS }, one))).includes(true);
  }

  // Asks again and again, one request at a time, ever less often while no answer comes, and at once when the network
  // or the page is back. once(signal, limit): asks and throws where it had no answer. pause(): ms until the next time,
  // null for none. asleep: whether it goes on while nobody sees the page. Gives what asks at once.
  function again(once, { pause, asleep = false }) {
    let timer = null;
    let flight = null;
    let failed = 0;
    let limit = LIMIT_MS;
    let more = false;
    const resting = () => document.hidden && !asleep;

    async function turn() {
      clearTimeout(timer);
      if (flight) {
        more = true;
        return;
      }
      const mine = { since: performance.now(), stop: new AbortController() };
      let late = false;
      flight = mine;
      more = false;
      try {
        await once(mine.stop.signal, limit);
        failed = 0;
        limit = LIMIT_MS;
      } catch (error) {
        failed += 1;
        // A fault of the page's own has to be seen.
        if (!(error instanceof AskError)) setTimeout(() => { throw error; });
        late = error.late && flight === mine;
      }
      if (late) limit = await isAlive(mine.stop.signal) ? Math.min(2 * limit, SLOW_MS) : LIMIT_MS;
      if (flight !== mine) return;
      flight = null;
      const next = late ? 0 : failed ? PAUSES_MS[Math.min(failed, PAUSES_MS.length) - 1] : more ? 0 : pause();
      clearTimeout(timer);
      if (next !== null && !resting()) timer = setTimeout(turn, next);
    }

    function wake() {
      if (document.hidden) {
        if (!asleep) clearTimeout(timer);
        return;
      }
      if (flight && performance.now() - flight.since < STALE_MS) return;
      if (flight) flight.stop.abort();
      flight = null;
      if (failed || pause() !== null) turn();
    }

    document.addEventListener("visibilitychange", wake);
    window.addEventListener("online", wake);
    window.addEventListener("pageshow", (event) => { if (event.persisted) wake(); });
    return turn;
  }

  // Made of random bytes, because randomUUID is there for secure pages only and these come by plain HTTP (RFC 9562,
  // version 4).
  function newId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  const unheard = new Map();

  // Sends what may arrive once only, with an id under which the server knows it again: a lost answer is asked for anew,
  // and a person who tries the same again by hand sends the same entry.
  async function surely(path, body) {
    const entry = JSON.stringify([path, body]);
    if (!unheard.has(entry)) unheard.set(entry, newId());
    const id = unheard.get(entry);
    for (let tried = 1; ; tried += 1) {
      try {
        const answer = await ask(path, { body: { ...body, id }, limit: LIMIT_MS });
        unheard.delete(entry);
        return answer;
      } catch (error) {
        if (!mayPass(error)) unheard.delete(entry);
        if (error.status || tried === TRIES) throw error;
      }
      await new Promise((resolve) => setTimeout(resolve, PAUSES_MS[tried - 1]));
    }
  }

  window.kettlesideAsk = { ask, again, surely, newId, mayPass, AskError };
})();
