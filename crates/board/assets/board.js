"use strict";
// The board, live: what changes is fetched anew, and notes taken without a signal wait on this device.

const body = document.body;
const zone = body.dataset.zone;

// --- Changes, as they happen -------------------------------------------------------------------------------------------

const line = document.getElementById("line");
let after = body.dataset.after;
let lastTry = 0;

// Says whether what stands here is kept up to date.
function tell(live) {
  if (!line) return;
  line.classList.toggle("lost", !live);
  const text = live ? line.dataset.liveText : line.dataset.lostText;
  if (line.textContent !== text) line.textContent = text;
}

// Fetches this page anew and puts what is live of it in place; what is being filled in stays.
let fetching = null, again = false;
function renew() {
  if (fetching) { again = true; return fetching; }
  fetching = (async () => {
    try {
      do {
        again = false;
        const answer = await fetch(location.pathname, { cache: "no-cache" });
        if (answer.status === 401 || answer.status === 404) { location.reload(); return; }
        if (!answer.ok) throw new Error(answer.status);
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        if (page.documentElement.dataset.kept) return;
        delete document.documentElement.dataset.kept;
        replace(page);
        // What is still being made is there soon.
        const soon_s = Number(answer.headers.get("refresh"));
        if (soon_s) setTimeout(renew, soon_s * 1000);
      } while (again);
    } catch { /* The next change or the next look brings it. */ } finally { fetching = null; }
  })();
  return fetching;
}

function replace(page) {
  const focused = document.activeElement;
  for (const old of document.querySelectorAll("[data-live]")) {
    const fresh = page.getElementById(old.id);
    if (!fresh || fresh.outerHTML === old.outerHTML) continue;
    const href = old.contains(focused) ? focused.getAttribute("href") : null;
    const place = href ? [...old.querySelectorAll("a")].filter(a => a.getAttribute("href") === href).indexOf(focused) : -1;
    old.replaceWith(document.adoptNode(fresh));
    if (href) {
      const links = [...fresh.querySelectorAll("a")].filter(a => a.getAttribute("href") === href);
      (links[place] || links[0])?.focus({ preventScroll: true });
    }
  }
}

// Listens from the last change that stands here on. A browser reconnects by itself, and then tells the last one it heard.
function listen() {
  if (!body.dataset.changes || !window.EventSource) return;
  lastTry = Date.now();
  const source = new EventSource(`${body.dataset.changes}?after=${encodeURIComponent(after)}`);
  source.onopen = () => { tell(true); };
  source.addEventListener("change", event => { if (event.lastEventId) after = event.lastEventId; renew(); });
  source.onerror = () => {
    tell(false);
    // Where the answer was no stream, no browser tries again.
    if (source.readyState === EventSource.CLOSED) setTimeout(listen, Math.max(1000, 10000 - (Date.now() - lastTry)));
  };
  addEventListener("pagehide", () => source.close(), { once: true });
}
addEventListener("pageshow", event => { if (event.persisted) { listen(); renew(); } });
// A new day changes dates without any event.
setInterval(renew, 10 * 60 * 1000);

// --- Notes that wait -----------------------------------------------------------------------------------------------------

const notes = document.getElementById("note");
const waiting = document.getElementById("waiting");

