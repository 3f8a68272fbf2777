// Sends what is set or dropped, and puts the answers in their places. All that is computed or drawn comes from the server.
(() => {
  'use strict';
  const MOST = 4 * 1024 * 1024;
  const by = (id) => document.getElementById(id);

  // The token comes in the fragment, which no server sees; it does not stay in the address.
  const KEY = 'zdatum-token';
  const given = location.hash.slice(1);
  if (given) {
    sessionStorage.setItem(KEY, given);
    history.replaceState(null, '', location.pathname);
  }
  const token = given || sessionStorage.getItem(KEY);

  let machine = null;
  let log = null;

  function say(text) { by('says').textContent = text; }

  // An error shown by one part of the page stays until that part succeeds.
  let whose = '';
  function trouble(error, by_whom) {
    if (!error && whose !== by_whom) return;
    whose = error ? by_whom : '';
    const box = by('trouble');
    box.replaceChildren();
    box.hidden = !error;
    if (!error) return;
    const line = (tag, text) => { const e = document.createElement(tag); e.textContent = text; box.append(e); };
    line('p', error.title);
    if (error.place) {
      line('p', `${error.place.file}, line ${error.place.line}: ${error.place.label}`);
      line('pre', error.place.excerpt);
    }
    if (error.remedy) line('p', error.remedy);
  }

  async function ask(path, body) {
    const text = JSON.stringify({ machine, ...body });
    if (new TextEncoder().encode(text).length > MOST) {
      return { error: { title: 'The files are larger than the limit of 4 MiB.' } };
    }
    try {
      const answer = await fetch(path, {
        method: 'POST', body: text, cache: 'no-store', credentials: 'omit', redirect: 'error',
        headers: { 'X-Zdatum-Token': token ?? '' },
      });
      return { status: answer.status, ...await answer.json() };
    } catch {
      return { error: { title: 'The command that serves this page no longer answers.', remedy: 'Start it again and open the address it prints.' } };
    }
  }

  // What the reader has unfolded stays unfolded.
  function put(parts) {
    for (const [id, html] of Object.entries(parts ?? {})) {
      const place = by(id);
      const open = [...place.querySelectorAll('details')].map((d) => d.open);
      place.innerHTML = html;
      place.querySelectorAll('details').forEach((d, i) => { d.open = open[i] ?? d.open; });
    }
  }

  // ---- the bench: one request at a time, the newest settings next
  // As many cycles as this computer simulates without lag: the answer should follow the slider.
  const CYCLES = { least: 10_000, most: 100_000, soon_ms: 80, late_ms: 170, aim_ms: 120 };
  let cycles = 50_000;
  let running = false;
  let stopped = false;
  let waiting = false;

  const sliders = () => [...by('controls').querySelectorAll('input')];

  function shown(input) {
    const unit = input.dataset.unit;
    // Where the slider stands as it was sent, the machine file's own value counts, whatever the slider's steps are.
    const value = input.value === input.dataset.sent ? Number(input.dataset.own) : Number(input.value);
    return `${Number(value.toPrecision(4))}${unit ? ` ${unit}` : ''}`;
  }

  function mark(input) {
    by(`${input.id}-says`).textContent = shown(input);
    by(`${input.id}-says`).classList.toggle('changed', input.value !== input.dataset.sent);
    input.setAttribute('aria-valuetext', shown(input));
  }

  async function bench() {
    if (running) { waiting = true; return; }
    running = true;
    stopped = false;
    by('cancel').disabled = false;
    const settings = {};
    for (const input of sliders()) if (input.value !== input.dataset.sent) settings[input.name] = Number(input.value);
    const begun = performance.now();
    const answer = await ask('/bench', { settings, cycles });
    if (answer.status === 409 && !stopped) {
      // Something else was asked for meanwhile, such as a landing.
      waiting = true;
    } else if (answer.error) {
      if (answer.status !== 409) trouble(answer.error, 'bench');
      say(answer.error.title);
    } else {
      trouble(null, 'bench');
      put(answer.parts);
      say(answer.says);
      const took = Math.round(performance.now() - begun);
      by('took').textContent = `Up to ${answer.cycles.toLocaleString('en')} cycles, shown after ${took} ms.`;
      by('bench').dataset.took = took;
      if (took > CYCLES.late_ms || took < CYCLES.soon_ms) {
        cycles = Math.round(Math.min(CYCLES.most, Math.max(CYCLES.least, cycles * CYCLES.aim_ms / Math.max(took, 1))));
      }
    }
    running = false;
    by('cancel').disabled = true;
    by('bench').dataset.turns = Number(by('bench').dataset.turns ?? 0) + 1;
    if (waiting) { waiting = false; bench(); }
  }

  // ---- files
  async function read(file, is_machine) {
    if (file.size > MOST) { trouble({ title: `${file.name}: larger than the limit of 4 MiB.` }, 'files'); return; }
    trouble(null, 'files');
    const read = { name: file.name, text: await file.text() };
    if (is_machine) {
      const before = machine;
      machine = read;
      if (!await start()) { machine = before; return; }
      bench();
    } else {
      log = read;
      view('landing');
    }
    if (log) await land();
  }

  // A landing would stop the bench's computation: it waits for its turn.
  async function idle() {
    while (running) await new Promise((done) => { setTimeout(done, 10); });
  }

  async function land() {
    await idle();
    let answer = await ask('/land', { log });
    // The bench was asked for something newer meanwhile.
    for (let i = 0; answer.status === 409 && i < 5; i += 1) { await idle(); answer = await ask('/land', { log }); }
    if (answer.error) { trouble(answer.error, 'landing'); say(`No landing: ${answer.error.title}`); by('landing').replaceChildren(); return; }
    trouble(null, 'landing');
    put(answer.parts);
    say(answer.says);
  }

  // ---- the history
  async function browse() {
    const answer = await ask('/history', {});
    if (answer.error) { trouble(answer.error, 'history'); return; }
    trouble(null, 'history');
    put(answer.parts);
    say(answer.says);
  }

  async function show_entry(entry) {
    const answer = await ask('/entry', { entry });
    if (answer.error) { trouble(answer.error, 'history'); say(answer.error.title); return; }
    trouble(null, 'history');
    put(answer.parts);
    say(answer.says);
    by('entry').querySelector('h2')?.scrollIntoView();
  }

  // ---- views
  const VIEWS = { bench: 'bench', landing: 'landing-view', history: 'history-view' };

  function view(name) {
    for (const button of document.querySelectorAll('nav button')) {
      if (button.dataset.view === name) button.setAttribute('aria-current', 'page');
      else button.removeAttribute('aria-current');
    }
    for (const [other, id] of Object.entries(VIEWS)) by(id).hidden = other !== name;
  }

  async function start() {
    const answer = await ask('/machine', {});
    if (answer.error) { trouble(answer.error, 'machine'); say(answer.error.title); return false; }
    trouble(null, 'machine');
    put(answer.parts);
    for (const input of sliders()) { input.defaultValue = input.value; input.dataset.sent = input.value; mark(input); }
    by('machine-name').textContent = answer.machine;
    document.querySelector('[data-view="history"]').hidden = !answer.has_history;
    return true;
  }

  by('controls').addEventListener('input', (event) => { mark(event.target); bench(); });
  by('controls-form').addEventListener('submit', (event) => event.preventDefault());
  by('controls-form').addEventListener('reset', () => setTimeout(() => { sliders().forEach(mark); bench(); }));
  by('cancel').addEventListener('click', () => { waiting = false; stopped = true; ask('/cancel', {}); });
  for (const button of document.querySelectorAll('nav button')) {
    button.addEventListener('click', () => { view(button.dataset.view); if (button.dataset.view === 'history') browse(); });
  }
  by('history').addEventListener('click', (event) => {
    const entry = event.target.closest('button[data-entry]');
    if (entry) show_entry(Number(entry.dataset.entry));
  });
  for (const [id, is_machine] of [['log-file', false], ['machine-file', true]]) {
    by(id).addEventListener('change', (event) => { if (event.target.files.length) read(event.target.files[0], is_machine); });
  }
  addEventListener('dragover', (event) => event.preventDefault());
  addEventListener('drop', async (event) => {
    event.preventDefault();
    const files = [...event.dataTransfer.files];
    const is_machine = (file) => /\.toml$/i.test(file.name);
    // A machine first, so that the log is judged by it.
    for (const file of files.filter(is_machine).slice(-1)) await read(file, true);
    for (const file of files.filter((file) => !is_machine(file)).slice(-1)) await read(file, false);
  });

  // On a phone the settings would fill the screen.
  if (innerWidth < 752) by('settings').open = false;
  if (!token) {
    say('');
    trouble({ title: 'This page needs the token from the command that serves it.', remedy: 'Open the whole address that the command printed, including everything after the #.' }, 'machine');
  } else {
    start().then((good) => good && bench());
  }
})();
