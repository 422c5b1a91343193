// Keeps what is being written when the connection drops, and shows that a long request is under way.
// A draft is sealed with a key of the account that the server gives with the form, and named after the account, so
// another account on a shared tablet can neither see nor read it. Without this script every form works as it is.
const PREFIX = "sideport-draft:";
const OLDEST = 12 * 60 * 60 * 1000;
const WAIT = 400;
const LAST_SENT = "sideport-last-sent";
const SECRET = new Set(["csrfmiddlewaretoken", "password", "pin"]);
const encode = (bytes) => btoa(String.fromCharCode(...bytes));
const decode = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));

function kept() {
  try {
    return Object.keys(localStorage).filter((name) => name.startsWith(PREFIX))
      .map((name) => [name, JSON.parse(localStorage.getItem(name))]);
  } catch { return []; }
}

function forget(test) {
  for (const [name, draft] of kept()) if (test(name, draft)) localStorage.removeItem(name);
}

function cells(form) {
  return [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !SECRET.has(name));
}

async function keyOf(form) {
  const bytes = form.dataset.key.match(/../g).map((pair) => parseInt(pair, 16));
  return crypto.subtle.importKey("raw", new Uint8Array(bytes), "AES-GCM", false, ["encrypt", "decrypt"]);
}

async function keep(form) {
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const words = new TextEncoder().encode(JSON.stringify(cells(form)));
  const sealed = await crypto.subtle.encrypt({ name: "AES-GCM", iv }, await keyOf(form), words);
  const draft = { at: Date.now(), iv: encode(iv), sealed: encode(new Uint8Array(sealed)) };
  localStorage.setItem(PREFIX + form.dataset.draft, JSON.stringify(draft));
}

async function open(form) {
  const draft = JSON.parse(localStorage.getItem(PREFIX + form.dataset.draft));
  if (!draft) return null;
  const iv = decode(draft.iv);
  const words = await crypto.subtle.decrypt({ name: "AES-GCM", iv }, await keyOf(form), decode(draft.sealed));
  return JSON.parse(new TextDecoder().decode(words));
}

function fill(form, words) {
  let changed = false;
  for (const [name, value] of words) {
    const field = form.elements[name];
    if (!field || field.value === value) continue;
    field.value = value;
    changed ||= field.type !== "hidden";
  }
  return changed;
}

function tell(form) {
  const note = document.createElement("p");
  const drop = document.createElement("button");
  note.className = "caution";
  note.setAttribute("role", "status");
  note.textContent = "What you had written and not stored was put back. ";
  drop.type = "button";
  drop.className = "quiet";
  drop.textContent = "Throw it away";
  drop.addEventListener("click", () => {
    forget((name) => name === PREFIX + form.dataset.draft);
    location.reload();
  });
  note.append(drop);
  form.before(note);
}

async function watch(form) {
  let timer;
  try {
    const words = form.dataset.bound ? null : await open(form);
    if (words && fill(form, words)) tell(form);
  } catch { forget((name) => name === PREFIX + form.dataset.draft); }
  form.dataset.watched = "yes";
  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(() => keep(form).catch(() => {}), WAIT);
  });
  form.addEventListener("submit", () => {
    clearTimeout(timer);
    sessionStorage.setItem(LAST_SENT, PREFIX + form.dataset.draft);
    keep(form).catch(() => {});
  });
}

function busy(form) {
  form.addEventListener("submit", () => {
    const button = form.querySelector("button[type=submit]");
    const bar = document.createElement("progress");
    bar.setAttribute("aria-label", form.dataset.busy);
    const note = document.createElement("p");
    note.setAttribute("role", "status");
    note.textContent = form.dataset.busy;
    setTimeout(() => { button.disabled = true; form.append(note, bar); }, 0);
  });
}

const now = Date.now();
forget((name, draft) => now - draft.at > OLDEST);
if (document.querySelector("[data-saved]")) {
  forget((name) => name === sessionStorage.getItem(LAST_SENT));
  sessionStorage.removeItem(LAST_SENT);
}
for (const form of document.querySelectorAll("form[data-draft]")) watch(form);
for (const form of document.querySelectorAll("form[data-busy]")) busy(form);
// A page that comes back from the browser's own memory has its buttons as they were left: disabled.
addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
