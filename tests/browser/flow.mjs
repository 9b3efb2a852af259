// The page in a real browser, from an empty folder to the report: what scripts and styles do, which tests/serve.rs does not see.
//
//   cargo build --release && node --experimental-websocket tests/browser/flow.mjs [target/release/beamfall [axe.min.js]]
//
// Needs node 20.10 or later (without the option from 22 on) and `chromium` in the PATH; nothing is installed or loaded. Ends with
// status 1 at the first thing amiss, and leaves pictures of each screen in the folder that it names.
import { spawn, spawnSync } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium, found, sleep } from "./chromium.mjs";

const sample = resolve(dirname(fileURLToPath(import.meta.url)), "../../sample-photos/photos");
const program = process.argv[2] ?? "target/release/beamfall";
const axe = process.argv[3] && readFileSync(process.argv[3], "utf8");
const work = mkdtempSync(join(tmpdir(), "beamfall-browser-"));
const [jobs, pictures] = [join(work, "jobs"), join(work, "pictures")];
mkdirSync(pictures);
const environment = { ...process.env, XDG_CACHE_HOME: join(work, "cache") };
const same = (what, is, wanted) => {
  if (JSON.stringify(is) !== JSON.stringify(wanted)) throw new Error(`${what}: ${JSON.stringify(is)}, not ${JSON.stringify(wanted)}`);
  console.log("ok", what);
};

// The program and the browser -----------------------------------------------------------------------------------------------------

const serve = spawn(program, ["serve", "--port", "0", "--lan", "--address", "127.0.0.2", jobs], { env: environment });
let said = "";
serve.stdout.on("data", (part) => (said += part));
// A second folder, in which taps are counted that do nothing but the work.
const counting = spawn(program, ["serve", "--port", "0", "--no-browser", join(work, "counted")], { env: environment });
let saidThere = "";
counting.stdout.on("data", (part) => (saidThere += part));
const browser = chromium(join(work, "profile"));

const complaints = [];
// What the page asked before it took something out.
const asked = [];
const heardOf = ({ method, params }, send) => {
  if (method === "Page.javascriptDialogOpening") {
    asked.push(params.message);
    send("Page.handleJavaScriptDialog", { accept: true });
  }
  if (method === "Runtime.exceptionThrown") complaints.push(params.exceptionDetails.text + " " + (params.exceptionDetails.exception?.description ?? ""));
  // Answers that refuse something are wanted here; all else that the browser complains of (its policy, above all) is not.
  if (method === "Log.entryAdded" && params.entry.source !== "network") complaints.push(params.entry.text);
};

