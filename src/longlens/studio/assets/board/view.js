// The photograph on the board: where it lies, how large it is, and its pixels from a scaled picture and tiles.
// Picture coordinates are those of the dossier: (0, 0) is the centre of the top left pixel.

const TILES_KEPT = 160, PREVIEW = 1600;

export class View {
  constructor(box, canvas, moved) {
    this.box = box;
    this.canvas = canvas;
    this.moved = moved;
    this.scale = 1; this.x = 0; this.y = 0;
    this.photo = null;
    this.tiles = new Map();
    this.asked = 0;
    this.places = new Map();  // per photograph: where one was
    new ResizeObserver(() => this.resized()).observe(box);
  }

  show(photo) {
    if (this.photo) this.places.set(this.photo.id, [this.scale, this.x, this.y]);
    this.photo = photo;
    this.tiles.clear();
    this.preview = null;
    if (photo.picture) {
      const image = new Image();
      image.src = `/photograph/${photo.picture}/${PREVIEW}.jpg`;
      this.preview = image;
      image.onload = () => {
        if (this.preview !== image) return;
        this.shownAt = performance.now();
        this.box.dataset.shown = photo.id;
        this.draw();
      };
    }
    const place = this.places.get(photo.id);
    if (place) [this.scale, this.x, this.y] = place; else this.fit();
    this.draw();
  }

  resized() {
    const { width, height } = this.box.getBoundingClientRect();
    const first = !this.width;
    this.width = width; this.height = height;
    this.ratio = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * this.ratio);
    this.canvas.height = Math.round(height * this.ratio);
    if (this.photo && (first || this.fitted)) this.fit();
    this.draw();
  }

  fit() {
    if (!this.photo || !this.width) return;
    const { width, height } = this.photo;
    this.scale = Math.min(this.width / width, this.height / height);
    this.x = (this.width - width * this.scale) / 2;
    this.y = (this.height - height * this.scale) / 2;
    this.fitted = true;
    this.draw();
  }

  zoom(factor, at) {
    const { x, y } = at || { x: this.width / 2, y: this.height / 2 };
    const least = 0.5 * Math.min(this.width / this.photo.width, this.height / this.photo.height);
    const to = Math.min(Math.max(this.scale * factor, least), 64);
    const k = to / this.scale;
    this.x = x - (x - this.x) * k;
    this.y = y - (y - this.y) * k;
    this.scale = to;
    this.fitted = false;
    this.draw();
  }

  pan(dx, dy) { this.x += dx; this.y += dy; this.fitted = false; this.draw(); }

  centre(px, py, scale) {
    if (scale) this.scale = scale;
    this.x = this.width / 2 - (px + 0.5) * this.scale;
    this.y = this.height / 2 - (py + 0.5) * this.scale;
    this.fitted = false;
    this.draw();
  }

  toPicture(sx, sy) { return { x: (sx - this.x) / this.scale - 0.5, y: (sy - this.y) / this.scale - 0.5 }; }
  toScreen(px, py) { return { x: (px + 0.5) * this.scale + this.x, y: (py + 0.5) * this.scale + this.y }; }
  inside(px, py) { const p = this.photo; return p && px > -0.5 && py > -0.5 && px < p.width - 0.5 && py < p.height - 0.5; }

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      if (!this.photo || !this.width) return;
      const ctx = this.canvas.getContext('2d', { alpha: false });
      this.paint(ctx, this.scale * this.ratio, this.x * this.ratio, this.y * this.ratio, this.canvas.width, this.canvas.height);
      this.moved();
    });
  }

  // Paint the photograph into any canvas: the board and the loupe do it alike.
  paint(ctx, scale, ox, oy, width, height) {
    const { photo, preview } = this;
    ctx.setTransform(1, 0, 0, 1, 0, 0);
    ctx.fillStyle = '#0c0e10';
    ctx.fillRect(0, 0, width, height);
    if (!preview || !preview.complete || !preview.naturalWidth) return;
    ctx.imageSmoothingEnabled = scale < 3;
    ctx.imageSmoothingQuality = 'high';
    ctx.drawImage(preview, ox, oy, photo.width * scale, photo.height * scale);
    const full = preview.naturalWidth >= photo.width;
    if (full || scale <= 1.05 * preview.naturalWidth / photo.width) return;
    const level = Math.max(0, Math.min(photo.levels, Math.floor(Math.log2(1 / scale) + 0.15)));
    const size = photo.tile * 2 ** level;
    const c0 = Math.max(0, Math.floor(-ox / scale / size)), r0 = Math.max(0, Math.floor(-oy / scale / size));
    const c1 = Math.min(Math.ceil(photo.width / size), Math.ceil((width - ox) / scale / size));
    const r1 = Math.min(Math.ceil(photo.height / size), Math.ceil((height - oy) / scale / size));
    for (let r = r0; r < r1; r++) {
      for (let c = c0; c < c1; c++) {
        const tile = this.tile(level, c, r);
        if (!tile) continue;
        const x0 = Math.round(c * size * scale + ox), y0 = Math.round(r * size * scale + oy);
        const x1 = Math.round(Math.min((c + 1) * size, photo.width) * scale + ox);
        const y1 = Math.round(Math.min((r + 1) * size, photo.height) * scale + oy);
        ctx.drawImage(tile, x0, y0, x1 - x0, y1 - y0);
      }
    }
  }

  tile(level, c, r) {
    const key = `${level}/${c}/${r}`;
    let image = this.tiles.get(key);
    if (image) {
      this.tiles.delete(key);
      this.tiles.set(key, image);
      return image.complete && image.naturalWidth ? image : null;
    }
    image = new Image();
    image.onload = () => this.draw();
    image.src = `/photograph/${this.photo.picture}/${key}.jpg`;
    this.tiles.set(key, image);
    if (this.tiles.size > TILES_KEPT) this.tiles.delete(this.tiles.keys().next().value);
    return null;
  }
}

