// The open page rings: a sound after a first tap, a shake where the phone allows it, and a button to answer.
(() => {
  "use strict";
  const card = window.kettlesideCard;
  const entries = window.kettlesideEntries;
  const { ask } = window.kettlesideAsk;
  // No answer from kettleside for this long is itself a reason to ring, and again after as long as the second.
  const GONE_S = 60;
  const GONE_AGAIN_S = 300;
  // The server gives every way together a minute.
  const TRY_MS = 70000;
  let cook = null;
  let number = 0;
  let unanswered = [];
  // Answered here, of which the server may not have heard yet.
  const answered = new Set();
  let gone = 0;
  let sound = null;

  function tone(from, hertz) {
    const wave = sound.createOscillator();
    const loud = sound.createGain();
    wave.frequency.value = hertz;
    loud.gain.setValueAtTime(0.0001, from);
    loud.gain.exponentialRampToValueAtTime(0.5, from + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, from + 0.45);
    wave.connect(loud).connect(sound.destination);
    wave.start(from);
    wave.stop(from + 0.5);
  }

  // Without the switch: what a person tries before a cook.
  function ringOnce() {
    const own = sound;
    sound = sound || new AudioContext();
    ring();
    const made = sound;
    sound = own;
    if (!own) setTimeout(() => made.close(), 3000);
  }

  function ring() {
    if (!sound) return;
    // A phone that slept has put the sound to sleep too.
    sound.resume();
    [660, 880, 660].forEach((hertz, place) => tone(sound.currentTime + place * 0.5, hertz));
    if (navigator.vibrate) navigator.vibrate([400, 200, 400]);
  }

  // Browsers let a page sound only after a tap on it.
  function turn() {
    if (sound) {
      sound.close();
      sound = null;
    } else {
      sound = new AudioContext();
      ring();
    }
    showSound();
  }

  const showSound = () => card.set("sound", { children: sound ? "Sound here: on" : "Sound here: off" });

  function seen() {
    try {
      for (const condition of unanswered) {
        entries.add({ path: "/log", body: { cook, kind: "acknowledged", fields: { condition } }, text: `Seen: ${condition}` });
      }
    } catch (error) {
      card.write("told-words", error.message);
    }
    unanswered.forEach((condition) => answered.add(condition));
    card.set("seen", { hidden: true });
  }

  const line = (children) => ({ type: "Li", namespace: "dash_html_components", props: { children } });

  async function tryAll() {
    card.set("try-list", { children: [line("Trying every way; this takes a few seconds…")] });
    ring();
    let lines;
    try {
      lines = (await ask("/try", { body: { cook }, limit: TRY_MS })).lines;
    } catch (error) {
      lines = [error.message];
    }
    lines.push(sound ? "This page rang." : "This page did not ring: its sound is off.");
    card.set("try-list", { children: lines.map(line) });
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.id === "sound") turn();
    else if (button.id === "ring-once") ringOnce();
    else if (button.id === "seen") seen();
    else if (button.id === "try") tryAll();
  });

  function look(now, goneSeconds) {
    if (now.alert_number > number) {
      ring();
      answered.clear();
    }
    number = now.alert_number;
    unanswered = now.unanswered.filter((condition) => !answered.has(condition));
    showSound();
    card.set("seen", { hidden: unanswered.length === 0 });
    const rounds = goneSeconds < GONE_S ? 0 : 1 + Math.floor((goneSeconds - GONE_S) / GONE_AGAIN_S);
    if (rounds > gone) ring();
    gone = rounds;
  }

  function begin(name, rung) {
    cook = name;
    number = rung;
  }

  window.kettlesideRing = { begin, look };
})();
