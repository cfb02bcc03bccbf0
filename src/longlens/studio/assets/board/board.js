// The photo board: one photograph large, marks on it, by mouse, trackpad, touch and keys. What is done goes to the server
// as an intent; what comes back is shown. Nothing is kept here that would be lost with the window.

import { Drawing } from './drawing.js';
import { Naming } from './naming.js';
import { distanceToPath } from './shapes.js';
import { Light, View } from './view.js';

const NEAR = 11, LOUPE = 8;
const TOOLS = ['point', 'line', 'outline', 'pipe', 'rim'];

export class Board {
  constructor(root, keys, tell) {
    this.root = root; this.keys = keys; this.tell = tell;
    root.innerHTML = `
      <div class="ll-tools-row" role="toolbar" aria-label="Marks"></div>
      <div class="ll-stage" tabindex="0" role="application" aria-roledescription="photograph with marks" aria-label="Photograph">
        <svg class="ll-filters" aria-hidden="true" width="0" height="0"></svg>
        <canvas></canvas><svg class="ll-over" aria-hidden="true"></svg>
        <div class="ll-loupe" hidden><canvas width="176" height="176"></canvas><svg viewBox="0 0 176 176" aria-hidden="true">
          <path d="M88 0V78M88 98V176M0 88H78M98 88H176" class="edge"/><path d="M88 0V78M88 98V176M0 88H78M98 88H176"/>
          <circle cx="88" cy="88" r="10" class="edge"/><circle cx="88" cy="88" r="10"/></svg></div>
        <div class="ll-empty" hidden></div>
        <div class="ll-hint" role="status"></div><div class="ll-place"></div>
      </div>`;
    this.stage = root.querySelector('.ll-stage');
    this.over = root.querySelector('.ll-over');
    this.hint = root.querySelector('.ll-hint');
    this.placeNode = root.querySelector('.ll-place');
    const canvas = this.stage.querySelector('canvas');
    this.loupe = root.querySelector('.ll-loupe');
    this.loupeCanvas = this.loupe.querySelector('canvas');
    this.view = new View(this.stage, canvas, () => this.moved());
    this.drawing = new Drawing(this.over);
    this.light = new Light(root.querySelector('.ll-filters'), [canvas, this.loupeCanvas]);
    this.naming = new Naming(this.stage, (words) => this.tell({ do: 'own parts', words }));
    this.tool = ''; this.certainty = 'seen'; this.draft = [];
    this.marks = []; this.named = []; this.vocabulary = []; this.guides = []; this.proposed = []; this.atProposal = 0;
    this.selected = new Set(); this.vertex = null; this.pointers = new Map();
    this.toolbar();
    this.listen();
    this.say('');
  }

  // What the server sends ---------------------------------------------------------------------------------

  show(state) {
    if (state.photo !== undefined) {
      const other = !this.photo || !state.photo || state.photo.id !== this.photo.id;
      this.photo = state.photo;
      const empty = this.root.querySelector('.ll-empty');
      empty.hidden = Boolean(state.photo && state.photo.picture);
      empty.textContent = state.photo ? 'This shot has no photograph: its marks came with a file.' : 'No photographs here yet: bring some in on the page Shots.';
      if (other && state.photo) {
        this.giveUp();
        this.view.show(state.photo);
        this.proposed = []; this.drawing.proposals([], 0);
        this.vertex = null;
        this.stage.setAttribute('aria-label', `Photograph ${state.photo.name}`);
      }
    }
    if (state.names) this.named = state.names;
    if (state.vocabulary) fetch(state.vocabulary).then((r) => r.json()).then((v) => {
      this.vocabulary = v;
      if (this.naming.open) this.naming.renew(this.names(this.namingForm), this.called);
      this.called = undefined;
    });
    if (state.called) this.called = state.called;
    if (state.marks) {
      this.marks = state.marks;
      this.byId = new Map(this.marks.map((m) => [m.id, m]));
      for (const id of this.selected) if (!this.byId.has(id)) this.selected.delete(id);
      this.dragged = null;
      this.redraw();
    }
    if (state.selected) { this.selected = new Set(state.selected); this.redraw(); }
    if (state.guides) { this.guides = state.guides; this.drawing.guide(state.guides); }
    if (state.proposals) {
      this.proposed = state.proposals; this.atProposal = 0;
      this.drawing.proposals(this.proposed, 0);
      this.say(this.proposed.length ? this.proposalWords() : (state.none || 'nothing to propose here'));
    }
    if (state.go) {
      this.view.centre(state.go[0], state.go[1], Math.max(this.view.scale, state.go[2] || 1));
    }
    if (state.offer) { this.offered = state.offer; this.say(`its twin ${state.offer.name}: press t, then click it`); }
    if (state.say) this.say(state.say);
    if (state.done) this.root.dataset.done = state.done;
  }

