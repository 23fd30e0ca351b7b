// A strip chart: the last ten minutes of some figures on one axis, the newest at the right edge.
const left = 48, right = 8, windowS = 600;

const make = (parent, name, attributes, text) => {
  const e = document.createElementNS('http://www.w3.org/2000/svg', name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (text !== undefined) e.textContent = text;
  parent.append(e);
  return e;
};

export const minus = text => text.replace('-', '−');

// figure writes a figure with its unit as people read it.
export function figure(v, unit) {
  if (unit === 'W') return minus((v / 1000).toFixed(2)) + ' kW';
  return minus(v.toFixed(1)) + ' ' + unit;
}

export function moment(s) {
  const two = n => String(n).padStart(2, '0');
  const t = Math.floor(s);
  return `${Math.floor(t / 3600)}:${two(Math.floor(t / 60) % 60)}:${two(t % 60)}`;
}

function scale(lo, hi, most) {
  if (!(hi - lo > 1e-6 * Math.max(Math.abs(lo), Math.abs(hi)))) { const pad = Math.max(Math.abs(lo) * 0.01, 0.5); lo -= pad; hi += pad; }
  const power = 10 ** Math.floor(Math.log10((hi - lo) / most));
  const step = [1, 2, 5, 10].map(m => m * power).find(s => s >= (hi - lo) / most * 0.999);
  const first = Math.floor(lo / step + 1e-9), last = Math.ceil(hi / step - 1e-9);
  const ticks = [];
  for (let i = first; i <= last; i++) ticks.push(i * step);
  return {lo: first * step, hi: last * step, ticks, decimals: Math.max(0, -Math.floor(Math.log10(step) + 1e-9))};
}

export class Strip {
  // columns are {index, label, unit, style}; index is the place of the figure in a row of the history.
  constructor(host, name, columns, height, withTime) {
    this.columns = columns;
    this.height = height;
    this.withTime = withTime;
    this.kilo = columns[0].unit === 'W';
    this.head = document.createElement('p');
    this.head.className = 'strip-name';
    const b = document.createElement('b');
    b.textContent = `${name} [${this.kilo ? 'kW' : columns[0].unit}]`;
    this.head.append(b);
    this.told = columns.map(c => {
      const span = document.createElement('span');
      span.className = c.style;
      const i = document.createElement('i');
      span.append(i);
      this.head.append(span);
      return i;
    });
    host.append(this.head);
    this.svg = make(host, 'svg', {class: 'strip', role: 'img', 'aria-label': name + ', the last ten minutes'});
  }
  draw(history, words) {
    const width = Math.max(260, this.svg.clientWidth), height = this.height;
    const bottom = this.withTime ? 36 : 6;
    this.svg.setAttribute('viewBox', `0 0 ${width} ${height + bottom}`);
    this.svg.replaceChildren();
    if (!history.length) return;
    const newest = history[history.length - 1];
    this.columns.forEach((c, i) => { this.told[i].textContent = `${c.label} ${figure(newest[c.index], c.unit)}${words(c)}`; });
    const now = newest[0], factor = this.kilo ? 1e-3 : 1;
    let lo = this.kilo ? 0 : Infinity, hi = this.kilo ? 0 : -Infinity;
    for (const row of history) for (const c of this.columns) { const v = row[c.index] * factor; if (v < lo) lo = v; if (v > hi) hi = v; }
    const axis = scale(lo, hi, Math.max(2, Math.floor(height / 34)));
    const inner = width - left - right;
    const x = t => left + (t - now + windowS) / windowS * inner;
    const y = v => 4 + (axis.hi - v) / (axis.hi - axis.lo) * (height - 4);
    for (const v of axis.ticks) {
      make(this.svg, 'path', {class: v === 0 ? 'zero' : 'grid', d: `M${left} ${y(v).toFixed(1)}h${inner}`});
      make(this.svg, 'text', {class: 'e', x: left - 6, y: y(v) + 4}, minus(v.toFixed(axis.decimals)));
    }
    const step = inner < 420 ? 180 : 60;
    for (let t = Math.ceil((now - windowS) / step) * step; t <= now; t += step) {
      if (t < 0) continue;
      make(this.svg, 'path', {class: 'grid', d: `M${x(t).toFixed(1)} 4V${height + (this.withTime ? 4 : 0)}`});
      if (this.withTime && x(t) > left + 20 && x(t) < width - 24) make(this.svg, 'text', {class: 'm', x: x(t), y: height + 17}, moment(t));
    }
    if (this.withTime) make(this.svg, 'text', {class: 'm dim', x: left + inner / 2, y: height + 32}, 'simulated time [h:min:s]');
    for (const c of this.columns) {
      let d = '';
      for (const row of history) d += `${d ? 'L' : 'M'}${x(row[0]).toFixed(1)} ${y(row[c.index] * factor).toFixed(1)}`;
      make(this.svg, 'path', {class: 'line ' + c.style, d});
    }
  }
}