// A store in this browser: notes by their own name, in the order in which they were taken.
function store() {
  return new Promise((resolve, reject) => {
    const opening = indexedDB.open("baycast-board", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("notes", { keyPath: "key" });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
}

async function within(mode, work) {
  const database = await store();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction("notes", mode);
      const request = work(transaction.objectStore("notes"));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  } finally { database.close(); }
}
const keep = note => within("readwrite", notes => notes.put(note));
const drop = key => within("readwrite", notes => notes.delete(key));
const all = async () => (await within("readonly", notes => notes.getAll())).sort((one, other) => one.taken - other.taken);

function name() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map(byte => byte.toString(16).padStart(2, "0")).join("");
}

// Now on the farm's clock, as a field for day and time has it.
function farmNow() {
  const form = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit" });
  return form.format(new Date()).replace(" ", "T");
}

// Sends what waits, each under its own name, so that one sent twice is recorded once. Ends at the first that finds no way.
let sending = null;
function send() {
  sending ??= (async () => {
    let sent = 0, signIn = false;
    try {
      for (const note of await all()) {
        if (note.faults) continue;
        let answer;
        try {
          answer = await fetch(note.path, { method: "POST", headers: { accept: "application/json" }, body: new URLSearchParams(note.fields) });
        } catch { break; }
        if (answer.status === 204) { await drop(note.key); sent += 1; }
        else if (answer.status === 422) { await keep({ ...note, faults: (await answer.json()).faults }); }
        else { signIn = answer.status === 401 || answer.status === 403 || answer.status === 404; break; }
      }
    } finally { sending = null; }
    await count(signIn);
    return sent;
  })();
  return sending;
}

// Says how many wait, and what is to be done about those that were refused.
async function count(signIn = false) {
  const kept = await all();
  const text = waiting.dataset;
  const left = kept.filter(note => !note.faults), refused = kept.filter(note => note.faults && note.path === location.pathname);
  waiting.replaceChildren();
  waiting.hidden = left.length + refused.length === 0;
  if (left.length) {
    const many = left.length === 1 ? text.oneText : text.manyText.replace("{count}", left.length);
    waiting.append(`${many} ${text.waitingText}. ${signIn ? text.signInText : ""}`);
    waiting.append(button(text.sendText, async () => { if (await send()) renew(); }));
  }
  for (const note of refused) {
    const told = document.createElement("p");
    told.textContent = `${text.refusedText} ${note.faults.map(fault => fault.text).join(" ")}`;
    waiting.append(told, button(text.dropText, async () => { await drop(note.key); count(); }));
  }
  waiting.dataset.count = left.length;
}

function button(text, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("click", act);
  return made;
}

// Puts what is wrong with a note beside its fields.
function faults(form, found) {
  for (const place of form.querySelectorAll("[data-fault]")) {
    const own = found.find(fault => fault.field === place.dataset.fault);
    place.textContent = own ? own.text : "";
    const field = place.id && document.getElementById(place.id.replace(/-fault$/, ""));
    if (field) { if (own) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid"); }
  }
  const first = form.querySelector("[aria-invalid]");
  if (first) first.focus();
}

function outcome(text) {
  document.getElementById("outcome").textContent = text;
}

// The form is kept first and sent then: whatever happens on the way, what was typed is not lost.
async function submitted(event) {
  const form = event.target;
  if (!form.matches("form.note")) return;
  event.preventDefault();
  if (form.dataset.busy) return;
  form.dataset.busy = "yes";
  try {
    const key = form.dataset.key ??= name();
    if (!form.dataset.timed && zone) form.elements.when.value = farmNow();
    form.elements.key.value = key;
    await keep({ key, path: location.pathname, fields: [...new FormData(form)], taken: Date.now() });
    // One that is under way may have begun before this note was kept.
    if (sending) await sending;
    await send();
    const note = (await all()).find(note => note.key === key);
    if (note?.faults) {
      await drop(key);
      await count();
      outcome(waiting.dataset.notText);
      faults(form, note.faults);
      return;
    }
    faults(form, []);
    form.reset();
    delete form.dataset.key;
    delete form.dataset.timed;
    if (zone) form.elements.when.value = farmNow();
    outcome(note ? waiting.dataset.keptText : waiting.dataset.notedText);
    if (!note) renew();
  } finally { delete form.dataset.busy; }
}

if (notes && window.indexedDB) {
  document.addEventListener("submit", event => {
    submitted(event).catch(() => { if (event.target.matches("form.note")) event.target.submit(); });
  });
  notes.addEventListener("input", event => {
    const form = event.target.form;
    if (!form) return;
    // A note has its name from when it is begun, and its time too, unless that is set by hand.
    form.dataset.key ??= name();
    if (event.target.name === "when") form.dataset.timed = "yes";
    else if (!form.dataset.timed && zone) form.elements.when.value = farmNow();
  });
  // A page that was kept shows the time of when it was kept.
  if (zone) for (const form of notes.querySelectorAll("form.note")) {
    if (!form.querySelector("[aria-invalid]")) form.elements.when.value = farmNow();
  }
}
if (waiting && window.indexedDB) {
  const retry = async () => { if (await send()) renew(); };
  addEventListener("online", retry);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") retry(); });
  setInterval(retry, 15000);
  retry();
}

// --- For where there is no signal ------------------------------------------------------------------------------------------

if ("serviceWorker" in navigator && location.pathname.startsWith("/board/")) {
  navigator.serviceWorker.register("/board/worker.js", { scope: "/board/" }).catch(() => {});
}
listen();