  proposalWords() {
    return `${this.proposed.length} proposed: Enter confirms, Backspace rejects, j and shift+j go on and back, shift+Enter confirms all`;
  }

  redraw() {
    this.drawing.marks(this.marks, this.selected, this.vertex);
    this.root.dataset.marks = this.marks.length;
  }

  moved() {
    this.drawing.place(this.view);
    this.showPlace();
    if (!this.loupe.hidden) this.drawLoupe();
  }

  say(words) {
    const light = this.light.words();
    this.hint.textContent = [words, light && `(${light})`].filter(Boolean).join('  ');
  }

  showPlace() {
    const p = this.cursor;
    const zoom = `${(100 * this.view.scale).toFixed(this.view.scale < 0.1 ? 1 : 0)} %`;
    this.placeNode.textContent = p && this.view.inside(p.x, p.y) ? `${p.x.toFixed(1)}, ${p.y.toFixed(1)} px   ${zoom}` : zoom;
  }

  // Tools ---------------------------------------------------------------------------------------------------

  toolbar() {
    const row = this.root.querySelector('.ll-tools-row');
    let group = '';
    for (const key of this.keys.filter((k) => k.button)) {
      if (group && key.group !== group) row.append(Object.assign(document.createElement('span'), { className: 'll-gap' }));
      group = key.group;
      const button = document.createElement('button');
      button.type = 'button';
      button.className = 'll-plain';
      button.dataset.do = key.do;
      button.innerHTML = `${key.button} <kbd>${key.keys.replace('shift+', '⇧')}</kbd>`;
      button.title = key.what;
      button.setAttribute('aria-keyshortcuts', key.keys);
      button.addEventListener('click', () => { this.act(key.do); this.stage.focus(); });
      row.append(button);
    }
    this.pressed();
  }

  pressed() {
    const on = new Set([this.tool || 'look', this.certainty]);
    if (this.drawing.names) on.add('names');
    if (this.drawing.residuals) on.add('residuals');
    for (const button of this.root.querySelectorAll('.ll-tools-row button')) {
      const is = on.has(button.dataset.do);
      button.classList.toggle('ll-on', is);
      button.setAttribute('aria-pressed', String(is));
    }
    this.stage.dataset.tool = this.tool;
  }

  act(what) {
    const [name, argument] = what.split(':'), n = Number(argument);
    if (TOOLS.includes(name)) return this.take(name);
    switch (name) {
      case 'look': return this.take('');
      case 'seen': case 'partly seen': case 'inferred': return this.sure(name);
      case 'zoom': return this.view.zoom(n, this.pointerAt);
      case 'fit': return this.view.fit();
      case 'pixel': return this.view.centre(...this.here(), 1);
      case 'pan': return this.view.pan(...argument.split(',').map(Number));
      case 'shadows': case 'contrast': case 'channel': case 'plain': this.light.change(name, n); return this.say('');
      case 'names': this.drawing.names = !this.drawing.names; this.redraw(); return this.pressed();
      case 'hide': this.drawing.hidden = !this.drawing.hidden; this.redraw(); return this.say(this.drawing.hidden ? 'marks hidden' : '');
      case 'residuals': {
        const steps = [0, 10, 40, 160];
        this.drawing.residuals = steps[(steps.indexOf(this.drawing.residuals) + 1) % steps.length];
        this.redraw(); this.pressed();
        return this.say(this.drawing.residuals ? `residuals ×${this.drawing.residuals}: from each mark to where the survey puts it` : '');
      }
      case 'finish': return this.finish();
      case 'up': return this.up();
      case 'twin': return this.twin();
      case 'all': this.selected = new Set(this.marks.map((m) => m.id)); return this.chose();
      case 'nudge': { const [dx, dy] = argument.split(',').map(Number); return this.nudge(dx, dy); }
      case 'remove': return this.removeChosen();
      case 'proposal': return this.goProposal(n);
      case 'confirm all': return this.confirm(true);
      case 'next mark': return this.nextMark(n);
      default: return this.tell({ do: name, value: argument, ids: [...this.selected], vertex: this.vertex });
    }
  }

