// The printed record: times in the viewer's own zone, and the button that prints.
(() => {
  "use strict";
  const minute = new Intl.DateTimeFormat("en-GB", {
    day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });

  for (const place of document.querySelectorAll("[data-minute]")) place.textContent = minute.format(new Date(Number(place.dataset.minute) * 1000));
  for (const place of document.querySelectorAll("[data-zone]")) place.textContent = Intl.DateTimeFormat().resolvedOptions().timeZone;
  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) window.print();
  });
})();
