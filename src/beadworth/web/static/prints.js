// A print file may be large: it is sent as it is, and how much of it is there is shown.
"use strict";

document.addEventListener("submit", (event) => {
  const form = event.target.closest("[data-upload]");
  if (!form) return;
  const file = form.querySelector("input[type=file]").files[0];
  if (!file) return;
  event.preventDefault();
  const shown = form.querySelector(".upload-progress");
  const bar = shown.querySelector("progress");
  const wrong = form.querySelector(".line-down");
  const button = form.querySelector("button");
  const fail = (words) => {
    shown.hidden = true;
    button.disabled = false;
    wrong.textContent = words;
    wrong.hidden = false;
  };
  wrong.hidden = true;
  shown.hidden = false;
  button.disabled = true;
  const request = new XMLHttpRequest();
  request.open("POST", `/api/prints?name=${encodeURIComponent(file.name.slice(-120))}`);
  request.setRequestHeader("Content-Type", "application/octet-stream");
  request.responseType = "json";
  request.upload.addEventListener("progress", (step) => {
    bar.value = step.loaded / step.total;
    shown.querySelector("span").textContent =
      `${(step.loaded / 1e6).toFixed(1)} of ${(step.total / 1e6).toFixed(1)} MB`;
  });
  request.addEventListener("load", () => {
    if (request.status === 201) location.assign(`/prints/${request.response.id}`);
    else fail(request.response ? request.response.error.message : "It was not taken; nothing was kept.");
  });
  request.addEventListener("error", () => {
    fail("Beadworth did not answer. See that it runs, then try again; nothing was kept.");
  });
  request.send(file);
});