  take(tool) {
    this.giveUp();
    this.tool = this.tool === tool ? '' : tool;
    this.preset = null;
    this.pressed();
    const words = {
      point: 'click the point', line: 'click along the line, Enter ends it', outline: 'click the corners, Enter closes it',
      pipe: 'click along the middle of the pipe, Enter ends it', rim: 'click five or more points on the rim, Enter ends it', '': '',
    };
    this.say(words[this.tool]);
    this.loupe.hidden = !this.tool;
  }

  sure(certainty) {
    this.certainty = certainty;
    this.pressed();
    if (this.selected.size) this.tell({ do: 'certainty', value: certainty, ids: [...this.selected] });
  }

  giveUp() {
    this.draft = [];
    this.drawing.draft('', []);
    if (this.naming.open) this.naming.cancel();
  }

  up() {
    if (this.draft.length) { this.giveUp(); return this.say('given up'); }
    if (this.tool) return this.take('');
    if (this.proposed.length) { this.proposed = []; this.drawing.proposals([], 0); return this.say(''); }
    this.selected.clear(); this.vertex = null;
    this.chose();
  }

  twin() {
    if (!this.offered) return this.tell({ do: 'twin', ids: [...this.selected] });
    const offered = this.offered;
    this.offered = null;
    if (this.tool !== 'point') this.take('point');
    this.preset = offered;
    this.say(`click ${offered.name}`);
  }

  // Placing -------------------------------------------------------------------------------------------------

  press(p, e) {
    if (!this.tool || !this.view.inside(p.x, p.y)) return;
    this.draft.push([p.x, p.y]);
    this.drawing.draft(this.tool, this.draft);
    if (this.tool === 'point') return this.finish();
    if (this.tool === 'rim') this.say(this.draft.length < 5 ? `${this.draft.length} of 5 points on the rim` : 'Enter ends it, more points make it better');
    if (e && e.detail === 2 && this.tool !== 'rim') { this.draft.pop(); this.finish(); }
  }

  async finish() {
    if (!this.draft.length && this.proposed.length) return this.confirm(false);
    const least = { point: 1, line: 2, outline: 3, pipe: 2, rim: 3 }[this.tool];
    if (!least || this.draft.length < least || this.naming.open) return;
    const draft = this.draft, tool = this.tool, form = tool === 'rim' ? 'circle' : tool === 'point' ? 'point' : 'part';
    const [x, y] = draft[draft.length - 1], at = this.view.toScreen(x, y);
    let id = this.preset ? this.preset.id : null;
    if (!id) {
      const names = this.names(form);
      this.namingForm = form;
      const titles = { point: 'This point is', circle: 'This rim is', part: `This ${tool} is` };
      id = await this.naming.ask(titles[form], names, at.x, at.y, this.view.width, this.view.height);
      this.stage.focus();
    }
    this.preset = null;
    this.draft = [];
    this.drawing.draft('', []);
    if (id === null) return this.say('given up');
    const round = (v) => Math.round(v * 100) / 100;
    this.tell({
      do: 'place', form: tool, name: id, certainty: this.certainty, path: draft.map(([a, b]) => [round(a), round(b)]),
      width: tool === 'pipe' ? Math.max(2, round(12 / this.view.scale)) : null,
    });
  }

  // Names to choose from: those in the dossier first, then the vocabulary's.
  names(form) {
    const here = new Set(this.marks.map((m) => m.point || m.circle).filter(Boolean));
    const named = this.named.filter((n) => n.form === form).map((n) => ({ ...n, here: here.has(n.id) }));
    const taken = new Set(named.map((n) => n.id));
    return [...named, ...this.vocabulary.filter((n) => n.form === form && !taken.has(n.id))];
  }

  // Choosing and moving ---------------------------------------------------------------------------------

  chose() {
    this.redraw();
    this.drawLoupeAtChosen();
    this.tell({ do: 'select', ids: [...this.selected] });
  }

