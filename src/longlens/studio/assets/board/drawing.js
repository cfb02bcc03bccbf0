// Marks, help from the survey and proposals as SVG over the photograph. Positions are in picture pixels; glyphs and lines
// keep their size on the screen. Colour says the system, the line says the certainty.

import { ellipse, ellipsePath } from './shapes.js';

const NS = 'http://www.w3.org/2000/svg';
const LINE = { 'seen': 'seen', 'partly seen': 'partly', 'inferred': 'inferred' };

export class Drawing {
  constructor(svg) {
    this.svg = svg;
    this.root = make('g');
    this.layers = {};
    for (const name of ['guide', 'path', 'rim', 'point', 'residual', 'proposal', 'draft']) {
      this.layers[name] = make('g', { class: `ll-layer-${name}` });
      this.root.append(this.layers[name]);
    }
    svg.append(this.root);
    this.glyphs = [];
    this.names = false; this.residuals = 0; this.hidden = false;
  }

  // Move everything to where the photograph lies now.
  place(view) {
    this.view = view;
    this.root.setAttribute('transform', `translate(${view.x} ${view.y}) scale(${view.scale}) translate(.5 .5)`);
    const k = parseFloat(getComputedStyle(document.documentElement).fontSize) / 16 / view.scale;  // as large as the letters
    for (const [node, x, y] of this.glyphs) node.setAttribute('transform', `translate(${x} ${y}) scale(${k})`);
    if (this.names) this.thin();
  }

