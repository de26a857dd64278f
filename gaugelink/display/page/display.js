"use strict";
/* Follows a job: every line of the stream is the whole state, the newest one counts. */

const STALE_MS = 1500;      // an act older than that is not flashed, sounded or spoken
const SILENT_MS = 5000;     // no byte for so long: the bench cannot be reached
const JUMP_MS = 4000;       // our own second took so long: the device slept
const AGAIN_MS = 800;       // before a stream that broke is opened anew
const MERGE_MS = 400;       // flashes are further apart: never three in a second
const SAID_MS = 9000;       // how long a reason is shown, over the cue
const LIVE_MS = 1000;       // a screen reader is told once in this time
const ALMOST = 0.95;        // a bar is full when the reading is taken, and not before
const LONG = ["refused", "doubtful", "unplugged", "undone", "more"];
const WEIGHT = ["skipped", "taken", "undone", "more", "done", "doubtful", "unplugged", "refused"];
const FLASHED = { undone: "BACK" };
/* Each is told by its rhythm alone, that of the terminal's bell: start and length in s, pitch in Hz. */
const TONES = {
  taken: [[0, 0.12, 880]],
  done: [[0, 0.12, 784], [0.22, 0.3, 1175]],
  undone: [[0, 0.25, 784], [0.6, 0.3, 523]],
  doubtful: [[0, 0.12, 880], [0.22, 0.12, 880], [0.82, 0.25, 740]],
  more: [[0, 0.25, 784], [0.6, 0.12, 784], [0.82, 0.12, 988]],
  refused: [[0, 0.16, 220], [0.22, 0.16, 220], [0.44, 0.16, 220]],
  unplugged: [[0, 0.4, 196], [0.6, 0.4, 196], [1.2, 0.4, 165]],
};

const $ = (id) => document.getElementById(id);
const token = takeToken();
let newest = null;          // the snapshot that is shown
let seenAct = -1;           // the highest act that was noticed
let stream = null;          // what aborts the open stream
let heardAt = 0;            // when the last byte came
let tickedAt = performance.now();
let offset = [Infinity, Infinity];   // our clocks over that of the bench, the smallest seen
let barFrom = null;
let audio = null, soundUntil = 0, voice = "unknown", wake = null;
let flashAt = -1e9, flashDue = null, flashTimer = 0, clearTimer = 0;
let liveAt = -1e9, liveDue = null, liveTimer = 0;
let askedOf = null, saidTimer = 0;
let cautionAt = 0, cautionPages = [], cautionTimer = 0;

function takeToken() {
  const found = /(?:^#|&)k=([\w-]+)/.exec(location.hash);
  try {
    if (found) {
      sessionStorage.setItem("k", found[1]);
      history.replaceState(null, "", location.pathname);
    }
    return found ? found[1] : sessionStorage.getItem("k") || "";
  } catch (refused) {
    return found ? found[1] : "";
  }
}

/* ---- the stream ---- */

async function follow() {
  if (stream || document.visibilityState === "hidden" || over()) return;
  const mine = stream = new AbortController();
  heardAt = performance.now();
  let again = true;
  try {
    const answer = await fetch("stream", {
      headers: { Authorization: "Bearer " + token }, cache: "no-store", signal: mine.signal,
    });
    if (answer.ok) await read(answer.body.getReader());
    else again = refused(answer.status);
  } catch (broken) { /* gone, asleep or put aside by ourselves */ }
  if (stream === mine) stream = null;
  if (over() || !again) return;
  if (document.body.dataset.link === "ok") lost();
  if (document.visibilityState !== "hidden") setTimeout(follow, AGAIN_MS);
}

async function read(reader) {
  const decoder = new TextDecoder();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    heardAt = performance.now();
    rest += decoder.decode(value, { stream: true });
    const lines = rest.split("\n");
    rest = lines.pop();
    const whole = lines.filter(Boolean);
    if (whole.length) take(JSON.parse(whole[whole.length - 1]));  // the newest says it all
  }
}

function refused(code) {
  if (code === 503) {
    say("Too many displays look at this job already.", "full");
    return true;
  }
  say("This page belongs to an earlier run. Take the new address from the terminal.", "foreign");
  return false;
}