  hit(p) {
    const reach = NEAR / this.view.scale;
    let best = null, least = reach;
    if (this.drawing.hidden) return null;
    for (const mark of this.marks) {
      if (mark.form === 'point') {
        const d = Math.hypot(mark.x - p.x, mark.y - p.y);
        if (d < least) { least = d; best = { mark, vertex: null }; }
      }
    }
    if (best) return best;
    for (const mark of this.marks) {
      if (mark.form === 'point') continue;
      const path = mark.edge || mark.path;
      if (this.selected.has(mark.id)) {
        const i = path.findIndex(([x, y]) => Math.hypot(x - p.x, y - p.y) < reach);
        if (i >= 0) return { mark, vertex: i };
      }
      const shown = mark.fitted || path;
      const d = distanceToPath(p.x, p.y, shown, mark.form !== 'line' && mark.form !== 'pipe');
      if (d < least) { least = d; best = { mark, vertex: null }; }
    }
    return best;
  }

  nudge(dx, dy) {
    if (!this.selected.size) return this.view.pan(-dx * 200, -dy * 200);
    for (const id of this.selected) this.shift(this.byId.get(id), dx, dy, this.selected.size === 1 ? this.vertex : null);
    this.redraw();
    this.drawLoupeAtChosen();
    // several presses in a row are one step
    this.pending = { dx: (this.pending ? this.pending.dx : 0) + dx, dy: (this.pending ? this.pending.dy : 0) + dy };
    clearTimeout(this.nudging);
    this.nudging = setTimeout(() => this.flush(), 120);
  }

  flush() {
    const p = this.pending;
    this.pending = null;
    if (p) this.tell({ do: 'move', ids: [...this.selected], vertex: this.selected.size === 1 ? this.vertex : null, dx: p.dx, dy: p.dy });
  }

  shift(mark, dx, dy, vertex) {
    if (!mark) return;
    if (mark.form === 'point') { mark.x += dx; mark.y += dy; return; }
    const path = mark.edge || mark.path;
    path.forEach((p, i) => { if (vertex === null || vertex === i) { p[0] += dx; p[1] += dy; } });
    mark.fitted = null;
  }

  removeChosen() {
    if (this.proposed.length && !this.selected.size) {
      this.proposed.splice(this.atProposal, 1);
      return this.goProposal(0);
    }
    if (this.selected.size) this.tell({ do: 'remove', ids: [...this.selected], vertex: this.selected.size === 1 ? this.vertex : null });
    this.vertex = null;
  }

  nextMark(step) {
    if (!this.marks.length) return;
    const order = [...this.marks].sort((a, b) => at(a)[0] - at(b)[0]);
    const i = order.findIndex((m) => this.selected.has(m.id));
    const next = order[(i + step + order.length) % order.length];
    this.selected = new Set([next.id]); this.vertex = null;
    const [x, y] = at(next), s = this.view.toScreen(x, y);
    if (s.x < 40 || s.y < 40 || s.x > this.view.width - 40 || s.y > this.view.height - 40) this.view.centre(x, y);
    this.chose();
  }

  goProposal(step) {
    const n = this.proposed.length;
    if (!n) { this.drawing.proposals([], 0); return this.say('no proposals left'); }
    this.atProposal = (Math.min(this.atProposal, n - 1) + step + n) % n;
    const p = this.proposed[this.atProposal];
    if (this.view.scale < 0.6 || step) this.view.centre(p.x, p.y, Math.max(this.view.scale, 1));
    this.drawing.proposals(this.proposed, this.atProposal);
    this.showLoupe(p);
    this.say(this.proposalWords());
  }

  confirm(all) {
    const taken = all ? this.proposed : this.proposed.splice(this.atProposal, 1);
    if (all) this.proposed = [];
    if (!taken.length) return;
    this.tell({ do: 'confirm', marks: taken, certainty: this.certainty });
    this.goProposal(0);
  }

  here() {
    const one = this.selected.size === 1 ? this.byId.get([...this.selected][0]) : null;
    if (one) return at(one);
    const p = this.cursor || this.view.toPicture(this.view.width / 2, this.view.height / 2);
    return [p.x, p.y];
  }

  // Loupe ---------------------------------------------------------------------------------------------------

