"use strict";
// Forms and photos are sent from here; what is right or wrong is decided by the program alone.

// Words of a language that is not the page's bear its tag.
const spoken = (element, lang) => {
  if (lang) element.lang = lang;
  else element.removeAttribute("lang");
};

const shown = (element, text, lang) => {
  element.textContent = text;
  element.hidden = !text;
  spoken(element, lang);
};

// All that is said here stands in the page, in its language; {n} and the like are filled in.
const say = (element, name, values = {}) => element.dataset[name].replace(/\{(\w+)\}/g, (whole, key) => values[key] ?? whole);

// What the program said, be it a page or a few words.
const words = async (answer) => {
  const text = await answer.text();
  const said = new DOMParser().parseFromString(text, "text/html").getElementById("said");
  return said?.textContent ? [said.textContent, said.lang] : [say(document.body, "failed"), ""];
};

const lost = say(document.body, "lost");

// A photo that did not go out: the file may be gone, with its card or its folder, and then the program is not to blame.
const whyNot = async (file) => {
  try {
    await file.arrayBuffer();
    return lost;
  } catch {
    return say(document.body, "unreadable");
  }
};

// Work that is told as it goes on: calls `step` with words, and gives what came of it, or throws the program's own words. ---------------

class Told extends Error {
  constructor({ why, lang }) {
    super(why);
    this.lang = lang;
  }
}

const follow = async (answer, step) => {
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let text = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) throw new Error("it broke off");
    text += value;
    const events = text.split("\n\n");
    text = events.pop();
    for (const event of events) {
      const [name, data] = event.split("\n").map((line) => line.slice(line.indexOf(": ") + 2));
      const told = JSON.parse(data);
      if (name === "done") return told;
      if (name === "refused") throw new Told(told);
      step(say(document.body, "step", { n: told.done, all: told.all }));
    }
  }
};

// New job -----------------------------------------------------------------------------------------------------------------------

const form = document.getElementById("new");
const typed = () => Object.fromEntries(new FormData(form));
const send = (path, value, heads = {}) =>
  fetch(path, { method: "POST", headers: { "Content-Type": "application/json", ...heads }, body: JSON.stringify(value) });

// What is possible and hardly so is asked, and sent once more where it is meant. `null`: it is not.
const surely = async (post) => {
  const answer = await post({});
  const isAsked = answer.status === 409 && answer.headers.get("Content-Type") === "application/json";
  if (!isAsked) return answer;
  const { asks } = await answer.json();
  return confirm(asks) ? post({ "Beamfall-Sure": "yes" }) : null;
};
const sendSurely = (path, value) => surely((heads) => send(path, value, heads));

const fault = (key, why) => {
  const field = document.getElementById(key);
  const line = document.getElementById(key + "-fault");
  if (!field || !line) return;
  shown(line, why || "");
  // What is amiss is not left folded away.
  if (why && field.closest("details")) field.closest("details").open = true;
  if (why) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
};

// Questions that an answer makes needless are not shown.
const fit = () => {
  const now = typed();
  for (const field of form.querySelectorAll("[data-only-with]")) {
    const conditions = JSON.parse(field.dataset.onlyWith);
    field.hidden = !conditions.every(([key, words]) => words.includes((now[key] || "").trim()));
  }
  // Nor is a heading, or what is folded away, with nothing under it.
  for (const group of form.querySelectorAll("fieldset, details.rare, .of-sheet")) {
    group.hidden = [...group.querySelectorAll(".field")].every((field) => field.hidden);
  }
};

// Sheets are called by the numbers that are typed; the program says where each is drawn, once it knows all their places.
const numbered = () => {
  const now = typed();
  for (const part of form.querySelectorAll("[data-number]")) {
    const n = (now[part.dataset.number] || "").trim();
    if (!n) continue;
    const words = say(part, "words", { n });
    if (part.dataset.sheet) part.dataset.sheet = words;
    else if (part.hasAttribute("aria-label")) part.setAttribute("aria-label", words);
    else part.textContent = words;
  }
};

