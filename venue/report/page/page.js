"use strict";
(function () {
  var dial = document.getElementById("dial");
  if (!dial) { return; }
  var marked = Array.prototype.slice.call(document.querySelectorAll("[data-setting]"));
  var cards = marked.filter(function (item) { return item.classList.contains("card"); });
  var shown = document.getElementById("dial-shown");
  function choose() {
    var at = dial.value;
    marked.forEach(function (item) {
      var on = item.getAttribute("data-setting") === at;
      item.classList.toggle("on", on);
      if (item.classList.contains("one")) { item.hidden = !on; }
    });
    var card = cards[Number(at)];
    shown.textContent = card.getAttribute("data-name");
    dial.setAttribute("aria-valuetext", card.getAttribute("data-name"));
  }
  document.documentElement.classList.add("scripted");
  dial.addEventListener("input", choose);
  Array.prototype.forEach.call(document.querySelectorAll("[data-step]"), function (button) {
    button.addEventListener("click", function () {
      dial.value = String(Number(dial.value) + Number(button.getAttribute("data-step")));
      choose();
    });
  });
  choose();
}());
