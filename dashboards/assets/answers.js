/* What was tapped must not seem lost: a slow server is waited for in words, one that is gone is told of. */
(function () {
  "use strict";

  const BODY = "floor-body", SHEET = "floor-sheet", TOLD = "floor-told", UNANSWERED = "floor-unanswered";
  const ASKS = "[data-stop], [data-ticked], [data-reason], [data-undo], .entry .act", IN_PLACE = "[data-undo], .entry .act";
  const SLOW_MS = 2000, LOST_MS = 20000;

  let since = 0, shown = "", asking = false;

  function put(place, told) { window.dash_clientside.set_props(place, { children: told }); }

  function say(told) {
    const words = JSON.parse(document.documentElement.dataset.words || "{}");
    const sheet = document.getElementById(SHEET);
    shown = words[told] || told;
    put(sheet.open ? UNANSWERED : TOLD, shown);
  }

  /* What was said before goes where the answer comes in its place: the same words twice would change nothing. */
  document.addEventListener("click", function (event) {
    if (!document.getElementById(TOLD) || !event.target.closest(ASKS)) { return; }
    if (event.target.closest(IN_PLACE)) { put(TOLD, ""); }
    since = Date.now();
  });

  function lost() {
    since = 0;
    document.querySelectorAll("#" + BODY + " button").forEach(function (button) { button.disabled = false; });
    say("The server did not answer. See whether it was entered before you try again.");
  }

  function wait() {
    const asked = since, lasted = Date.now() - since;
    if (!asked || lasted < SLOW_MS || !document.getElementById(TOLD)) { return; }
    if (lasted > LOST_MS) { lost(); return; }
    if (!shown) { say("Waiting for the server."); }
    if (asking) { return; }
    asking = true;
    fetch("health", { cache: "no-store" })
      .catch(function () { if (since === asked) { lost(); } })
      .finally(function () { asking = false; });
  }

  function answered() {
    since = 0;
    if (!shown) { return; }
    put(UNANSWERED, "");
    if (document.getElementById(TOLD).textContent === shown) { put(TOLD, ""); }
    shown = "";
  }

  /* An answer fills the sheet or says something below it; what stands there of ours is none. */
  function hear(records) {
    const heard = records.some(function (record) {
      const part = record.target.nodeType === 1 ? record.target : record.target.parentElement;
      const place = part && part.closest("#" + BODY + ", #" + TOLD);
      return place && place.textContent && !(place.id === TOLD && place.textContent === shown);
    });
    if (heard) { answered(); }
  }

  setInterval(wait, 500);
  new MutationObserver(hear).observe(document.documentElement, {
    subtree: true, childList: true, characterData: true, attributeFilter: ["data-undo"],
  });
  /* Whoever shuts the sheet asks no more. */
  document.addEventListener("close", function (event) { if (event.target.id === SHEET) { answered(); } }, true);
})();
