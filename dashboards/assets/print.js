/* On paper a chart is as wide as its column: its drawing is scaled, since there is no time to draw it anew. */
(function () {
  "use strict";

  function scale() {
    document.querySelectorAll(".svg-container").forEach(function (box) {
      const drawings = box.querySelectorAll(".main-svg");
      if (!drawings.length) { return; }
      const wide = drawings[0].getAttribute("width"), high = drawings[0].getAttribute("height");
      drawings.forEach(function (drawing) { drawing.setAttribute("viewBox", "0 0 " + wide + " " + high); });
      box.style.aspectRatio = wide + " / " + high;
    });
  }

  function back() {
    document.querySelectorAll(".svg-container").forEach(function (box) {
      box.querySelectorAll(".main-svg").forEach(function (drawing) { drawing.removeAttribute("viewBox"); });
      box.style.aspectRatio = "";
    });
  }

  window.addEventListener("beforeprint", scale);
  window.addEventListener("afterprint", back);
})();
