// Draws a curtain over a page that nobody has touched for a while, and lifts it for the same person's PIN.
// The page underneath stays as it is, so what was being written is not lost. Without this script the server locks
// the session all the same at the next click.
"use strict";

const curtain = document.getElementById("curtain");
const form = curtain.querySelector("form");
const secret = form.elements.secret;
const wrong = form.querySelector(".error");
const idle = 1000 * Number(curtain.dataset.idle);
const SHARED = "sideport-last-touch";
const CHECK_EVERY = 1000;
const headers = { Accept: "application/json" };
let touched = Date.now();

function touch() {
  if (curtain.open) return;
  touched = Date.now();
  try { localStorage.setItem(SHARED, String(touched)); } catch { /* another tab cannot know; this one does */ }
}

function lastTouch() {
  try { return Math.max(touched, Number(localStorage.getItem(SHARED)) || 0); } catch { return touched; }
}

async function draw() {
  curtain.showModal();
  secret.value = "";
  secret.focus();
  const token = new FormData();
  token.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
  try { await fetch(curtain.dataset.lockNow, { method: "POST", body: token, headers }); } catch { /* the curtain hangs */ }
}

async function lift(event) {
  event.preventDefault();
  let answer;
  try {
    answer = await fetch(curtain.dataset.lock, { method: "POST", body: new FormData(form), headers });
  } catch {
    wrong.textContent = "The program does not answer. Nothing is lost; try again.";
    wrong.hidden = false;
    return;
  }
  if (answer.ok && !answer.redirected) {
    curtain.close();
    wrong.hidden = true;
    secret.value = "";
    touch();
  } else if (answer.status === 422) {
    wrong.hidden = false;
    secret.value = "";
    secret.focus();
  } else {
    location.assign(curtain.dataset.signIn);
  }
}

for (const kind of ["pointerdown", "keydown", "input", "scroll"]) {
  document.addEventListener(kind, touch, { passive: true, capture: true });
}
curtain.addEventListener("cancel", (event) => event.preventDefault());
form.addEventListener("submit", lift);
setInterval(() => { if (!curtain.open && Date.now() - lastTouch() >= idle) draw(); }, CHECK_EVERY);
touch();
