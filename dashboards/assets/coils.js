/* Builds the coils as rows of strip from data, sorts them by a heading; text from files only ever becomes text. */
(function () {
  "use strict";

  const AT_FIRST = 60;

  function made(tag, look, text) {
    const element = document.createElement(tag);
    if (look) { element.className = look; }
    if (text) { element.textContent = text; }
    return element;
  }

  function strip(cell, names) {
    const drawn = made("div", "coil-strip");
    const told = cell.segs.map(function (seg) { return names[seg[0]] + " " + seg[2]; }).join(", ");
    const whole = cell.segs.reduce(function (sum, seg) { return sum + Math.abs(seg[1]); }, 0) || 1;
    drawn.setAttribute("role", "img");
    drawn.setAttribute("aria-label", told);
    cell.segs.forEach(function (seg) {
      const part = made("div", "seg seg-" + seg[0] + (seg[1] < 0 ? " lacking" : ""));
      part.style.flexGrow = Math.max(100 * Math.abs(seg[1]) / whole, 0.4);
      part.title = names[seg[0]] + ": " + seg[2];
      drawn.append(part);
    });
    return drawn;
  }

  function words(cell) {
    const parts = [];
    if (cell.tag) {
      const tag = made("b", "held-tag", cell.tag);
      tag.title = cell.title || "";
      parts.push(tag);
    }
    const main = made(cell.href ? "a" : "span", cell.loud ? "main loud-word" : "main", cell.t);
    if (cell.href) { main.href = cell.href; }
    parts.push(main);
    (cell.more || []).forEach(function (link) {
      const anchor = made("a", "more", link[0]);
      anchor.href = link[1];
      parts.push(anchor);
    });
    if (cell.below) { parts.push(made("small", "", cell.below)); }
    if (cell.mark) {
      const anchor = made("a", "contradicted", cell.mark);
      anchor.href = cell.to;
      anchor.title = cell.why;
      parts.push(anchor);
    }
    return parts;
  }

  function row(cells, data) {
    const tr = made("tr");
    cells.forEach(function (cell, n) {
      const td = made(n === 0 ? "th" : "td", data.columns[n][1]);
      if (n === 0) { td.scope = "row"; }
      td.dataset.name = data.columns[n][0];
      if (cell.segs) { td.append(strip(cell, data.parts)); } else { td.append(...words(cell)); }
      tr.append(td);
    });
    return tr;
  }

  function heading(data, n, sort) {
    const th = made("th", data.columns[n][1]);
    th.scope = "col";
    const button = made("button", "sorts", data.columns[n][0]);
    button.type = "button";
    button.addEventListener("click", function () { sort(n, th); });
    th.append(button);
    return th;
  }

  function build(place) {
    const data = JSON.parse(place.dataset.coils);
    const table = made("table");
    const body = made("tbody");
    const head = made("tr");
    function value(cells, n) { return cells[n].s === undefined ? cells[n].t : cells[n].s; }
    function sort(n, th) {
      const down = th.getAttribute("aria-sort") !== "descending";
      head.querySelectorAll("th").forEach(function (other) { other.removeAttribute("aria-sort"); });
      th.setAttribute("aria-sort", down ? "descending" : "ascending");
      data.rows.sort(function (one, other) {
        const a = value(one, n), b = value(other, n);
        const order = typeof a === "number" ? a - b : String(a).localeCompare(String(b), undefined, {numeric: true});
        return down ? -order : order;
      });
      fill();
    }
    const more = made("button", "act", data.more);
    let most = AT_FIRST;
    function fill() {
      body.replaceChildren(...data.rows.slice(0, most).map(function (cells) { return row(cells, data); }));
      more.hidden = data.rows.length <= most;
    }
    more.type = "button";
    more.addEventListener("click", function () { most = data.rows.length; fill(); });
    table.createCaption().textContent = data.caption;
    head.append(...data.columns.map(function (_, n) { return heading(data, n, sort); }));
    table.createTHead().append(head);
    fill();
    table.append(body);
    place.replaceChildren(table, more);
  }

  function all() {
    document.querySelectorAll("[data-coils]").forEach(function (place) {
      if (place.shownCoils === place.dataset.coils) { return; }
      place.shownCoils = place.dataset.coils;
      build(place);
    });
  }

  new MutationObserver(all).observe(document.documentElement, {
    subtree: true, childList: true, attributes: true, attributeFilter: ["data-coils"],
  });
  all();
})();
