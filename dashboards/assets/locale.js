/* Keeps the language or units that somebody chose in a cookie and loads the page anew: words are made by the server. */
(function () {
  "use strict";

  function choose(name, value) {
    const year = 365 * 24 * 3600;
    document.cookie = "strokeledger-" + name + "=" + value + ";path=/;max-age=" + year + ";samesite=lax";
    const address = new URL(window.location.href);
    address.searchParams.delete(name);
    if (address.href === window.location.href) { window.location.reload(); } else { window.location.replace(address); }
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-lang], [data-units]");
    if (!button) { return; }
    if (button.dataset.lang) { choose("lang", button.dataset.lang); } else { choose("units", button.dataset.units); }
  });
})();