const drawn = (places) => {
  for (const [sheet, [row, column]] of Object.entries(places)) {
    const box = document.getElementById(sheet + ".x_mm").closest(".sheet");
    box.style.gridArea = row + " / " + column;
  }
};

// Fields that somebody was at: no other is found fault with before all is sent.
const visited = new Set();
// Whether the line at the foot says how many of them are missing or wrong.
let counts = false;
const wrong = (count) => say(form, count === 1 ? "oneWrong" : "someWrong", { n: count });
// While one types on.
const CALM_MS = 400;
let calm;
let asked = 0;

const checked = async () => {
  const ours = ++asked;
  try {
    const answer = await send(form.dataset.check, { keys: [...visited], typed: typed() });
    // What was typed since is asked about anew.
    if (!answer.ok || ours !== asked) return;
    const { faults, taken = {}, places = {} } = await answer.json();
    drawn(places);
    for (const key of visited) {
      fault(key, faults[key]);
      const took = document.getElementById(key + "-took");
      if (took) shown(took, taken[key] || "");
    }
    const said = document.getElementById("said");
    const left = Object.keys(faults).length;
    // What was counted as it was sent is counted down as it is mended.
    if (!left) shown(said, "");
    else if (counts && !said.hidden) shown(said, wrong(left));
  } catch {
    shown(document.getElementById("said"), lost);
  }
};

// A fault may be of another field of its group than the one that is changed, so all that were visited are looked at.
const changed = (event) => {
  fit();
  numbered();
  keep();
  clearTimeout(calm);
  const key = event.target.name;
  if (!key || !form.dataset.check) return;
  const isLeft = event.type === "change";
  if (isLeft) visited.add(key);
  if (visited.size) calm = setTimeout(checked, isLeft ? 0 : CALM_MS);
};

// What is typed outlasts a reload of this tab; where the browser keeps nothing the form works all the same. -------------------------------

const kept = () => "beamfall form " + location.pathname;

// Of figures that were changed since by somebody else nothing is taken up.
const stands = () => form.querySelector('[name="was"]')?.value || "";

const keep = () => {
  try {
    sessionStorage.setItem(kept(), JSON.stringify({ stands: stands(), typed: typed() }));
  } catch {
    // It is full, or not allowed.
  }
};

const forget = () => {
  try {
    sessionStorage.removeItem(kept());
  } catch {
    // Then nothing was kept.
  }
};

const takeUp = () => {
  try {
    const before = JSON.parse(sessionStorage.getItem(kept()) || "null");
    if (!before || before.stands !== stands()) return;
    for (const field of form.elements) {
      const value = before.typed[field.name];
      if (typeof value !== "string" || field.type === "hidden") continue;
      if (field.type === "radio") field.checked = field.value === value;
      else if (field.value !== value) {
        field.value = value;
        visited.add(field.name);
      }
    }
  } catch {
    // Whatever was kept there is not ours.
  }
};

const made = async (event) => {
  event.preventDefault();
  const [button, said] = [form.querySelector("button"), document.getElementById("said")];
  button.disabled = true;
  counts = false;
  shown(said, "");
  try {
    const answer = await sendSurely(form.dataset.to, typed());
    const kind = answer?.headers.get("Content-Type");
    if (!answer) {
      // It is not meant, and typed anew.
    } else if (kind !== "application/json") {
      shown(said, ...(await words(answer)));
    } else {
      const told = await answer.json();
      if (told.go) {
        forget();
        location.href = told.go;
        return;
      }
      // An answer to what was typed before comes too late now.
      clearTimeout(calm);
      asked += 1;
      for (const line of form.querySelectorAll(".fault")) fault(line.id.slice(0, -"-fault".length), "");
      const keys = Object.keys(told.faults);
      for (const key of keys) {
        fault(key, told.faults[key]);
        visited.add(key);
      }
      const first = [...form.elements].find((element) => keys.includes(element.name));
      if (first) first.focus();
      shown(said, wrong(keys.length));
      counts = true;
    }
  } catch {
    shown(said, lost);
  }
  button.disabled = false;
};

