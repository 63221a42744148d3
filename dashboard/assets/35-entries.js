// What a person entered, kept on this phone until the server has said that it has it, and sent in order. Each entry has
// an id made before the first try, so that whatever arrives twice is logged once; two pages of one phone may send alike.
(() => {
  "use strict";
  const { ask, again, newId, mayPass, AskError } = window.kettlesideAsk;
  const PREFIX = "kettleside entry ";
  const MOST = 200;
  const LONGEST = 65536;
  // What is on its way for no longer than this need not be told of.
  const SOON_MS = 2000;
  const looksOnly = document.documentElement.dataset.may === "look";
  // Where the browser keeps nothing for this page, an entry lasts as long as the page.
  const unkept = new Map();
  const steady = new Map();
  let found = null;
  let failed = false;
  let heard = () => {};
  let changed = () => {};

  const keyOf = (entry) => `${PREFIX}${String(entry.place).padStart(9, "0")} ${entry.id}`;

  function texts() {
    const kept = new Map(unkept);
    try {
      for (let i = 0; i < localStorage.length; i += 1) {
        const key = localStorage.key(i);
        if (key.startsWith(PREFIX)) kept.set(key, localStorage.getItem(key));
      }
    } catch {
      // Forbidden to this page.
    }
    return kept;
  }

  function parsed(text) {
    try {
      const entry = JSON.parse(text);
      return entry && entry.id && entry.path && entry.body ? entry : null;
    } catch {
      return null;
    }
  }

  // All entries, the first first. An entry: id, place in the order, path and body of the request, text for the person,
  // tapped (ms by this phone's clock), refused (what the server said, where it will not have it).
  function list() {
    if (!found) found = [...texts().values()].map(parsed).filter(Boolean).sort((a, b) => a.place - b.place);
    return found;
  }

  function write(entry) {
    const [key, text] = [keyOf(entry), JSON.stringify(entry)];
    try {
      localStorage.setItem(key, text);
      unkept.delete(key);
    } catch {
      unkept.set(key, text);
    }
    found = null;
  }

  function remove(entry) {
    unkept.delete(keyOf(entry));
    try {
      localStorage.removeItem(keyOf(entry));
    } catch {
      // Nothing is kept there.
    }
    found = null;
  }

  // The phone's clock may be wrong, but not its pace; only a phone that slept has a steady clock that stood meanwhile.
  function ageS(entry) {
    const steadyMs = steady.has(entry.id) ? performance.now() - steady.get(entry.id) : 0;
    return Math.max(0, steadyMs, Date.now() - entry.tapped) / 1000;
  }

  function refuse(entry, words) {
    write({ ...entry, refused: words });
    // What was to move it or take it back has nothing left to do.
    for (const other of list().filter((one) => one.body.uid === entry.id)) withdraw(other);
  }

  function withdraw(entry) {
    remove(entry);
    for (const other of list().filter((one) => one.body.uid === entry.id)) withdraw(other);
  }

  const next = () => list().find((entry) => entry.refused === undefined);

  async function sendNext(signal, limit) {
    const entry = next();
    if (!entry) return;
    const body = { ...entry.body, id: entry.id, age_s: ageS(entry) };
    try {
      const answer = await ask(entry.path, { body, limit, signal });
      remove(entry);
      heard(entry, answer);
      failed = false;
    } catch (error) {
      if (!(error instanceof AskError) || mayPass(error)) {
        failed = true;
        throw error;
      }
      refuse(entry, error.message);
      heard(entry, null, error.message);
    } finally {
      changed();
    }
  }

  const send = looksOnly ? () => {} : again(sendNext, { pause: () => (next() ? 0 : null), asleep: true });

  // Keeps a new entry and sends it as soon as can be. Gives the entry; throws where it cannot be kept.
  function add({ path, body, text }) {
    if (looksOnly) throw new AskError("This link lets look, not change.");
    const all = list();
    const entry = { id: newId(), place: all.length ? all[all.length - 1].place + 1 : 1, path, body, text, tapped: Date.now() };
    const length = [...texts()].reduce((sum, [key, kept]) => sum + key.length + kept.length, JSON.stringify(entry).length);
    if (all.length >= MOST || length > LONGEST) throw new AskError("Not kept: too much waits to be sent already.");
    steady.set(entry.id, performance.now());
    write(entry);
    changed();
    send();
    return entry;
  }

  function discard(id) {
    list().filter((entry) => entry.id === id).forEach(remove);
    changed();
  }

  function sendAgain(id) {
    for (const { refused, ...entry } of list().filter((one) => one.id === id)) write(entry);
    changed();
    send();
  }

  // Those that wait for longer than an answer takes.
  const waiting = () => list().filter((entry) => entry.refused === undefined && (failed || ageS(entry) * 1000 > SOON_MS));
  const refused = () => list().filter((entry) => entry.refused !== undefined);

  // onAnswer(entry, answer, refusal): the server has it, or will not have it. onChange(): something else is kept now.
  function begin(onAnswer, onChange) {
    heard = onAnswer;
    changed = onChange;
    send();
  }

  window.addEventListener("storage", (event) => {
    if (event.key !== null && !event.key.startsWith(PREFIX)) return;
    found = null;
    changed();
  });

  window.kettlesideEntries = { add, begin, discard, sendAgain, list, waiting, refused };
})();
