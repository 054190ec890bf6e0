/* Mends what the component library says wrongly to a screen reader; each rule names the part and what is wrong with it. */
(function () {
  "use strict";

  function set(part, name, value) {
    if (value === null) {
      if (part.hasAttribute(name)) { part.removeAttribute(name); }
    } else if (part.getAttribute(name) !== value) { part.setAttribute(name, value); }
  }

  const RULES = {
    /* A plain box cannot be expanded, and is named after parts that are not there. */
    ".dash-datepicker-input-wrapper": function (part) {
      set(part, "role", "group");
      set(part, "aria-expanded", null);
      set(part, "aria-haspopup", null);
      set(part, "aria-labelledby", null);
      set(part, "aria-label", own(part.closest("label")));
    },
    /* A link without an address has no role that could bear a name. */
    "a.dash-datepicker-clear": function (part) { set(part, "role", "button"); },
    /* Hidden from readers, yet a stop for the tab key. */
    ".dash-dropdown-focus-target": function (part) { set(part, "tabindex", "-1"); },
    /* A list of tick boxes is no list to choose one from; the boxes say all there is. */
    ".dash-checklist": function (part) { set(part, "role", "group"); set(part, "aria-label", part.textContent.trim()); },
    ".dash-checklist .dash-options-list-option": function (part) {
      set(part, "role", null);
      set(part, "aria-selected", null);
    },
    /* The field behind a button that takes a file has no name. */
    "input[type=file]": function (part) { set(part, "aria-label", part.parentElement.textContent.trim()); },
  };

  /* The words of a label itself, without those of the field in it. */
  function own(label) {
    return label && label.firstChild ? label.firstChild.textContent.trim() : null;
  }

  function mend() {
    Object.keys(RULES).forEach(function (rule) { document.querySelectorAll(rule).forEach(RULES[rule]); });
  }

  new MutationObserver(mend).observe(document.documentElement, {
    subtree: true, childList: true, attributes: true,
    attributeFilter: ["role", "tabindex", "aria-expanded", "aria-haspopup", "aria-labelledby", "aria-selected"],
  });
})();
