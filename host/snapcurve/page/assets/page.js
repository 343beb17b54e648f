"use strict";
// Fills the places of the page with what the server says, and says when it says nothing.
const page = document.documentElement, last = {}, held = {}, heard = {};
const lost = document.getElementById("lost"), answer = document.getElementById("answer");
let at = performance.now(), spoken = "", audio = null;
const on = (id) => document.getElementById(id)?.getAttribute("aria-pressed") === "true";
function fill(name, html) {
  if (on("hold") && name.endsWith(".curve")) held[name] = html;
  if (last[name] === html || name in held) return;
  last[name] = html;
  for (const place of document.querySelectorAll(`[data-part="${name}"]`)) {
    const word = place.contains(document.activeElement) && document.activeElement.textContent;
    place.innerHTML = html;
    for (const one of word ? place.querySelectorAll("button") : [])
      if (one.textContent === word) one.focus();
    if (name.endsWith(".next") && on("speak") && place.textContent !== spoken) {
      spoken = place.textContent;
      speechSynthesis.cancel();
      speechSynthesis.speak(new SpeechSynthesisUtterance(spoken));
    }
  }
}
function play(bench, [count, tune, hz], fresh) {
  const before = heard[bench];
  heard[bench] = count;
  if (!fresh || before === count || !on("sound") || !document.querySelector(`[data-bench="${bench}"]`)) return;
  let when = audio.currentTime + 0.05;
  for (const [sounding, ms] of tune) {
    if (sounding) {
      const tone = audio.createOscillator();
      tone.frequency.value = hz;
      tone.connect(audio.destination);
      tone.start(when);
      tone.stop(when + ms / 1000);
    }
    when += ms / 1000;
  }
}
function take(news) {
  if (news.version !== page.dataset.version && page.dataset.live === "yes") return location.reload();
  at = performance.now() - (news.held || 0);
  for (const [name, html] of Object.entries(news.now)) fill(name, html);
  for (const [bench, tune] of Object.entries(news.sound)) play(bench, tune, !news.held);
}
function look() {
  const gone = performance.now() - at > 2500;
  const words = gone ? "The page has lost snapcurve: the number is old. It comes back by itself." : "";
  if (lost.textContent !== words) lost.textContent = words;
  page.classList.toggle("gone", gone);
}
if (window.SharedWorker) {
  const worker = new SharedWorker(`/assets/stream.js?${page.dataset.version}`);
  worker.port.onmessage = (event) => take(event.data);
  setInterval(() => worker.port.postMessage(0), 20000);
} else {
  new EventSource("/events").onmessage = (event) => take(JSON.parse(event.data));
}
setInterval(look, 250);
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!answer || !form.classList.contains("act")) return;
  event.preventDefault();
  const body = new URLSearchParams(new FormData(form));
  try {
    const reply = await fetch(form.action, {method: "POST", body, headers: {Accept: "application/json"}});
    answer.textContent = (await reply.json()).said;
  } catch {
    answer.textContent = "snapcurve did not answer: press once more, it counts once.";
  }
});
for (const id of ["hold", "sound", "speak"]) {
  document.getElementById(id)?.addEventListener("click", (event) => {
    event.target.setAttribute("aria-pressed", String(!on(id)));
    if (id === "sound") audio = audio || new AudioContext();
    if (id === "hold" && !on(id))
      for (const [name, html] of Object.entries(held)) {
        delete held[name];
        fill(name, html);
      }
  });
}
async function awake() {
  if (page.dataset.live === "yes" && navigator.wakeLock && document.visibilityState === "visible")
    await navigator.wakeLock.request("screen").catch(() => {});
}
document.addEventListener("visibilitychange", awake);
awake();
