// How long the page keeps a phone's browser from answering a finger: its long tasks (W3C Long Tasks: 50 ms and more) on the screens of
// the sample job with all its photos, at 390 px, each screen loaded anew and left alone for three seconds; and once more on a processor
// that is made four times as slow. Only the ratio to the bound is a result; milliseconds are the machine's.
//
//   cargo build --release && node --experimental-websocket tests/peers/long_tasks.mjs [target/release/beamfall]
import { spawn } from "node:child_process";
import { cpSync, mkdtempSync, readdirSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium, found, sleep } from "../browser/chromium.mjs";

const BOUND_MS = 100;
const program = process.argv[2] ?? "target/release/beamfall";
const work = mkdtempSync(join(tmpdir(), "beamfall-long-"));
const sample = join(work, "jobs/sample");
cpSync(resolve(dirname(fileURLToPath(import.meta.url)), "../../sample-photos"), sample, { recursive: true });
const environment = { ...process.env, XDG_CACHE_HOME: join(work, "cache") };
const serve = spawn(program, ["serve", "--port", "0", "--no-browser", join(work, "jobs")], { env: environment });
let said = "";
serve.stdout.on("data", (part) => (said += part));
const browser = chromium(join(work, "profile"));

const main = async () => {
  const home = await found(() => said, /(http:\/\/127\.0\.0\.1:\d+)\//);
  const ask = await browser.connect();
  for (const domain of ["Page", "Runtime"]) await ask(`${domain}.enable`);
  const js = async (expression) => (await ask("Runtime.evaluate", { expression, returnByValue: true })).result.value;
  await ask("Emulation.setDeviceMetricsOverride", { width: 390, height: 844, deviceScaleFactor: 1, mobile: true });
  const source = `globalThis.long = [];
    new PerformanceObserver((seen) => seen.getEntries().forEach((one) => long.push(Math.round(one.duration))))
      .observe({ type: "longtask", buffered: true });`;
  await ask("Page.addScriptToEvaluateOnNewDocument", { source });
  await ask("Page.navigate", { url: `${home}/` });
  await sleep(1500);
  const job = await js('document.querySelector("a[href^=\'/job/\']").href');
  console.log(`${readdirSync(join(sample, "photos")).length} photos; longest task of each screen, ms (bound ${BOUND_MS}):`);
  let worst = 0;
  for (const rate of [1, 4]) {
    await ask("Emulation.setCPUThrottlingRate", { rate });
    for (const screen of ["", "/shots?check=positions&lamp=left", "/entries", "/readings", "/fault", "/lamps", "/wall"]) {
      await ask("Page.navigate", { url: job + screen });
      await sleep(rate === 1 && screen === "/readings" ? 15000 : 3000);
      const long = await js("long");
      const most = Math.max(0, ...long);
      if (rate === 1) worst = Math.max(worst, most);
      const of = await js("document.title");
      console.log(`${rate === 1 ? "as it is " : "4 × slow "} ${String(most || "< 50").padStart(5)}  ${long.length} long  ${screen || "/"}  (${of})`);
    }
  }
  console.log(`longest as it is: ${worst || "< 50"} ms, ${worst < BOUND_MS ? "within" : "beyond"} the bound`);
};

main()
  .catch((error) => {
    console.error(error);
    process.exitCode = 1;
  })
  .finally(() => {
    serve.kill();
    browser.kill();
  });