if (form) {
  takeUp();
  fit();
  numbered();
  if (form.dataset.check && visited.size) checked();
  form.addEventListener("change", changed);
  form.addEventListener("input", changed);
  form.addEventListener("submit", made);
}

// A phone is paired -------------------------------------------------------------------------------------------------------------

const pairing = document.getElementById("pair");

const paired = async (event) => {
  if (event) event.preventDefault();
  const [code, said] = [document.getElementById("code"), document.getElementById("said")];
  shown(said, "");
  try {
    const answer = await send("/pair", { code: code.value });
    if (answer.status === 201) {
      location.replace((await answer.json()).go);
      return;
    }
    shown(said, ...(await words(answer)));
    code.focus();
  } catch {
    shown(said, lost);
  }
};

if (pairing) {
  pairing.addEventListener("submit", paired);
  // The code that the camera read; it is sent nowhere else.
  const read = location.hash.slice(1);
  history.replaceState(null, "", location.pathname);
  if (/^[0-9]{6}$/.test(read)) {
    document.getElementById("code").value = read;
    paired();
  }
}

// A leak-down's clock; what counts in the end are the photos' own times. --------------------------------------------------------

const timer = document.getElementById("clock");
const minutes = (seconds) => Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");

const tell = () => {
  const begun = Number(localStorage.getItem(timer.dataset.series));
  const since = Math.round((Date.now() - begun) / 1000);
  const left = Number(timer.dataset.after) - since;
  // Of a series of long ago there is nothing to wait for.
  if (!begun || since > 3 * 3600) timer.textContent = timer.dataset.after === "0" ? "" : say(timer, "waits");
  else if (timer.dataset.after === "0") timer.textContent = say(timer, "shut", { time: minutes(since) });
  else if (left > 0) timer.textContent = say(timer, "soon", { time: minutes(left) });
  else if (left > -5) timer.textContent = say(timer, "now");
  else timer.textContent = say(timer, "late", { time: minutes(-left) });
};

if (timer) {
  tell();
  setInterval(tell, 1000);
}

// A photo -----------------------------------------------------------------------------------------------------------------------

// The picture comes behind the figure; without it the figure stands.
const later = async (outcome) => {
  for (const part of outcome.querySelectorAll("[data-later]")) {
    try {
      const answer = await fetch(part.dataset.later);
      if (answer.ok) part.innerHTML = await answer.text();
    } catch {
      // The program's own markup stays as it was.
    }
  }
};

// What the job has of this photo already is read while one looks at the page.
const held = document.getElementById("held");
if (held) later(held);

const photo = async (event) => {
  const [field, busy, outcome] = [event.target, document.getElementById("busy"), document.getElementById("outcome")];
  const file = field.files[0];
  if (!file) return;
  const fields = document.querySelectorAll("[data-send]");
  for (const other of fields) other.disabled = true;
  outcome.replaceChildren();
  const begun = Date.now();
  const tick = () => {
    busy.textContent = say(busy, "sending", { n: Math.round((Date.now() - begun) / 1000) });
  };
  tick();
  const clock = setInterval(tick, 1000);
  try {
    const gauge = document.getElementById("gauge");
    const showed = gauge && gauge.value.trim() ? "&gauge=" + encodeURIComponent(gauge.value.trim()) : "";
    const answer = await fetch(field.dataset.send + showed, {
      method: "POST",
      headers: { "Content-Type": file.type || "image/unknown" },
      body: file,
    });
    if (answer.status === 201) {
      // The program's own markup, escaped there; scripts in it would not run.
      outcome.innerHTML = await answer.text();
      later(outcome);
      if (timer && timer.dataset.after === "0" && document.getElementById("entered")) {
        // The camera's own time, where the photo was taken just now.
        const taken = Math.abs(begun - file.lastModified) < 600000 ? file.lastModified : begun;
        localStorage.setItem(timer.dataset.series, taken);
        tell();
      }
    } else {
      const said = document.createElement("p");
      said.className = "banner";
      shown(said, ...(await words(answer)));
      outcome.append(said);
    }
  } catch {
    const said = document.createElement("p");
    said.className = "banner";
    said.textContent = await whyNot(file);
    outcome.append(said);
  }
  clearInterval(clock);
  busy.textContent = "";
  for (const other of fields) other.disabled = false;
  // So that the same file can be chosen again.
  field.value = "";
  outcome.scrollIntoView({ block: "start" });
};

