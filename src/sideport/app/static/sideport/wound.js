// Answers while another cut is moved. Without this script the form sends itself and the page comes back with the answer.
"use strict";

const WAIT = 200;
const form = document.querySelector("form[data-answer]");
const answer = document.getElementById("try-answer");
const said = document.getElementById("try-said");
const send = form.querySelector("button");
let timer = 0;
let asking = null;

// A slider beside each number: the number is what is sent, so a typed value may be finer than the slider's steps.
for (const number of form.querySelectorAll("input[type=number]")) {
  const slider = document.createElement("input");
  slider.type = "range";
  slider.min = number.min;
  slider.max = number.max;
  slider.step = number.dataset.step;
  slider.value = number.value;
  slider.setAttribute("aria-label", `${number.labels[0].textContent}, slider`);
  slider.addEventListener("input", () => { number.value = slider.value; });
  number.addEventListener("input", () => { slider.value = number.value; });
  number.after(slider);
}

async function ask() {
  asking?.abort();
  asking = new AbortController();
  const words = new URLSearchParams(new FormData(form));
  try {
    const found = await fetch(`${form.dataset.answer}?${words}`, { signal: asking.signal });
    if (!found.ok || found.redirected) throw new Error("no answer");
    answer.innerHTML = await found.text();
    said.textContent = answer.firstElementChild.dataset.said;
    said.className = "hidden";
    send.hidden = true;
  } catch (error) {
    if (error.name === "AbortError") return;
    send.hidden = false;
    said.className = "error";
    said.textContent = "The program does not answer while the cut is moved. Press Work it out.";
  }
}

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(ask, WAIT);
});
send.hidden = true;