function drop() {
  if (stream) stream.abort();
  stream = null;
}

function anew() {
  drop();
  follow();
}

function lost() {
  say("Nothing comes from the bench. The job goes on there.", "lost");
}

function say(text, link) {
  document.body.dataset.link = link;
  $("lost").textContent = text;
  $("lost").hidden = false;
  $("digits").textContent = "–";
  barFrom = null;
  buttons([]);
}

const over = () => newest !== null && newest.phase === "ended";

function tick() {
  const now = performance.now(), jumped = now - tickedAt > JUMP_MS;
  tickedAt = now;
  if (document.visibilityState === "hidden") return;
  if (over()) return;
  if (newest && !jumped && now - newest.came > SILENT_MS && newest.phase !== "done"
      && document.body.dataset.link === "ok") lost();
  if (jumped || (stream && now - heardAt > SILENT_MS)) anew();
  else if (!stream && document.body.dataset.link !== "foreign") follow();
}

/* ---- a snapshot ---- */

function take(snapshot) {
  const clocks = [performance.now(), Date.now()];
  offset = offset.map((least, i) => Math.min(least, clocks[i] - snapshot.sent_ms));
  snapshot.came = clocks[0];
  const first = newest === null || newest.run !== snapshot.run;
  newest = snapshot;
  document.body.dataset.link = "ok";
  $("lost").hidden = true;
  show(snapshot);
  notice(snapshot, first, clocks);
}

/* The age by the clock that says more: one of them may have slept with the device. */
function age(act, clocks) {
  return Math.max(...clocks.map((clock, i) => clock - offset[i] - act.at_ms));
}

function notice(snapshot, first, clocks) {
  const fresh = snapshot.acts.filter((act) => act.seq > seenAct && !first && age(act, clocks) <= STALE_MS);
  for (const act of snapshot.acts) seenAct = Math.max(seenAct, act.seq);
  if (first && !snapshot.acts.length) seenAct = Math.max(seenAct, 0);
  for (const act of fresh) {
    flash(act);
    sound(act.kind);
    if (LONG.includes(act.kind)) remark(act.said);
    else remark("");
  }
  const heard = fresh.map((act) => act.said);
  const ask = snapshot.ask;
  if (ask && ask.id !== askedOf) {
    if (!first && snapshot.phase !== "ended") heard.push(ask.spoken);
    askedOf = ask.id;
  }
  if (heard.length) speak(heard.join(". "));
  tell(fresh, heard);
}

function show(s) {
  const over = s.phase === "ended", ask = s.ask || {}, gauge = s.gauge || {};
  document.body.dataset.phase = s.phase;
  text("title", "job " + s.job.id + (s.job.title ? "  " + s.job.title : ""));
  document.title = (ask.word ? ask.word + " – " : "") + "gaugelink";
  text("word", ask.word || "");
  $("word").style.setProperty("--letters", (ask.word || "").length);
  text("below", ask.below || "");
  text("cue", ask.cue || "");
  text("count", ask.m ? ask.n + (ask.m < 10 ? " of " : "/") + ask.m : "");
  text("digits", gauge.live || "–");
  const figures = Math.max(6, (gauge.live || "").length);
  $("live").style.setProperty("--figures", figures);
  text("unit", gauge.live ? gauge.unit : "");
  const task = (gauge.do || "").toUpperCase();
  text("do", task === ask.word ? "" : task);
  bar(gauge);
  place(s.place || "");
  text("others", s.others.map(other).join("   "));
  text("next", s.phase === "done" ? "the answer is worked out" : s.next ? "next: " + s.next
    : s.unserved.length ? "no gauge here for: " + s.unserved.join(", ") : "");
  buttons(s.can);
  $("task").hidden = over;
  cautions(s.phase === "opening");
  if (over) ended(s.answer || {});
}

function other(gauge) {
  return [gauge.kind, gauge.live, gauge.line].filter(Boolean).join(" ");
}

function text(id, words) {
  if ($(id).textContent !== words) $(id).textContent = words;
}

function buttons(can) {
  for (const name of ["undo", "skip", "stop"]) $(name).disabled = !can.includes(name);
}

