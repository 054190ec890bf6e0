/* Theme, age of the newest reading, and the notice when the server is silent. No data is worked out here. */
(function () {
  "use strict";
  const KEY = "strokeledger-theme";
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function stored() {
    try { return localStorage.getItem(KEY); } catch (error) { return null; }
  }

  function keep(theme) {
    const wished = dark.matches ? "dark" : "light";
    try {
      if (theme === wished) { localStorage.removeItem(KEY); } else { localStorage.setItem(KEY, theme); }
    } catch (error) { /* a browser that keeps nothing still shows the theme */ }
    document.documentElement.dataset.theme = theme;
  }

  function effective() {
    return stored() || (dark.matches ? "dark" : "light");
  }

  const words = JSON.parse(document.documentElement.dataset.words || "{}");
  function say(text) { return words[text] || text; }

  function labelled(theme) {
    return [theme, say(theme === "dark" ? "Light" : "Dark")];
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    strokeledger: {
      theme: function (clicks) {
        const theme = clicks ? (document.documentElement.dataset.theme === "dark" ? "light" : "dark") : effective();
        keep(theme);
        return labelled(theme);
      },
    },
  });

  dark.addEventListener("change", function () {
    if (stored()) { return; }
    const [theme, label] = labelled(effective());
    document.documentElement.dataset.theme = theme;
    window.dash_clientside.set_props("shell-theme", { data: theme });
    window.dash_clientside.set_props("shell-theme-switch", { children: label });
  });

  /* The age is written as an attribute, which the style sheet shows: the text itself belongs to the page. */
  function showAge() {
    document.querySelectorAll(".age[data-newest]").forEach(function (place) {
      const minutes = Math.floor((Date.now() - Date.parse(place.dataset.newest)) / 60000);
      if (!Number.isFinite(minutes) || minutes < 0) { place.removeAttribute("data-age"); return; }
      const age = minutes < 120 ? minutes + " min" : minutes < 2880 ? Math.floor(minutes / 60) + " h"
        : Math.floor(minutes / 1440) + " " + say("days");
      place.setAttribute("data-age", say("{age} ago").replace("{age}", age));
      place.classList.toggle("old", minutes >= 15);
    });
  }

  let missed = 0;
  async function ask() {
    try {
      const answer = await fetch("health", { cache: "no-store" });
      missed = answer.ok ? 0 : missed + 1;
    } catch (error) { missed += 1; }
    document.documentElement.classList.toggle("server-silent", missed >= 2);
  }

  setInterval(showAge, 1000);
  setInterval(ask, 5000);
})();