  // Of names that would lie on each other only the first is shown; going closer shows the rest.
  thin() {
    const taken = [];
    for (const [node, x, y, of] of this.glyphs) {
      const label = of === 'mark' ? node.querySelector('text') : null;
      if (!label) continue;
      const p = this.view.toScreen(x, y), box = [p.x + 8, p.y - 20, p.x + 16 + 7 * label.textContent.length, p.y - 4];
      const on = node.classList.contains('on');
      const free = on || !taken.some((t) => box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1]);
      if (free) taken.push(box);
      label.classList.toggle('ll-crowded', !free);
    }
  }

  marks(marks, selected, vertex) {
    for (const name of ['path', 'rim', 'point', 'residual']) this.layers[name].replaceChildren();
    this.glyphs = this.glyphs.filter((g) => g[3] !== 'mark');
    this.svg.classList.toggle('ll-no-marks', this.hidden);
    for (const mark of marks) this.mark(mark, selected.has(mark.id), vertex);
    if (this.view) this.place(this.view);
  }

  mark(mark, selected, vertex) {
    const g = make('g', { class: `ll-mark s-${mark.system || 'none'} ${LINE[mark.certainty]}${selected ? ' on' : ''}${mark.aside ? ' aside' : ''}` });
    g.dataset.id = mark.id;
    if (mark.form === 'point') {
      this.layers.point.append(g);
      this.glyph(g, mark.x, mark.y, 'mark');
      g.innerHTML = '<circle class="edge" r="7"/><circle class="ink" r="7"/><circle class="dot" r="1.3"/>' +
        (mark.suspect ? '<path class="suspect" d="M-13 0L0 -13L13 0L0 13Z"/>' : '') +
        (selected ? '<path class="tick" d="M-17 0H-10M17 0H10M0 -17V-10M0 17V10"/>' : '');
      if (this.names || selected) this.name(g, mark.name, 12, -8);
      if (mark.residual && this.residuals) this.residual(mark);
    } else {
      const layer = mark.form === 'rim' ? this.layers.rim : this.layers.path;
      layer.append(g);
      let d;
      if (mark.form === 'rim') {
        const e = ellipse(mark.edge);
        d = (mark.fitted ? 'M' + mark.fitted.map((p) => p.join(' ')).join('L') + 'Z' : (e ? ellipsePath(e) : line(mark.edge)));
      } else d = line(mark.path) + (mark.form === 'outline' ? 'Z' : '');
      const across = mark.form === 'pipe' ? `<path class="across" style="stroke-width:${mark.width}px" d="${d}"/>` : '';
      g.innerHTML = `${across}<path class="edge" d="${d}"/><path class="ink" d="${d}"/>`;
      const dots = mark.form === 'rim' ? mark.edge : (selected ? mark.path : []);
      dots.forEach((p, i) => {
        const dot = make('g', { class: 'll-vertex' + (selected && vertex === i ? ' on' : '') });
        dot.innerHTML = selected ? '<rect x="-4" y="-4" width="8" height="8"/>' : '<circle class="dot" r="1.8"/>';
        g.append(dot);
        this.glyph(dot, p[0], p[1], 'mark');
      });
      if (mark.suspect) {
        const s = make('g');
        s.innerHTML = '<path class="suspect" d="M-13 0L0 -13L13 0L0 13Z"/>';
        g.append(s);
        this.glyph(s, mark.suspect[0], mark.suspect[1], 'mark');
      }
      if (this.names || selected) {
        const label = make('g'), [x, y] = (mark.edge || mark.path)[0];
        g.append(label);
        this.glyph(label, x, y, 'mark');
        this.name(label, mark.name, 10, -8);
      }
    }
  }

  residual(mark) {
    const k = this.residuals, [dx, dy] = mark.residual;
    this.layers.residual.append(make('path', { class: 'll-residual', d: `M${mark.x} ${mark.y}l${dx * k} ${dy * k}` }));
  }

  name(g, words, dx, dy) {
    const t = make('text', { x: dx, y: dy });
    t.textContent = words;
    g.append(t);
  }

  // Where the survey says that a point must lie: an ellipse, or a line while only one photograph shows it.
  guide(guides) {
    this.layers.guide.replaceChildren();
    this.glyphs = this.glyphs.filter((g) => g[3] !== 'guide');
    for (const one of guides) {
      const g = make('g', { class: `ll-guide${one.twin ? ' twin' : ''}${one.provisional ? ' provisional' : ''}` });
      this.layers.guide.append(g);
      if (one.path) {
        const d = line(one.path);
        g.innerHTML = `<path class="edge" d="${d}"/><path class="ink" d="${d}"/>`;
      }
      if (one.ellipse) {
        const d = ellipsePath(one.ellipse);
        g.innerHTML += `<path class="edge" d="${d}"/><path class="ink" d="${d}"/>`;
        const cross = make('g');
        cross.innerHTML = '<path class="ink" d="M-5 0H5M0 -5V5"/>';
        g.append(cross);
        this.glyph(cross, one.ellipse.x, one.ellipse.y, 'guide');
      }
      const at = one.ellipse ? [one.ellipse.x, one.ellipse.y] : one.path[Math.floor(one.path.length / 2)];
      const label = make('g');
      g.append(label);
      this.glyph(label, at[0], at[1], 'guide');
      this.name(label, one.name, 10, 16);
    }
    if (this.view) this.place(this.view);
  }

  proposals(list, at) {
    this.layers.proposal.replaceChildren();
    this.glyphs = this.glyphs.filter((g) => g[3] !== 'proposal');
    list.forEach((p, i) => {
      const g = make('g', { class: 'll-proposal' + (i === at ? ' on' : '') });
      g.dataset.index = i;
      g.innerHTML = '<path class="edge" d="M-8 0L0 -8L8 0L0 8Z"/><path class="ink" d="M-8 0L0 -8L8 0L0 8Z"/><circle class="dot" r="1.3"/>';
      this.layers.proposal.append(g);
      this.glyph(g, p.x, p.y, 'proposal');
      if (i === at) this.name(g, `${p.name}? by ${p.by || 'its place in the frame'}`, 12, -8);
    });
    if (this.view) this.place(this.view);
  }

  // What is being drawn and is not placed yet.
  draft(tool, path, cursor) {
    this.layers.draft.replaceChildren();
    this.glyphs = this.glyphs.filter((g) => g[3] !== 'draft');
    if (!path.length) return;
    const all = cursor && tool !== 'rim' && tool !== 'point' ? [...path, [cursor.x, cursor.y]] : path;
    const e = tool === 'rim' ? ellipse(path) : null;
    const d = e ? ellipsePath(e) : line(all) + (tool === 'outline' && all.length > 2 ? 'Z' : '');
    const g = make('g', { class: 'll-mark draft' });
    if (tool !== 'point' && (tool !== 'rim' || e)) g.innerHTML = `<path class="edge" d="${d}"/><path class="ink" d="${d}"/>`;
    this.layers.draft.append(g);
    for (const [x, y] of path) {
      const dot = make('g');
      dot.innerHTML = '<circle class="edge" r="4"/><circle class="ink" r="4"/><circle class="dot" r="1.2"/>';
      g.append(dot);
      this.glyph(dot, x, y, 'draft');
    }
    if (this.view) this.place(this.view);
  }

  glyph(node, x, y, of) { this.glyphs.push([node, x, y, of]); }
}

const line = (path) => 'M' + path.map(([x, y]) => `${x} ${y}`).join('L');

export function make(tag, attributes = {}) {
  const node = document.createElementNS(NS, tag);
  for (const [k, v] of Object.entries(attributes)) node.setAttribute(k, v);
  return node;
}
