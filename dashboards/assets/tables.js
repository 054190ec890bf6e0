/* Builds a table wherever the page puts one as data; text from files only ever becomes text. */
(function () {
  "use strict";

  function cell(tag, text, look) {
    const made = document.createElement(tag);
    made.textContent = text;
    made.className = look;
    if (tag === "th") { made.scope = "col"; }
    if (tag === "td" && look === "word") { made.title = text; }
    return made;
  }

  function row(tag, texts, looks) {
    const made = document.createElement("tr");
    made.append(...texts.map(function (text, n) { return cell(tag, text, looks[n]); }));
    return made;
  }

  function build(place) {
    const shown = JSON.parse(place.dataset.table);
    const table = document.createElement("table");
    table.createCaption().textContent = shown.caption;
    table.createTHead().append(row("th", shown.columns, shown.looks));
    table.createTBody().append(...shown.rows.map(function (texts) { return row("td", texts, shown.looks); }));
    place.replaceChildren(table);
  }

  function all() {
    document.querySelectorAll("[data-table]").forEach(function (place) {
      if (place.shownTable === place.dataset.table) { return; }
      place.shownTable = place.dataset.table;
      build(place);
    });
  }

  new MutationObserver(all).observe(document.documentElement, {
    subtree: true, childList: true, attributes: true, attributeFilter: ["data-table"],
  });
  all();
})();