  showLoupe(p) { this.loupe.hidden = false; this.loupeAt = p; this.drawLoupe(); }

  drawLoupeAtChosen() {
    if (this.tool) return;
    const one = this.selected.size === 1 ? this.byId.get([...this.selected][0]) : null;
    if (!one) { this.loupe.hidden = true; return; }
    const path = one.edge || one.path, p = one.form === 'point' ? [one.x, one.y] : path[this.vertex ?? 0];
    this.showLoupe({ x: p[0], y: p[1] });
  }

  drawLoupe() {
    const p = this.loupeAt;
    if (!p || !this.photo) return;
    const ctx = this.loupeCanvas.getContext('2d', { alpha: false }), scale = Math.max(LOUPE, 2 * this.view.scale);
    this.view.paint(ctx, scale, 88 - (p.x + 0.5) * scale, 88 - (p.y + 0.5) * scale, 176, 176);
    const s = this.view.toScreen(p.x, p.y);  // never over what it shows
    this.loupe.classList.toggle('left', s.x > this.view.width - 260 && s.y < 260);
  }

  // Mouse, trackpad, touch, keys ---------------------------------------------------------------------------

  listen() {
    const stage = this.stage;
    stage.addEventListener('wheel', (e) => {
      e.preventDefault();
      const at = this.local(e);
      // a trackpad pans with two fingers and says ctrl when it pinches; a wheel turns in large even steps
      const wheel = e.deltaMode !== 0 || (e.deltaX === 0 && Math.abs(e.deltaY) >= 50 && Number.isInteger(e.deltaY));
      if (e.ctrlKey) this.view.zoom(Math.exp(-e.deltaY * 0.01), at);
      else if (wheel && !e.shiftKey) this.view.zoom(e.deltaY < 0 ? 1.25 : 0.8, at);
      else this.view.pan(-(e.deltaX || (e.shiftKey ? e.deltaY : 0)), e.shiftKey ? 0 : -e.deltaY);
    }, { passive: false });
    stage.addEventListener('pointerdown', (e) => this.down(e));
    stage.addEventListener('pointermove', (e) => this.move(e));
    stage.addEventListener('pointerup', (e) => this.release(e));
    stage.addEventListener('pointercancel', (e) => { this.pointers.delete(e.pointerId); this.drag = null; });
    stage.addEventListener('pointerleave', () => { this.cursor = null; this.pointerAt = null; if (!this.drag) { this.showPlace(); this.drawLoupeAtChosen(); if (this.tool) this.loupe.hidden = true; } });
    stage.addEventListener('contextmenu', (e) => e.preventDefault());
    this.onKey = (e) => this.key(e);
    document.addEventListener('keydown', this.onKey);
  }

  local(e) {
    const box = this.stage.getBoundingClientRect();
    return { x: e.clientX - box.left, y: e.clientY - box.top };
  }

  down(e) {
    if (!this.photo) return;
    this.stage.focus();
    if (this.naming.open) { this.naming.cancel(); return; }
    const at = this.local(e), p = this.view.toPicture(at.x, at.y);
    this.pointers.set(e.pointerId, at);
    this.stage.setPointerCapture(e.pointerId);
    if (this.pointers.size === 2) { this.drag = { kind: 'pinch', ...this.fingers() }; return; }
    const middle = e.button === 1 || e.button === 2;
    const found = !this.tool && !middle && e.button === 0 ? this.hit(p) : null;
    this.drag = { kind: 'wait', at, p, found, button: e.button, shift: e.shiftKey };
  }

  fingers() {
    const [a, b] = [...this.pointers.values()];
    return { d: Math.hypot(a.x - b.x, a.y - b.y), c: { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 } };
  }

