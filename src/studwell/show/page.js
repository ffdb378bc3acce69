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
  var opened = [];
  window.addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not([open])").forEach(function (part) { part.open = true; opened.push(part); });
  });
  window.addEventListener("afterprint", function () {
    opened.forEach(function (part) { part.open = false; });
    opened = [];
  });
  function unfold() {
    var target = window.location.hash ? document.getElementById(decodeURIComponent(window.location.hash.slice(1))) : null;
    var part = target ? target.closest("details") : null;
    if (part) { part.open = true; target.scrollIntoView(); }
  }
  window.addEventListener("hashchange", unfold);
  unfold();
}());
