// The page that `zdatum page` serves, in a real browser: the token, a slider, a dropped log, the history; nothing fetched from elsewhere,
// no error, axe-core without a fault; light and dark, phone and desk.
//
//     node bench.mjs BROWSER ADDRESS LOG MACHINE [FOLDER for screenshots]

import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { basename } from 'node:path';
import puppeteer from 'puppeteer-core';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const [browserPath, address, log, machine, folder] = process.argv.slice(2);
if (!browserPath || !address || !log || !machine) {
  console.error('usage: node bench.mjs BROWSER ADDRESS LOG MACHINE [FOLDER]');
  process.exit(2);
}
const own = new URL(address).origin;
let checks = 0;
const faults = [];
const must = (holds, what) => { checks += 1; if (!holds) faults.push(what); };

const browser = await puppeteer.launch({ executablePath: browserPath, args: ['--no-sandbox', '--disable-gpu'] });
// A page whose own faults are faults of the test, but for the sorts named.
async function open(url, expected = /^$/) {
  const page = await browser.newPage();
  page.on('pageerror', (error) => faults.push(`script: ${error.message}`));
  page.on('console', (message) => {
    if (['error', 'warn'].includes(message.type()) && !expected.test(message.text())) faults.push(`console: ${message.text()}`);
  });
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.origin !== own && url.protocol !== 'data:') faults.push(`fetches ${request.url()}`);
    if (request.url().includes('zdatum-token') || /[0-9a-f]{48}/.test(url.pathname + url.search)) faults.push('the token stands in a request line');
  });
  await page.goto(url);
  return page;
}
const text = (page, id) => page.$eval(`#${id}`, (e) => e.textContent);
const drawn = (page, turns = 1) => page.waitForFunction((turns) => Number(document.getElementById('bench').dataset.turns ?? 0) >= turns, { timeout: 60_000 }, turns);
const turns = (page) => page.$eval('#bench', (e) => Number(e.dataset.turns ?? 0));
async function slide(page, name, value) {
  const before = await turns(page);
  await page.$eval(`input[name="${name}"]`, (input, value) => {
    input.value = value;
    input.dispatchEvent(new Event('input', { bubbles: true }));
  }, value);
  await drawn(page, before + 1);
}
async function drop(page, path, type) {
  const content = await readFile(path, 'utf8');
  await page.evaluate((name, content, type) => {
    const files = new DataTransfer();
    files.items.add(new File([content], name, { type }));
    dispatchEvent(new DragEvent('drop', { dataTransfer: files, bubbles: true, cancelable: true }));
  }, basename(path), content, type);
}
async function shoot(page, name) {
  if (folder) await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
}
async function hears(page, where) {
  await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
  await page.evaluate(axe);
  const result = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  for (const rule of result.violations) {
    faults.push(`${where}: axe: ${rule.id}: ${rule.help}: ${rule.nodes.slice(0, 3).map((node) => node.html.slice(0, 120)).join(' | ')}`);
  }
  must(result.passes.length >= 15, `${where}: axe saw only ${result.passes.length} rules to hold`);
  const wide = await page.evaluate(() => {
    const root = document.documentElement;
    if (root.scrollWidth <= root.clientWidth) return '';
    return [...document.body.querySelectorAll('*')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).slice(0, 3).map((e) => e.outerHTML.slice(0, 80)).join(' | ');
  });
  must(wide === '', `${where}: scrolls sideways: ${wide}`);
  await page.evaluate(() => document.querySelectorAll('.results details').forEach((d) => { d.open = false; }));
}

