'use strict';
// Asks again and again whether the job was saved, and opens the page anew where it was left. It stands only in the page
// that is served.
(() => {
  const panel = document.getElementById('preview');
  const news = document.getElementById('news');
  const details = panel.querySelector('details');
  const all = (selector) => [...document.querySelectorAll(selector)];
  const buttons = () => all('.play');
  const often = 400;
  const seldom = 3000;

  const shown = (figure) => figure.querySelector('svg').getAttribute('viewBox').split(' ').map(Number);

  /** Brings a sheet as near as it was, by turns of the wheel as its reader would. */
  const nearer = (figure, wanted) => {
    const frame = figure.querySelector('svg').getBoundingClientRect();
    const [x, y, width, height] = shown(figure);
    const turns = Math.round(Math.log(width / wanted[2]) / Math.log(1.2));
    if (!frame.width || !turns) return;
    const share = 1 - Math.pow(1.2, -turns);
    const wheel = {
      clientX: frame.left + (frame.width * (wanted[0] - x)) / (width * share),
      clientY: frame.top + (frame.height * (wanted[1] - y)) / (height * share),
      deltaY: -turns,
      cancelable: true,
    };
    for (let turn = 0; turn < Math.abs(turns); turn += 1) figure.dispatchEvent(new WheelEvent('wheel', wheel));
  };

  /** What would be lost by opening the page anew: how far it is scrolled, what is open, which line is played, how near. */
  const keep = () => {
    const played = buttons().find((button) => button.getAttribute('aria-pressed') === 'true');
    const kept = {
      y: window.scrollY,
      open: Boolean(details && details.open),
      played: played && played.value,
      sheets: all('.sheet').map(shown),
    };
    sessionStorage.setItem('kept', JSON.stringify(kept));
  };
  const restore = () => {
    const kept = JSON.parse(sessionStorage.getItem('kept') || 'null');
    sessionStorage.removeItem('kept');
    if (!kept) return;
    const played = buttons().find((button) => button.value === kept.played);
    if (played) played.click();
    if (details) details.open = kept.open;
    const sheets = all('.sheet');
    if (sheets.length === kept.sheets.length) sheets.forEach((figure, n) => nearer(figure, kept.sheets[n]));
    // What went wrong stands at the top. A browser goes to its own place once all is there.
    const place = document.getElementById('unusable') ? 0 : kept.y;
    history.scrollRestoration = 'manual';
    window.addEventListener('load', () => window.scrollTo(0, place));
  };

  let asking = false;
  const ask = async () => {
    if (asking) return;
    asking = true;
    try {
      const state = await (await fetch('/state')).json();
      if (state.mark !== panel.dataset.mark) {
        keep();
        location.reload();
        return;
      }
      news.textContent = state.busy ? 'Saved; the page is being made anew …' : '';
    } catch (fault) {
      news.textContent = 'The preview has ended; this page stands as it was.';
    }
    asking = false;
  };
  const again = async () => {
    await ask();
    setTimeout(again, document.hidden ? seldom : often);
  };
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden) ask();
  });
  restore();
  again();
})();