for (const field of document.querySelectorAll("[data-send]")) field.addEventListener("change", photo);

// What was seen and what was done ------------------------------------------------------------------------------------------------

const today = document.querySelector("[data-today]");
if (today && !today.value) {
  const now = new Date();
  const two = (figure) => String(figure).padStart(2, "0");
  today.value = now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
}

// What was left open is not sent.
const answered = (form, button) => {
  const value = {};
  for (const [key, word] of new FormData(form)) if (typeof word === "string" && word.trim()) value[key] = word.trim();
  if (button && button.name) value[button.name] = button.value;
  return value;
};

// Of a repair it is asked only what concerns it: how much of the part is new, and of the lamps that it can have changed when their photos were taken.
const concerned = () => {
  const part = document.querySelector('[name="component"]:checked');
  const lamp = part?.dataset.lamp ?? "";
  const asked = (group, is) => (group.hidden = group.disabled = !is);
  for (const group of document.querySelectorAll("fieldset[data-of-part]")) asked(group, Boolean(part?.value));
  for (const group of document.querySelectorAll("fieldset[data-of-lamp]")) {
    const own = lamp === group.dataset.ofLamp;
    asked(group, own || (!lamp && group.dataset.ownPart === undefined));
  }
};
for (const part of document.querySelectorAll('[name="component"]')) part.addEventListener("change", concerned);
if (document.querySelector("fieldset[data-of-part], fieldset[data-of-lamp]")) concerned();

// What was only proposed goes where somebody ticks something else first; "again after the repair" goes with any of them.
const proposed = [...document.querySelectorAll(".choose [data-proposed]")];
const ticks = [...document.querySelectorAll('.choose [name="check"]')];
const ticked = (event) => {
  for (const tick of ticks) tick.removeEventListener("change", ticked);
  if (proposed.includes(event.target) || event.target.value === "before-after" || !event.target.checked) return;
  const out = proposed.filter((tick) => tick.checked);
  for (const tick of out) tick.checked = false;
  const told = document.getElementById("taken-out");
  const words = out.map((tick) => "\u201c" + tick.closest("label").textContent.trim() + "\u201d");
  if (told && out.length) told.textContent = told.dataset.words.replace("{what}", words.join(", "));
};
for (const tick of ticks) tick.addEventListener("change", ticked);

// Steps and times that were typed stand there again on the next visit, as long as the tab is open.
for (const field of document.querySelectorAll('.choose input[type="text"]')) {
  const key = "choose " + location.pathname + " " + field.closest("form").dataset.state + " " + field.name;
  try {
    field.value = sessionStorage.getItem(key) ?? field.value;
  } catch {
    // A browser that keeps nothing shows what is usual.
  }
  field.addEventListener("change", () => {
    try {
      sessionStorage.setItem(key, field.value);
    } catch {
      // As above.
    }
  });
}

for (const form of document.querySelectorAll("form[data-json]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    // Beside the button where the form has a place for it.
    const said = form.querySelector("[data-said]") ?? document.getElementById("said");
    const [buttons, pressed] = [document.querySelectorAll("form[data-json] button"), event.submitter];
    const name = pressed?.textContent;
    shown(said, "");
    for (const button of buttons) button.disabled = true;
    if (pressed?.dataset.busy) pressed.textContent = pressed.dataset.busy + " …";
    try {
      const answer = await sendSurely(form.dataset.json, answered(form, event.submitter));
      if (answer?.status === 201) {
        location.href = (await answer.json()).go;
        return;
      }
      if (answer) shown(said, ...(await words(answer)));
    } catch {
      shown(said, lost);
    }
    for (const button of buttons) button.disabled = false;
    if (pressed?.dataset.busy) pressed.textContent = name;
    said.scrollIntoView({ block: "center" });
  });
}