function place(name) {
  const shown = name.startsWith("length_") ? "block" : name;
  if ($("place").dataset.shown === shown) return;
  $("place").dataset.shown = shown;
  for (const part of $("place").querySelectorAll("[data-part], [data-place]")) {
    const of = part.dataset.place ? [part.dataset.place] : (part.dataset.for || "").split(" ");
    part.classList.toggle("on", of.includes(shown));
    if (part.dataset.place === shown) $("place").firstElementChild.setAttribute("viewBox", part.dataset.view);
  }
}

function bar(gauge) {
  const off = gauge.still === null || gauge.still === undefined;
  $("bar").classList.toggle("off", off);
  barFrom = off ? null : { still: gauge.still, full: gauge.full_in_ms, at: performance.now() };
  fill();
}

/* The bench's own number, run on between two snapshots; only the act makes it full. */
function fill() {
  let share = 0;
  if (barFrom) {
    const gone = calm() || !barFrom.still || !(barFrom.full > 0) ? 0 : (performance.now() - barFrom.at) / barFrom.full;
    share = Math.min(barFrom.still + (1 - barFrom.still) * gone, ALMOST);
  }
  $("fill").style.transform = "scaleX(" + share.toFixed(3) + ")";
  if (barFrom && barFrom.still && share < ALMOST && !calm()) requestAnimationFrame(once);
}

let framed = false;
function once() {
  if (framed) return;
  framed = true;
  requestAnimationFrame(() => { framed = false; fill(); });
}

const calm = () => matchMedia("(prefers-reduced-motion: reduce)").matches;

function remark(words) {
  text("said", words.charAt(0).toUpperCase() + words.slice(1));
  $("said").hidden = !words;
  clearTimeout(saidTimer);
  saidTimer = setTimeout(() => { $("said").hidden = true; }, SAID_MS);
}

/* ---- the cautions of the opening, as many as there is room for, turned ---- */

function cautions(on) {
  const box = $("cautions");
  on = on && $("notice").content.childElementCount > 0;
  if (box.hidden === !on) return;
  box.hidden = !on;
  document.body.classList.toggle("cautious", on);
  clearInterval(cautionTimer);
  if (!on) return;
  layOut();
  cautionTimer = setInterval(turn, 12000);
}

function layOut() {
  const box = $("cautions"), room = $("caution-text");
  if (box.hidden) return;
  const last = $("cue").offsetParent ? $("cue") : $("word");
  const top = last.getBoundingClientRect().bottom - $("task").getBoundingClientRect().top;
  box.style.setProperty("--top", Math.ceil(top + 6) + "px");
  cautionPages = [];
  for (const part of $("notice").content.querySelectorAll("section")) {
    const head = part.querySelector("h2").textContent;
    let page = "";
    text("caution-head", head);
    const fits = (words) => {
      room.textContent = words;
      return room.scrollHeight <= room.clientHeight;
    };
    for (const piece of pieces(part.querySelector("p").textContent, fits)) {
      const longer = (page + " " + piece).trim();
      if (page && !fits(longer)) {
        cautionPages.push([head, page.replace(/;$/, ".")]);
        page = piece;
      } else page = longer;
    }
    if (page) cautionPages.push([head, page]);
  }
  cautionAt = -1;
  if (cautionPages.length) turn();
  else box.hidden = true;
}

/* Sentences; where one is too long for the screen its clauses, and of a clause its words. */
function pieces(words, fits) {
  const cut = (text, ends) => (text.match(ends) || [text]).map((each) => each.trim()).filter(Boolean);
  return cut(words, /[^.;]+[.;]*/g).flatMap((sentence) => fits(sentence) ? [sentence]
    : cut(sentence, /[^,:]+[,:]*/g).flatMap((clause) => fits(clause) ? [clause] : clause.split(" ")));
}

function turn() {
  if (!cautionPages.length) return;
  cautionAt = (cautionAt + 1) % cautionPages.length;
  const [head, words] = cautionPages[cautionAt];
  text("caution-head", head);
  text("caution-text", words);
  $("caution-more").hidden = cautionPages.length < 2;
  text("caution-more", "More (" + (cautionAt + 1) + " of " + cautionPages.length + ")");
}

