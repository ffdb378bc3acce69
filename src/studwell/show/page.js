(function () {
  "use strict";
  var inputs = document.querySelectorAll(".choices input");
  function kept(name, value) {
    try {
      if (value === undefined) { return window.localStorage.getItem("studwell " + name); }
      window.localStorage.setItem("studwell " + name, value);
    } catch (nowhere) { return null; }
    return value;
  }
  inputs.forEach(function (input) {
    if (kept(input.name) === input.value) { input.checked = true; }
    input.addEventListener("change", function () { kept(input.name, input.value); });
  });
  var folds = document.querySelectorAll("details"), all = document.getElementById("unfold");
  if (all && folds.length) {
    all.hidden = false;
    all.addEventListener("click", function () {
      var open = all.getAttribute("aria-pressed") !== "true";
      folds.forEach(function (part) { part.open = open; });
      all.setAttribute("aria-pressed", String(open));
    });
  }
  function unfold() {
    var target = window.location.hash ? document.getElementById(decodeURIComponent(window.location.hash.slice(1))) : null;
    var part = target ? target.closest("details") : null;
    if (part) { part.open = true; target.scrollIntoView(); }
  }
  window.addEventListener("hashchange", unfold);
  unfold();
}());