// A photo that belongs to an answer is sent at once; the answer names it.
const part = async (event) => {
  const field = event.target;
  const [file, told] = [field.files[0], field.closest(".field").querySelector("[role=status]")];
  if (!file) return;
  shown(told, say(told, "sending"));
  // Until it is there, none is.
  document.getElementById(field.dataset.into).value = "";
  try {
    const answer = await fetch(field.dataset.part, { method: "POST", headers: { "Content-Type": file.type || "image/unknown" }, body: file });
    if (answer.status === 201) {
      document.getElementById(field.dataset.into).value = (await answer.json()).photo;
      shown(told, say(told, "there"));
      return;
    }
    shown(told, ...(await words(answer)));
  } catch {
    shown(told, await whyNot(file));
  }
};

for (const field of document.querySelectorAll("[data-part]")) field.addEventListener("change", part);

// Sheets placed by hand ---------------------------------------------------------------------------------------------------------

const board = document.getElementById("board");

const place = () => {
  const [view, drawn, hint, ready] = ["view", "corners", "hint", "read-so"].map((id) => document.getElementById(id));
  const placed = new Map();
  // Where the cut-off is said to be is one place, and its line runs through it.
  const isLine = board.dataset.one === "line";
  let zoom = 1;
  const chosen = () => isLine ? 0 : Number(document.querySelector('[name="sheet"]:checked').value);
  const corners = () => placed.get(chosen()) || [];

  const show = () => {
    // A page that is not laid out yet, or is left just now, has no width to draw in.
    if (!board.clientWidth) return;
    const [wide, high] = [view.naturalWidth, view.naturalHeight];
    view.style.width = board.clientWidth * zoom + "px";
    drawn.setAttribute("viewBox", "0 0 " + wide + " " + high);
    const space = "http://www.w3.org/2000/svg";
    drawn.replaceChildren();
    if (isLine) {
      for (const [x, y] of corners()) {
        const line = document.createElementNS(space, "polygon");
        line.setAttribute("points", "0," + (y + 0.5) + " " + wide + "," + (y + 0.5));
        const dot = document.createElementNS(space, "circle");
        dot.setAttribute("cx", x + 0.5);
        dot.setAttribute("cy", y + 0.5);
        dot.setAttribute("r", (4 * wide) / (board.clientWidth * zoom));
        drawn.append(line, dot);
      }
      ready.disabled = !corners().length;
      if (corners().length) hint.textContent = say(hint, "line");
      return;
    }
    for (const all of placed.values()) {
      const line = document.createElementNS(space, "polygon");
      line.setAttribute("points", all.map(([x, y]) => x + 0.5 + "," + (y + 0.5)).join(" "));
      drawn.append(line);
      for (const [x, y] of all) {
        const dot = document.createElementNS(space, "circle");
        dot.setAttribute("cx", x + 0.5);
        dot.setAttribute("cy", y + 0.5);
        dot.setAttribute("r", (4 * wide) / (board.clientWidth * zoom));
        drawn.append(dot);
      }
    }
    for (const note of document.querySelectorAll("[data-placed]")) {
      const all = placed.get(Number(note.dataset.placed)) || [];
      note.textContent = all.length ? say(hint, all.length === 4 ? "placedAll" : "placedSome", { n: all.length }) : "";
    }
    hint.textContent = say(hint, "corner-" + corners().length, { n: chosen() });
    const all = [...placed.values()].filter((one) => one.length);
    ready.disabled = !all.length || all.some((one) => one.length < 4);
  };

  const add = (event) => {
    if (isLine) placed.clear();
    if (corners().length === 4) return;
    const box = view.getBoundingClientRect();
    // Whole numbers are the middles of pixels.
    const x = ((event.clientX - box.left) / box.width) * view.naturalWidth - 0.5;
    const y = ((event.clientY - box.top) / box.height) * view.naturalHeight - 0.5;
    placed.set(chosen(), [...corners(), [Math.round(10 * x) / 10, Math.round(10 * y) / 10]]);
    show();
  };
  const nudge = (x, y) => {
    const last = corners().at(-1);
    if (!last) return;
    last[0] += x;
    last[1] += y;
    show();
  };
  const scale = (factor) => {
    const middle = [board.scrollLeft + board.clientWidth / 2, board.scrollTop + board.clientHeight / 2];
    const before = zoom;
    zoom = Math.min(12, Math.max(1, zoom * factor));
    show();
    board.scrollLeft = (middle[0] * zoom) / before - board.clientWidth / 2;
    board.scrollTop = (middle[1] * zoom) / before - board.clientHeight / 2;
  };

  view.addEventListener("load", show);
  // A phone that is turned has another board.
  addEventListener("resize", show);
  view.addEventListener("click", add);
  view.addEventListener("error", () => (hint.textContent = say(hint, "unshown")));
  document.getElementById("sheets")?.addEventListener("change", show);
  for (const button of document.querySelectorAll("[data-zoom]")) button.addEventListener("click", () => scale(Number(button.dataset.zoom)));
  for (const button of document.querySelectorAll("[data-nudge]")) button.addEventListener("click", () => nudge(...button.dataset.nudge.split(" ").map(Number)));
  document.getElementById("away")?.addEventListener("click", () => {
    placed.set(chosen(), corners().slice(0, -1));
    show();
  });
  board.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!step) return;
    event.preventDefault();
    nudge(...step);
  });
  ready.addEventListener("click", async () => {
    const [said, outcome] = [document.getElementById("said"), document.getElementById("outcome")];
    const sheets = [...placed].filter(([, all]) => all.length).map(([id, all]) => ({ id, corners_px: all }));
    ready.disabled = true;
    shown(said, "");
    outcome.replaceChildren();
    try {
      const found = isLine ? { at_px: corners()[0] } : { sheets };
      const answer = await send(board.dataset.to, { photo: board.dataset.photo, ...found });
      // The program's own markup, escaped there; scripts in it would not run.
      if (answer.status === 201) outcome.innerHTML = await answer.text();
      else shown(said, ...(await words(answer)));
    } catch {
      shown(said, lost);
    }
    ready.disabled = false;
    outcome.scrollIntoView({ block: "start" });
  });
  if (view.complete && view.naturalWidth) show();
};

