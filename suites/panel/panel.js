import {Strip, figure, minus, moment} from './chart.js';

const find = id => document.getElementById(id);
const windowS = 600;
let columns = [], states = [], history = [], strips = [], words = [], paused = false, latest = null, due = false;

const element = (name, text, attributes = {}) => {
  const e = document.createElement(name);
  if (text !== undefined) e.textContent = text;
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  return e;
};

// Each device keeps one style on all strips, and has it in the report of a run as well.
const hues = ['c1', 'c2', 'c3', 'c4', 'c5', 'c6', 'c7'];
const styles = [...hues, ...hues.map(c => c + ' dash')];

function layStrips() {
  const style = new Map();
  for (const kind of ['inverter', 'array', 'charger', 'load', 'meter']) for (const c of columns) {
    if (c.kind === kind && !style.has(c.device)) style.set(c.device, styles[style.size % styles.length]);
  }
  columns.filter(c => c.kind === 'voltage').forEach((c, i) => style.set(c.name, styles[i]));
  const of = (...kinds) => columns.map((c, i) => ({...c, index: i + 1, style: c.kind === 'grid' ? 'c0' : style.get(c.kind === 'voltage' ? c.name : c.device)}))
    .filter(c => kinds.includes(c.kind));
  const host = find('strips');
  host.replaceChildren();
  strips = [['Grid flow', 120, 'grid'], ['Batteries', 120, 'inverter'], ['Loads, charger, sun', 120, 'load', 'charger', 'array'], ['State of charge', 90, 'soc'], ['Voltage', 70, 'voltage']]
    .map(([name, height, ...kinds]) => [name, height, of(...kinds)]).filter(s => s[2].length)
    .map(([name, height, list], i, all) => new Strip(host, name, list, height, i === all.length - 1));
}

function wordOf(device) {
  const i = states.findIndex(s => s.device === device);
  return i < 0 ? '' : words[i];
}

function showNow(now) {
  latest = now;
  words = now.words;
  find('time').textContent = moment(now.at);
  find('time').dataset.at = now.at;
  find('clock').textContent = now.clock + ' local';
  find('pace').textContent = 'pace ' + now.pace;
  for (const e of document.querySelectorAll('[data-pace]')) e.setAttribute('aria-pressed', now.pace === ({0: 'held', 1: 'real'}[e.dataset.pace] || 'x' + e.dataset.pace));
  const last = history[history.length - 1];
  if (!last || now.at - last[0] >= 1) {
    history.push([now.at, ...now.values]);
    while (history.length && history[0][0] < now.at - windowS) history.shift();
  }
  for (const e of document.querySelectorAll('[data-value]')) {
    const i = columns.findIndex(c => c.device === e.dataset.value && c.unit === 'W');
    const w = now.values[i];
    if (i < 0) e.textContent = wordOf(e.dataset.value) || '–';
    else if (columns[i].kind === 'grid') e.textContent = (w < 0 ? 'exports ' : 'imports ') + figure(Math.abs(w), 'W');
    else e.textContent = figure(w, 'W');
  }
  for (const e of document.querySelectorAll('[data-charge]')) {
    const i = columns.findIndex(c => c.device === e.dataset.charge && c.kind === 'soc');
    e.textContent = i < 0 ? '' : figure(now.values[i], '%');
  }
  for (const e of document.querySelectorAll('[data-word]')) {
    const word = wordOf(e.dataset.word);
    e.textContent = word;
    e.classList.toggle('sick-word', /tripped|lost|off the supply/.test(word));
  }
  for (const e of document.querySelectorAll('[data-flow]')) {
    const i = columns.findIndex(c => c.device === e.dataset.flow && c.unit === 'W');
    const w = i < 0 ? 0 : now.values[i];
    e.classList.toggle('on', e.dataset.way === 'in' ? w > 1 : w < -1);
  }
  redraw();
}

// The strips are drawn four times a second at most: nobody sees more.
function redraw() {
  if (paused || due) return;
  due = true;
  setTimeout(() => {
    due = false;
    if (paused || document.hidden) return;
    for (const s of strips) s.draw(history, c => c.kind === 'inverter' || c.kind === 'charger' ? (wordOf(c.device) ? ', ' + wordOf(c.device) : '') : '');
  }, 250);
}

// A page that was opened behind others is drawn when it comes to the front, though time may be held by then.
document.addEventListener('visibilitychange', redraw);

