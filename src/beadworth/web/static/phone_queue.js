// Entries on their way to the bench. Each is written on the phone before it is sent and taken away
// once the bench has said that it is stored; its key lets the bench tell one sent twice from two.
// Only what a page without a secure context has is used: no worker, no clipboard, no lock.
"use strict";

const phoneQueue = (() => { // eslint-disable-line no-unused-vars
  const begins = "beadworth/entry/";
  const patience = { reading: 10000, photo: 60000 };
  const inMemory = new Map(); // where the browser stores nothing: lost with the page, which is said
  let last = 0;

  const newKey = () =>
    [...crypto.getRandomValues(new Uint8Array(16))]
      .map((byte) => byte.toString(16).padStart(2, "0")).join("");

  const make = (trial, kind, label, fields) => {
    last = Math.max(Date.now(), last + 1);
    return { key: newKey(), trial, kind, label, fields, at: last };
  };

  // True where it is on the phone's storage; false where only this page holds it.
  const put = (entry) => {
    try {
      window.localStorage.setItem(begins + entry.key, JSON.stringify(entry));
      inMemory.delete(entry.key);
      return true;
    } catch {
      inMemory.set(entry.key, entry);
      return false;
    }
  };

  const remove = (key) => {
    inMemory.delete(key);
    try {
      window.localStorage.removeItem(begins + key);
    } catch { /* it was in memory alone */ }
  };

  const stored = () => {
    const found = [];
    try {
      for (let n = 0; n < window.localStorage.length; n += 1) {
        const name = window.localStorage.key(n);
        if (!name.startsWith(begins)) continue;
        try {
          found.push(JSON.parse(window.localStorage.getItem(name)));
        } catch { /* not one of ours */ }
      }
    } catch { /* a browser that stores nothing */ }
    return found;
  };

  // Every entry of this phone, in the order entered; each is read anew, so that two pages agree.
  const all = () => {
    const byKey = new Map([...stored(), ...inMemory.values()].map((entry) => [entry.key, entry]));
    return [...byKey.values()].sort((a, b) => a.at - b.at);
  };

  const bytesOf = (address) => {
    const text = atob(address.slice(address.indexOf(",") + 1));
    const bytes = new Uint8Array(text.length);
    for (let n = 0; n < text.length; n += 1) bytes[n] = text.charCodeAt(n);
    return bytes;
  };

  const bodyOf = (entry) => {
    if (entry.kind === "reading") {
      return new URLSearchParams({ ...entry.fields, entry_key: entry.key });
    }
    const form = new FormData();
    const type = /^data:([^;,]*)/.exec(entry.data)[1];
    form.append("photo", new Blob([bytesOf(entry.data)], { type }), "photo");
    form.append("alt", entry.fields.alt);
    form.append("entry_key", entry.key);
    return form;
  };

  // What became of one: "stored", "refused" (by the bench's rules), "unpaired", or "away".
  const send = async (entry) => {
    const aborter = new AbortController();
    const timer = setTimeout(() => aborter.abort(), patience[entry.kind]);
    const where = entry.kind === "photo" ? "photos" : "readings";
    try {
      const answer = await fetch(`/trials/${encodeURIComponent(entry.trial)}/${where}`, {
        method: "POST",
        body: bodyOf(entry),
        headers: { "HX-Request": "true" },
        signal: aborter.signal,
      });
      const text = await answer.text();
      if (answer.ok) return { state: "stored", text };
      if (answer.status === 401) return { state: "unpaired", text };
      const later = answer.status >= 500 || [408, 429].includes(answer.status);
      return { state: later ? "away" : "refused", text };
    } catch {
      return { state: "away", text: "" };
    } finally {
      clearTimeout(timer);
    }
  };

  return { make, put, remove, all, send, inMemory };
})();
