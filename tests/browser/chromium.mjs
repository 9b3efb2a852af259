// A headless chromium, spoken to by its own protocol (chromedevtools.github.io/devtools-protocol); nothing is installed or loaded.
import { spawn } from "node:child_process";

export const sleep = (ms) => new Promise((done) => setTimeout(done, ms));

// What a pattern finds in a text that is still growing.
export const found = async (text, pattern) => {
  for (let n = 0; n < 150; n++) {
    const match = pattern.exec(text());
    if (match) return match[1];
    await sleep(100);
  }
  throw new Error(`nothing like ${pattern} in: ${text()}`);
};

// Starts one with a profile folder of its own.
export const chromium = (profile) => {
  const process = spawn("chromium", [
    ...["--headless", "--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--disable-quic", "--no-first-run"],
    ...["--disable-background-networking", `--user-data-dir=${profile}`, "--remote-debugging-port=0", "about:blank"],
  ]);
  let heard = "";
  process.stderr.on("data", (part) => (heard += part));
  // Gives the way to ask its first page something; what that page says by itself goes to `event`, with the way to answer.
  const connect = async (event = () => {}) => {
    const port = await found(() => heard, /ws:\/\/127\.0\.0\.1:(\d+)\//);
    const pages = await (await fetch(`http://127.0.0.1:${port}/json`)).json();
    const socket = new WebSocket(pages.find((page) => page.type === "page").webSocketDebuggerUrl);
    await new Promise((open) => (socket.onopen = open));
    const waiting = new Map();
    let last = 0;
    const ask = (method, params = {}) =>
      new Promise((done) => {
        waiting.set(++last, done);
        socket.send(JSON.stringify({ id: last, method, params }));
      });
    socket.onmessage = ({ data }) => {
      const message = JSON.parse(data);
      if (message.id) waiting.get(message.id)?.(message.result);
      else event(message, ask);
    };
    return ask;
  };
  return { connect, kill: () => process.kill() };
};
