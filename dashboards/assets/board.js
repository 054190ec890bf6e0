/* The board's clock goes on whether or not anything is loaded; on a wall its pages turn by themselves. */
(function () {
  "use strict";

  const STALE_MIN = 5, DAY_MIN = 1440, TURN_MS = 12000;

  function lasted(minutes) {
    if (minutes < 120) { return minutes + " min"; }
    if (minutes < 2880) { return Math.floor(minutes / 60) + " h"; }
    const words = JSON.parse(document.documentElement.dataset.words || "{}");
    return Math.floor(minutes / 1440) + " " + (words.days || "days");
  }

  function minutesSince(place) {
    return Math.floor((Date.now() - Date.parse(place.dataset.since)) / 60000);
  }

  function tell(place, told) {
    if (told === null) { place.removeAttribute("data-told"); return; }
    if (place.dataset.told !== told) { place.setAttribute("data-told", told); }
  }

  function ages() {
    document.querySelectorAll("[data-since][data-words]").forEach(function (place) {
      const minutes = minutesSince(place);
      const old = Number.isFinite(minutes) && minutes >= STALE_MIN;
      const asOf = minutes < DAY_MIN ? place.dataset.clock : place.dataset.moment;
      tell(place, old ? place.dataset.words.replace("{time}", lasted(minutes)).replace("{clock}", asOf) : null);
    });
  }

  function clocks() {
    document.querySelectorAll(".clock[data-zone]").forEach(function (place) {
      const asked = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
      if (place.dataset.zone) { asked.timeZone = place.dataset.zone; }
      tell(place, new Date().toLocaleTimeString("en-GB", asked));
    });
  }

  /* How many rows fit is measured, so that a long name or a larger letter turns more pages and cuts nothing. */
  function turn() {
    const wall = document.querySelector(".board.wall");
    if (!wall) { return; }
    const rows = Array.from(wall.querySelectorAll(".press"));
    rows.forEach(function (row) { row.hidden = false; });
    const top = rows.length ? rows[0].getBoundingClientRect().top : 0;
    const stale = wall.querySelector(".stale[data-told]");
    const room = window.innerHeight - top - (stale ? stale.getBoundingClientRect().height + 4 : 40);
    const heights = rows.map(function (row) { return row.getBoundingClientRect().height; });
    const tallest = Math.max(1, ...heights);
    const fit = Math.max(1, Math.floor(room / tallest));
    const each = Math.ceil(rows.length / Math.ceil(rows.length / fit));
    const pages = [];
    for (let at = 0; at < rows.length; at += each) { pages.push(rows.slice(at, at + each)); }
    if (!pages.length) { return; }
    const shown = pages[Math.floor(Date.now() / TURN_MS) % pages.length];
    rows.forEach(function (row) { row.hidden = !shown.includes(row); });
    const page = pages.indexOf(shown) + 1;
    wall.dataset.page = pages.length > 1 ? page + " / " + pages.length : "";
  }

  function tick() { ages(); clocks(); turn(); }

  setInterval(tick, 1000);
  new MutationObserver(tick).observe(document.documentElement, { subtree: true, childList: true });
  tick();
})();
