// Times and amounts in plain words, in the viewer's own zone. Pure: no page, no clock.
(() => {
  "use strict";
  const MINUTE = 60;
  const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", year: "numeric" });

  const shortDay = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short" });

  const at = (unix) => clock.format(new Date(unix * 1000));
  const onDay = (unix) => `${day.format(new Date(unix * 1000))}, ${at(unix)}`;

  function span(seconds) {
    const minutes = Math.round(Math.abs(seconds) / MINUTE);
    if (minutes < 60) return `${minutes} min`;
    const rest = minutes % 60;
    return rest ? `${Math.floor(minutes / 60)} h ${rest} min` : `${minutes / 60} h`;
  }

  // Near enough to be shown as due; left: seconds.
  const isClose = (left) => left < 3 * MINUTE;
  const COUNTED_S = 120 * MINUTE;

  // What is due: the verb, the amount that is read from across the kitchen, and the one line under them. A time is told
  // once: how long until then while that is easily counted, else the clock with what it may be off (minutes, or null).
  function due(kind, when, giveOrTake, now) {
    const left = when - now;
    const close = isClose(left);
    const verb = kind === "stir" ? "Stir" : "Check clarity";
    if (left < MINUTE / 2) return { verb, amount: "now", line: -left >= 2 * MINUTE ? `${span(left)} late` : "", close };
    if (left < COUNTED_S) return { verb: `${verb} in`, amount: span(left), line: `at ${at(when)}`, close };
    const off = (giveOrTake || 0) * MINUTE;
    return { verb: `${verb} about`, amount: at(when), line: off ? `between ${at(when - off)} and ${at(when + off)}` : "", close };
  }

  // The same in one line, for a page that shows something else.
  function late(kind, when, now) {
    const { verb, amount, line } = due(kind, when, null, now);
    return amount === "now" && line ? `${verb} now, ${line}` : `${verb} ${amount}`;
  }

  function pace(rate, now, finished) {
    if (rate <= 1) return "";
    const speed = `${Math.round(rate)} times faster than life`;
    return finished ? `An invented cook; it ran ${speed}.` : `An invented cook, ${speed}. Its own clock says ${at(now)}.`;
  }

  // The middle, and the spread beside it.
  function percent(shares) {
    if (!shares) return ["not started", ""];
    const text = (share) => (share / 10).toFixed(share >= 950 && share < 1000 && share % 10 ? 1 : 0);
    const [low, middle, high] = shares.map(text);
    return [`${middle} %`, low === high ? "" : `likely ${low} to ${high}`];
  }

  const chance = (percent) => (percent === null ? "not started" : `${percent} in 100`);
  const paste = (tenths) => (tenths === null ? "no reading" : `${(tenths / 10).toFixed(1)} °C`);

  // Until when something lasts: the clock today, else the day.
  function until(when, now) {
    const [on, today] = [new Date(when * 1000), new Date(now * 1000)];
    return on.toDateString() === today.toDateString() || when - now < 20 * 3600 ? `until ${at(when)}` : `until ${shortDay.format(on)}`;
  }

  // As in monitor.model.step_timers; a test holds them together.
  const MORNING_HOUR = 9;

  // Minutes until that hour of the next morning; who is up past midnight means the coming one.
  function untilMorning(now) {
    const morning = new Date(now * 1000);
    if (morning.getHours() >= 4) morning.setDate(morning.getDate() + 1);
    morning.setHours(MORNING_HOUR, 0, 0, 0);
    return Math.ceil((morning.getTime() / 1000 - now) / MINUTE);
  }

  // What a timer's button says. minutes: null for the next morning.
  function reminder(minutes) {
    if (minutes === null) return "Remind me in the morning";
    return minutes >= 1440 ? `Remind me in ${minutes === 10080 ? "a week" : `${Math.round(minutes / 1440)} days`}` : `Timer ${minutes}\u00a0min`;
  }

  function logged(kind, details) {
    const words = ["checked", "looked", "heat", "note", "costs set", "settled", "timer set"].includes(kind) && details ? `${kind}:` : kind;
    const text = details ? `${words} ${details}` : words;
    return text.startsWith("ph ") ? `pH ${text.slice(3)}` : text[0].toUpperCase() + text.slice(1);
  }

  // What is wrong: since when; what is over, in the past; what is put aside, until when.
  function lasted(since, state, until) {
    if (state === "returned unacknowledged") return at(since) === at(until) ? `At ${at(since)}; it is over.` : `From ${at(since)} to ${at(until)}; it is over.`;
    if (state === "shelved") return `Since ${at(since)}; put aside until ${at(until)}.`;
    return state === "acknowledged" ? `Since ${at(since)}; seen.` : `Since ${at(since)}.`;
  }

  const capital = (text) => text[0].toUpperCase() + text.slice(1);

  // What nobody logged, as a question.
  function noticed(kind, from, until) {
    if (kind === "stirred") return `Stirred at ${at(from)}?`;
    return until === null ? `${capital(kind)} since ${at(from)}?` : `${capital(kind)} from ${at(from)} to ${at(until)}?`;
  }

  // silence: since when (Unix seconds), and what the server said instead of what was asked for, if anything. running:
  // whether what stands on the page may be old by now.
  function away({ since, instead }, running) {
    const words = instead ? `${instead} Since ${at(since)}; trying again.` : `kettleside has not answered since ${at(since)}; trying again.`;
    return running ? `${words} What stands here may be old.` : words;
  }

  const OVER = "This invented cook is over: its kettleside no longer runs.";

  const waiting = (count) => (count === 1 ? "1 entry waits to be sent" : `${count} entries wait to be sent`);

  // Where the manual tells what to do about a refusal; it is searched by the whole sentence.
  const help = (refusal) => `/manual?words=${encodeURIComponent(refusal.slice(0, 300))}`;

  window.kettlesideWords = { OVER, away, help, waiting, at, onDay, span, due, late, isClose, pace, percent, chance, paste, until, untilMorning, reminder, logged, lasted, noticed, capital };
})();
