// The code stands behind the # of the address, which a browser sends to nobody: it goes into the
// field, out of the address, and to the bench when the button is pressed.
"use strict";

(() => {
  const field = document.getElementById("code");
  const code = decodeURIComponent(window.location.hash.slice(1));
  if (!field || !code) return;
  field.value = code;
  window.history.replaceState(null, "", window.location.pathname);
  document.querySelector("#pair-form button").focus();
})();
