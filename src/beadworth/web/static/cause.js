// The four corners of a wall in its photo: dragged by mouse or finger, moved by keys. The fields
// that hold their places are sent as they change; nothing is computed here.
"use strict";

(() => {
  const zoom = 4;
  const step = 0.05; // per cent of the photo, a key

  const ready = (figure, form) => {
    const stage = figure.querySelector(".stage");
    const image = stage.querySelector("img");
    const polygon = stage.querySelector("polygon");
    const loupe = stage.querySelector(".loupe");
    const number = figure.dataset.photo;
    const field = (corner, axis) => form.elements[`corner-${number}-${corner}-${axis}`];
    const place = (corner) => ["x", "y"].map((axis) => Number(field(corner, axis).value) || 0);
    const handles = [...stage.querySelectorAll(".handle")];

    const show = () => {
      handles.forEach((handle, corner) => {
        const [x, y] = place(corner);
        handle.hidden = false;
        handle.style.left = `${x}%`;
        handle.style.top = `${y}%`;
      });
      polygon.setAttribute("points", handles.map((_, corner) => place(corner).join(",")).join(" "));
    };

    const look = (corner) => {
      const [x, y] = place(corner);
      const box = image.getBoundingClientRect();
      loupe.hidden = false;
      const half = loupe.clientWidth / 2;
      loupe.style.backgroundImage = `url("${image.currentSrc || image.src}")`;
      loupe.style.backgroundSize = `${box.width * zoom}px ${box.height * zoom}px`;
      loupe.style.backgroundPosition =
        `${half - (x / 100) * box.width * zoom}px ${half - (y / 100) * box.height * zoom}px`;
      // in the half of the photo that the finger does not cover
      loupe.style.left = x < 50 ? "auto" : "0";
      loupe.style.right = x < 50 ? "0" : "auto";
      loupe.style.top = "0";
    };

    const move = (corner, x, y) => {
      const inside = (value) => Math.min(100, Math.max(0, value)).toFixed(3);
      field(corner, "x").value = inside(x);
      field(corner, "y").value = inside(y);
      show();
      look(corner);
      form.dispatchEvent(new CustomEvent("cause:moved", { bubbles: true }));
    };

    handles.forEach((handle, corner) => {
      let grip = null; // from the pointer to the corner: it does not jump when it is taken
      handle.addEventListener("pointerdown", (event) => {
        const box = image.getBoundingClientRect();
        const [x, y] = place(corner);
        grip = [box.left + (x / 100) * box.width - event.clientX,
          box.top + (y / 100) * box.height - event.clientY];
        handle.setPointerCapture(event.pointerId);
        handle.classList.add("held");
        look(corner);
      });
      handle.addEventListener("pointermove", (event) => {
        if (!grip) return;
        const box = image.getBoundingClientRect();
        move(corner, (100 * (event.clientX + grip[0] - box.left)) / box.width,
          (100 * (event.clientY + grip[1] - box.top)) / box.height);
      });
      for (const end of ["pointerup", "pointercancel"]) {
        handle.addEventListener(end, () => {
          grip = null;
          handle.classList.remove("held");
          loupe.hidden = true;
        });
      }
      handle.addEventListener("keydown", (event) => {
        const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
        const way = ways[event.key];
        if (!way) return;
        event.preventDefault();
        const far = event.shiftKey ? 10 * step : step;
        const [x, y] = place(corner);
        move(corner, x + far * way[0], y + far * way[1]);
      });
      handle.addEventListener("blur", () => { loupe.hidden = true; });
      handle.addEventListener("click", (event) => event.preventDefault());
    });
    form.addEventListener("change", show);
    show();
  };

  document.addEventListener("DOMContentLoaded", () => {
    const form = document.getElementById("cause-form");
    if (form) form.querySelectorAll(".wall-photo").forEach((figure) => ready(figure, form));
  });
})();