if (board) place();

// A heap of photos: each is sent by itself, so that what has arrived stays when the rest does not. --------------------------------------

const heap = document.getElementById("heap");

// Files that were sent from this page, so that others that lie there from before are not taken for them.
const sentNames = new Set();
// Files that the job has already: the page that follows says as what.
const hadNames = new Set();

// Numbers in runs; a file that somebody copied there under another name is named whole.
const sentQuery = () => {
  const names = [...sentNames].map((path) => path.split("/").at(-1));
  const isNumber = (name) => /^[0-9]+\.[a-z]+$/.test(name);
  const runs = [];
  for (const number of names.filter(isNumber).map((name) => parseInt(name, 10)).sort((a, b) => a - b)) {
    if (runs.length && runs.at(-1)[1] + 1 === number) runs.at(-1)[1] = number;
    else runs.push([number, number]);
  }
  const others = names.filter((name) => !isNumber(name));
  const had = [...hadNames].map((path) => "&had=" + encodeURIComponent(path.split("/").at(-1)));
  return [...runs.map((run) => "&sent=" + run.join("-")), ...others.map((name) => "&take=" + encodeURIComponent(name)), ...had].join("");
};

// What files were called before they were sent, as far as this tab knows: who took them knows them by that.
const namesKept = () => "beamfall names " + location.pathname.split("/")[2];
const namesSent = () => {
  try {
    return JSON.parse(sessionStorage.getItem(namesKept()) || "{}");
  } catch {
    return {};
  }
};
const sentAs = (photo, name) => {
  try {
    sessionStorage.setItem(namesKept(), JSON.stringify({ ...namesSent(), [photo.split("/").at(-1)]: name }));
  } catch {
    // Then they go by their numbers alone.
  }
};
for (const line of document.querySelectorAll("[data-sent-as]")) {
  const name = namesSent()[line.dataset.sentAs];
  if (typeof name === "string") line.textContent = say(line, "words", { name });
}

