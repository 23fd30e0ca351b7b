// The plots are drawn already; this adds values under the pointer and a closer look. Each section of
// plots has one span of time, which all its plots share. Without this script the page loses only that.
'use strict';
(async () => {
  const svgNS = document.querySelector('svg').namespaceURI;
  const gap = -(1 << 30);
  const record = JSON.parse(document.getElementById('record').textContent);

  // unpacked reads what the bench packed: differences as varints, deflated, in base64.
  async function unpacked(text) {
    const bytes = Uint8Array.from(atob(text), c => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
    const plain = new Uint8Array(await new Response(stream).arrayBuffer());
    const values = new Int32Array(record.rows);
    let at = 0, last = 0;
    for (let i = 0; i < record.rows; i++) {
      let n = 0, unit = 1, byte;
      do { byte = plain[at++]; n += (byte & 127) * unit; unit *= 128; } while (byte & 128);
      last += n % 2 ? -(n + 1) / 2 : n / 2;
      values[i] = last;
    }
    return values;
  }

  for (const c of [...record.columns, ...(record.lanes || [])]) {
    for (const part of ['values', 'below', 'above', 'writes']) if (c[part]) c[part] = await unpacked(c[part]);
    c.at = i => c.values[i] === gap ? NaN : c.values[i] * c.quantum;
    c.low = i => c.at(i) - (c.below ? c.below[i] * c.quantum : 0);
    c.high = i => c.at(i) + (c.above ? c.above[i] * c.quantum : 0);
  }

  const minus = text => text.replace('-', '−');
  const two = n => String(n).padStart(2, '0');
  function moment(t) {
    const s = Math.round(t * 10) / 10;
    const rest = s % 60;
    return `${Math.floor(s / 3600)}:${two(Math.floor(s / 60) % 60)}:${two(Math.floor(rest))}` + (rest % 1 ? (rest % 1).toFixed(1).slice(1) : '');
  }
  function local(t) {
    let shift = 0;
    for (const [at, by] of record.turns || []) if (t >= at) shift += by;
    return new Date((record.clock + t + shift) * 1000).toISOString().slice(11, 19);
  }
  function figure(v, unit) {
    if (Number.isNaN(v)) return 'not recorded';
    const size = Math.abs(v);
    const digits = size >= 1000 || size === 0 ? 0 : Math.max(0, 3 - Math.floor(Math.log10(size) + 1));
    return minus(v.toFixed(Math.min(digits, 6))) + (unit ? ' ' + unit : '');
  }
  function make(parent, name, attributes, text) {
    const e = document.createElementNS(svgNS, name);
    for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
    if (text !== undefined) e.textContent = text;
    parent.append(e);
    return e;
  }

  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800];

  // Plot is one drawing; whole is the span that the server drew it for.
  class Plot {
    constructor(svg) {
      this.svg = svg;
      this.whole = [Number(svg.dataset.from), Number(svg.dataset.to)];
      this.fields = [...svg.querySelectorAll('.field')].map(e => ({
        e, x: Number(e.getAttribute('x')), y: Number(e.getAttribute('y')),
        width: Number(e.getAttribute('width')), height: Number(e.getAttribute('height')),
        lo: Number(e.dataset.lo), hi: Number(e.dataset.hi),
      }));
      this.left = this.fields[0].x;
      this.width = this.fields[0].width;
      this.top = Math.min(...this.fields.map(f => f.y));
      this.bottom = Math.max(...this.fields.map(f => f.y + f.height));
      this.paths = [...svg.querySelectorAll('[data-draw]')].map(e => ({e, drawn: e.getAttribute('d'), field: this.fields.find(f => f.e.contains(e))}));
      this.moments = [...svg.querySelectorAll('[data-t]')].map(e => ({e, t: Number(e.dataset.t), until: Number(e.dataset.until ?? e.dataset.t)}));
      this.tocks = [...svg.querySelectorAll('.tock')];
      this.times = svg.querySelector('.times');
      this.drawnTimes = [...this.times.children];
      this.rows = [...this.times.querySelectorAll('text')].map(e => Number(e.getAttribute('y')));
      this.cursor = make(svg, 'path', {class: 'cursor', d: ''});
      this.picked = make(svg, 'rect', {class: 'picked', y: this.top, height: this.bottom - this.top, width: 0});
      this.columns = (svg.dataset.columns || '').split(' ').filter(Boolean).map(i => record.columns[i]);
      this.lanes = (svg.dataset.lanes || '').split(' ').filter(Boolean).map(i => record.lanes[i]);
    }
    shown() { return this.svg.getClientRects().length > 0; }
    place(t) { return this.left + (t - this.span[0]) / (this.span[1] - this.span[0]) * this.width; }
    // timeAt is the time under a place of the window.
    timeAt(clientX) {
      const box = this.svg.getBoundingClientRect();
      const x = (clientX - box.left) * this.svg.viewBox.baseVal.width / box.width;
      const part = Math.max(0, Math.min(1, (x - this.left) / this.width));
      return this.span[0] + part * (this.span[1] - this.span[0]);
    }
    show(span) {
      this.span = span;
      const [from, to] = this.whole;
      const whole = span[0] === from && span[1] === to;
      const unit = this.width / (to - from);
      for (const f of this.fields) f.e.setAttribute('viewBox', `${(span[0] - from) * unit} 0 ${(span[1] - span[0]) * unit} ${f.height}`);
      for (const p of this.paths) p.e.setAttribute('d', whole ? p.drawn : this.redrawn(p, unit));
      for (const m of this.moments) {
        const at = this.left + (m.t - from) * unit;
        // What lasts stays in sight, at the edge, for as long as it lasts.
        const shown = m.until > m.t ? Math.max(m.t, span[0]) : m.t;
        m.e.setAttribute('transform', `translate(${(this.place(shown) - at).toFixed(1)} 0)`);
        m.e.style.display = m.until >= span[0] - 1e-6 && m.t <= span[1] ? '' : 'none';
      }
      for (const e of this.tocks) e.style.display = whole ? '' : 'none';
      if (whole) this.times.replaceChildren(...this.drawnTimes); else this.drawTimes();
    }
    drawTimes() {
      const length = this.span[1] - this.span[0];
      const step = steps.find(s => length / s <= Math.max(2, this.width / 78)) || 604800;
      const [first, second] = [Math.min(...this.rows), Math.max(...this.rows)];
      this.times.replaceChildren();
      make(this.times, 'text', {class: 'e dim', x: this.left - 6, y: first}, 'h:min:s');
      if (record.clock !== null) make(this.times, 'text', {class: 'e dim', x: this.left - 6, y: first + 17}, 'local');
      for (let t = Math.ceil(this.span[0] / step) * step; t <= this.span[1]; t += step) {
        const x = this.place(t);
        make(this.times, 'path', {class: 'grid', d: `M${x} ${this.top}V${this.bottom + 4}`});
        if (x < this.left + 22 || x > this.left + this.width - 12) continue;
        make(this.times, 'text', {class: 'm', x, y: first}, moment(t));
        if (record.clock !== null && second > first) make(this.times, 'text', {class: 'm', x, y: first + 17}, local(t));
      }
    }
    // groups calls f with runs of rows within the span, no more of them than pixels.
    groups(f) {
      const first = Math.max(0, Math.floor(this.span[0] / record.step) - 1);
      const end = Math.min(record.rows, Math.ceil(this.span[1] / record.step) + 2);
      const stride = Math.max(1, Math.floor((end - first) / this.width));
      for (let i = first; i < end; i += stride) f(i, Math.min(end, i + stride));
    }
    redrawn(path, unit) {
      const {e, field} = path;
      const x = i => ((i * record.step - this.whole[0]) * unit).toFixed(4);
      const y = v => ((field.hi - v) / (field.hi - field.lo) * field.height).toFixed(2);
      const column = record.columns[e.dataset.column];
      switch (e.dataset.draw) {
        case 'line': return this.line(column, x, y);
        case 'span': return this.between(x, (i, end) => least(column, i, end), (i, end) => most(column, i, end), y);
        case 'pile': return this.pile(column, x, y);
        case 'over': {
          const level = Number(e.dataset.level), top = Number(e.dataset.top);
          const raised = v => (y(v) - top).toFixed(2);
          const up = top === 0;
          return this.between(x, (i, end) => up ? level : least(column, i, end), (i, end) => up ? most(column, i, end) : level, raised);
        }
        case 'held': return this.held(record.lanes[field.e.dataset.lane], field, x);
        case 'tick': return this.ticks(record.lanes[field.e.dataset.lane], Number(e.dataset.height), x);
      }
      return path.drawn;
    }
    line(column, x, y) {
      let d = '', pen = 'M';
      this.groups((i, end) => {
        const v = column.at(i);
        if (Number.isNaN(v)) { pen = 'M'; return; }
        d += `${pen}${x(i)} ${y(v)}`;
        pen = 'L';
        if (end > i + 1) d += `L${x(i)} ${y(least(column, i, end))}L${x(i)} ${y(most(column, i, end))}`;
      });
      return d;
    }
    between(x, low, high, y) {
      let there = '', back = '';
      this.groups((i, end) => {
        const a = low(i, end), b = high(i, end);
        if (Number.isNaN(a) || Number.isNaN(b)) return;
        there += `${there ? 'L' : 'M'}${x(i)} ${y(b)}`;
        back = `L${x(i)} ${y(a)}` + back;
      });
      return there && there + back + 'z';
    }
    // pile stacks a column on those drawn before it: consumption up from zero, production down.
    pile(column, x, y) {
      const under = [];
      for (const p of this.paths) if (p.e.dataset.draw === 'pile') under.push(record.columns[p.e.dataset.column]);
      const before = under.slice(0, under.indexOf(column));
      const mean = (c, i, end) => { let sum = 0; for (let j = i; j < end; j++) sum += c.at(j) || 0; return sum / (end - i); };
      const side = sign => {
        const base = (i, end) => before.reduce((sum, c) => sum + Math.max(0, sign * mean(c, i, end)), 0) * sign;
        return this.between(x, base, (i, end) => base(i, end) + Math.max(0, sign * mean(column, i, end)) * sign, y);
      };
      return side(1) + side(-1);
    }
    held(lane, field, x) {
      if (lane.words) return '';
      const {bottom, top} = field.e.dataset;
      const y = v => field.hi > field.lo ? Number(bottom) + (v - field.lo) / (field.hi - field.lo) * (top - bottom) : Number(bottom);
      let d = '';
      this.groups(i => {
        const v = lane.at(i);
        if (!Number.isNaN(v)) d += (d ? `H${x(i)}V` : `M${x(i)} `) + y(v).toFixed(1);
      });
      return d && d + `H${x(Math.min(record.rows - 1, Math.ceil(this.span[1] / record.step) + 1))}`;
    }
    ticks(lane, height, x) {
      let d = '';
      this.groups((i, end) => { for (let j = i; j < end; j++) if (lane.writes[j]) { d += `M${x(j)} ${height}v-6`; break; } });
      return d;
    }
    // values tells what the plot shows at a time.
    values(t) {
      const row = Math.max(0, Math.min(record.rows - 1, Math.round(t / record.step)));
      const {unit, factor} = this.svg.dataset;
      const list = this.columns.map(c => [c.label, figure(c.at(row) * factor, unit)]);
      for (const l of this.lanes) {
        const v = l.at(row);
        list.push([l.label, Number.isNaN(v) ? 'not written yet' : l.words ? l.words[v] : figure(v, l.unit)]);
      }
      if (this.svg.dataset.states) for (const l of record.states || []) {
        const now = l.spans.find(s => t >= s.from && t < s.to) || l.spans[l.spans.length - 1];
        list.push([l.name, now.word]);
      }
      return list;
    }
  }
  const least = (c, i, end) => { let v = c.low(i); for (let j = i + 1; j < end; j++) v = Math.min(v, c.low(j)); return v; };
  const most = (c, i, end) => { let v = c.high(i); for (let j = i + 1; j < end; j++) v = Math.max(v, c.high(j)); return v; };

  // Section is plots on one time axis.
  class Section {
    constructor(e) {
      this.plots = [...e.querySelectorAll('.plot')].map(svg => new Plot(svg));
      if (!this.plots.length) return;
      this.whole = this.plots[0].whole;
      this.controls(e);
      this.readout = document.createElement('div');
      this.readout.className = 'readout';
      this.readout.hidden = true;
      for (const p of this.plots) this.listen(p);
      for (const f of e.querySelectorAll('figure')) this.keys(f);
      this.show(this.whole);
    }
    controls(e) {
      const bar = document.createElement('p');
      bar.className = 'controls';
      const button = (label, act) => {
        const b = document.createElement('button');
        b.type = 'button';
        b.textContent = label;
        b.addEventListener('click', act);
        bar.append(b);
        return b;
      };
      const name = e.dataset.plots;
      this.back = [button('earlier', () => this.shift(-0.5)), button('later', () => this.shift(0.5)), button('closer', () => this.zoom(0.5)), button('wider', () => this.zoom(2)), button('all of it', () => this.show(this.whole))];
      for (const b of this.back) b.setAttribute('aria-label', `${b.textContent}, ${name}`);
      this.told = document.createElement('span');
      this.told.setAttribute('role', 'status');
      bar.append(this.told);
      e.querySelector('figure').before(bar);
    }
    show(span) {
      const least = Math.min(5 * record.step, this.whole[1] - this.whole[0]);
      let [from, to] = span;
      if (to - from < least) { const middle = (from + to) / 2; from = middle - least / 2; to = middle + least / 2; }
      if (from < this.whole[0]) { to += this.whole[0] - from; from = this.whole[0]; }
      if (to > this.whole[1]) { from = Math.max(this.whole[0], from - (to - this.whole[1])); to = this.whole[1]; }
      this.span = [from, to];
      for (const p of this.plots) p.shown() ? p.show(this.span) : (p.span = this.span, p.stale = true);
      const all = from === this.whole[0] && to === this.whole[1];
      const [earlier, later, closer, wider, reset] = this.back;
      earlier.disabled = from === this.whole[0];
      later.disabled = to === this.whole[1];
      closer.disabled = to - from <= least * 1.001;
      wider.disabled = reset.disabled = all;
      this.told.textContent = all ? 'Drag across a plot for a closer look; arrow keys move the pointer.' : `${moment(from)} to ${moment(to)}`;
      this.point(null);
    }
    zoom(by) {
      const middle = this.pointed ?? (this.span[0] + this.span[1]) / 2;
      this.show([middle - (middle - this.span[0]) * by, middle + (this.span[1] - middle) * by]);
    }
    shift(by) { const d = (this.span[1] - this.span[0]) * by; this.show([this.span[0] + d, this.span[1] + d]); }
    // point puts the pointer of all plots at a time, and the values beside it in one.
    point(t, plot) {
      this.pointed = t;
      for (const p of this.plots) p.cursor.setAttribute('d', t === null || !p.shown() ? '' : `M${p.place(t).toFixed(1)} ${p.top}V${p.bottom}`);
      this.readout.hidden = t === null || !plot;
      if (this.readout.hidden) return;
      const head = document.createElement('div');
      head.textContent = moment(t) + (record.clock === null ? '' : ` (${local(t)} local)`);
      const table = document.createElement('table');
      for (const [label, value] of plot.values(t)) {
        const row = table.insertRow();
        const th = document.createElement('th');
        th.textContent = label;
        row.append(th);
        row.insertCell().textContent = value;
      }
      this.readout.replaceChildren(head, table);
      const box = plot.svg.closest('figure');
      if (this.readout.parentNode !== box) box.append(this.readout);
      const frame = box.getBoundingClientRect(), drawn = plot.svg.getBoundingClientRect();
      const x = drawn.left - frame.left + plot.place(t) * drawn.width / plot.svg.viewBox.baseVal.width;
      const left = x > frame.width / 2;
      this.readout.style.left = left ? '' : `${x + 8}px`;
      this.readout.style.right = left ? `${frame.width - x + 8}px` : '';
      this.readout.style.top = `${drawn.top - frame.top + plot.top * drawn.height / plot.svg.viewBox.baseVal.height}px`;
    }
    listen(p) {
      let begun = null;
      p.svg.addEventListener('pointerdown', e => { if (e.button === 0) { begun = p.timeAt(e.clientX); p.svg.setPointerCapture(e.pointerId); e.preventDefault(); } });
      p.svg.addEventListener('pointermove', e => {
        const t = p.timeAt(e.clientX);
        this.point(t, p);
        if (begun === null) return;
        const [a, b] = [p.place(Math.min(begun, t)), p.place(Math.max(begun, t))];
        p.picked.setAttribute('x', a);
        p.picked.setAttribute('width', b - a);
      });
      p.svg.addEventListener('pointerup', e => {
        const t = p.timeAt(e.clientX);
        p.picked.setAttribute('width', 0);
        if (begun !== null && Math.abs(p.place(t) - p.place(begun)) > 6) this.show([Math.min(begun, t), Math.max(begun, t)]);
        begun = null;
      });
      p.svg.addEventListener('pointercancel', () => { begun = null; p.picked.setAttribute('width', 0); });
      p.svg.addEventListener('pointerleave', () => { if (begun === null) this.point(null); });
      p.svg.addEventListener('dblclick', () => this.show(this.whole));
    }
    keys(figure) {
      figure.tabIndex = 0;
      figure.setAttribute('role', 'group');
      figure.setAttribute('aria-label', figure.querySelector('figcaption b').textContent + ', arrow keys move the pointer, plus and minus zoom, Escape shows all of it');
      figure.addEventListener('keydown', e => {
        const plot = this.plots.find(p => figure.contains(p.svg) && p.shown());
        const length = this.span[1] - this.span[0];
        const by = e.shiftKey ? length / 10 : Math.max(record.step, length / 200);
        const from = this.pointed ?? (this.span[0] + this.span[1]) / 2;
        const within = t => Math.max(this.span[0], Math.min(this.span[1], t));
        switch (e.key) {
          case 'ArrowLeft': this.point(within(from - by), plot); break;
          case 'ArrowRight': this.point(within(from + by), plot); break;
          case '+': case '=': this.zoom(0.5); break;
          case '-': this.zoom(2); break;
          case 'Escape': this.show(this.whole); break;
          default: return;
        }
        e.preventDefault();
      });
      figure.addEventListener('blur', () => this.point(null));
    }
    resized() { for (const p of this.plots || []) if (p.stale && p.shown()) { p.stale = false; p.show(this.span); } }
  }

  const sections = [...document.querySelectorAll('[data-plots]')].map(e => new Section(e));
  window.addEventListener('resize', () => sections.forEach(s => s.resized()));
  document.documentElement.dataset.ready = 'true';
})();
