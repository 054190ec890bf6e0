/* What is tapped on the floor: a stop, a reason, an undo.  The server answers; nothing is worked out here. */
(function () {
  "use strict";

  const ACT = "floor-act", BODY = "floor-body", SHEET = "floor-sheet";

  function tell(done) {
    window.dash_clientside.set_props(ACT, { data: Object.assign(done, { at: Date.now() }) });
  }

  function ticked() {
    const boxes = document.querySelectorAll("[data-tick][aria-checked=true]");
    return JSON.stringify(Array.from(boxes).flatMap(function (box) { return JSON.parse(box.dataset.tick); }));
  }

  document.addEventListener("click", function (event) {
    const place = event.target.closest("[data-stop], [data-reason], [data-undo], [data-close], [data-ticked], [data-tick]");
    if (!place) { return; }
    if (place.dataset.tick) {
      place.setAttribute("aria-checked", place.getAttribute("aria-checked") === "true" ? "false" : "true");
      count();
    }
    if (place.dataset.stop) { tell({ do: "pick", stops: place.dataset.stop }); }
    if ("ticked" in place.dataset) { tell({ do: "pick", stops: ticked() }); }
    if (place.dataset.reason) { busy(true); tell({ do: "reason", reason: place.dataset.reason }); }
    if (place.dataset.undo) { tell({ do: "undo", load: place.dataset.undo }); }
    if ("close" in place.dataset) { shut(); }
  });

  /* A second tap while the first is on its way would enter twice. */
  function busy(now) {
    document.querySelectorAll("#" + BODY + " button").forEach(function (button) { button.disabled = now; });
  }

  function shut() {
    window.dash_clientside.set_props(BODY, { children: [] });
  }

  /* The sheet is open while there is something on it: the browser keeps the focus inside, and Escape shuts it. */
  function follow() {
    const sheet = document.getElementById(SHEET), body = document.getElementById(BODY);
    if (!sheet || !body) { return; }
    if (body.childElementCount && !sheet.open) {
      sheet.showModal();
      const first = body.querySelector("button");
      if (first) { first.focus({ preventScroll: true }); }
      sheet.scrollTop = 0;
    }
    if (!body.childElementCount && sheet.open) { sheet.close(); }
    if (!sheet.followed) {
      sheet.followed = true;
      sheet.addEventListener("close", shut);
    }
  }

  function count() {
    const number = document.querySelectorAll("[data-tick][aria-checked=true]").length;
    document.querySelectorAll("[data-ticked]").forEach(function (button) { button.disabled = number === 0; });
  }

  /* A board that is drawn anew must not lose the place of somebody who goes through it by the keyboard. */
  let held = "";
  document.addEventListener("focusin", function (event) { held = event.target.dataset.stop || ""; });

  function refocus() {
    if (!held || document.activeElement !== document.body) { return; }
    const again = Array.from(document.querySelectorAll("button[data-stop]")).find(function (button) {
      return button.dataset.stop === held;
    });
    if (again) { again.focus({ preventScroll: true }); }
  }

  /* Nor the place of somebody who reads: what they look at stays where it is on the screen. */
  let kept = null;

  function anchors() {
    const focused = document.activeElement && document.activeElement.dataset.stop;
    const buttons = Array.from(document.querySelectorAll("button[data-stop]")).filter(function (button) {
      return button.dataset.stop === (focused || held);
    });
    return buttons.concat(Array.from(document.querySelectorAll(".presses .press")));
  }

  function nameOf(element) {
    return element.dataset.stop || (element.querySelector("h2") || element).textContent;
  }

  function look() {
    const visible = anchors().filter(function (element) {
      const box = element.getBoundingClientRect();
      return box.bottom > 0 && box.top < window.innerHeight;
    });
    /* A row whose head is out of sight may itself become higher or lower. */
    const seen = visible.find(function (element) { return element.getBoundingClientRect().top >= 0; }) || visible[0];
    kept = seen && window.scrollY > 0 ? { name: nameOf(seen), top: seen.getBoundingClientRect().top } : null;
  }

  function stay() {
    if (!kept) { return; }
    const again = anchors().find(function (element) { return nameOf(element) === kept.name; });
    if (!again) { return; }
    const moved = again.getBoundingClientRect().top - kept.top;
    if (Math.abs(moved) > 1) { window.scrollBy({ top: moved, behavior: "instant" }); }
  }

  document.addEventListener("scroll", look, { passive: true });
  document.addEventListener("focusin", look);
  window.addEventListener("resize", look);

  new MutationObserver(function () { follow(); count(); stay(); refocus(); }).observe(document.documentElement, { subtree: true, childList: true });
})();