try {
  // Without the token, and with a wrong one: told so, nothing shown.
  const bare = await open(`${own}/`);
  must((await text(bare, 'trouble')).includes('token'), 'without a token nothing is said');
  must((await text(bare, 'controls')) === '', 'without a token there are settings');
  await bare.close();
  const wrong = await open(`${own}/#${'0'.repeat(48)}`, /403/);
  await wrong.waitForFunction(() => !document.getElementById('trouble').hidden);
  must((await text(wrong, 'trouble')).includes('token'), 'with a wrong token nothing is said');
  await wrong.close();

  const page = await open(address);
  await page.setViewport({ width: 1280, height: 900 });
  await drawn(page);
  must(await page.evaluate(() => location.hash === '' && !location.href.includes('#')), 'the token stays in the address');
  for (const id of ['in-short', 'error', 'budget', 'methods']) {
    must(await page.$eval(`#${id}`, (e) => e.querySelector('section h2') !== null), `nothing in ${id}`);
  }
  const first = { error: await text(page, 'error'), picture: await page.$eval('#error svg.wide', (e) => e.outerHTML), says: await text(page, 'says') };
  await shoot(page, 'bench-light-1280');

  // A slider changes the picture, the budget, the methods, the time, and what is read out; resetting brings it back.
  await slide(page, 'plate', 12);
  must((await page.$eval('#error svg.wide', (e) => e.outerHTML)) !== first.picture, 'the slider does not change the picture');
  must((await text(page, 'says')) !== first.says, 'the slider does not change what is said');
  must((await page.$eval('#set-plate', (e) => e.getAttribute('aria-valuetext'))) === '12 µm', 'the slider does not say its value');
  const before = await text(page, 'says');
  await slide(page, 'touches', 12);
  const seconds = (says) => Number(/takes (\d+) s/.exec(says)[1]);
  must(seconds(await text(page, 'says')) > seconds(before), 'more touches take no longer');
  // What is unfolded stays so.
  await page.$eval('#error details', (e) => { e.open = true; });
  await slide(page, 'within', 10);
  must(await page.$eval('#error details', (e) => e.open), 'what was unfolded is folded up');
  // By keyboard alone.
  await page.focus('#set-speed');
  const speed = await page.$eval('#set-speed', (e) => Number(e.value));
  const turned = await turns(page);
  await page.keyboard.press('ArrowRight');
  await drawn(page, turned + 1);
  must((await page.$eval('#set-speed', (e) => Number(e.value))) > speed, 'the keyboard does not move a slider');
  // A setting that no machine can have: said, and the page goes on.
  const expected = [];
  page.removeAllListeners('console');
  page.on('console', (message) => (message.type() === 'error' ? expected.push(message.text()) : 0));
  const unstudied = (await readFile(machine, 'utf8')).replace(/^\[pooled\]\n(#.*\n)*(.* = \{ s = .*\n)*/m, '');
  const now = await turns(page);
  await page.evaluate((content) => {
    const files = new DataTransfer();
    files.items.add(new File([content], 'unstudied.toml'));
    dispatchEvent(new DragEvent('drop', { dataTransfer: files, bubbles: true, cancelable: true }));
  }, unstudied);
  await drawn(page, now + 1);
  await slide(page, 'touches', 1);
  must(!(await page.$eval('#trouble', (e) => e.hidden)), 'a bad setup is not told');
  must(expected.every((text) => text.includes('400')), `console: ${expected.join(' | ')}`);
  const reset = await turns(page);
  await page.click('button[type=reset]');
  await drawn(page, reset + 1);
  must((await page.$eval('#trouble', (e) => e.hidden)), 'the trouble stays');

  // A dropped log.
  await drop(page, log, 'text/csv');
  await page.waitForFunction(() => document.querySelector('#landing section#touches'));
  must((await text(page, 'landing')).includes('The nozzle meets the plate'), 'no landing of the log');
  must((await text(page, 'says')).includes('cycles'), 'the landing is not said');
  await shoot(page, 'landing-light-1280');
  const other = (await readFile(machine, 'utf8')).replace('trip_depth = 0.482', 'trip_depth = 0.382');
  const landed = await text(page, 'says');
  await page.evaluate((content) => {
    const files = new DataTransfer();
    files.items.add(new File([content], 'other.toml'));
    dispatchEvent(new DragEvent('drop', { dataTransfer: files, bubbles: true, cancelable: true }));
  }, other);
  await page.waitForFunction((landed) => document.getElementById('machine-name').textContent === 'other.toml'
    && /cycles, .*landing/.test(document.getElementById('says').textContent) && document.getElementById('says').textContent !== landed);
  checks += 1;
  // A log that is none: its line is named.
  await page.evaluate(() => {
    const files = new DataTransfer();
    files.items.add(new File(['station,z\ntip,<b>high</b>\n'], '<i>bad</i>.csv'));
    dispatchEvent(new DragEvent('drop', { dataTransfer: files, bubbles: true, cancelable: true }));
  });
  await page.waitForFunction(() => !document.getElementById('trouble').hidden);
  must((await text(page, 'trouble')).includes('line 2'), `the bad line is not named: ${await text(page, 'trouble')}`);
  must(await page.evaluate(() => document.querySelector('#trouble b, #trouble i') === null), 'a file’s text becomes part of the page');

  // The history.
  await page.click('nav button[data-view=history]');
  await page.waitForFunction(() => document.querySelector('#history section'));
  await shoot(page, 'history-light-1280');
  await page.click('#history button[data-entry]');
  await page.waitForFunction(() => document.querySelector('#entry section'));
  must((await text(page, 'entry')).includes('Entry'), 'an entry is not shown');

  // A script or a picture that got in would not run.
  const ran = await page.evaluate(() => new Promise((done) => {
    const script = document.createElement('script');
    script.textContent = 'window.ran = true';
    document.body.append(script);
    setTimeout(() => done(window.ran === true), 50);
  }));
  must(!ran, 'a script without the nonce runs');
  await page.close();

  for (const scheme of ['light', 'dark']) {
    for (const width of [360, 1280]) {
      const where = `${scheme}, ${width} px`;
      const seen = await open(address);
      await seen.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      await seen.setViewport({ width, height: 800 });
      await seen.reload();
      await drawn(seen);
      await slide(seen, 'plate', 8);
      await hears(seen, `bench, ${where}`);
      await shoot(seen, `bench-${scheme}-${width}`);
      await drop(seen, log, 'text/csv');
      await seen.waitForFunction(() => document.querySelector('#landing section#touches'));
      await hears(seen, `landing, ${where}`);
      await shoot(seen, `landing-${scheme}-${width}`);
      await seen.click('nav button[data-view=history]');
      await seen.waitForFunction(() => document.querySelector('#history section'));
      await hears(seen, `history, ${where}`);
      await shoot(seen, `history-${scheme}-${width}`);
      await seen.close();
    }
  }
} finally {
  await browser.close();
}

for (const what of [...new Set(faults)]) console.log(what);
console.log(`the bench: ${checks} checks, ${new Set(faults).size} faults`);
process.exit(faults.length ? 1 : 0);
