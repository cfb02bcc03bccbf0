// A name for what was just marked: type a few letters of any of its words, Enter takes the first.

export class Naming {
  // add(words): somebody wants these words as a part of their own; the box stays open behind.
  constructor(box, add) {
    this.add = add;
    this.node = document.createElement('div');
    this.node.className = 'll-naming';
    this.node.hidden = true;
    this.node.innerHTML = `<label><span></span><input type="text" role="combobox" aria-expanded="true" aria-controls="ll-names"
      autocomplete="off" spellcheck="false"></label><div id="ll-names" role="listbox" aria-label="Names"></div>
      <button type="button" class="ll-plain ll-left" aria-keyshortcuts="ctrl+enter">Add a part of your own <kbd>ctrl+enter</kbd></button>`;
    box.append(this.node);
    this.title = this.node.querySelector('span');
    this.input = this.node.querySelector('input');
    this.list = this.node.querySelector('[role=listbox]');
    this.input.addEventListener('input', () => { this.at = 0; this.draw(); });
    this.input.addEventListener('keydown', (e) => this.key(e));
    this.node.querySelector('button').addEventListener('click', () => this.own());
    this.list.addEventListener('mousedown', (e) => e.preventDefault());
    this.list.addEventListener('click', (e) => {
      const option = e.target.closest('[role=option]');
      if (option) this.take([...this.list.children].indexOf(option));
    });
    for (const kind of ['pointerdown', 'wheel', 'dblclick']) this.node.addEventListener(kind, (e) => e.stopPropagation());
  }

  get open() { return !this.node.hidden; }

  // names: [{id, name, words, known, here, system}]; the promise gives an id or null.
  ask(title, names, x, y, width, height) {
    this.cancel();
    this.names = names;
    this.title.textContent = title;
    this.node.hidden = false;
    this.node.style.left = `${Math.max(8, Math.min(x + 18, width - 330))}px`;
    this.node.style.top = `${Math.max(8, Math.min(y + 18, height - 330))}px`;
    this.input.value = '';
    this.at = 0;
    this.draw();
    this.input.focus();
    return new Promise((resolve) => { this.resolve = resolve; });
  }

  own() { this.add(this.input.value.trim()); }

  // A part was added: it is among the names now, and found by what it is called.
  renew(names, words) {
    this.names = names;
    if (words !== undefined) {
      if (!this.input.value.trim() || !this.find(this.input.value).length) this.input.value = words;
      this.at = 0;
    }
    this.draw();
    if (words !== undefined) this.input.focus();
  }

  cancel() { this.finish(null); }

  finish(id) {
    this.node.hidden = true;
    const resolve = this.resolve;
    this.resolve = null;
    if (resolve) resolve(id);
  }

  find(text) {
    const short = { lf: 'left front', rf: 'right front', lr: 'left rear', rr: 'right rear' };
    const typed = text.toLowerCase().split(/[\s._]+/).filter(Boolean).flatMap((t) => (short[t] || t).split(' '));
    const found = [];
    for (const one of this.names) {
      let score = one.known ? 2 : 0, ok = true;
      if (one.here) score -= 4;  // marked on this photograph already
      for (const t of typed) {
        const i = one.words.findIndex((w) => w.startsWith(t));
        if (i < 0) { ok = false; break; }
        score -= 0.1 * i;
        if (one.words[i] === t) score += 0.5;
      }
      if (ok) found.push([score - 0.02 * one.words.length, one]);
    }
    found.sort((a, b) => b[0] - a[0]);
    return found.slice(0, 8).map((f) => f[1]);
  }

  draw() {
    this.shown = this.find(this.input.value);
    const typed = this.input.value.trim();
    // an id written out is meant as it stands; otherwise a new name comes last
    const exact = this.names.find((n) => n.id === typed);
    if (exact) this.shown = [exact, ...this.shown.filter((s) => s !== exact)];
    else if (typed) this.shown[/^[a-z0-9_]+(\.[a-z0-9_]+)+(@[\w-]+)?$/.test(typed) ? 'unshift' : 'push']({ id: typed, name: `new name: ${typed}` });
    this.at = Math.max(0, Math.min(this.at, this.shown.length - 1));
    this.list.replaceChildren(...this.shown.map((one, i) => {
      const option = document.createElement('div');
      option.setAttribute('role', 'option');
      option.id = `ll-name-${i}`;
      option.setAttribute('aria-selected', String(i === this.at));
      option.className = `s-${one.system || 'none'}`;
      const name = document.createElement('span');
      name.textContent = one.name;
      option.append(name);
      if (one.here || one.about) {
        const small = document.createElement('small');
        small.textContent = one.here ? 'marked here: will be moved' : one.about;
        option.append(small);
      }
      return option;
    }));
    this.input.setAttribute('aria-activedescendant', this.shown.length ? `ll-name-${this.at}` : '');
  }

  take(i) { const one = this.shown[i]; if (one) this.finish(one.id); }

  key(e) {
    e.stopPropagation();
    if (e.key === 'ArrowDown' || e.key === 'ArrowUp') {
      e.preventDefault();
      this.at = (this.at + (e.key === 'ArrowDown' ? 1 : this.shown.length - 1)) % Math.max(1, this.shown.length);
      this.draw();
    } else if (e.key === 'Enter' && (e.ctrlKey || e.metaKey)) { e.preventDefault(); this.own();
    } else if (e.key === 'Enter') { e.preventDefault(); this.take(this.at); }
    else if (e.key === 'Escape') { e.preventDefault(); this.cancel(); }
  }
}
