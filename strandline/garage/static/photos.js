// Photos on their way to the laptop: shown at once, sent with their progress, and kept in this browser until the
// laptop has answered for them. Without this script the forms work too, but nothing is kept.
"use strict";

(() => {
  const AGAIN_MS = 4000; // between two tries while the laptop is away
  const PATIENCE_MS = 25000; // without a byte of progress, then the laptop counts as away
  const GONE = new Set([0, 408, 500, 502, 503, 504, 507]); // statuses after which a photo is sent again
  let memory = new Map(); // where the browser keeps nothing, such as in a private window

  function database() {
    return new Promise((resolve, reject) => {
      const opening = indexedDB.open("strandline-garage", 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore("waiting", { keyPath: "key" });
      opening.onsuccess = () => resolve(opening.result);
      opening.onerror = () => reject(opening.error);
    });
  }

  async function stored(mode, action) {
    const db = await database();
    try {
      return await new Promise((resolve, reject) => {
        const change = db.transaction("waiting", mode);
        const asked = action(change.objectStore("waiting"));
        change.oncomplete = () => resolve(asked.result);
        change.onerror = change.onabort = () => reject(change.error);
      });
    } finally {
      db.close();
    }
  }

  async function keep(photo) {
    memory.set(photo.key, photo);
    try {
      await stored("readwrite", (all) => all.put(photo));
    } catch {
      return false;
    }
    return true;
  }

  async function drop(key) {
    memory.delete(key);
    try {
      await stored("readwrite", (all) => all.delete(key));
    } catch {
      // it was in memory alone
    }
  }

  async function waiting() {
    try {
      const kept = await stored("readonly", (all) => all.getAll());
      return [...kept, ...[...memory.values()].filter((one) => !kept.some((other) => other.key === one.key))];
    } catch {
      return [...memory.values()];
    }
  }

  // A UUID (RFC 9562, version 4); crypto.randomUUID is missing over plain http.
  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  function send(photo, progress) {
    return new Promise((resolve) => {
      const request = new XMLHttpRequest();
      let watch;
      const alive = () => {
        clearTimeout(watch);
        watch = setTimeout(() => request.abort(), PATIENCE_MS);
      };
      const end = () => {
        clearTimeout(watch);
        let body = {};
        try {
          body = JSON.parse(request.responseText);
        } catch {
          // no answer of the garage's
        }
        resolve({ status: request.status, body });
      };
      request.open("POST", "/photos");
      request.setRequestHeader("Accept", "application/json");
      request.upload.onprogress = (event) => {
        alive();
        progress(event.lengthComputable ? event.loaded / event.total : 0);
      };
      request.onloadend = end;
      const form = new FormData();
      for (const [name, value] of photo.fields) form.append(name, value);
      form.append("key", photo.key);
      form.append("photo", photo.file, "photo");
      alive();
      request.send(form);
    });
  }

  const sending = new Set();

  // Sends one photo once: "sent" with its page, "away" to try again, or "refused" with what to do differently.
  async function attempt(photo, progress) {
    if (sending.has(photo.key)) return { kind: "away" };
    sending.add(photo.key);
    try {
      // A large photo is not sent to a laptop that is away, or that does not know this phone any more.
      try {
        const here = await fetch("/here");
        if (here.status === 401) return { kind: "unpaired" };
        if (!here.ok) return { kind: "away" };
      } catch {
        return { kind: "away" };
      }
      const { status, body } = await send(photo, progress);
      if (status === 201 && body.page) {
        await drop(photo.key);
        return { kind: "sent", page: body.page };
      }
      if (status === 401) return { kind: "unpaired" };
      if (GONE.has(status)) return { kind: "away" };
      await drop(photo.key);
      return { kind: "refused", what: body.what || "The laptop did not take the photo.", advice: body.advice || "" };
    } finally {
      sending.delete(photo.key);
    }
  }

  const banner = document.getElementById("waiting");

  function say(text, page) {
    banner.hidden = !text;
    banner.textContent = text;
    if (page) {
      const link = document.createElement("a");
      link.href = page;
      link.textContent = "Its reading";
      banner.append(" ", link);
    }
  }

  let again;

  async function sendWaiting() {
    clearTimeout(again);
    const all = await waiting();
    let left = 0;
    for (const photo of all) {
      if (sending.has(photo.key)) continue;
      const result = await attempt(photo, () => {});
      if (result.kind === "sent") say("A photo that was waiting is sent.", result.page);
      if (result.kind === "refused") say(`${result.what} ${result.advice}`);
      if (result.kind === "away" || result.kind === "unpaired") {
        left += 1;
        const why = result.kind === "away" ? "The laptop does not answer." : "This phone is not paired any more.";
        const what = all.length === 1 ? "1 photo waits" : `${all.length} photos wait`;
        say(`${why} ${what} on this phone until it is sent.`);
        break;
      }
    }
    if (left) again = setTimeout(sendWaiting, AGAIN_MS);
  }

  function fieldsOf(form) {
    const fields = [];
    for (const [name, value] of new FormData(form)) if (typeof value === "string") fields.push([name, value]);
    return fields;
  }

  async function taken(form, input) {
    const file = input.files[0];
    if (!file) return;
    const box = form.querySelector(".sending");
    const [picture, bar, said] = [box.querySelector("img"), box.querySelector("progress"), box.querySelector(".said")];
    box.hidden = false;
    picture.hidden = false;
    picture.onerror = () => {
      picture.hidden = true; // a kind that this browser does not show; its reading comes with a picture
    };
    picture.src = URL.createObjectURL(file);
    box.scrollIntoView({ block: "nearest" });
    said.textContent = "Sending.";
    const most = Number(form.dataset.mostBytes);
    if (file.size > most) {
      bar.hidden = true;
      said.textContent = `The photo has more than ${Math.round(most / 1e6)} MB. Set the camera to a smaller size; 12 to 50 megapixels are plenty.`;
      input.value = "";
      return;
    }
    const photo = { key: newKey(), fields: fieldsOf(form), file };
    const isKept = await keep(photo);
    const go = async () => {
      const result = await attempt(photo, (share) => {
        bar.value = share;
        said.textContent = share < 1 ? `Sending, ${Math.round(100 * share)} %.` : "Sent. It is being read.";
      });
      if (result.kind === "sent") {
        location.assign(result.page);
      } else if (result.kind === "refused") {
        bar.hidden = true;
        said.textContent = `${result.what} ${result.advice}`;
        input.value = "";
      } else {
        bar.value = 0;
        said.textContent = result.kind === "unpaired"
          ? "This phone is not paired any more: scan the code on the laptop. The photo waits here."
          : `The laptop does not answer. The photo waits ${isKept ? "on this phone" : "on this page: leave it open"} and is sent as soon as it does.`;
        setTimeout(go, AGAIN_MS);
      }
    };
    bar.hidden = false;
    await go();
  }

  for (const form of document.querySelectorAll("form.shot")) {
    for (const input of form.querySelectorAll("input[type=file]")) {
      input.addEventListener("change", () => taken(form, input));
    }
  }
  if (banner) {
    sendWaiting();
    addEventListener("online", sendWaiting);
  }

  // A page that waits for something asks for itself, and is loaded again only where there is something new.
  const fresh = document.querySelector("[data-fresh]");
  if (fresh) {
    const mainOf = (text) => new DOMParser().parseFromString(text, "text/html").getElementById("main")?.innerHTML;
    const seen = document.getElementById("main").innerHTML; // as it came: this script runs before the others
    setInterval(async () => {
      if (document.hidden) return;
      try {
        const answer = await fetch(location.href);
        if (!answer.ok) return;
        if (mainOf(await answer.text()) !== seen) location.reload();
      } catch {
        // the laptop is away
      }
    }, 1000 * fresh.dataset.fresh);
  }

  // A ride that another phone changes: the page is loaded again, or says so where something was typed here.
  const live = document.querySelector("[data-live]");
  if (live) {
    let touched = false;
    live.addEventListener("input", () => {
      touched = true;
    });
    setInterval(async () => {
      if (document.hidden) return;
      try {
        const answer = await fetch(live.dataset.live);
        if (!answer.ok || (await answer.text()) === live.dataset.state) return;
        if (touched) document.getElementById("changed").hidden = false;
        else location.reload();
      } catch {
        // the laptop is away
      }
    }, 3000);
  }
})();
