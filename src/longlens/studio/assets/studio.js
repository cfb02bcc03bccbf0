// Keys, command search and help sheet of every page. What a key does is decided on the server; this only listens.
'use strict';
window.longlens = (() => {
  let commands = [], told = [], waiting = '', timer = 0;

  const writing = (e) => e.target instanceof Element &&
    (e.target.closest('input:not([type=checkbox]):not([type=range]),textarea,select,[contenteditable=true]') !== null);

  function spell(e) {
    if (['Shift', 'Control', 'Alt', 'Meta'].includes(e.key)) return '';
    const key = e.key.length === 1 ? e.key.toLowerCase() : e.key.toLowerCase();
    const mods = (e.ctrlKey || e.metaKey ? 'ctrl+' : '') + (e.altKey ? 'alt+' : '');
    const shift = e.shiftKey && (e.key.length > 1 || /[a-z]/i.test(e.key)) ? 'shift+' : '';
    return mods + shift + (key === ' ' ? 'space' : key);
  }

  // At once, without asking the server: what is typed next is meant for the field.
  function focusField(id) {
    const el = document.getElementById(id);
    const input = el && (el.matches('input,textarea,select') ? el : el.querySelector('input,textarea,select'));
    if (input) { input.focus(); input.select?.(); }
  }

  function run(command) {
    if (command.to) window.location.href = command.to;
    else if (command.field) focusField(command.field);
    else emitEvent('ll-command', String(command.id));
  }

  document.addEventListener('keydown', (e) => {
    if (e.defaultPrevented || document.querySelector('dialog.ll-sheet[open]')) return;
    const key = spell(e);
    if (!key) return;
    if (key === 'ctrl+k') { e.preventDefault(); return search(); }
    if (writing(e)) return;
    if (key === '?') { e.preventDefault(); return help(); }
    const chord = waiting ? waiting + ' ' + key : key;
    waiting = '';
    const found = commands.find((c) => c.keys === chord) ||
      (chord === 'ctrl+y' ? commands.find((c) => c.keys === 'ctrl+shift+z') : null);
    if (found) { e.preventDefault(); return run(found); }
    if (commands.some((c) => c.keys.startsWith(chord + ' '))) {
      waiting = chord;
      clearTimeout(timer);
      timer = setTimeout(() => { waiting = ''; }, 1500);
      e.preventDefault();
    }
  });

  const keyed = (keys) => keys.split(' ').filter(Boolean).map((k) => `<kbd>${escape(k)}</kbd>`).join(' ');
  const escape = (s) => s.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' }[c]));

  function sheet(label, html) {
    const dialog = document.createElement('dialog');
    dialog.className = 'll-sheet';
    dialog.setAttribute('aria-label', label);
    dialog.innerHTML = html;
    dialog.addEventListener('close', () => dialog.remove());
    dialog.addEventListener('click', (e) => { if (e.target === dialog) dialog.close(); });
    document.body.append(dialog);
    dialog.showModal();
    return dialog;
  }

  function search() {
    const dialog = sheet('Commands', `<input type="text" role="combobox" aria-expanded="true" aria-controls="ll-found"
      aria-label="Search commands" placeholder="what do you want to do?" autocomplete="off" spellcheck="false">
      <div id="ll-found" role="listbox" aria-label="Commands"></div>`);
    const input = dialog.querySelector('input'), list = dialog.querySelector('[role=listbox]');
    let shown = [], at = 0;
    const draw = () => {
      const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      shown = commands.filter((c) => words.every((w) => (c.name + ' ' + c.about).toLowerCase().includes(w))).slice(0, 12);
      at = Math.max(0, Math.min(at, shown.length - 1));
      list.innerHTML = shown.map((c, i) => `<div role="option" id="ll-option-${i}" aria-selected="${i === at}">
        <span>${escape(c.name)}${c.about ? `<small>${escape(c.about)}</small>` : ''}</span><span>${keyed(c.keys)}</span></div>`).join('');
      input.setAttribute('aria-activedescendant', shown.length ? `ll-option-${at}` : '');
    };
    const go = (i) => { const c = shown[i]; dialog.close(); if (c) run(c); };
    input.addEventListener('input', () => { at = 0; draw(); });
    input.addEventListener('keydown', (e) => {
      if (e.key === 'ArrowDown' || e.key === 'ArrowUp') {
        e.preventDefault();
        at = (at + (e.key === 'ArrowDown' ? 1 : shown.length - 1)) % Math.max(shown.length, 1);
        draw();
      } else if (e.key === 'Enter') { e.preventDefault(); go(at); }
    });
    list.addEventListener('click', (e) => {
      const option = e.target.closest('[role=option]');
      if (option) go([...list.children].indexOf(option));
    });
    draw();
    input.focus();
  }

  function help() {
    const rows = [...commands.filter((c) => c.keys).map((c) => [c.keys, c.name]), ...told.map((t) => [t.keys, t.what])];
    rows.push(['ctrl+k', 'Search commands'], ['?', 'This sheet'], ['esc', 'Close, or let go']);
    const dialog = sheet('Keys', `<header><h2>Keys of this page</h2><button type="button" class="ll-button" autofocus>Close</button></header>
      <dl>${rows.map(([k, w]) => `<div><dt>${keyed(k)}</dt><dd>${escape(w)}</dd></div>`).join('')}</dl>`);
    dialog.classList.add('ll-broad');
    dialog.querySelector('button').addEventListener('click', () => dialog.close());
  }

  // Files and whole folders dropped on an element go to the page's upload.
  function drop(zone) {
    const files = async (entry) => {
      if (entry.isFile) return new Promise((ok) => entry.file((f) => ok([f]), () => ok([])));
      const reader = entry.createReader(), found = [];
      for (;;) {
        const some = await new Promise((ok) => reader.readEntries(ok, () => ok([])));
        if (!some.length) return found;
        for (const one of some) found.push(...await files(one));
      }
    };
    for (const kind of ['dragover', 'dragenter']) {
      zone.addEventListener(kind, (e) => { e.preventDefault(); zone.classList.add('ll-over-it'); });
    }
    zone.addEventListener('dragleave', (e) => { if (!zone.contains(e.relatedTarget)) zone.classList.remove('ll-over-it'); });
    zone.addEventListener('drop', async (e) => {
      e.preventDefault();
      e.stopPropagation();
      zone.classList.remove('ll-over-it');
      const entries = [...e.dataTransfer.items].map((i) => i.webkitGetAsEntry && i.webkitGetAsEntry()).filter(Boolean);
      const found = entries.length ? (await Promise.all(entries.map(files))).flat() : [...e.dataTransfer.files];
      const input = zone.querySelector('input[type=file]'), bag = new DataTransfer();
      for (const f of found) if (!f.name.startsWith('.')) bag.items.add(f);
      input.files = bag.files;
      input.dispatchEvent(new Event('change', { bubbles: true }));
    }, true);
  }

  // Focus, and words that were not sent yet, outlive a part of the page that is filled anew: what had the focus is found again
  // by its name. When it is gone, the focus goes to the nearest part around it that is still there.
  const nameOf = (el) => el.dataset.key || el.getAttribute('aria-label') || (/^(BUTTON|A|SUMMARY)$/.test(el.tagName) ? el.textContent.trim() : '');
  const alike = (tag, name) => [...document.getElementsByTagName(tag)].filter((el) => nameOf(el) === name);
  let held = null;

  function hold(el) {
    const name = nameOf(el), around = [];
    if (!name || el.closest('.q-dialog, dialog, .ll-naming')) { held = null; return; }
    for (let up = el.parentElement; up && up !== document.body; up = up.parentElement) {
      const of = up.dataset.key || up.getAttribute('aria-label');
      if (of) around.push([up.tagName, of]);
    }
    held = { el, name, tag: el.tagName, nth: alike(el.tagName, name).indexOf(el), around, words: null, since: 0 };
  }

  document.addEventListener('focusin', (e) => { if (e.target instanceof HTMLElement && !(held && held.el === e.target)) hold(e.target); });
  document.addEventListener('pointerdown', (e) => { if (held && !(e.target instanceof Element && held.el.contains(e.target))) held = null; }, true);
  document.addEventListener('input', (e) => { if (held && e.target === held.el && held.el.matches('input:not([type=checkbox]),textarea')) held.words = held.el.value; });
  document.addEventListener('change', (e) => {  // a browser sends it, too, as it takes the field away: then nobody heard it
    const was = held;
    if (was && e.target === was.el) Promise.resolve().then(() => { if (was.el.isConnected) was.words = null; });
  });

  function keepFocus() {
    if (!held || held.el.isConnected || (document.activeElement && document.activeElement !== document.body)) return;
    held.since ||= performance.now();
    const was = held, found = alike(was.tag, was.name), el = found[Math.min(was.nth, found.length - 1)];
    if (el && !el.disabled) {
      const words = was.words, [from, to] = [was.el.selectionStart, was.el.selectionEnd];
      held = { ...was, el, since: 0 };
      el.focus({ preventScroll: true });
      if (words !== null && words !== el.value) {  // half written: what was typed stays, and is still sent when it is left
        let sent = false;
        el.value = words;
        el.addEventListener('change', () => { sent = true; }, { once: true });
        el.addEventListener('blur', () => { if (!sent) el.dispatchEvent(new Event('change', { bubbles: true })); }, { once: true });
      }
      try { if (from !== null && from !== undefined) el.setSelectionRange(from, to); } catch { /* not a field of words */ }
    } else if (performance.now() - was.since > 2500) {
      const up = was.around.map(([tag, of]) => alike(tag, of)[0]).find(Boolean) || document.querySelector('h1');
      held = null;
      if (up) { if (up.tabIndex < 0) up.tabIndex = -1; up.focus({ preventScroll: true }); }
    } else { clearTimeout(was.timer); was.timer = setTimeout(keepFocus, 2600 - (performance.now() - was.since)); }
  }
  // The place on the page stays, too: while a part is filled anew the page is short for a moment, and the browser goes up with it.
  let lastY = 0, wantY = null;
  const letGo = () => { wantY = null; lastY = window.scrollY; };
  document.addEventListener('scroll', () => { if (wantY === null) lastY = window.scrollY; }, { passive: true });
  for (const kind of ['wheel', 'touchstart', 'keydown', 'pointerdown']) document.addEventListener(kind, letGo, { passive: true, capture: true });
  function keepPlace(changes) {
    if (wantY === null && window.scrollY < lastY - 8 && changes.some((c) => c.removedNodes.length)) {
      wantY = lastY;
      setTimeout(() => { if (wantY !== null) letGo(); }, 1500);
    }
    if (wantY === null) return;
    window.scrollTo(0, wantY);
    if (Math.abs(window.scrollY - wantY) < 2) letGo();
  }

  // A press that began on a button which was replaced under the pointer is meant for the one that took its place.
  let pressed = null;
  document.addEventListener('pointerdown', (e) => {
    const el = e.target instanceof Element ? e.target.closest('button,a,summary') : null, name = el && nameOf(el);
    pressed = name ? { el, name, tag: el.tagName, nth: alike(el.tagName, name).indexOf(el) } : null;
  }, true);
  document.addEventListener('pointerup', () => {
    const was = pressed;
    pressed = null;
    if (!was || was.el.isConnected) return;
    const found = alike(was.tag, was.name), el = found[Math.min(was.nth, found.length - 1)];
    if (el) el.click();
  }, true);
  new MutationObserver((changes) => { keepPlace(changes); keepFocus(); }).observe(document, { childList: true, subtree: true });

  // To the first field of a part that is about to appear, by the part's name.
  function goTo(name) {
    const look = (left) => {
      const part = [...document.querySelectorAll('[aria-label]')].find((el) => nameOf(el) === name);
      const field = part && part.querySelector('input,select,textarea,button:not([aria-pressed])');
      if (field) { part.scrollIntoView({ block: 'nearest' }); field.focus(); } else if (left) setTimeout(look, 60, left - 1);
    };
    look(40);
  }

  // The tour: a small panel that stays while pages change. Where one is, only this browser knows.
  const TOUR = 'longlens-tour';
  function tour(at) {
    document.querySelector('.ll-tour')?.remove();
    document.querySelector('.ll-toured')?.classList.remove('ll-toured');
    const step = steps[at];
    if (!step) { localStorage.removeItem(TOUR); return; }
    localStorage.setItem(TOUR, String(at));
    if (location.pathname + location.search !== step.to) { location.href = step.to; return; }
    const panel = document.createElement('section');
    panel.className = 'll-tour';
    panel.setAttribute('aria-label', 'Tour');
    panel.innerHTML = `<p>${escape(step.say)}</p><div><span>${at + 1} of ${steps.length}</span>
      <button type="button" class="ll-button">Leave</button>${at ? '<button type="button" class="ll-button">Back</button>' : ''}
      <button type="button" class="ll-button">${at + 1 < steps.length ? 'Next' : 'Done'}</button></div>`;
    panel.addEventListener('click', (e) => {
      const word = e.target.tagName === 'BUTTON' ? e.target.textContent : '';
      if (word) tour({ Leave: -1, Back: at - 1 }[word] ?? at + 1);
    });
    document.body.append(panel);
    document.querySelector(step.at)?.classList.add('ll-toured');
  }
  let steps = [];

  return {
    drop, goTo,
    beginTour() { tour(0); },
    begin(all) {
      commands = all.commands; told = all.told; steps = all.tour;
      const at = localStorage.getItem(TOUR);
      if (at !== null) setTimeout(() => tour(Number(at)), 400);
    },
    writing, spell, search, help,
    sheetOpen: () => document.querySelector('dialog[open]') !== null,
  };
})();