function showCriteria(list) {
  find('criteria').replaceChildren(...list.map(c => {
    const row = element('tr', undefined, {class: c.status, title: c.detail});
    const head = element('th', c.name, {scope: 'row'});
    const share = element('span', undefined, {class: 'share', role: 'img', 'aria-label': `${Math.round(100 * c.share)} % of the limit`});
    if (c.margin !== '–') {
      const bar = element('i', undefined, c.share < 0 ? {class: 'less'} : {});
      bar.style.left = `${c.share < 0 ? 50 + 50 * c.share : 50}%`;
      bar.style.width = `${Math.max(1, 50 * Math.abs(c.share))}%`;
      share.append(bar);
    }
    const left = element('td');
    left.append(share);
    row.append(head, element('td', c.words, {class: 'status'}), element('td', c.margin, {class: 'n'}), left);
    return row;
  }));
}

function showTimeline(t) {
  const line = (h, kind) => element('li', `${moment(h.at)}  ${h.text}${h.hand ? ' (by hand)' : ''}`, {class: kind + (h.hand ? ' by-hand' : '')});
  const past = t.past.slice(-30).map(h => line(h, 'past'));
  const coming = t.coming.slice(0, 30).map((h, i) => line(h, i === 0 ? 'coming next' : 'coming'));
  if (!coming.length) coming.push(element('li', 'nothing more is to come', {class: 'coming'}));
  const list = find('timeline');
  list.replaceChildren(...past, ...coming);
  list.scrollTop = Math.max(0, (past.length - 3) * 21);
}

function showRegisters(list, all) {
  for (const body of document.querySelectorAll('[data-registers] tbody')) {
    if (all) body.replaceChildren();
    for (const row of body.querySelectorAll('.lit')) row.classList.remove('lit');
  }
  for (const r of list) {
    const body = [...document.querySelectorAll('[data-registers]')].find(e => e.dataset.registers === r.device)?.querySelector('tbody');
    if (!body) continue;
    let row = [...body.rows].find(e => e.dataset.where === r.where);
    if (!row) {
      row = body.insertRow();
      row.dataset.where = r.where;
      for (const text of [r.where, r.point + (r.writes ? ' (writable)' : '')]) row.insertCell().textContent = text;
      row.insertCell().className = 'n';
      row.insertCell().className = 'n';
    }
    row.cells[2].textContent = r.raw;
    row.cells[3].textContent = minus(r.value);
    row.classList.toggle('lit', Boolean(r.changed));
  }
}

function showTraffic(list, all) {
  const body = find('traffic');
  if (all) body.replaceChildren();
  for (const f of list) {
    const row = element('tr', undefined, f.trouble ? {class: 'trouble'} : {});
    for (const text of [f.at, f.device, f.asked, f.reply]) row.append(element('td', text));
    body.prepend(row);
  }
  while (body.rows.length > 60) body.deleteRow(-1);
}

const source = new EventSource('events');
const on = (name, f) => source.addEventListener(name, e => f(JSON.parse(e.data)));
const link = find('link');
source.addEventListener('open', () => { link.textContent = 'connected'; link.className = ''; });
source.addEventListener('error', () => { link.textContent = 'the connection to the bench is lost; it is tried again'; link.className = 'lost'; });
on('begin', b => {
  ({columns, states, history} = b);
  layStrips();
  showCriteria(b.criteria);
  showTimeline(b.timeline);
  showTraffic(b.traffic, true);
  showRegisters(b.registers, true);
  showNow(b.now);
  document.documentElement.dataset.ready = 'true';
});
on('now', n => { if (latest && n.at >= latest.at) showNow(n); });
on('criteria', showCriteria);
on('timeline', showTimeline);
on('registers', list => showRegisters(list, false));
on('traffic', list => showTraffic(list, false));

async function post(path, content) {
  const told = find('told');
  try {
    const answer = await fetch(path, {method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify(content)});
    told.textContent = await answer.text();
    told.className = answer.ok ? '' : 'bad';
  } catch {
    told.textContent = 'the bench does not answer';
    told.className = 'bad';
  }
}

for (const form of document.querySelectorAll('form[data-device]')) {
  form.addEventListener('submit', e => { e.preventDefault(); form.querySelector('[data-what]').click(); });
  for (const button of form.querySelectorAll('[data-what]')) button.addEventListener('click', () => {
    if (!form.reportValidity()) return;
    const what = button.dataset.what.replace(/\$([a-z])/g, (_, key) => form.elements[key].value);
    post('inject', {device: form.dataset.device, what});
  });
}
for (const button of document.querySelectorAll('[data-pace]')) button.addEventListener('click', () => post('pace', {pace: Number(button.dataset.pace)}));
find('pause').addEventListener('click', e => {
  paused = !paused;
  e.currentTarget.setAttribute('aria-pressed', paused);
  redraw();
});
find('save').addEventListener('submit', e => {
  e.preventDefault();
  const a = element('a', undefined, {href: 'scenario.yaml?name=' + encodeURIComponent(e.currentTarget.elements.name.value), download: ''});
  document.body.append(a);
  a.click();
  a.remove();
});