/* ---- the end ---- */

function ended(answer) {
  const box = $("answer");
  if (!box.hidden) return;
  box.hidden = false;
  remark("");
  box.replaceChildren();
  const add = (tag, words, css) => {
    const made = document.createElement(tag);
    if (words) made.textContent = whole(words);
    if (css) made.className = css;
    box.append(made);
    return made;
  };
  add("h2", answer.head || "The job has ended").className = "head";
  add("p", answer.order || answer.note || "", "order");
  if (answer.order && answer.note) add("p", answer.note);
  for (const part of answer.parts || []) {
    add("h2", part.head);
    if (part.lines.length === 1) add("p", part.lines[0]);
    else {
      const list = add("ul");
      for (const line of part.lines) {
        const item = document.createElement("li");
        item.textContent = whole(line);
        list.append(item);
      }
    }
    if (part.drawing) drawing(box, part.drawing);
  }
  box.tabIndex = 0;
  if (answer.order) polite("The answer: " + answer.order);
}

/* An option is not broken after its dashes. */
const whole = (words) => words.replace(/--(?=\w)/g, "\u2011\u2011");

/* The drawing is the bench's own; nothing in it may run, whatever it holds. */
function drawing(box, markup) {
  const parsed = new DOMParser().parseFromString(markup, "image/svg+xml").documentElement;
  if (parsed.nodeName !== "svg" || parsed.querySelector("script, foreignObject")) return;
  box.append(document.importNode(parsed, true));
}

/* ---- seen, heard, spoken ---- */

function flash(act) {
  if (!flashDue || WEIGHT.indexOf(act.kind) >= WEIGHT.indexOf(flashDue.kind)) flashDue = act;
  if (flashTimer) return;
  flashTimer = setTimeout(flashNow, Math.max(0, flashAt + MERGE_MS - performance.now()));
}

function flashNow() {
  const act = flashDue, word = act.word || FLASHED[act.kind] || act.kind.toUpperCase();
  flashDue = null;
  flashTimer = 0;
  flashAt = performance.now();
  $("flash").dataset.kind = act.kind;
  $("flash-sign").setAttribute("href", "#sign-" + act.sign);
  $("flash-word").style.setProperty("--letters", word.length);
  text("flash-word", word);
  text("flash-text", act.text.toUpperCase() === word ? "" : act.text);
  $("flash").dataset.seq = act.seq;
  $("flash").hidden = false;
  clearTimeout(clearTimer);
  clearTimer = setTimeout(() => { $("flash").hidden = true; }, LONG.includes(act.kind) ? 1500 : 700);
}

function play(context, kind, at) {
  let end = at;
  for (const [start, length, pitch] of TONES[kind] || []) {
    const source = context.createOscillator(), gain = context.createGain();
    source.frequency.value = pitch;
    source.type = pitch < 300 ? "triangle" : "sine";
    gain.gain.setValueAtTime(0, at + start);
    gain.gain.linearRampToValueAtTime(0.5, at + start + 0.008);
    gain.gain.setValueAtTime(0.5, at + start + length - 0.02);
    gain.gain.linearRampToValueAtTime(0, at + start + length);
    source.connect(gain).connect(context.destination);
    source.start(at + start);
    source.stop(at + start + length);
    end = Math.max(end, at + start + length);
  }
  return end;
}

/* One after the other, never two in one; what would come too late is left out. */
function sound(kind) {
  if (!audio || audio.state !== "running") return;
  const at = Math.max(audio.currentTime, soundUntil);
  if ((at - audio.currentTime) * 1000 > STALE_MS) return;
  soundUntil = play(audio, kind, at) + 0.25;
}

let speakTimer = 0;
function speak(words) {
  if (voice !== "there" || !audio) return;
  speechSynthesis.cancel();
  clearTimeout(speakTimer);
  speakTimer = setTimeout(() => {         // said in the same turn it may be cancelled too
    const said = new SpeechSynthesisUtterance(words);
    said.lang = "en";
    said.onerror = (event) => { if (event.error !== "interrupted" && event.error !== "canceled") voiceIs("none"); };
    speechSynthesis.speak(said);
  }, 60);
}

