// The weigh-in on a paired phone: what is typed goes into the queue, the queue to the bench, and
// the page on to the next coupon whether or not the bench answers. Nothing is computed here.
"use strict";

(() => {
  const retries = [2000, 4000, 8000, 15000];
  const quiet = 20000; // ms after which a page that is looked at asks whether the bench is there
  const trial = document.querySelector("[data-trial]").dataset.trial;
  const sheet = JSON.parse(document.getElementById("sheet-json").textContent);
  const draftName = `beadworth/draft/${trial}`;
  const connected = document.getElementById("line-state").textContent;
  let busy = false;
  let again = false;
  let failed = 0;
  let timer = 0;
  let unpaired = false;

  const form = () => document.querySelector("form[data-queued]");
  const field = (name) => form()?.querySelector(`[name="${name}"]`);
  const shown = () => field("coupon")?.value;
  const mine = () => phoneQueue.all().filter((entry) => entry.trial === trial);
  const parse = (text) => new DOMParser().parseFromString(text, "text/html");
  const words = (node, tag, text, name) => {
    const made = document.createElement(tag);
    made.textContent = text;
    if (name) made.className = name;
    node.append(made);
    return made;
  };

  const sayLine = (text, down) => {
    const line = document.getElementById("line-state");
    if (line.textContent !== text) line.textContent = text;
    line.classList.toggle("down", down);
  };

  // What waits, and what the bench refused, stays in sight until it is settled.
  const showWaiting = () => {
    const place = document.getElementById("waiting");
    const every = phoneQueue.all();
    const others = every.filter((entry) => entry.trial !== trial);
    const own = every.filter((entry) => entry.trial === trial);
    const waiting = own.filter((entry) => !entry.refused);
    place.textContent = "";
    place.hidden = !every.length || (busy && own.length === 1 && !own[0].refused && !failed);
    if (place.hidden) return;
    if (waiting.length) {
      words(place, "p", waiting.length === 1 ? "1 entry waits on this phone:" :
        `${waiting.length} entries wait on this phone:`, "waiting-head");
      const list = words(place, "ul", "");
      for (const entry of waiting) words(list, "li", entry.label);
      if (phoneQueue.inMemory.size) {
        words(place, "p", "This browser has no room to store them: they are on this page alone, " +
          "keep it open.", "waiting-head");
      }
      words(place, "p", unpaired ? "They are sent when it is paired with this trial again." :
        "They are sent when the bench answers, each counts once. Leave this browser's data alone.",
      "help");
    }
    for (const entry of own.filter((one) => one.refused)) {
      const box = words(place, "div", "", "refused-entry");
      words(box, "p", `Not stored: ${entry.label}. ${entry.refused}`);
      if (entry.kind === "reading") {
        const link = words(box, "a", `Enter ${entry.fields.coupon} again`, "button quiet");
        link.href = `/trials/${encodeURIComponent(trial)}/weigh?coupon=` +
          encodeURIComponent(entry.fields.coupon);
      }
      const button = words(box, "button", "Throw it away", "quiet");
      button.type = "button";
      button.addEventListener("click", () => {
        phoneQueue.remove(entry.key);
        showWaiting();
      });
    }
    if (others.length) {
      words(place, "p", `${others.length} of another trial wait too: pair this phone with that ` +
        "trial to send them.");
    }
  };

  const done = () => new Set(
    [...document.querySelectorAll("#strip .bead.done")].map((bead) => bead.dataset.coupon));

  const onItsWay = (coupon) => mine().some(
    (entry) => entry.kind === "reading" && !entry.refused && entry.fields.coupon === coupon);

  const markHere = (coupon) => {
    for (const bead of document.querySelectorAll("#strip .bead")) {
      bead.classList.toggle("here", bead.dataset.coupon === coupon);
    }
  };

  // The station at a coupon, from the sheet that came with the page.
  const goTo = (coupon) => {
    const c = sheet.find((one) => one.coupon === coupon);
    const station = form();
    if (!c || !station) return;
    field("coupon").value = c.coupon;
    for (const name of ["supersedes", "reason"]) field(name)?.closest(".field, input").remove();
    const now = station.querySelector(".now-coupon");
    const word = station.querySelector(".now-word");
    word.textContent = "Weigh";
    now.replaceChildren(word, ` ${c.coupon}`);
    station.querySelector(".now-setting").textContent = c.setting;
    station.querySelector(".now-rig").textContent = c.rig;
    words(station.querySelector(".now-rig"), "span", c.place, "now-place");
    station.querySelector(".now + .help")?.remove();
    for (const name of ["mass_g", "diameter_mm", "note"]) field(name).value = "";
    station.querySelector(".mass-line button").textContent = "Enter";
    markHere(c.coupon);
  };

  // On to the next coupon that is neither weighed nor on its way.
  const advance = () => {
    if (!form()) return;
    const taken = done();
    for (const entry of mine()) if (entry.kind === "reading") taken.add(entry.fields.coupon);
    const at = sheet.findIndex((one) => one.coupon === shown());
    const next = [...sheet.slice(at + 1), ...sheet.slice(0, at + 1)]
      .find((one) => !taken.has(one.coupon));
    const place = form().querySelector(".answer-place");
    place.querySelectorAll(".answer, .beside, .saved").forEach((old) => old.remove());
    form().toggleAttribute("data-none-left", !next);
    form().querySelector(".mass-line button").disabled = !next;
    if (next) goTo(next.coupon);
    else {
      field("mass_g").value = "";
      words(place, "p", "Every coupon has a mass. Some wait on this phone.", "saved");
    }
  };

  // Parts of the bench's answer into the page; what is being typed stays.
  const takeStrip = (fresh) => {
    const strip = fresh.getElementById("strip");
    if (!strip) return;
    strip.removeAttribute("hx-swap-oob");
    document.getElementById("strip").replaceWith(strip);
  };
  const untouched = (entry) =>
    !form() || (shown() === entry.fields.coupon &&
      ["", entry.fields.mass_g].includes(field("mass_g").value));
  const takeBench = (fresh) => {
    const bench = fresh.getElementById("bench");
    if (!bench) return false;
    document.getElementById("bench").replaceWith(bench);
    field("mass_g")?.focus();
    return true;
  };

  const wasStored = (entry, text) => {
    phoneQueue.remove(entry.key);
    if (entry.kind === "photo") {
      document.getElementById("photo-said").textContent = "The photo is in the journal.";
      return;
    }
    window.history.replaceState(null, "", window.location.pathname);
    const fresh = parse(text);
    const answer = fresh.querySelector(".answer");
    takeStrip(fresh);
    if (untouched(entry)) {
      takeBench(fresh);
      if (onItsWay(shown())) advance();
    } else if (answer) {
      const place = form()?.querySelector(".answer-place");
      place?.querySelectorAll(".answer").forEach((old) => old.remove());
      place?.append(answer);
    }
    document.dispatchEvent(new Event("entered"));
  };

  const wasRefused = (entry, text) => {
    const fresh = parse(text);
    const said = [...fresh.querySelectorAll("[role=alert] p, [role=alert] li")]
      .map((one) => one.textContent.trim()).join(" ");
    if (entry.kind === "reading" && untouched(entry) && takeBench(fresh)) {
      phoneQueue.remove(entry.key);
      takeStrip(fresh);
      return;
    }
    entry.refused = said || "The bench did not take it.";
    phoneQueue.put(entry);
    if (entry.kind === "photo") document.getElementById("photo-said").textContent = "";
  };

  const wait = () => {
    clearTimeout(timer);
    timer = setTimeout(pump, retries[Math.min(failed, retries.length) - 1]);
  };

  // The bench is there, is not, or does not know this phone any more.
  const heard = (state, text) => {
    unpaired = state === "unpaired";
    failed = state === "away" ? failed + 1 : 0;
    if (unpaired) {
      const said = parse(text).querySelector("[role=alert]");
      sayLine(`${said ? said.textContent.trim() : "This phone is not paired."} `, true);
      const link = words(document.getElementById("line-state"), "a", "Pair it again");
      link.href = "/pair";
    } else if (failed) {
      const count = mine().filter((entry) => !entry.refused).length;
      const many = count > 1 ? `${count} entries wait` :
        count ? "1 entry waits" : "What you enter waits";
      sayLine(`The bench does not answer. ${many} on this phone.`, true);
    } else sayLine(connected, false);
  };

  // Send what waits, one after the other; the first that finds nobody stops it.
  async function pump() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    clearTimeout(timer);
    do {
      again = false;
      for (const entry of mine()) {
        if (entry.refused) continue;
        showWaiting();
        const { state, text } = await phoneQueue.send(entry);
        heard(state, text);
        if (state === "stored") wasStored(entry, text);
        else if (state === "refused") wasRefused(entry, text);
        else {
          if (onItsWay(shown())) advance();
          if (state === "away") wait();
          again = false;
          break;
        }
      }
    } while (again);
    busy = false;
    showWaiting();
  }

  // What others weighed meanwhile; also how a page that wakes learns whether the bench is there.
  const look = async () => {
    if (document.hidden || busy) return;
    if (mine().some((entry) => !entry.refused)) {
      pump();
      return;
    }
    try {
      const answer = await fetch(`/trials/${encodeURIComponent(trial)}/weigh`, {
        headers: { "HX-Request": "true" },
      });
      const text = await answer.text();
      heard(answer.ok ? "stored" : answer.status === 401 ? "unpaired" : "away", text);
      if (!answer.ok) return;
      const before = done().size;
      takeStrip(parse(text));
      const after = done();
      if (after.size !== before) document.dispatchEvent(new Event("entered"));
      if (form() && !field("supersedes") && after.has(shown()) && !field("mass_g").value) advance();
      markHere(shown());
    } catch {
      heard("away", "");
    }
  };

  const draft = {
    save: () => {
      const typed = Object.fromEntries(new FormData(form()));
      try {
        window.localStorage.setItem(draftName, JSON.stringify(typed));
      } catch { /* it stays in the field */ }
    },
    drop: () => {
      try {
        window.localStorage.removeItem(draftName);
      } catch { /* there is none */ }
    },
    bring: () => {
      let typed = null;
      try {
        typed = JSON.parse(window.localStorage.getItem(draftName));
      } catch { /* there is none */ }
      if (!typed || !form() || !typed.mass_g) return;
      if (typed.coupon !== shown()) {
        if (done().has(typed.coupon) || typed.supersedes) return;
        goTo(typed.coupon);
      }
      for (const [name, value] of Object.entries(typed)) {
        const one = field(name);
        if (one && one.type !== "hidden") one.value = value;
      }
    },
  };

  document.addEventListener("input", (event) => {
    if (event.target.closest("form[data-queued]")) draft.save();
  });

  document.addEventListener("submit", (event) => {
    if (!event.target.matches("form[data-queued]")) return;
    event.preventDefault();
    if (event.target.hasAttribute("data-none-left")) return;
    const fields = Object.fromEntries(new FormData(event.target));
    if (onItsWay(fields.coupon)) return; // Enter pressed twice
    for (const old of mine()) {
      if (old.refused && old.fields.coupon === fields.coupon) phoneQueue.remove(old.key);
    }
    const entry = phoneQueue.make(trial, "reading", `${fields.coupon}, ${fields.mass_g} g`, fields);
    phoneQueue.put(entry);
    draft.drop();
    if (failed) heard("away", "");
    if (failed || unpaired) advance(); // known to be away: nobody waits to be told so again
    pump();
  });

  // A photo is made as small as the bench keeps it, so that several can wait on the phone.
  const smaller = async (file) => {
    try {
      const picture = await createImageBitmap(file);
      const share = Math.min(1, 1600 / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(share * picture.width));
      canvas.height = Math.max(1, Math.round(share * picture.height));
      const pen = canvas.getContext("2d");
      pen.fillStyle = "white";
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
      return canvas.toDataURL("image/jpeg", 0.85);
    } catch { // the bench says what it makes of it
      return new Promise((resolve, reject) => {
        const reader = new FileReader();
        reader.onload = () => resolve(reader.result);
        reader.onerror = () => reject(reader.error);
        reader.readAsDataURL(file);
      });
    }
  };
  document.getElementById("photo-form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const photoForm = event.target;
    const said = document.getElementById("photo-said");
    const [file] = photoForm.querySelector("#photo").files;
    const alt = photoForm.querySelector("#alt").value.trim();
    if (!file || !alt) return;
    said.textContent = "Making the photo smaller…";
    try {
      const entry = phoneQueue.make(trial, "photo", `photo: ${alt}`, { alt });
      entry.data = await smaller(file);
      const kept = phoneQueue.put(entry);
      said.textContent = kept ? "Sending the photo…" :
        "Sending the photo… This phone has no room for it: keep this page open until it is sent.";
      photoForm.reset();
      pump();
    } catch {
      said.textContent = "This photo cannot be read. Choose another.";
    }
  });

  window.addEventListener("online", look);
  window.addEventListener("pageshow", look);
  document.addEventListener("visibilitychange", look);
  setInterval(look, quiet);
  if (onItsWay(shown())) advance();
  draft.bring();
  showWaiting();
  pump();
})();
