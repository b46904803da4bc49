// Runs the axe-core checker on pages in a headless Chromium, on screen in light and in dark, and on
// the width of a phone.
//
//   node axe.mjs CHROMIUM AXE_CORE_JS PAGE...
//
// Prints a line a violation and ends with 1 where there is one. Talks to the browser through
// a pipe; nothing is asked of a network.
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const [chromium, axeFile, ...pages] = process.argv.slice(2);
const axe = readFileSync(axeFile, "utf8");
const profile = mkdtempSync(join(tmpdir(), "axe-"));
const browser = spawn(chromium, [
  "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe",
  `--user-data-dir=${profile}`, "about:blank",
], { stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"] });
const [, , , to, from] = browser.stdio;

let last = 0;
const waiting = new Map();
const loaded = new Map();
// Messages end with a zero byte.
let rest = Buffer.alloc(0);
from.on("data", (part) => {
  rest = Buffer.concat([rest, part]);
  for (let end = rest.indexOf(0); end >= 0; end = rest.indexOf(0)) {
    heard(JSON.parse(rest.subarray(0, end).toString("utf8")));
    rest = rest.subarray(end + 1);
  }
});
const heard = (told) => {
  if (told.id) {
    const { done, fail } = waiting.get(told.id);
    waiting.delete(told.id);
    if (told.error) fail(new Error(told.error.message));
    else done(told.result);
  } else if (told.method === "Page.loadEventFired") loaded.get(told.sessionId)?.();
};
const ask = (method, params = {}, sessionId) => new Promise((done, fail) => {
  last += 1;
  waiting.set(last, { done, fail });
  to.write(JSON.stringify({ id: last, method, params, sessionId }) + "\0");
});

let violations = 0;
const looks = [
  { name: "light", scheme: "light", width: 1200 },
  { name: "dark", scheme: "dark", width: 1200 },
  { name: "phone", scheme: "light", width: 390 },
];
for (const page of pages) {
  const { targetId } = await ask("Target.createTarget", { url: "about:blank" });
  const { sessionId } = await ask("Target.attachToTarget", { targetId, flatten: true });
  const here = (method, params) => ask(method, params, sessionId);
  await here("Page.enable");
  // The pages let no script run; the checker is one.
  await here("Page.setBypassCSP", { enabled: true });
  for (const { name, scheme, width } of looks) {
    await here("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value: scheme }] });
    await here("Emulation.setDeviceMetricsOverride", { width, height: 900, deviceScaleFactor: 1, mobile: false });
    const done = new Promise((ready) => loaded.set(sessionId, ready));
    await here("Page.navigate", { url: pathToFileURL(resolve(page)).href });
    await done;
    await here("Runtime.evaluate", { expression: axe });
    const { result, exceptionDetails } = await here("Runtime.evaluate", {
      expression: `axe.run(document, { resultTypes: ["violations"] }).then((r) => JSON.stringify({
        passes: r.passes.length,
        violations: r.violations.map((v) => ({ id: v.id, help: v.help, nodes: v.nodes.map((n) => n.html.slice(0, 160) + " | " + (n.any[0]?.message ?? "")) })),
      }))`,
      awaitPromise: true,
      returnByValue: true,
    });
    if (exceptionDetails) throw new Error(JSON.stringify(exceptionDetails));
    const found = JSON.parse(result.value);
    for (const v of found.violations) {
      violations += 1;
      console.log(`${page} (${name}): ${v.id}: ${v.help}, ${v.nodes.length} places`);
      for (const node of v.nodes.slice(0, 3)) console.log(`    ${node}`);
    }
    if (found.violations.length === 0) console.log(`${page} (${name}): no violation, ${found.passes} rules passed`);
  }
  await ask("Target.closeTarget", { targetId });
}
const ended = new Promise((gone) => browser.on("exit", gone));
browser.kill();
await ended;
rmSync(profile, { recursive: true, force: true, maxRetries: 5 });
process.exit(violations > 0 ? 1 : 0);