  move(e) {
    if (!this.photo) return;
    const at = this.local(e), p = this.view.toPicture(at.x, at.y);
    this.cursor = p; this.pointerAt = at;
    if (this.pointers.has(e.pointerId)) this.pointers.set(e.pointerId, at);
    this.showPlace();
    const drag = this.drag;
    if (this.tool) {
      if (this.view.inside(p.x, p.y)) this.showLoupe(p);
      if (this.draft.length && !this.naming.open) this.drawing.draft(this.tool, this.draft, p);
    }
    if (!drag) return;
    if (drag.kind === 'pinch') {
      const now = this.fingers();
      this.view.pan(now.c.x - drag.c.x, now.c.y - drag.c.y);
      this.view.zoom(now.d / drag.d, now.c);
      Object.assign(drag, now);
      return;
    }
    if (drag.kind === 'wait') {
      if (Math.hypot(at.x - drag.at.x, at.y - drag.at.y) < 4) return;
      drag.kind = drag.found ? 'marks' : (drag.shift ? 'band' : 'pan');
      drag.last = drag.at; drag.lastP = drag.p;
      if (drag.found && !this.selected.has(drag.found.mark.id)) {
        this.selected = new Set([drag.found.mark.id]); this.vertex = drag.found.vertex;
      } else if (drag.found) this.vertex = drag.found.vertex;
    }
    if (drag.kind === 'pan') this.view.pan(at.x - drag.last.x, at.y - drag.last.y);
    else if (drag.kind === 'marks') {
      for (const id of this.selected) this.shift(this.byId.get(id), p.x - drag.lastP.x, p.y - drag.lastP.y, this.selected.size === 1 ? this.vertex : null);
      this.redraw();
      this.drawLoupeAtChosen();
    } else if (drag.kind === 'band') this.band(drag.at, at);
    drag.last = at; drag.lastP = p;
  }

  release(e) {
    const drag = this.drag, at = this.local(e), p = this.view.toPicture(at.x, at.y);
    this.pointers.delete(e.pointerId);
    if (drag && drag.kind === 'pinch') { if (!this.pointers.size) this.drag = null; return; }
    this.drag = null;
    if (!drag) return;
    if (drag.kind === 'wait' && drag.button === 0) {
      if (this.tool) return this.press(p, e);
      const on = drag.found;
      const proposal = on ? -1 : this.proposed.findIndex((q) => Math.hypot(q.x - p.x, q.y - p.y) < NEAR / this.view.scale);
      if (proposal >= 0) { this.atProposal = proposal; return this.goProposal(0); }
      if (!on && !drag.shift) this.selected.clear();
      if (on && drag.shift) this.selected.has(on.mark.id) ? this.selected.delete(on.mark.id) : this.selected.add(on.mark.id);
      else if (on) this.selected = new Set([on.mark.id]);
      this.vertex = on ? on.vertex : null;
      this.chose();
    } else if (drag.kind === 'marks') {
      this.tell({ do: 'move', ids: [...this.selected], vertex: this.selected.size === 1 ? this.vertex : null, dx: p.x - drag.p.x, dy: p.y - drag.p.y });
    } else if (drag.kind === 'band') {
      this.over.querySelector('.ll-band')?.remove();
      const q = drag.p, [x0, x1] = [Math.min(p.x, q.x), Math.max(p.x, q.x)], [y0, y1] = [Math.min(p.y, q.y), Math.max(p.y, q.y)];
      for (const m of this.marks) {
        const path = m.form === 'point' ? [[m.x, m.y]] : m.edge || m.path;
        if (path.every(([x, y]) => x >= x0 && x <= x1 && y >= y0 && y <= y1)) this.selected.add(m.id);
      }
      this.chose();
    }
  }

  band(a, b) {
    let rect = this.over.querySelector('.ll-band');
    if (!rect) {
      rect = document.createElementNS('http://www.w3.org/2000/svg', 'rect');
      rect.setAttribute('class', 'll-band');
      this.over.append(rect);
    }
    const set = (k, v) => rect.setAttribute(k, v);
    set('x', Math.min(a.x, b.x)); set('y', Math.min(a.y, b.y));
    set('width', Math.abs(a.x - b.x)); set('height', Math.abs(a.y - b.y));
  }

  key(e) {
    if (e.defaultPrevented || !document.contains(this.root) || longlens.writing(e) || longlens.sheetOpen()) return;
    if (e.target.closest && e.target.closest('button,a,summary,.q-dialog') && ['Enter', ' '].includes(e.key)) return;
    const spelt = longlens.spell(e);
    const found = this.keys.find((k) => k.keys === spelt);
    if (!found) return;
    e.preventDefault();
    this.act(found.do);
  }

  gone() { document.removeEventListener('keydown', this.onKey); }
}

const at = (m) => (m.form === 'point' ? [m.x, m.y] : (m.edge || m.path)[0]);
