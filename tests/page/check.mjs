// Opens reports in a real browser: each section is there and visible, nothing is fetched, no error is thrown, no label covers another
// or leaves its picture, nothing scrolls sideways, and axe-core finds no fault; light and dark, phone and desk, screen and paper.
//
//     node check.mjs BROWSER FILE=section,section,… …

import { readFile } from 'node:fs/promises';
import { pathToFileURL } from 'node:url';
import { createRequire } from 'node:module';
import puppeteer from 'puppeteer-core';

const axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const [browserPath, ...reports] = process.argv.slice(2);
if (!browserPath || reports.length === 0) {
  console.error('usage: node check.mjs BROWSER FILE=section,section,… …');
  process.exit(2);
}

const WIDTHS = [320, 360, 752, 1280];
const SCHEMES = ['light', 'dark'];
let checks = 0;
const faults = [];

// What is wrong with the page as it is shown now. Runs in the page.
function look(expected) {
  const found = [];
  const shown = (element) => element.getClientRects().length > 0 && element.getBoundingClientRect().height > 0;
  if (document.documentElement.scrollWidth > document.documentElement.clientWidth) {
    const wide = [...document.body.querySelectorAll('*')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1);
    found.push(`scrolls sideways: ${wide.slice(0, 3).map((e) => e.outerHTML.slice(0, 80)).join(' | ')}`);
  }
  for (const id of expected) {
    const section = document.getElementById(id);
    if (!section || !shown(section) || !section.querySelector('h2')?.textContent.trim()) found.push(`no section ${id}`);
  }
  const ids = [...document.querySelectorAll('main > section')].map((section) => section.id);
  if (ids.join() !== expected.join()) found.push(`sections are ${ids.join()}`);
  for (const figure of document.querySelectorAll('figure')) {
    const pictures = [...figure.querySelectorAll('svg')].filter(shown);
    if (pictures.length !== 1) found.push(`a figure shows ${pictures.length} pictures`);
    const numbers = figure.nextElementSibling;
    if (numbers?.tagName !== 'DETAILS' || numbers.querySelectorAll('tbody tr').length === 0) found.push('a figure without its numbers');
    if (!figure.querySelector('figcaption')?.textContent.trim()) found.push('a figure without a caption');
    for (const picture of pictures) {
      const edge = picture.getBoundingClientRect();
      const name = picture.getAttribute('aria-label')?.slice(0, 50);
      if (!name) found.push('a picture without a name');
      const texts = [...picture.querySelectorAll('text')].map((text) => [text.textContent, text.getBoundingClientRect()]);
      for (const [text, box] of texts) {
        if (box.left < edge.left - 1 || box.right > edge.right + 1 || box.top < edge.top - 1 || box.bottom > edge.bottom + 1) {
          found.push(`${name}: "${text}" leaves the picture`);
        }
        if (getComputedStyle(picture).fontSize !== '12px') found.push(`${name}: text of ${getComputedStyle(picture).fontSize}`);
      }
      texts.forEach(([a, p], i) => texts.slice(i + 1).forEach(([b, q]) => {
        // Boxes of text have air above and below the letters.
        const across = Math.min(p.right, q.right) - Math.max(p.left, q.left);
        const down = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
        if (across > 0.5 && down > 4.5) found.push(`${name}: "${a}" and "${b}" overlap by ${across.toFixed(1)} x ${down.toFixed(1)}`);
      }));
    }
  }
  return found;
}

const browser = await puppeteer.launch({ executablePath: browserPath, args: ['--no-sandbox', '--disable-gpu'] });
try {
  for (const argument of reports) {
    const [file, list] = argument.split('=');
    const expected = list.split(',');
    const name = file.split('/').pop();
    const page = await browser.newPage();
    const fault = (where, what) => faults.push(`${name}, ${where}: ${what}`);
    page.on('pageerror', (error) => fault('script', error.message));
    page.on('console', (message) => ['error', 'warn'].includes(message.type()) && fault('console', message.text()));
    page.on('request', (request) => request.url() !== pathToFileURL(file).href && fault('fetches', request.url()));
    await page.goto(pathToFileURL(file).href);

    const held = await page.evaluate(() => ({
      scripts: document.querySelectorAll('script, iframe, object, embed, link, img, foreignObject').length,
      handlers: [...document.querySelectorAll('*')].filter((e) => [...e.attributes].some((a) => a.name.startsWith('on'))).length,
      styled: document.querySelectorAll('[style]').length,
      policy: document.querySelector('meta[http-equiv="Content-Security-Policy"]')?.content ?? '',
      lang: document.documentElement.lang, title: document.title, mains: document.querySelectorAll('main').length,
      nonsense: /NaN|undefined|Infinity/.test(document.body.innerHTML),
    }));
    if (held.scripts || held.handlers || held.styled) fault('content', JSON.stringify(held));
    if (!held.policy.includes("default-src 'none'")) fault('policy', held.policy);
    if (held.lang !== 'en' || !held.title || held.mains !== 1 || held.nonsense) fault('frame', JSON.stringify(held));
    checks += 4;

    for (const scheme of SCHEMES) {
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      for (const width of WIDTHS) {
        await page.setViewport({ width, height: 800 });
        const where = `${scheme}, ${width} px`;
        for (const what of await page.evaluate(look, expected)) fault(where, what);
        const background = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
        const dark = background.match(/\d+/g).slice(0, 3).every((part) => Number(part) < 64);
        if (dark !== (scheme === 'dark')) fault(where, `the page is ${background}`);
        checks += 2;
        if (width !== 360 && width !== 1280) continue;
        // With the tables unfolded: what is folded away is read as well.
        const unfold = (open) => page.evaluate((open) => document.querySelectorAll('details').forEach((d) => { d.open = open; }), open);
        await unfold(true);
        await page.evaluate(axe);
        const result = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
        for (const rule of result.violations) {
          fault(where, `axe: ${rule.id}: ${rule.help}: ${rule.nodes.slice(0, 3).map((node) => node.html.slice(0, 120)).join(' | ')}`);
        }
        if (result.passes.length < 15) fault(where, `axe saw only ${result.passes.length} rules to hold`);
        for (const what of await page.evaluate(look, expected)) fault(`${where}, unfolded`, what);
        await unfold(false);
        checks += 2;
      }
    }

    // On paper everything is there: numbers too, and on white.
    await page.setViewport({ width: 720, height: 1000 });
    await page.emulateMediaType('print');
    const printed = await page.evaluate(() => ({
      folded: [...document.querySelectorAll('details table')].filter((table) => table.getBoundingClientRect().height === 0).length,
      background: getComputedStyle(document.body).backgroundColor,
    }));
    if (printed.folded || printed.background !== 'rgb(255, 255, 255)') fault('paper', JSON.stringify(printed));
    for (const what of await page.evaluate(look, expected)) if (!what.startsWith('scrolls')) fault('paper', what);
    const paper = await page.pdf({ preferCSSPageSize: true });
    if (paper.length < 10_000) fault('paper', `a file of ${paper.length} bytes`);
    checks += 3;
    await page.close();
  }
} finally {
  await browser.close();
}

for (const what of [...new Set(faults)]) console.log(what);
console.log(`${reports.length} reports, ${checks} checks, ${new Set(faults).size} faults`);
process.exit(faults.length ? 1 : 0);