// Light on the screen only: shadows lifted, contrast, one channel. The photograph itself stays as it is.
export class Light {
  constructor(svg, targets) {
    this.svg = svg; this.targets = targets;
    this.shadows = 0; this.contrast = 0; this.channel = 'all';
  }

  change(what, by) {
    if (what === 'channel') {
      const all = ['all', 'red', 'green', 'blue', 'grey'];
      this.channel = all[(all.indexOf(this.channel) + 1) % all.length];
    } else if (what === 'plain') {
      this.shadows = 0; this.contrast = 0; this.channel = 'all';
    } else this[what] = Math.max(what === 'shadows' ? 0 : -4, Math.min(8, this[what] + by));
    this.apply();
  }

  get plain() { return !this.shadows && !this.contrast && this.channel === 'all'; }

  words() {
    if (this.plain) return '';
    return [this.shadows ? `shadows +${this.shadows}` : '', this.contrast ? `contrast ${this.contrast > 0 ? '+' : '−'}${Math.abs(this.contrast)}` : '',
      this.channel === 'all' ? '' : `${this.channel} only`].filter(Boolean).join(' · ');
  }

  apply() {
    const rows = {
      all: '1 0 0 0 0 0 1 0 0 0 0 0 1 0 0', red: '1 0 0 0 0 1 0 0 0 0 1 0 0 0 0', green: '0 1 0 0 0 0 1 0 0 0 0 1 0 0 0',
      blue: '0 0 1 0 0 0 0 1 0 0 0 0 1 0 0', grey: '.2126 .7152 .0722 0 0 .2126 .7152 .0722 0 0 .2126 .7152 .0722 0 0',
    };
    // Shadows: a power below the middle grey, faded out above it, so that lights do not burn. Contrast: a slope about 0.5.
    const power = 1 / (1 + 0.35 * this.shadows), slope = 2 ** (0.35 * this.contrast), table = [];
    for (let i = 0; i <= 64; i++) {
      const v = i / 64, fade = v < 0.25 ? 1 : Math.max(0, 1 - (v - 0.25) / 0.75) ** 1.5;
      const lifted = v + (v ** power - v) * fade;
      table.push(Math.min(1, Math.max(0, (lifted - 0.5) * slope + 0.5)).toFixed(4));
    }
    const t = `type="table" tableValues="${table.join(' ')}"`;
    this.svg.innerHTML = `<filter id="ll-light" color-interpolation-filters="sRGB" x="0" y="0" width="1" height="1">
      <feColorMatrix values="${rows[this.channel]} 0 0 0 1 0"/>
      <feComponentTransfer><feFuncR ${t}/><feFuncG ${t}/><feFuncB ${t}/></feComponentTransfer></filter>`;
    for (const target of this.targets) target.style.filter = this.plain ? '' : 'url(#ll-light)';
  }
}
