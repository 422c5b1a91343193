// Taps that lose their connection are kept and sent again, under the key they were made with, so that the record takes
// each once. Without this script every tap is an ordinary form. Nothing of a patient is kept but the address of the eye.
"use strict";

const RETRY_EVERY = 3000;
const note = document.getElementById("waiting");
const store = note ? `sideport-taps-${note.dataset.account}` : "";
let queue = [];
let sending = false;

function load() {
  try { queue = JSON.parse(sessionStorage.getItem(store)) || []; } catch { queue = []; }
}

function save() {
  try { sessionStorage.setItem(store, JSON.stringify(queue)); } catch { /* kept as long as the page is open */ }
  if (!note) return;
  note.hidden = queue.length === 0;
  const many = queue.length === 1 ? "1 tap waits" : `${queue.length} taps wait`;
  note.textContent = `${many} for an answer. It is kept and sent again by itself; leave this page open.`;
}

function token() {
  return document.querySelector("input[name=csrfmiddlewaretoken]").value;
}

function bodyOf(item) {
  const body = new FormData();
  for (const [name, value] of item.fields) body.append(name, value);
  body.set("ago_ms", String(Math.max(0, Date.now() - item.at)));
  body.set("csrfmiddlewaretoken", token());
  return body;
}

// The answer is a page; its content takes the place of this one's.
async function show(answer) {
  const found = new DOMParser().parseFromString(await answer.text(), "text/html");
  const content = found.getElementById("main");
  if (!content || found.getElementById("waiting") === null) { location.assign(answer.url); return; }
  for (const part of ["#waiting", "script", "link"]) {
    for (const each of content.querySelectorAll(part)) each.remove();
  }
  const main = document.getElementById("main");
  const kept = [...main.querySelectorAll(":scope > #waiting, :scope > script, :scope > link")];
  main.replaceChildren(...kept, ...content.childNodes);
  document.title = found.title;
}

async function send() {
  if (sending || queue.length === 0) return;
  sending = true;
  let answer = null;
  try {
    answer = await fetch(queue[0].action, { method: "POST", body: bodyOf(queue[0]) });
  } catch { /* no connection: it waits */ }
  sending = false;
  if (answer === null || answer.status >= 500) return;
  const away = answer.status === 423 || /\/(lock|sign-in|me\/second)\//.test(new URL(answer.url).pathname);
  if (away || answer.status === 403) { save(); location.reload(); return; }
  queue.shift();
  save();
  if (queue.length > 0) { send(); return; }
  await show(answer);
}

function tapped(event) {
  const form = event.target.closest("form[data-tap]");
  if (!form || !note) return;
  event.preventDefault();
  for (const button of form.querySelectorAll("button")) button.disabled = true;
  const fields = [...new FormData(form, event.submitter)].filter(([name]) => name !== "csrfmiddlewaretoken");
  queue.push({ action: form.action, fields, at: Date.now() });
  save();
  send();
}

// A scanner that types sends the separator as Control and a bracket, which no field takes; it is written as a sign.
function scanned(event) {
  if (!event.target.matches("[data-scan]") || !event.ctrlKey || (event.key !== "]" && event.code !== "BracketRight")) return;
  event.preventDefault();
  event.target.setRangeText("\u241d", event.target.selectionStart, event.target.selectionEnd, "end");
}

document.addEventListener("submit", tapped);
document.addEventListener("keydown", scanned);
if (note) {
  load();
  save();
  send();
  setInterval(send, RETRY_EVERY);
}