const sendAll = async (files) => {
  const told = document.getElementById("heap-told");
  const faults = [];
  let sent = 0;
  for (const file of files) {
    told.textContent = say(told, "sending", { n: sent + faults.length + 1, all: files.length });
    try {
      const answer = await fetch(heap.dataset.photos, { method: "POST", headers: { "Content-Type": file.type || "image/unknown" }, body: file });
      // One that the job has already is no fault here.
      if (answer.ok) {
        const { photo } = await answer.json();
        (answer.status === 201 ? sentNames : hadNames).add(photo);
        sentAs(photo, file.name);
        sent += 1;
      } else faults.push([file.name + ": ", ...(await words(answer))]);
    } catch {
      faults.push([file.name + ": ", await whyNot(file), ""]);
    }
  }
  if (!faults.length && sent) {
    location.href = heap.dataset.go + sentQuery();
    return;
  }
  told.textContent = say(told, "arrived", { n: sent, all: files.length });
  for (const [name, why, lang] of faults) {
    const part = document.createElement("span");
    part.textContent = why;
    spoken(part, lang);
    told.append(" " + name, part);
  }
  // What did not arrive keeps nobody from what did.
  const there = sentNames.size + hadNames.size;
  if (!there) return;
  const on = document.createElement("a");
  on.className = "button";
  on.href = heap.dataset.go + sentQuery();
  on.textContent = there === 1 ? say(told, "onOne") : say(told, "on", { n: there });
  told.append(" ", on);
};

if (heap) {
  document.getElementById("many").addEventListener("change", (event) => sendAll([...event.target.files]));
  heap.addEventListener("dragover", (event) => event.preventDefault());
  heap.addEventListener("drop", (event) => {
    event.preventDefault();
    sendAll([...event.dataTransfer.files]);
  });
}

// What takes a while ------------------------------------------------------------------------------------------------------------

// Buttons that come with an answer count too.
document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-post]");
  // What another phone may have entered is not taken out by one tap.
  if (!button || (button.dataset.asks && !confirm(button.dataset.asks))) return;
  const [name, said] = [button.textContent, document.getElementById("said")];
  button.disabled = true;
  button.textContent = button.dataset.busy + " …";
  shown(said, "");
  try {
    const post = (heads) =>
      button.dataset.body
        ? send(button.dataset.post, JSON.parse(button.dataset.body), heads)
        : fetch(button.dataset.post, { method: "POST", headers: heads });
    const answer = await surely(post);
    if (!answer) {
      button.disabled = false;
      button.textContent = name;
      return;
    }
    const isFollowed = answer.headers.get("Content-Type") === "text/event-stream";
    const told = isFollowed
      ? await follow(answer, (step) => (button.textContent = button.dataset.busy + ": " + step))
      : answer.status === 201 && (await answer.json());
    if (told) {
      location.href = told.go;
      return;
    }
    shown(said, ...(await words(answer)));
  } catch (why) {
    shown(said, ...(why instanceof Told ? [why.message, why.lang] : [lost]));
  }
  button.disabled = false;
  button.textContent = name;
});

// A field that stands elsewhere on the page is opened from here.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-press]");
  if (button) document.getElementById(button.dataset.press)?.click();
});

// Readings ----------------------------------------------------------------------------------------------------------------------

const followed = document.getElementById("follow");

const read = async () => {
  const status = followed.querySelector("[role=status]");
  try {
    const answer = await fetch(followed.dataset.follow);
    const told = await follow(answer, (step) => (status.textContent = say(followed, "reading") + step));
    // The program's own markup, escaped there; scripts in it would not run.
    followed.innerHTML = told.html;
  } catch (why) {
    status.textContent = "";
    shown(document.getElementById("said"), ...(why instanceof Told ? [why.message, why.lang] : [lost]));
  }
};

if (followed) read();
