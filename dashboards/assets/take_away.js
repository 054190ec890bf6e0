/* A chart as a picture: made by the browser from the figure it shows, with the heading above it and on the page's ground. */
(function () {
  "use strict";

  function heading(graph) {
    const page = document.querySelector("main h1");
    const panel = graph.closest("section");
    const own = panel && panel.querySelector("h2");
    return [page, own].filter(Boolean).map(function (place) { return place.textContent; }).join(" · ");
  }

  async function take(id) {
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
    const link = document.createElement("a");
    link.href = await window.Plotly.toImage(drawn, size);
    link.download = (title || id).replace(/[^A-Za-z0-9_.-]+/g, "-") + ".png";
    link.click();
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-png]");
    if (button) { take(button.dataset.png); }
  });
})();
