// Pages made from templates: dates in the viewer's own zone, and the button that prints.
(() => {
  "use strict";
  const day = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", year: "numeric" });
  const minute = new Intl.DateTimeFormat("en-GB", {
    day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];

  for (const place of all("[data-at]")) place.textContent = day.format(new Date(Number(place.dataset.at) * 1000));
  for (const place of all("[data-minute]")) place.textContent = minute.format(new Date(Number(place.dataset.minute) * 1000));
  for (const place of all("[data-zone]")) place.textContent = Intl.DateTimeFormat().resolvedOptions().timeZone;
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) window.print();
  });
})();