const main = async () => {
  const home = await found(() => said, /(http:\/\/127\.0\.0\.1:\d+)\//);
  const lan = await found(() => said, /(http:\/\/127\.0\.0\.2:\d+)\//);
  const ask = await browser.connect(heardOf);
  for (const domain of ["Page", "Runtime", "Log", "DOM"]) await ask(`${domain}.enable`);
  // A tap may lead to another page before it is answered.
  const js = async (expression) => (await ask("Runtime.evaluate", { expression, awaitPromise: true, returnByValue: true }))?.result?.value;
  const until = async (expression) => {
    for (let n = 0; n < 600; n++) {
      if (await js(`Boolean(${expression})`)) return;
      await sleep(50);
    }
    throw new Error(`never: ${expression}`);
  };
  const loaded = (path) => until(`document.readyState === "complete" && (location.pathname + location.search).includes(${JSON.stringify(path)})`);
  const go = async (address) => {
    await ask("Page.navigate", { url: address });
    await sleep(200);
    await until('document.readyState === "complete"');
  };
  let screen;
  const size = (width, height) => {
    screen = [width, height];
    return ask("Emulation.setDeviceMetricsOverride", { width, height, deviceScaleFactor: 1, mobile: width < 500 });
  };
  const scheme = (value) =>
    ask("Emulation.setEmulatedMedia", { features: value ? [{ name: "prefers-color-scheme", value }] : [] });
  // A picture to be looked at, of what is on the screen now.
  const capture = async (name) => {
    // Of a page that is being laid out there is none yet.
    let data;
    for (let n = 0; n < 50 && !data; n++) {
      data = (await ask("Page.captureScreenshot", { captureBeyondViewport: true }))?.data;
      if (!data) await sleep(200);
    }
    writeFileSync(join(pictures, `${name}.png`), Buffer.from(data, "base64"));
  };
  const fits = async (name) => {
    same(`${name}: nothing is wider than the screen`, await js("document.documentElement.scrollWidth <= innerWidth"), true);
    const small = `[...document.querySelectorAll("a, button, input:not(.quiet):not([type=radio]):not([type=checkbox]), label.pick")]
      .filter((e) => { const r = e.getBoundingClientRect(); return r.width > 0 && r.height < 44 && !e.closest("details, p.note"); })
      .map((e) => e.outerHTML.slice(0, 60))`;
    same(`${name}: every target is 44 px high`, await js(small), []);
    const apart = `[...document.querySelectorAll(".photo")].map((one) => [...one.children].filter((part) => /^(img|svg)$/i.test(part.tagName)))
      .filter((parts) => new Set(parts.map((part) => Math.round(part.getBoundingClientRect().width))).size > 1).length`;
    same(`${name}: what is drawn over a photo is as wide as the photo`, await js(apart), 0);
  };
  // The screen at its own size is checked; then it is seen as a phone and the shop's computer show it, by day and by night.
  const picture = async (name) => {
    await capture(name);
    await fits(name);
    const own = screen;
    for (const [width, height] of [[390, 844], [1280, 800]]) {
      await size(width, height);
      await fits(`${name}, ${width} px`);
      for (const value of ["light", "dark"]) {
        await scheme(value);
        await capture(`${name}-${width}-${value}`);
      }
    }
    await size(...own);
    // The browser's own door for tools is not bound by the page's policy.
    if (axe) await js(`${axe}; 0`);
    for (const value of axe ? ["light", "dark"] : []) {
      await scheme(value);
      const run = "axe.run().then((r) => r.violations.map((v) => [v.id, v.nodes[0].html.slice(0, 120)]))";
      same(`${name}: axe-core finds nothing, ${value}`, await js(run), []);
    }
    await scheme();
  };
  // What somebody's finger does: fields typed in or chosen, and taps; the camera's own are not counted.
  const counted = { fields: 0, taps: 0 };
  const type = (key, value) =>
    ++counted.fields && js(`(() => {
      const field = document.getElementById(${JSON.stringify(key)});
      if (field.tagName === "DIV") return field.querySelector('input[value="${value}"]').click();
      field.value = ${JSON.stringify(value)};
      field.dispatchEvent(new Event("change", { bubbles: true }));
    })()`);
  const isShown = (key) => js(`!document.getElementById(${JSON.stringify(key)}).closest(".field").hidden`);
  const press = (selector) => ++counted.taps && js(`document.querySelector(${JSON.stringify(selector)}).click()`);
  const photo = async (name) => {
    counted.taps++;
    const { root } = await ask("DOM.getDocument");
    const { nodeId } = await ask("DOM.querySelector", { nodeId: root.nodeId, selector: "#chosen" });
    // Of a photo from just now the page takes the file's own time, as a fresh clone gives it to the sample.
    const file = join(work, `${name}.jpg`);
    copyFileSync(join(sample, `${name}.jpg`), file);
    utimesSync(file, new Date(0), new Date(0));
    await ask("DOM.setFileInputFiles", { nodeId, files: [file] });
    await until('document.getElementById("outcome").children.length > 0 && !document.getElementById("busy").textContent');
  };

  // The form.
  await size(360, 780);
  await go(`${home}/new`);
  same("needless questions are hidden", [await isShown("bay.grade_percent"), await isShown("sheet7.x_mm"), await isShown("sheet6.x_mm")], [false, false, true]);
  await type("bay.heights_from", "level-line");
  same("and come when they are needed", await isShown("bay.grade_percent"), true);
  await type("bay.heights_from", "floor");
  await type("sheet1.x_mm", "-1 500");
  await until('!document.getElementById("sheet1.x_mm-fault").hidden');
  // As one types on, before the field is left.
  const typeOn = (key, value) => js(`(() => {
    const field = document.getElementById(${JSON.stringify(key)});
    field.value = ${JSON.stringify(value)};
    field.dispatchEvent(new Event("input", { bubbles: true }));
  })()`);
  // A sheet is called by the number that is typed, at once, and of those that are not asked for no heading stands.
  await typeOn("sheet1.id", "11");
  const calledNow = `(() => {
    const [number, box] = ["span.number", "div.sheet"].map((part) => document.querySelector(part + '[data-number="sheet1.id"]'));
    return [number.textContent, box.getAttribute("aria-label"), document.getElementById("sheet1.x_mm-fault").dataset.sheet];
  })()`;
  same("a sheet is called by its number", await js(calledNow), ["11", "Sheet 11", "Sheet 11, x"]);
  await typeOn("sheet1.id", "1");
  same("six sheets have six headings", await js('[...document.querySelectorAll(".of-sheet")].filter((part) => !part.hidden).length'), 6);
  // What a length with its own unit is taken for stands beside it, and goes with it.
  await typeOn("sheet1.x_mm", "-59 in");
  await until('document.getElementById("sheet1.x_mm-took").textContent === "= -1498.6 mm"');
  same("and is seen", await js('document.getElementById("sheet1.x_mm-took").getBoundingClientRect().height > 0'), true);
  await picture("form-in-inches");
  await typeOn("sheet1.x_mm", "1450");
  await until('document.getElementById("sheet1.x_mm-took").hidden');
  await until('document.getElementById("sheet1.x_mm-fault").hidden');
  // A minus that is missing shows with the height of the second sheet, and is marked at the sheet that is drawn on the other side.
  await type("sheet1.y_mm", "212");
  await type("sheet4.x_mm", "1450");
  await type("sheet4.y_mm", "215");
  await until('document.getElementById("sheet1.x_mm").getAttribute("aria-invalid") === "true"');
  same("the height is not marked", await js('document.getElementById("sheet4.y_mm").hasAttribute("aria-invalid")'), false);
  await typeOn("sheet1.x_mm", "-1450");
  await until('!document.getElementById("sheet1.x_mm").hasAttribute("aria-invalid")');
  await ask("Page.reload");
  await sleep(300);
  await until('document.readyState === "complete" && document.getElementById("sheet4.y_mm").value === "215"');
  same("what was typed is there after a reload", await js('document.getElementById("sheet1.x_mm").value'), "-1450");
  for (const key of ["sheet1.x_mm", "sheet1.y_mm", "sheet4.x_mm", "sheet4.y_mm"]) await type(key, "");
  await type("sheet1.x_mm", "-1 500");
  counted.fields -= 8;
  await until('!document.getElementById("sheet1.x_mm-fault").hidden');
  await press("#new button");
  await until('!document.getElementById("said").hidden');
  same("the first fault has the focus, from above", await js("document.activeElement.name"), "sheet5.x_mm");
  await picture("form");
  const wrongAtFirst = await js('parseInt(document.getElementById("said").textContent, 10)');
  same("their number is told", wrongAtFirst > 8, true);
  same("what is rarely wanted is folded away", await js(`[...document.querySelectorAll("details")].every((part) => !part.open)`), true);
  const places = [[-1500, 212], [-600, 205], [550, 208], [1450, 215], [-1500, 1120], [540, 1130]];
  for (const [n, [x, y]] of places.entries()) {
    await type(`sheet${n + 1}.x_mm`, `${x}`);
    await type(`sheet${n + 1}.y_mm`, `${y}`);
  }
  // Each is drawn where it hangs, once all places are typed.
  const at = (n) => js(`(() => { const { style } = document.getElementById("sheet${n}.x_mm").closest(".sheet"); return [style.gridRowStart, style.gridColumnStart]; })()`);
  await until('document.getElementById("sheet6.x_mm").closest(".sheet").style.gridColumnStart === "3"');
  same("sheets are drawn where they hang", [await at(5), await at(6), await at(1), await at(4)], [["1", "1"], ["1", "3"], ["2", "1"], ["2", "4"]]);
  await type("sheet5.x_mm", "1500");
  await until('document.getElementById("sheet5.x_mm").closest(".sheet").style.gridColumnStart === "4"');
  await type("sheet5.x_mm", "-1500");
  counted.fields -= 2;
  await until('document.getElementById("sheet5.x_mm").closest(".sheet").style.gridColumnStart === "1"');
  // Their number goes down as they are mended.
  await until(`parseInt(document.getElementById("said").textContent, 10) === ${wrongAtFirst - 12}`);
  const car = { "job.job": "Browser", "job.traffic": "right", "job.tolerance": "un-r48", "left.centre_height_mm": "652",
    "left.centre_x_mm": "-560", "left.distance_mm": "10 m", "right.centre_height_mm": "655", "right.centre_x_mm": "565",
    "right.distance_mm": "10000" };
  for (const [key, value] of Object.entries(car)) await type(key, value);
  await sleep(500);
  same("no fault is left", await js('[...document.querySelectorAll(".fault")].filter((line) => !line.hidden).length'), 0);
  console.log("the form of a new wall and car:", JSON.stringify(counted));
  await press("#new button");
  await loaded("/job/");
  same("and not kept once the job is made", await js('sessionStorage.getItem("beamfall form /new")'), null);
  const job = home + (await js("location.pathname"));
  await picture("job");

  // The photos, by the page's own buttons; reloaded half-way.
  await press("form .big");
  await loaded("/shots");
  await picture("list");
  await press("a.big");
  await loaded("/shot?");
  for (let n = 0; n < 4; n++) {
    await photo(`left-before-${n}`);
    await until('document.querySelector("#outcome svg, #outcome img") !== null');
    same(`photo ${n} is entered`, await js('document.getElementById("entered") !== null'), true);
    if (n === 0) {
      await until('document.getElementById("outcome").textContent.includes("The wall in this photo")');
      same("the first photo says that all sheets are seen", await js('document.getElementById("outcome").textContent.includes("All sheets are seen")'), true);
    }
    await picture(`photo-${n}`);
    if (n === 1) {
      await ask("Page.reload");
      await sleep(300);
      await until('document.body.textContent.includes("The job has a photo of this")');
      same("and what to do where something was mended since", await js('document.body.textContent.includes("Was the lamp set, or anything else mended, since?")'), true);
      await picture("photo-held");
    } else if (n < 3) {
      await press("#outcome a.big");
    }
    if (n === 1) await js('[...document.querySelectorAll("a.button")].pop().click()');
    if (n < 3) await loaded(`n=${n + 2}`);
  }
  await go(`${job}/shot?check=positions&lamp=left&n=4`);
  await photo("left-after-1-first-try");
  same("a refused photo is not entered", await js('document.getElementById("entered") === null'), true);
  await picture("refused");

  // Sheets placed by a finger on the refused photo: what it needs is less light, so that it stays refused.
  await size(390, 844);
  await go(`${job}/place?check=positions&lamp=left&n=4&photo=photos/0005.jpg`);
  await until('document.getElementById("view").naturalWidth > 0');
  await press('[data-zoom="1.5"]');
  const tap = async (x, y) => {
    const at = await js(`(() => { const box = document.getElementById("board").getBoundingClientRect();
      return [box.left + ${x} * box.width, box.top + ${y} * box.height]; })()`);
    await ask("Input.dispatchTouchEvent", { type: "touchStart", touchPoints: [{ x: at[0], y: at[1] }] });
    await ask("Input.dispatchTouchEvent", { type: "touchEnd", touchPoints: [] });
    await sleep(400);
  };
  await js('document.getElementById("board").scrollIntoView({ block: "center" })');
  await ask("Emulation.setTouchEmulationEnabled", { enabled: true });
  for (const [x, y] of [[0.3, 0.3], [0.4, 0.3], [0.4, 0.5], [0.3, 0.5]]) await tap(x, y);
  await until('document.getElementById("hint").textContent.includes("placed")');
  const corner = () => js('document.querySelector("#corners polygon").getAttribute("points").split(" ")[3]');
  const before = (await corner()).split(",").map(Number);
  await js('document.getElementById("board").focus()');
  await ask("Input.dispatchKeyEvent", { type: "keyDown", key: "ArrowRight", windowsVirtualKeyCode: 39 });
  same("a key moves the last corner by a pixel", (await corner()).split(",").map(Number), [before[0] + 1, before[1]]);
  await picture("by-hand");
  await ask("Emulation.setTouchEmulationEnabled", { enabled: false });
  await press("#read-so");
  await until('document.querySelector("#outcome .banner, #said:not([hidden])")');
  await size(360, 780);

  // The cut-off of a photo pointed at by a finger and moved by a key.
  await size(390, 844);
  await go(`${job}/look?check=positions&lamp=left&n=1&photo=photos/0001.jpg`);
  await until('document.getElementById("view").naturalWidth > 0');
  await js('document.getElementById("board").scrollIntoView({ block: "center" })');
  await ask("Emulation.setTouchEmulationEnabled", { enabled: true });
  await tap(0.4, 0.55);
  await until('!document.getElementById("read-so").disabled');
  const line = () => js('Number(document.querySelector("#corners circle").getAttribute("cy"))');
  const lineBefore = await line();
  await js('document.getElementById("board").focus()');
  await ask("Input.dispatchKeyEvent", { type: "keyDown", key: "ArrowDown", windowsVirtualKeyCode: 40 });
  same("a key moves the line by a pixel", await line(), lineBefore + 1);
  await picture("look");
  await ask("Emulation.setTouchEmulationEnabled", { enabled: false });
  await press("#read-so");
  await until('document.querySelector("#outcome .banner, #outcome #entered, #said:not([hidden])")');
  await picture("looked");
  await size(360, 780);

  // A photo of the wall alone; and the figures of wall and lamps, one changed and changed back.
  await go(`${job}/wall`);
  await photo("right-before-0");
  await until('document.getElementById("outcome").textContent.includes("The wall in this photo")');
  await picture("wall-check");
  await go(`${job}/lamps`);
  await picture("lamps");
  await go(`${home}/wall`);
  await picture("wall");
  // A figure with its unit is seen whole on a phone.
  const screenBefore = screen;
  await size(390, 844);
  await type("sheet2.x_mm", "-57.09 in");
  same("a figure in inches fits its sheet", await js('(({ scrollWidth, clientWidth }) => scrollWidth <= clientWidth)(document.getElementById("sheet2.x_mm"))'), true);
  await size(...screenBefore);
  await type("sheet2.x_mm", "-600 5");
  await press("#new button");
  // The fault may be told before the button is free again: it is checked as one types, too.
  await until('!document.getElementById("sheet2.x_mm-fault").hidden && !document.querySelector("#new button").disabled && !document.getElementById("said").hidden');
  await type("sheet2.x_mm", "-605");
  await press("#new button");
  await until('document.querySelector("h1").textContent === "Jobs" && document.querySelector(".last")');
  await picture("changed");
  await press(".last button");
  await until('document.body.textContent.includes("Taken back, of the wall ")');
  await go(`${home}/new-wall?from=${job.split("/").pop()}`);
  await picture("another-wall");
  await go(`${home}/new?wall=new`);
  await picture("new-job-another-wall");
  await go(`${home}/wall`);
  same("the figure is the old one again", await js('document.getElementById("sheet2.x_mm").value'), "-600");

  // A leak-down's clock.
  await go(`${job}/shot?check=leak-down&lamp=left&minutes=1&every=30&n=1`);
  await type("gauge", "180 mbar");
  await photo("left-hold-1");
  await press("#outcome a.big");
  await loaded("n=2");
  await until('document.getElementById("clock").textContent.startsWith("This photo in 0:")');
  console.log("ok the clock runs");

  // A figure of the gauge is said anew, and a step that cannot be is told at its field.
  await go(`${job}/entries`);
  await press('a[href*="/gauge?"]');
  await loaded("/gauge?");
  await picture("gauge");
  await type("vacuum", "180");
  await press("form[data-json] .big");
  await until('document.getElementById("said").textContent.includes("unit")');
  await go(`${job}/shots?check=vacuum&lamp=left&vacuum=0`);
  same("what is wrong is told at its field", await js('document.getElementById(document.getElementById("vacuum").getAttribute("aria-describedby")).textContent.includes("lamp at rest")'), true);
  await picture("step-amiss");

  // Which part is at fault, answered until there is nothing more to ask; what was answered wrongly is taken out again.
  await go(`${job}/fault`);
  await picture("system");
  await press('input[value="vacuum-cabin-control"]');
  await press("form[data-json] .big");
  await until('document.querySelector(".answers")');
  await picture("fault");
  await js('document.querySelectorAll("details").forEach((part) => (part.open = true))');
  await go(`${job}/test?n=0`);
  await js('document.querySelectorAll("details").forEach((part) => (part.open = true))');
  same("photos for a test are taken or chosen by a finger", await js(`[...document.querySelectorAll('[data-part]')].map((e) => document.querySelector('label[for="' + e.id + '"]').getBoundingClientRect().height >= 44)`), [true, true, true, true]);
  await press("form:not(.answers) button[data-busy]");
  await until('document.querySelector("[data-said]").textContent === "Both photos are missing."');
  same("and the button says what it does again", await js('document.querySelector("form:not(.answers) button[data-busy]").textContent'), "Let them decide");
  await picture("test-by-photos");
  await go(`${job}/fault`);
  await js('document.querySelectorAll("details").forEach((part) => (part.open = true))');
  await press('a[href="#answers"]');
  await sleep(100);
  same("and the answers are one tap away", await js('document.getElementById("answers").getBoundingClientRect().top < innerHeight'), true);
  const about = (id) => js(`document.querySelector('.answers [name="test"]').value.includes("${id}")`);
  await press('.answers [value="not-done"]');
  await sleep(300);
  await until('document.readyState === "complete" && document.querySelector(".answers")');
  for (let n = 0; n < 9 && (await js('document.querySelector(".answers") !== null')); n++) {
    // A car whose control lets nothing through.
    const works = (await about("pump")) || (await about("bridge")) || (await about("gauge-at-control")) || (await about("reflector"));
    const before = await js("document.body.textContent.length");
    if (await js(`document.querySelector('.answers [name="gauge"]') !== null`)) {
      await press(`.answers [value="${works ? "yes" : "no"}"]`);
      await sleep(300);
      same("a beam under the pump is not answered before its gauge", await js("document.body.textContent.length"), before);
      await press(`.answers [name="gauge"][value="${works ? "rises-and-holds" : "will-not-rise"}"]`);
    }
    await press(`.answers [value="${works ? "yes" : "no"}"]`);
    await sleep(300);
    await until(`document.readyState === "complete" && document.body.textContent.length !== ${before}`);
  }
  same("the control is suspected first", await js('document.querySelector(".suspects, .isolate").textContent.includes("control")'), true);
  await picture("found");
  await press('a.big[href$="/repair"]');
  await loaded("/repair");
  same("the day is filled in", await js('/^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(document.getElementById("date").value)'), true);
  same("the suspect is chosen", await js(`document.querySelector('[name="component"]:checked').value`), "control");
  await press('[name="extent"][value="all"]');
  await type("words", "replaced");
  await picture("repair");
  await press("form[data-json] .big");
  await until('document.readyState === "complete" && location.pathname.split("/").length === 3');
  await go(`${job}/entries`);
  await picture("entries");
  const held = await js('document.querySelectorAll(".entry").length');
  await press(`[data-body*="trial"]`);
  await until(`document.querySelectorAll(".entry").length === ${held - 1}`);
  same("a test is taken out once that was asked, by its words", asked.filter((words) => words.startsWith("Take out of the job: ") && !words.includes("-at-")).length, 1);
  await ask("Page.reload");
  await sleep(300);
  await until('document.querySelector(".last button")');
  await press(".last button");
  await until('location.pathname.split("/").length === 3 && document.readyState === "complete"');
  await picture("job-later");
  await go(`${job}/entries`);
  same("and brought back, after a reload too", await js('document.querySelectorAll(".entry").length'), held);
  await press(`[data-body*="trial"]`);
  await until(`document.querySelectorAll(".entry").length === ${held - 1}`);

  // A heap of photos from after the repair, chosen at once and in no order.
  await go(`${job}/shots?check=positions&lamp=left&stage=after`);
  await press("details summary");
  await picture("heap-to-come");
  const { root } = await ask("DOM.getDocument");
  const { nodeId } = await ask("DOM.querySelector", { nodeId: root.nodeId, selector: "#many" });
  // One of two is gone before its turn comes, as where a card is pulled: the program is not blamed, and the other is gone on with.
  const gone = join(work, "gone.jpg");
  copyFileSync(join(sample, "left-after-2.jpg"), gone);
  await js(`(() => {
    const fetched = window.fetch;
    const free = new Promise((go) => (window.letGo = go));
    window.fetch = async (...what) => { await free; return fetched(...what); };
  })()`);
  await ask("DOM.setFileInputFiles", { nodeId, files: [join(sample, "left-after-3.jpg"), gone] });
  rmSync(gone);
  await js("window.letGo(), 0");
  await until('document.querySelector("#heap-told a")');
  same("a file that is gone is told", await js('document.getElementById("heap-told").textContent.includes("This file could not be read") && !document.getElementById("heap-told").textContent.includes("does not answer")'), true);
  same("and the way on", await js('document.querySelector("#heap-told a").textContent + document.querySelector("#heap-told a").search.includes("sent=")'), "Go on with the one that arrivedtrue");
  await picture("heap-one-gone");
  await ask("DOM.setFileInputFiles", { nodeId, files: [..."3012"].map((n) => join(sample, `left-after-${n}.jpg`)).concat(join(sample, "left-before-0.jpg")) });
  await loaded("/heap?");
  await until('document.readyState === "complete" && document.querySelectorAll(".entry").length > 0');
  await picture("heap");
  same("photos are named as they were sent, too", await js('[...document.querySelectorAll("[data-sent-as]")].some((line) => line.textContent === ", sent as left-after-0.jpg")'), true);
  same("what the job has already is told", await js('document.querySelector(".banner").textContent.startsWith("One of the photos sent is in the job already")'), true);
  // The refused photo from before lies there too, folded away and marked.
  same("and marked", await js('document.querySelector("details:not([open]) .entry").textContent.includes("no figure")'), true);
  same("only what was sent now is proposed", await js('document.querySelectorAll(".entry [name=skip]").length'), 4);
  same("what was refused before stays out", await js(`document.querySelectorAll('details:not([open]) a[href*="take="]').length`), 1);
  await ask("Page.reload");
  await sleep(300);
  await until('document.readyState === "complete" && document.querySelector("[data-post]")');
  same("told after a reload, too", await js('document.body.textContent.includes("in the job already: ")'), true);
  same("after a reload, too", await js('document.querySelectorAll(".entry [name=skip]").length'), 4);
  // Of a photo that is much darker than the others it is asked first; here the question alone is put in the program's place.
  await js(`(() => {
    const fetched = window.fetch;
    window.fetch = () => {
      window.fetch = (path, what) => { document.cookie = "sure=" + what.headers["Beamfall-Sure"]; return fetched(path, what); };
      return Promise.resolve(new Response('{"asks":"Is it dark?"}', { status: 409, headers: { "Content-Type": "application/json" } }));
    };
  })()`);
  await press("[data-post]");
  await loaded("/readings");
  same("a doubt is asked, and entered where it is meant", [asked.includes("Is it dark?"), await js('document.cookie.includes("sure=yes")')], [true, true]);

  // Readings and the report, which is that of the command.
  await until('document.querySelector("#follow [data-post]")');
  await picture("readings");
  await press("[data-post]");
  await loaded("/report");
  // A browser that keeps files instead of showing them gets the report as one.
  const keptIn = join(work, "kept");
  await ask("Browser.setDownloadBehavior", { behavior: "allow", downloadPath: keptIn });
  await press('#back-to-job a[href$="/report.pdf"]');
  for (let n = 0; n < 100 && !existsSync(join(keptIn, "report.pdf")); n++) await sleep(100);
  same("the report is had as PDF", existsSync(join(keptIn, "report.pdf")), true);
  same("the report leads back to the job", await js('document.querySelector("#back-to-job a").getAttribute("href")'), new URL(job).pathname);
  await press("#back-to-job a");
  await until('location.pathname.split("/").length === 3 && document.readyState === "complete"');
  const folder = join(jobs, "job-Browser");
  const measured = JSON.parse(spawnSync(program, ["measure", "--json", folder], { env: environment }).stdout);
  const results = JSON.parse(readFileSync(join(folder, "beamfall-report/results.json")));
  same("readings are those of the command", results.shots, measured.shots);
  same("and all are there", measured.shots.length, 9);
  // A photo that gives no figure is not entered with a heap either, and its mends stand beside it.
  await go(`${job}/heap?check=positions&lamp=left&stage=after&positions=0%2C1%2C2%2C3%2C4`);
  await press('a[href*="take="]');
  await loaded("take=");
  await until('document.querySelector("button.big[data-post]")');
  await press("button.big[data-post]");
  await until('document.readyState === "complete" && document.body.textContent.includes("gave no figure and is not entered")');
  same("nothing is left to be entered", await js('document.querySelector("button.big[data-post]")'), null);
  await picture("heap-without-figure");
  console.log("the whole way:", JSON.stringify(counted));

  // Taps and typed fields of the work alone: the wall with an aim check of both lamps, and a job before and after a repair.
  const there = await found(() => saidThere, /(http:\/\/127\.0\.0\.1:\d+)\//);
  const fill = async (answers) => {
    for (const [key, value] of Object.entries(answers)) await type(key, value);
    await sleep(500);
    await press("#new button");
    await until('location.pathname.startsWith("/job/")');
    await until('document.readyState === "complete"');
  };
  const take = async (names) => {
    await press("a.big");
    for (const [n, name] of names.entries()) {
      await loaded(`n=${n + 1}`);
      await photo(name);
      await until('document.querySelector("#outcome a.big")');
      await press("#outcome a.big");
    }
    await until('document.querySelector("#follow [data-post]")');
  };
  const report = async () => {
    await press("#follow [data-post].big");
    await loaded("/report");
  };
  const wall = Object.fromEntries(places.flatMap(([x, y], n) => [[`sheet${n + 1}.x_mm`, `${x}`], [`sheet${n + 1}.y_mm`, `${y}`]]));
  const tell = (what) => {
    console.log(`${what}: ${counted.fields} fields, ${counted.taps} taps`);
    Object.assign(counted, { fields: 0, taps: 0 });
  };
  Object.assign(counted, { fields: 0, taps: 0 });
  await go(`${there}/new`);
  for (const [key, value] of Object.entries(wall)) await type(key, value);
  tell("the wall, once");
  await fill(car);
  await press('[name="check"][value="aim"]');
  same("what was only proposed goes where something else is ticked", await js('[...document.querySelectorAll(\'[name="check"]:checked\')].map((one) => one.value)'), ["aim"]);
  await js('(() => { const field = document.getElementById("every"); field.value = "45"; field.dispatchEvent(new Event("change")); })()');
  await js("location.reload()");
  await sleep(300);
  await until('document.readyState === "complete" && document.getElementById("every")');
  same("a time between photos that was typed stands there after a reload", await js('document.getElementById("every").value'), "45");
  await js(`document.querySelectorAll('[name="check"]').forEach((one) => (one.checked = one.value === "aim"))`);
  await press("form.choose .big");
  await loaded("/shots");
  await take(["left-before-0", "right-before-0"]);
  await report();
  tell("an aim check of both lamps, from the car to the report");
  // The same lamp once more, after it was set: the two contradict each other, and the repair between them is a tap away.
  const aimed = await js('location.pathname.split("/").slice(0, 3).join("/")');
  await go(`${there}${aimed}/shot?check=aim&n=1`);
  await photo("left-after-3");
  await until('document.getElementById("contradicted")');
  same("a photo that another contradicts leads to the repair", await js(`document.querySelector('#outcome a[href$="/repair?set=left"]') !== null`), true);
  await picture("contradicted");
  await press('#outcome a[href$="/repair?set=left"]');
  await loaded("/repair?set=left");
  same("its words are proposed", await js('document.getElementById("words").value'), "left lamp set by its adjusters");
  await picture("repair-of-the-aim");
  await press("form[data-json] .big");
  await until(`document.querySelector('a.big[href*="check=aim"][href*="stage=after"]')`);
  Object.assign(counted, { fields: 0, taps: 0 });
  await go(`${there}/new`);
  await fill({ ...car, "job.job": "Repaired", "job.lamps": "left", "right.centre_height_mm": "", "right.centre_x_mm": "", "right.distance_mm": "" });
  counted.fields -= 3;
  await press("form.choose .big");
  await loaded("/shots");
  await take([0, 1, 2, 3].map((n) => `left-before-${n}`));
  await press(".back");
  await until('document.querySelector(\'a[href$="/repair"]\')');
  await press('a[href$="/repair"]');
  await loaded("/repair");
  await type("words", "replaced");
  await press("form[data-json] .big");
  await until('document.querySelector(\'a.big[href*="stage=after"]\')');
  await picture("after-a-repair");
  await press('a.big[href*="stage=after"]');
  await loaded("/shots");
  await take([0, 1, 2, 3].map((n) => `left-after-${n}`));
  await report();
  tell("before and after a repair of one lamp, from the car to the report");

  // What was there stays where the program does not answer, and goes on when it does.
  await go(`${job}/repair`);
  await press('[name="component"][value=""]');
  same("how much of it is new is asked of a part alone", await js('document.querySelector("fieldset[data-of-part]").hidden'), true);
  await press('[name="component"][value="right-line"]');
  same("and the other lamp's photos are not asked about", await js('document.querySelector(`fieldset[data-of-lamp="left"]`).hidden'), true);
  await press('[name="component"][value="left-line"]');
  await press('[name="extent"][value="piece"]');
  await press('[name="left_photos"][value="after"]');
  await picture("another-repair");
  await type("words", "hose pushed on");
  await ask("Network.enable");
  await ask("Network.emulateNetworkConditions", { offline: true, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await press("form[data-json] .big");
  await until('!document.getElementById("said").hidden');
  same("offline is said, and what was typed stays", await js('document.getElementById("words").value'), "hose pushed on");
  await picture("offline");
  await ask("Network.emulateNetworkConditions", { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
  await press("form[data-json] .big");
  await until('document.readyState === "complete" && location.pathname.split("/").length === 3');

  // In German, by the link in the footer, which leads to the same page; what the script says is German too. And back.
  await size(360, 800);
  await go(`${job}/shots?check=positions&lamp=left`);
  const asItWas = await js("location.pathname + location.search");
  await press('footer [hreflang="de"]');
  await until('document.readyState === "complete" && document.documentElement.lang === "de"');
  same("the other language is had on the same page", await js("location.pathname + location.search"), asItWas);
  const screens = { jobs: `${home}/`, new: `${home}/new`, wall: `${home}/wall`, job, list: job + "/shots?check=positions&lamp=left", lamps: `${job}/lamps`,
    pump: `${job}/shot?check=vacuum&lamp=left&n=1`, place: `${job}/place?check=positions&lamp=left&n=4&photo=photos/0005.jpg`, look: `${job}/look?photo=photos/0001.jpg`,
    fault: `${job}/fault`, test: `${job}/test?n=0`, repair: `${job}/repair`, entries: `${job}/entries`, phones: `${home}/phones` };
  for (const [name, address] of Object.entries(screens)) {
    await go(address);
    for (const [width, height] of [[360, 800], [1280, 800]]) {
      await size(width, height);
      await picture(`german-${name}-${width}`);
    }
  }
  await size(360, 800);
  await go(`${job}/shot?check=positions&lamp=left&stage=after&n=4`);
  await photo("left-after-1-first-try");
  same("a refusal is German", await js('document.getElementById("outcome").textContent.includes("Es liefert keinen Wert")'), true);
  await picture("german-refused");
  await go(`${job}/shot?check=leak-down&lamp=left&minutes=1&every=30&n=2`);
  await until('/^(Dieses Foto in|Jetzt|.* zu spät)/.test(document.getElementById("clock").textContent)');
  await go(`${job}/readings`);
  await until('document.querySelector("#follow [data-post]")');
  await picture("german-readings");
  await go(`${home}/new`);
  await type("sheet1.x_mm", "-1500,5");
  await type("sheet1.y_mm", "21 2");
  await until('document.getElementById("job.job") && true');
  await press("#new button");
  await until('document.getElementById("said").textContent.endsWith("gekennzeichnet.")');
  await picture("german-slips");
  await press('footer [hreflang="en"]');
  await until('document.readyState === "complete" && document.documentElement.lang === "en"');

  // A phone, and the dark.
  await scheme("dark");
  await size(1280, 900);
  await go(`${home}/phones`);
  await picture("phones");
  const code = await js('document.querySelector(".code").textContent');
  await size(390, 844);
  await go(`${lan}/`);
  await picture("pairing");
  await go("about:blank");
  await go(`${lan}/#${code}`);
  await until('document.querySelector("h1").textContent === "Jobs"');
  same("the code is gone from the address", await js("location.href"), `${lan}/`);
  await picture("jobs");
  same("the browser complains of nothing", complaints, []);
};

let status = 0;
await main().catch((error) => {
  console.error("amiss:", error.message, complaints);
  status = 1;
});
serve.kill();
counting.kill();
browser.kill();
await sleep(500);
rmSync(join(work, "profile"), { recursive: true, force: true, maxRetries: 5 });
console.log(`pictures: ${pictures}`);
process.exit(status);