function findVoice() {
  if (!("speechSynthesis" in window)) return voiceIs("none");
  const look = () => { if (speechSynthesis.getVoices().length) voiceIs("there"); };
  speechSynthesis.addEventListener("voiceschanged", look);
  look();
  setTimeout(() => { if (voice === "unknown") voiceIs("none"); }, 2000);
}

function voiceIs(found) {
  voice = found;
  badge();
}

async function soundOn() {
  audio = audio || new (window.AudioContext || window.webkitAudioContext)();
  await audio.resume();
  if (voice === "unknown") findVoice();
  sound("taken");
  stayAwake();
  badge();
}

async function stayAwake() {
  try {
    wake = await navigator.wakeLock.request("screen");
    wake.addEventListener("release", () => { wake = null; badge(); });
  } catch (refused) { wake = null; }
  badge();
}

function badge() {
  const on = audio && audio.state === "running";
  const parts = [on ? "sound on" : "silent: tap Sound on"];
  if (on && voice === "none") parts.push("no voice on this device");
  if (on && !wake) parts.push("screen may go dark: lengthen its time-out");
  text("badge", parts.join(" · "));
  $("sound").hidden = Boolean(on);
}

function tell(acts, heard) {
  const bad = acts.some((act) => act.kind === "refused" || act.kind === "unplugged");
  if (heard.length) (bad ? alarm : polite)(heard.join(". "));
}
const alarm = (words) => live("alarm", words);
const polite = (words) => live("polite", words);

function live(id, words) {
  if (!liveDue || id === "alarm" || liveDue[0] !== "alarm") liveDue = [id, words];
  if (liveTimer) return;
  liveTimer = setTimeout(() => {
    const [where, said] = liveDue;
    liveTimer = 0; liveDue = null; liveAt = performance.now();
    $(where).textContent = "";
    setTimeout(() => { $(where).textContent = said; }, 50);
  }, Math.max(0, liveAt + LIVE_MS - performance.now()));
}

/* ---- buttons ---- */

async function press(command) {
  if (!newest || $(command).disabled) return;
  try {
    const answer = await fetch("act", {
      method: "POST", cache: "no-store",
      headers: { Authorization: "Bearer " + token, "Content-Type": "application/json" },
      body: JSON.stringify({ command, run: newest.run, about: newest.about }),
    });
    if (answer.status === 409) remark("That was not what counts now. Look, and press again.");
    else if (!answer.ok) remark("The bench did not take that (" + answer.status + ").");
  } catch (broken) {
    remark("The bench cannot be reached: nothing was changed.");
  }
}

function wire() {
  $("undo").onclick = () => press("undo");
  $("skip").onclick = () => press("skip");
  $("stop").onclick = () => { if (!$("sure").open) $("sure").showModal(); };
  $("sure-no").onclick = () => $("sure").close();
  $("sure-yes").onclick = () => { $("sure").close(); press("stop"); };
  $("sound").onclick = soundOn;
  $("look").onclick = () => {
    const dark = document.documentElement.dataset.look
      ? document.documentElement.dataset.look === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
    document.documentElement.dataset.look = dark ? "light" : "dark";
  };
  const root = document.documentElement;
  $("full").hidden = !root.requestFullscreen;
  $("full").onclick = () => (document.fullscreenElement ? document.exitFullscreen() : root.requestFullscreen());
  $("caution-more").onclick = () => { clearInterval(cautionTimer); turn(); };
  document.addEventListener("keydown", (event) => {
    const name = { u: "undo", s: "skip", q: "stop" }[event.key];
    if (name && !event.ctrlKey && !event.metaKey && !event.altKey && !$("sure").open) $(name).click();
  });
  addEventListener("resize", layOut);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") drop();
    else { anew(); if (audio) stayAwake(); }
  });
  addEventListener("pageshow", (event) => { if (event.persisted) anew(); });
  addEventListener("pagehide", drop);
  setInterval(tick, 1000);
}

wire();
badge();
if (!window.ReadableStream || !window.AbortController) {
  say("This browser is too old to follow a job. Take a newer one.", "foreign");
} else if (token) follow();
else say("Open the whole address that the terminal shows, with all that follows the #.", "foreign");
