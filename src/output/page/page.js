'use strict';
// What the page shows follows from the address behind `#`: a view, a place (p3), a device (d5), a terminal (t12),
// a trace (trace-12). Without this script every part of the page is shown, one below the other. It is written for the
// browser of an old phone too: nothing in it is younger than 2018.
(() => {
  const job = JSON.parse(document.getElementById('job').textContent);
  const $ = (id) => document.getElementById(id);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const make = (name, text, classes) => {
    const element = document.createElement(name);
    if (text !== undefined) element.textContent = text;
    if (classes) element.className = classes;
    return element;
  };
  const fill = (element, ...children) => {
    element.textContent = '';
    element.append(...children);
  };
  const views = all('main > section').map((section) => section.id);
  document.body.classList.add('script');

  // The condition that is shown: null is at rest.
  let playing = null;
  const live = () => (playing === null ? job.rest : job.plays[playing].live);

  // ---- Which part is shown

  const cardOf = (point) => $(`t${point}`).closest('article');

  let turned = false;

  function show() {
    const where = decodeURIComponent(location.hash.slice(1)) || 'where';
    const [number] = /\d+$/.exec(where) || [];
    const kind = where.replace(/-?\d+$/, '');
    const known = { p: 'where', d: 'where', t: 'where', l: 'where', trace: 'trace' };
    const view = number === undefined ? where : known[kind];
    const shown = views.includes(view) ? view : 'where';
    for (const id of views) $(id).hidden = id !== shown;
    for (const link of all('nav a')) {
      const current = link.hash === `#${shown === 'trace' ? 'where' : shown}`;
      if (current) link.setAttribute('aria-current', 'page');
      else link.removeAttribute('aria-current');
    }
    if (shown === 'where') {
      const card = kind === 't' && $(where) ? cardOf(number) : kind === 'd' ? $(where) : null;
      const at = kind === 'p' || kind === 'l' || kind === 'loose' ? $(where) : card;
      const place = at && at.closest('.place');
      $('start').hidden = Boolean(place);
      for (const section of all('.place')) section.hidden = section !== place;
      for (const article of all('.card')) article.hidden = article !== card;
      for (const list of all('.place > .choices')) list.hidden = Boolean(card);
      for (const pin of all('.pin')) pin.classList.toggle('here', pin.id === where);
      focusOn($(where) || $('where'));
    } else if (shown === 'trace') {
      trace(Number(number));
      focusOn($('trace'));
    } else {
      focusOn($(shown));
    }
  }

  function focusOn(element) {
    const heading = element.querySelector('h2, h3') || element;
    heading.tabIndex = -1;
    // A page that has just been opened has its focus at its beginning.
    if (turned) heading.focus({ preventScroll: true });
    if (element.id === 'where') window.scrollTo(0, 0);
    else element.scrollIntoView({ block: 'start' });
    if (!element.classList.contains('pin')) window.scrollTo(0, 0);
  }

  // ---- Trace

  const around = job.points.map(() => []);
  job.hops.forEach((hop, index) => {
    around[hop.ends[0]].push([index, hop.ends[1]]);
    around[hop.ends[1]].push([index, hop.ends[0]]);
  });

  function trace(start) {
    const seen = new Set([start]);
    const used = [];
    const walk = (at) => {
      const list = make('ol', undefined, 'walk');
      for (const [index, other] of around[at]) {
        if (used.includes(index)) continue;
        used.push(index);
        const item = make('li');
        item.append(`${job.hops[index].words} → `);
        item.append(pointLink(other));
        if (seen.has(other)) {
          item.append(' (back where it was)');
        } else {
          seen.add(other);
          const further = walk(other);
          if (further.children.length) item.append(further);
        }
        list.append(item);
      }
      return list;
    };
    const list = walk(start);
    fill($('trace-from'), pointLink(start));
    const reading = live().readings[start];
    $('trace-reading').textContent = reading ? `${condition()}: ${reading}` : 'No supply holds this conductor.';
    fill($('trace-walk'), list.children.length ? list : make('p', 'Nothing is joined to it.'));
    mark(used, false);
    traced = used;
  }
  let traced = [];

  function pointLink(point) {
    const link = make('a');
    link.href = `#t${point}`;
    link.append(make('b', job.points[point]));
    return link;
  }

  // ---- The drawing

  const cores = new Map();
  for (const group of all('.sheet .core')) {
    const key = JSON.stringify([group.dataset.cable, group.dataset.core]);
    cores.set(key, [...(cores.get(key) || []), group]);
  }

  /** Marks hops on the drawing, each with its reading if `tags`. */
  function mark(hops, tags) {
    for (const group of all('.sheet .marked')) group.classList.remove('marked');
    for (const tag of all('.sheet .tag')) tag.remove();
    for (const index of hops) {
      const hop = job.hops[index];
      for (const group of cores.get(JSON.stringify([hop.cable, hop.core])) || []) {
        group.classList.add('marked');
        const path = group.querySelector('path');
        if (!tags || !path || !live().hops[index]) continue;
        const at = middle(path);
        const tag = document.createElementNS('http://www.w3.org/2000/svg', 'text');
        tag.setAttribute('class', 'tag');
        tag.setAttribute('x', at.x);
        tag.setAttribute('y', at.y - 1);
        tag.setAttribute('font-size', 3);
        tag.setAttribute('fill', '#000');
        tag.setAttribute('text-anchor', 'middle');
        tag.textContent = live().hops[index];
        group.ownerSVGElement.append(tag);
      }
    }
  }

  /** The middle of the longest level piece of a line. */
  function middle(path) {
    const numbers = path.getAttribute('d').match(/-?[\d.]+/g).map(Number);
    let best = { x: numbers[0], y: numbers[1], length: -1 };
    for (let i = 2; i + 1 < numbers.length; i += 2) {
      const [x0, y0, x1, y1] = numbers.slice(i - 2, i + 2);
      const length = Math.abs(x1 - x0) - Math.abs(y1 - y0) / 4;
      if (length > best.length) best = { x: (x0 + x1) / 2, y: (y0 + y1) / 2, length };
    }
    return best;
  }

  for (const figure of all('.sheet')) {
    const svg = figure.querySelector('svg');
    const home = svg.getAttribute('viewBox').split(' ').map(Number);
    let box = [...home];
    const set = (next) => {
      const width = Math.min(home[2] * 1.5, Math.max(20, next[2]));
      const height = (width * home[3]) / home[2];
      box = [next[0], next[1], width, height];
      svg.setAttribute('viewBox', box.map((n) => n.toFixed(2)).join(' '));
    };
    const zoom = (factor, px = 0.5, py = 0.5) => {
      const [x, y, w, h] = box;
      const width = Math.min(home[2] * 1.5, Math.max(20, w * factor));
      const height = (width * home[3]) / home[2];
      set([x + (w - width) * px, y + (h - height) * py, width, height]);
    };
    const move = (dx, dy) => set([box[0] + dx * box[2], box[1] + dy * box[3], box[2], box[3]]);
    const share = (event) => {
      const frame = svg.getBoundingClientRect();
      return [(event.clientX - frame.left) / frame.width, (event.clientY - frame.top) / frame.height];
    };
    const fingers = new Map();
    figure.addEventListener('pointerdown', (event) => {
      figure.setPointerCapture(event.pointerId);
      fingers.set(event.pointerId, share(event));
    });
    figure.addEventListener('pointermove', (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const now = share(event);
      const [, other] = [...fingers].find(([id]) => id !== event.pointerId) || [];
      if (other) {
        const gap = (a) => Math.hypot(a[0] - other[0], a[1] - other[1]) || 1e-3;
        zoom(gap(before) / gap(now), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
      } else {
        move(before[0] - now[0], before[1] - now[1]);
      }
      fingers.set(event.pointerId, now);
    });
    for (const end of ['pointerup', 'pointercancel']) {
      figure.addEventListener(end, (event) => fingers.delete(event.pointerId));
    }
    figure.addEventListener('wheel', (event) => {
      event.preventDefault();
      zoom(event.deltaY > 0 ? 1.2 : 1 / 1.2, ...share(event));
    }, { passive: false });
    const keys = {
      '+': () => zoom(1 / 1.4), '=': () => zoom(1 / 1.4), '-': () => zoom(1.4), 0: () => set(home),
      ArrowLeft: () => move(-0.2, 0), ArrowRight: () => move(0.2, 0),
      ArrowUp: () => move(0, -0.2), ArrowDown: () => move(0, 0.2),
    };
    figure.addEventListener('keydown', (event) => {
      if (!keys[event.key]) return;
      event.preventDefault();
      keys[event.key]();
    });
    const tools = figure.previousElementSibling;
    tools.querySelector('.nearer').addEventListener('click', () => zoom(1 / 1.6));
    tools.querySelector('.further').addEventListener('click', () => zoom(1.6));
    tools.querySelector('.whole').addEventListener('click', () => set(home));
    window.addEventListener('beforeprint', () => set(home));
  }

  // ---- Cause and effect

  const condition = () => (playing === null ? 'At rest' : job.plays[playing].when.replace(/^./, (c) => c.toUpperCase()));

  function play(index) {
    playing = playing === index ? null : index;
    showLive();
  }

  function showLive() {
    for (const button of all('.play')) button.setAttribute('aria-pressed', String(Number(button.value) === playing));
    const { readings, hops } = live();
    for (const reading of all('.reading')) {
      const words = readings[Number(reading.dataset.point)];
      reading.textContent = words ? `${condition()}: ${words}` : '';
    }
    const lit = hops.flatMap((words, hop) => (words ? [hop] : []));
    mark(playing === null ? [] : lit, true);
    const list = $('live');
    const entries = lit.filter((hop) => job.hops[hop].core).map((hop) => {
      const { words, ends } = job.hops[hop];
      return make('li', `${words}, ${job.points[ends[0]]} to ${job.points[ends[1]]}: ${hops[hop]}`);
    });
    fill(list, ...entries);
    const said = playing === null ? 'Shown at rest.' : `Shown ${job.plays[playing].when}. ${entries.length} cores are live or carry current.`;
    for (const state of all('.state')) state.textContent = said;
    // What a line does is told right under it.
    const pressed = all('.play').find((button) => Number(button.value) === playing);
    (pressed ? pressed.closest('li') : $('effects')).append($('played'));
  }
  for (const button of all('.play')) button.addEventListener('click', () => play(Number(button.value)));
  $('rest').addEventListener('click', () => play(playing));
  showLive();

  // ---- Search

  const targets = [
    ...all('.place').map((place) => ({ text: place.querySelector('h2').textContent, href: `#${place.id}` })),
    ...all('.card').map((card) => ({ text: card.querySelector('h3').textContent, href: `#${card.id}` })),
    ...all('.loose').map((end) => ({ text: end.querySelector('.name').textContent, href: `#${end.id}` })),
    ...job.points.map((text, point) => ({ text, href: `#t${point}` })),
    ...job.hops.filter((hop) => hop.cable).map((hop) => ({
      text: `${hop.words}: ${job.points[hop.ends[0]]} to ${job.points[hop.ends[1]]}`, href: `#t${hop.ends[0]}`,
    })),
  ];
  const plain = (text) => text.toLowerCase().replace(/[\s.:]+/g, ' ').trim();
  $('search').addEventListener('input', () => {
    const wanted = plain($('search').value);
    const hits = wanted ? targets.filter(({ text }) => plain(text).includes(wanted)) : [];
    hits.sort((a, b) => plain(a.text).indexOf(wanted) - plain(b.text).indexOf(wanted));
    fill($('hits'), ...hits.slice(0, 30).map(({ text, href }) => {
      const link = make('a', text);
      link.href = href;
      const item = make('li');
      item.append(link);
      return item;
    }));
    $('found').textContent = wanted ? `${hits.length} found` : '';
  });

  $('to-drawing').addEventListener('click', () => {
    mark(traced, false);
    location.hash = '#drawing';
  });
  // ---- On paper everything is open

  let opened = [];
  window.addEventListener('beforeprint', () => {
    opened = all('details:not([open])');
    for (const details of opened) details.open = true;
  });
  window.addEventListener('afterprint', () => {
    for (const details of opened) details.open = false;
  });

  window.addEventListener('hashchange', show);
  show();
  turned = true;
})();
