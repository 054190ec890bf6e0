/* A chart as a picture: made by the browser from the figure it shows, with the heading above it and on the page's ground. */
(function () {
  "use strict";

  function heading(graph) {
    const page = document.querySelector("main h1");
    const panel = graph.closest("section");
    const own = panel && panel.querySelector("h2");
    return [page, own].filter(Boolean).map(function (place) { return place.textContent; }).join(" · ");
  }

  function save(href, title, id) {
    const link = document.createElement("a");
    link.href = href;
    link.download = (title || id).replace(/[^A-Za-z0-9_.-]+/g, "-") + ".png";
    link.click();
  }

  /* A drawing is painted at twice its own size on the page's ground. */
  function paint(drawing, id) {
    const sheet = document.createElement("canvas"), brush = sheet.getContext("2d");
    sheet.width = 2 * drawing.naturalWidth;
    sheet.height = 2 * drawing.naturalHeight;
    brush.fillStyle = getComputedStyle(document.documentElement).getPropertyValue("--paper").trim();
    brush.fillRect(0, 0, sheet.width, sheet.height);
    brush.drawImage(drawing, 0, 0, sheet.width, sheet.height);
    save(sheet.toDataURL("image/png"), heading(drawing), id);
  }

  async function take(id) {
    const drawing = document.querySelector("#" + CSS.escape(id) + " img");
    if (drawing) { paint(drawing, id); return; }
    const graph = document.querySelector("#" + CSS.escape(id) + " .js-plotly-plot");
    if (!graph || !window.Plotly) { return; }
    const ground = getComputedStyle(document.documentElement).getPropertyValue("--paper").trim();
    const title = heading(graph);
    const margin = Object.assign({}, graph.layout.margin, { t: 64 });
    const layout = Object.assign({}, graph.layout, {
      paper_bgcolor: ground, margin: margin, height: graph.offsetHeight + 56,
      title: { text: title.replace(/&/g, "&amp;").replace(/</g, "&lt;"), x: 0.01, xanchor: "left", font: { size: 17 } },
    });
    const drawn = { data: graph.data, layout: layout };
    const size = { format: "png", width: Math.max(graph.offsetWidth, 720), height: graph.offsetHeight + 56, scale: 2 };
    save(await window.Plotly.toImage(drawn, size), title, id);
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-png]");
    if (button) { take(button.dataset.png); }
  });
})();
